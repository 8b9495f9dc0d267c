"""The demo's medicines, plans and what was given.  Labels copied from published figures, no maker's product."""

from datetime import date, datetime, time, timedelta
from uuid import UUID

from health import selectors
from health.domain.published_labels import PUBLISHED_LABELS
from health.doses import DoseAsked, doses_at
from health.medicine_data import body_of
from kennel.clock.wall_clock import instant_of, local_day, zone_of
from kennel.demo import Scene
from kennel.records import door
from litters.demo import OLDER

# The next worming is due so soon after the first start that it can be seen coming.
WORMING_IN = timedelta(minutes=75)
USUAL_TIME = "08:00"
VET = "Reed, the vet"


def fill(scene: Scene) -> None:
    """A cupboard, plans for both litters and the dams, and what was given so far."""
    _cupboard(scene)
    scene.write()
    today = local_day(scene.at, scene.here.zone)
    _plans(scene, today)
    scene.write()
    _dams(scene, today)
    # The pups of the oldest litter had theirs at two and at three weeks; today it is due again.
    for days in (14, 7):
        _worming_day(scene, today - timedelta(days=days))
    scene.write()


def _cupboard(scene: Scene) -> None:
    for key in ("pyrantel_us_suspension", "fenbendazole_suspension_100", "milbemycin_oxime"):
        body = body_of(PUBLISHED_LABELS[key])
        needs_vet = body["supply"] != "open_sale"
        scene.add("medicine", key, **body | ({"prescriber": VET} if needs_vet else {}))
    for key, name, active in (
        ("core", "Core vaccine", "distemper, adenovirus and parvovirus, live"),
        ("leptospirosis", "Leptospirosis vaccine", "leptospira, inactivated"),
    ):
        scene.add(
            "medicine",
            key,
            name=name,
            purpose="vaccination",
            active=active,
            form="liquid",
            supply="vet_only",
            prescriber=VET,
        )


def _plans(scene: Scene, today: date) -> None:
    pyrantel = scene.uid("pyrantel_us_suspension")
    for litter, wall_time in (("older", _soon(scene.at, scene.here.zone)), ("young", USUAL_TIME)):
        scene.add(
            "treatment-plan",
            f"worming:{litter}",
            litter=scene.uid(litter),
            scheme="us_label_pyrantel",
            medicine=pyrantel,
            name="Worming",
            wall_time=wall_time,
            weigh_first_minutes=60,
        )
    scene.add(
        "treatment-plan",
        "core:older",
        litter=scene.uid("older"),
        scheme="core",
        medicine=scene.uid("core"),
        name="Core vaccination",
        wall_time="10:00",
    )
    scene.add(
        "treatment-plan",
        "worming:Teasel",
        dog=scene.uid("Teasel"),
        scheme="kennel_monthly",
        medicine=scene.uid("fenbendazole_suspension_100"),
        name="Worming as the vet orders",
        starts_on=today + timedelta(days=25),
        note="Begins three weeks after whelping.",
    )


def _soon(at: datetime, zone: str) -> str:
    """The wall time a little later today; shortly before midnight the usual one."""
    now = at.astimezone(zone_of(zone))
    soon = (at + WORMING_IN).astimezone(zone_of(zone))
    return f"{soon:%H:%M}" if soon.date() == now.date() else USUAL_TIME


def _at(scene: Scene, day: date, wall: time) -> datetime:
    return instant_of(day, wall, scene.here.zone)


def _dams(scene: Scene, today: date) -> None:
    """Vaccinated this year at the vet's; Bramble was wormed when her pups were two weeks old."""
    for place, dam in enumerate(("Bramble", "Sorrel", "Teasel")):
        on = today - timedelta(days=200 + 9 * place)
        for vaccine, lot in (("core", "C 2207"), ("leptospirosis", "L 0815")):
            scene.add(
                "treatment",
                f"{vaccine}:{dam}",
                dog=scene.uid(dam),
                medicine=scene.uid(vaccine),
                occurred_at=_at(scene, on, time(11, 20)),
                lot=lot,
                expires_on=on + timedelta(days=300),
                prescriber=VET,
            )
    _give(scene, "dog", ["Bramble"], _at(scene, today - timedelta(days=14), time(8, 10)), plan=None)
    scene.add(
        "health-event",
        "Sorrel:after",
        dog=scene.uid("Sorrel"),
        kind="vet_visit",
        occurred_at=_at(scene, today - timedelta(days=3), time(9, 40)),
        vet=VET,
        result="womb empty, discharge as it should be",
        ended_on=today - timedelta(days=3),
    )


def _worming_day(scene: Scene, day: date) -> None:
    keys = [f"older:{band}" for band in OLDER]
    _give(scene, "pup", keys, _at(scene, day, time(8, 20)), plan=scene.uid("worming:older"))


def _give(scene: Scene, kind: str, keys: list[str], at: datetime, plan: UUID | None) -> None:
    """What the label works out to for each animal's weight of that day, measured to a tenth of a millilitre."""
    medicine = scene.uid("pyrantel_us_suspension")
    with door.read(scene.here, scene.actors["Maud"], scene.at) as opened:
        row = selectors.medicines_by_uid([medicine], opened)[medicine]
        doses = doses_at([DoseAsked(kind, scene.uid(key), row, at) for key in keys], opened)
    for place, (key, dose) in enumerate(zip(keys, doses, strict=True)):
        assert dose is not None, key
        assert dose.found.amount is not None, key
        scene.add(
            "treatment",
            f"worming:{key}:{at.date()}",
            "Idris",
            **{kind: scene.uid(key)},
            medicine=medicine,
            plan=plan,
            occurred_at=at + timedelta(minutes=place),
            amount=round(dose.found.amount + 0.05, 1),
            amount_unit="mL",
            lot="P 4711",
            expires_on=local_day(scene.at, scene.here.zone) + timedelta(days=300),
        )
