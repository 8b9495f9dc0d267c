"""The demo's breeding facts: seasons, blood, matings, scans, temperatures, whelping logs, bookings.  Invented."""

from datetime import date, datetime, time, timedelta
from typing import Any

from kennel.clock.wall_clock import instant_of, local_day
from kennel.demo import Scene
from litters.demo import OLDER, YOUNG

# Teasel's LH surge: 65 days to whelping leave four more.
SINCE_LH = 61
# Days from today, and ng/mL, as a bitch near those days may have; on one analyser.
BLOOD = ((-64, 0.6), (-62, 1.5), (-61, 2.4), (-59, 6.2))
BETWEEN_PUPS = timedelta(minutes=40)


def fill(scene: Scene) -> None:
    """What led to the three litters, and what is planned for the oldest."""
    today = local_day(scene.at, scene.here.zone)
    _teasel(scene, today)
    for key, dam, bands, days in (("young", "Sorrel", YOUNG, 4), ("older", "Bramble", OLDER, 28)):
        hour, minute = (2, 10) if key == "young" else (4, 30)
        born = _at(scene, today - timedelta(days=days), hour, minute)
        _pregnancy(scene, key, dam, born, len(bands))
        _whelping(scene, key, dam, bands, born)
    _box(scene, today)
    _homes(scene, today)


def _at(scene: Scene, day: date, hour: int, minute: int = 0) -> datetime:
    return instant_of(day, time(hour, minute), scene.here.zone)


def _teasel(scene: Scene, today: date) -> None:
    dam = scene.uid("Teasel")
    season = scene.add("season", "Teasel:season", dam=dam, began_on=today - timedelta(days=SINCE_LH + 9))
    scene.write()
    common: dict[str, Any] = {"dam": dam, "season": season}
    for days, value in BLOOD:
        day = today + timedelta(days=days)
        scene.add(
            "progesterone-test",
            f"Teasel:blood:{days}",
            **common,
            occurred_at=_at(scene, day, 10),
            value=value,
            unit="ng/mL",
            analyser="the clinic's analyser",
            known_on=day,
        )
    for days in (58, 56):
        at = _at(scene, today - timedelta(days=days), 11)
        scene.add("mating", f"Teasel:mating:{days}", **common, sire=scene.uid("Marram"), occurred_at=at)
    # Inner cavities of 15 to 16 mm five weeks before, heads of 18 mm sixteen days before the day expected.
    for days, structure, readings in ((33, "icc", [15.2, 15.8, 15.5]), (12, "bp", [17.8, 18.1])):
        at = _at(scene, today - timedelta(days=days), 15)
        scene.add(
            "scan",
            f"Teasel:scan:{days}",
            **common,
            occurred_at=at,
            structure=structure,
            readings=readings,
            unit="mm",
        )
    _x_ray(scene, "Teasel", _at(scene, today - timedelta(days=2), 9, 30), 6)
    for days, grams in ((60, 19100), (14, 21300), (1, 22900)):
        _weigh_dam(scene, "Teasel", _at(scene, today - timedelta(days=days), 8), grams)
    # Up and down with the hour, no fall yet.
    for days in range(4, -1, -1):
        for hour, degrees in ((7, 37.9), (19, 38.2)):
            at = _at(scene, today - timedelta(days=days), hour, 30)
            _temperature(scene, "Teasel", at, degrees - 0.1 * (days % 2), "Oona" if hour > 12 else "Idris")


def _pregnancy(scene: Scene, key: str, dam: str, born: datetime, pups: int) -> None:
    for days in (63, 61):
        at = _at(scene, local_day(born, scene.here.zone) - timedelta(days=days), 11)
        scene.add(
            "mating",
            f"{dam}:mating:{days}",
            dam=scene.uid(dam),
            sire=scene.uid("Marram"),
            occurred_at=at,
        )
    _x_ray(scene, dam, born - timedelta(days=5), pups)
    for days, grams in ((-64, 18800), (-3, 22400), (2, 19600)):
        _weigh_dam(scene, dam, born + timedelta(days=days, hours=6), grams)


def _x_ray(scene: Scene, dam: str, at: datetime, pups: int) -> None:
    scene.add(
        "scan",
        f"{dam}:x-ray",
        dam=scene.uid(dam),
        occurred_at=at,
        method="x_ray",
        pups_counted=pups,
    )


def _weigh_dam(scene: Scene, dam: str, at: datetime, grams: int) -> None:
    if at <= scene.at:
        key = f"weight:{dam}:{at.isoformat()}"
        scene.add("weighing", key, dog=scene.uid(dam), occurred_at=at, weight_g=grams, source="scale")


def _temperature(scene: Scene, dam: str, at: datetime, degrees: float, by: str) -> None:
    if at <= scene.at:
        scene.add(
            "temperature",
            f"temperature:{dam}:{at.isoformat()}",
            by,
            dog=scene.uid(dam),
            occurred_at=at,
            temp_c=round(degrees, 1),
        )


def _whelping(scene: Scene, key: str, dam: str, bands: tuple[str, ...], born: datetime) -> None:
    _temperature(scene, dam, born - timedelta(hours=31), 38.1, "Maud")
    _temperature(scene, dam, born - timedelta(hours=19), 37.9, "Idris")
    _temperature(scene, dam, born - timedelta(hours=14), 36.9, "Maud")
    for days in range(1, 4):
        _temperature(scene, dam, born + timedelta(days=days, hours=7), 38.7 - 0.1 * days, "Maud")
    _line(scene, key, "stage_one_began", born - timedelta(hours=7), note="digging in the box, panting")
    for place, band in enumerate(bands):
        at = born + BETWEEN_PUPS * place
        _line(scene, key, "straining_began", at - timedelta(minutes=14), strength="strong")
        pup = str(scene.uid(f"{key}:{band}"))
        _line(scene, key, "pup_born", at, pup=pup)
        _line(scene, key, "placenta_passed", at + timedelta(minutes=9))
        scores = dict.fromkeys(("heart_rate", "breathing", "reflex", "motility", "colour"), 2)
        if place == 3:
            scores |= {"breathing": 1, "motility": 1}
        at_birth = {f"apgar_{name}": points for name, points in scores.items()}
        _line(scene, key, "apgar", at + timedelta(minutes=5), pup=pup, **at_birth)
    end = born + BETWEEN_PUPS * (len(bands) - 1) + timedelta(hours=2)
    _line(scene, key, "finished", end, note="asleep, pups at the teats")


def _line(scene: Scene, key: str, kind: str, at: datetime, **more: Any) -> None:
    scene.add(
        "whelping-entry",
        f"{key}:log:{kind}:{at.isoformat()}",
        litter=scene.uid(key),
        kind=kind,
        occurred_at=at,
        **more,
    )


def _box(scene: Scene, today: date) -> None:
    for days in range(4, -1, -1):
        for hour, surface in ((8, 30.5), (20, 30.0)):
            at = _at(scene, today - timedelta(days=days), hour)
            if scene.at - timedelta(days=4) < at <= scene.at:
                scene.add(
                    "box-climate",
                    f"young:box:{at.isoformat()}",
                    "Oona",
                    litter=scene.uid("young"),
                    occurred_at=at,
                    surface_c=surface,
                    area_c=24,
                    humidity_pct=58,
                )


def _homes(scene: Scene, today: date) -> None:
    """Three of the oldest are booked from eight weeks on."""
    for band in OLDER[:3]:
        scene.add(
            "booking",
            f"booking:{band}",
            litter=scene.uid("older"),
            pup=scene.uid(f"older:{band}"),
            leaves_on=today + timedelta(days=28),
        )
