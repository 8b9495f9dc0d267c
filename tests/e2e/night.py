"""The night the clocks go back: rounds of three real hours, one at a time of day, weights; then the summary."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from tests.e2e import recomputed
from tests.e2e.clock import london
from tests.e2e.scene import Scene, iso, uid
from tests.e2e.steps import done_by, weigh
from tests.e2e.storm import Weather

BED_AT, UP_AT = london("2026-10-24 22:10"), london("2026-10-25 07:00")
WEIGHED_AT = UP_AT - timedelta(minutes=10)
ROUND, MILK = "Look into the whelping box", "Warm the milk"
# Three hours apart by a stopwatch, so an hour earlier on the wall after 02:00 has become 01:00 again.
ROUNDS = (
    ("22:00", london("2026-10-24 22:00")),
    ("01:00", london("2026-10-25 01:00")),
    ("03:00", london("2026-10-25 03:00")),
    ("06:00", london("2026-10-25 06:00")),
)
MILK_AT, ONCE_MORE = london("2026-10-25 01:30"), london("2026-10-25 01:30", second_time=True)
# Where the pups lie, by a thermometer that had no reception until the morning: once too cold, once too warm.
BOX_C = {
    london("2026-10-24 22:20"): 22.5,
    london("2026-10-24 23:05"): 20.4,
    london("2026-10-24 23:35"): 22.0,
    london("2026-10-25 01:10"): 24.8,
    london("2026-10-25 01:10", second_time=True): 22.8,
}
SUNDAY_NOON = london("2026-10-25 12:00")
MONDAY = london("2026-10-26 00:10")


def plan_the_night(scene: Scene) -> None:
    """The keeper sets what recurs in the night."""
    scene.stack.clock.set(london("2026-10-24 21:30"))
    every = {"kind": "every", "interval_s": 3 * 3600, "anchor_at": iso(ROUNDS[0][1]), "count": len(ROUNDS)}
    at = {"kind": "at", "rrule": "FREQ=DAILY;COUNT=1", "wall_times": ["01:30"], "first_on": "2026-10-25"}
    for title, rule in ((ROUND, every), (MILK, at)):
        routine = {"uid": uid(title), "kind": "task", "title": title, "rule": rule}
        scene.maud.post("routines", {**routine, "subject_type": "litter", "subject_uid": scene.litter})


def pass_the_night(scene: Scene, weather: Weather) -> None:
    """The clock is moved from round to round; nobody sleeps."""
    carers = (scene.idris, scene.oona)
    for place, (clock, at) in enumerate(ROUNDS):
        scene.stack.clock.set(at)
        if clock == "03:00":
            weather.worker_dies(scene)
        scene.stack.tick()
        scene.mailed(*carers, subject=f"Hollin Bank: {ROUND}: due {clock}")
        done_by(scene, carers[place % 2], "task", at, minutes=5)
        if clock == "01:00":
            warm_the_milk_once(scene)
    scene.stack.clock.set(UP_AT)
    weigh(scene, scene.oona, WEIGHED_AT, _grown(scene, WEIGHED_AT))
    read_the_box(scene)
    scene.stack.tick()
    dry_g = round(scene.ledger.bowl(SUNDAY_NOON).dry_g)
    scene.stack.until(
        "Sunday's bowl by the new weights", lambda: scene.duty("meal", SUNDAY_NOON)["asks"]["dry_g"] == dry_g
    )


def read_the_box(scene: Scene) -> None:
    """The night's temperatures come in one batch; those outside the range of the fifth week say so."""
    items = [
        {
            "op": "create",
            "type": "box-climate",
            "uid": uid(f"box {at}"),
            "data": {"litter": scene.litter, "occurred_at": iso(at), "surface_c": value},
        }
        for at, value in BOX_C.items()
    ]
    assert {one["outcome"] for one in scene.scale.post("batch", {"items": items})["results"]} == {"created"}
    said = {
        one["occurred_at"]: [w["code"] for w in one["warnings"]] for one in scene.maud.every("box-climate")
    }
    assert sorted(said.values()) == [[], [], [], ["box_cold"], ["box_warm"]]
    scene.ledger.climate |= BOX_C


def warm_the_milk_once(scene: Scene) -> None:
    """Half past one comes twice that night: the first one is told, the second is not; in between five are weighed."""
    scene.stack.move_to(MILK_AT)
    scene.mailed(scene.idris, scene.oona, subject=f"Hollin Bank: {MILK}: due 01:30")
    done_by(scene, scene.oona, "task", MILK_AT, minutes=3)
    assert timedelta(hours=1) == ONCE_MORE - MILK_AT
    letters = len(scene.stack.sink.taken)
    scene.stack.move_to(ONCE_MORE)
    scene.until_all_ticks_ran()
    assert len(scene.stack.sink.taken) == letters
    weigh(scene, scene.idris, ONCE_MORE, _grown(scene, ONCE_MORE))


def _grown(scene: Scene, at: datetime) -> dict[str, int]:
    """What those that are here weigh then: 5 % a day more than last time."""
    newest = {band: scene.ledger.last(band, at) for band in scene.ledger.here(at)}
    return {
        band: round(float(known[1]) * (1 + 0.05 * ((at - known[0]) / timedelta(days=1))))
        for band, known in newest.items()
        if known
    }


def read_the_summary(scene: Scene) -> None:
    """Since she went to bed, and all of Saturday: the API's figures are those reckoned here."""
    scene.maud.sign_in()
    for from_at, to_at in ((BED_AT, UP_AT), (london("2026-10-24 00:00"), london("2026-10-25 00:00"))):
        query = f"from={iso(from_at)}&to={iso(to_at)}".replace("+", "%2B")
        said = scene.maud.get(f"litters/{scene.litter}/summary?{query}")
        wanted = recomputed.summary(scene.ledger, from_at, to_at)
        assert said["counts"] == wanted["counts"]
        _same_figures(scene, said, wanted, said)
        bands = {pup: band for band, pup in scene.pups.items()}
        for pup in said["pups"]:
            _same_pup(scene, bands[pup["pup"]], pup, from_at, to_at)


def _same_figures(scene: Scene, said: dict[str, Any], wanted: dict[str, Any], totals: dict[str, Any]) -> None:
    assert decimal(said["weight_mean_g"]) == wanted["weight_mean_g"]
    gains = {scene.pups[band]: gain for band, gain in wanted["gains"].items()}
    assert {pup: decimal(gain) for pup, gain in said["gains_g_per_day"].items()} == gains
    assert said["slowest_pup"] == (scene.pups[wanted["slowest"]] if wanted["slowest"] else None)
    for app in ("feeding", "health", "climate"):
        found = {name: decimal(value) for name, value in totals[app].items()}
        assert found == {name: decimal(value) for name, value in wanted[app].items()}, app
    assert said["contributors"] == wanted["contributors"]


def _same_pup(scene: Scene, band: str, said: dict[str, Any], from_at: datetime, to_at: datetime) -> None:
    now, before = scene.ledger.last(band, to_at), scene.ledger.last(band, from_at)
    assert now is not None
    weighed = now[0] >= from_at
    assert (said["called"], said["weighed"], decimal(said["weight_g"])) == (
        band,
        weighed,
        recomputed.rounded(now[1], 2),
    )
    change = recomputed.rounded(now[1] - before[1], 2) if weighed and before else None
    assert decimal(said["change_g"]) == change


def decimal(value: Any) -> Decimal | None:
    """A figure of an answer, exactly."""
    return None if value is None else Decimal(str(value))


def read_the_days(scene: Scene, weather: Weather) -> None:
    """After Sunday the nightly roll-up has every day since birth; Sunday had 25 hours and nobody wrote down a meal."""
    scene.stack.clock.set(MONDAY)
    scene.stack.tick("litters.rollup.tasks.roll_up")
    weather.worker_dies(scene)
    for text in ("2026-10-25 12:00", "2026-10-25 17:00"):
        scene.ledger.due_meals[london(text)] = None
    scene.stack.tick()
    scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: 4 not confirmed")  # two soaks, two meals
    scene.stack.tick("litters.rollup.tasks.roll_up")
    path = f"litters/{scene.litter}/days?limit=40"
    scene.stack.until("a roll-up of Sunday with what was missed", lambda: _missed(scene.maud.get(path)) == 2)
    days = {one["day"]: one for one in scene.maud.get(path)["results"]}
    assert (float(days["2026-10-24"]["hours"]), float(days["2026-10-25"]["hours"])) == (24, 25)
    for number in range(30):
        day = f"{london('2026-09-26 12:00') + timedelta(days=number):%Y-%m-%d}"
        following = f"{london('2026-09-27 12:00') + timedelta(days=number):%Y-%m-%d}"
        wanted = recomputed.summary(scene.ledger, london(f"{day} 00:00"), london(f"{following} 00:00"))
        assert {name: days[day][name] for name in wanted["counts"]} == wanted["counts"], day
        _same_figures(scene, days[day], wanted, days[day]["extra"])


def _missed(answer: dict[str, Any]) -> int | None:
    """Meals that Sunday's roll-up calls missed; None while there is none."""
    found = {one["day"]: one for one in answer["results"]}.get("2026-10-25")
    return None if found is None else int(found["extra"]["feeding"]["meals_missed"])
