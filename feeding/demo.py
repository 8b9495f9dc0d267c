"""The demo's foods, feeding plan and meals.  Labels invented; something is due within minutes of the first start."""

from datetime import datetime, timedelta

from kennel.clock.wall_clock import instant_of, zone_of
from kennel.demo import Scene

LATER_STAGES = (
    (35, (1, 1), 0.5, "softened"),
    (42, (2, 1), 0.75, "softened"),
    (49, (3, 1), 1.0, "softened, then dry"),
)


def fill(scene: Scene) -> None:
    """Two foods, the plans of the litters and their dams, and an earlier meal."""
    scene.add(
        "food",
        "dry",
        name="Hollin puppy kibble",
        kind="dry",
        protein_pct=29,
        fat_pct=18,
        fibre_pct=2.5,
        moisture_pct=9,
        ash_pct=7,
        density_g_per_ml=0.4,
        bag_kg=10,
    )
    scene.add(
        "food", "milk", name="Hollin bitch's milk powder, made up", kind="replacer", milk_kcal_per_ml=1.0
    )
    scene.write()
    first, second = _soon(scene.at, scene.here.zone)
    stages = [_stage(21, (first, second), (1, 2), 0.25, "finely mashed")]
    stages += [
        _stage(day, ("07:00", "13:00", "19:00"), soak, share, words)
        for day, soak, share, words in LATER_STAGES
    ]
    scene.add(
        "feeding-plan",
        "older",
        litter=scene.uid("older"),
        food=scene.uid("dry"),
        expected_adult_kg=19,
        stages=stages,
        soak_minutes=30,
        bowls=2,
        dam_food=scene.uid("dry"),
    )
    # Before the pups eat, a plan is for their dam.
    for litter in ("young", "expected"):
        scene.add(
            "feeding-plan",
            litter,
            litter=scene.uid(litter),
            food=scene.uid("dry"),
            milk=scene.uid("milk"),
            dam_food=scene.uid("dry"),
            expected_adult_kg=19,
        )
    scene.write()
    scene.add(
        "meal",
        "older:earlier",
        "Idris",
        litter=scene.uid("older"),
        food=scene.uid("dry"),
        occurred_at=scene.at - timedelta(hours=5),
        dry_g=150,
        water_ml=750,
        left_wet_g=60,
        bowls=2,
    )


def _stage(
    from_day: int, times: tuple[str, ...], soak: tuple[int, int], share: float, texture: str
) -> dict[str, object]:
    return {
        "from_day": from_day,
        "wall_times": list(times),
        "soak": {"food_parts": soak[0], "water_parts": soak[1]},
        "share_from_food": share,
        "texture": texture,
    }


def _soon(at: datetime, zone: str) -> tuple[str, str]:
    """Wall times of two meals: the first to soak for in three minutes, the second half a day later."""
    meal = (at + timedelta(minutes=33)).astimezone(zone_of(zone))
    if instant_of(meal.date(), meal.time(), zone) < at:
        # In the hour that the clocks repeat, its wall time means the first one: after that hour, then.
        meal = (at + timedelta(minutes=93)).astimezone(zone_of(zone))
    return f"{meal:%H:%M}", f"{meal + timedelta(hours=12):%H:%M}"
