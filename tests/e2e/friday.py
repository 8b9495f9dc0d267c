"""Friday: both carers are told to soak and to feed; one is on it, the other sees who; the scale records the meal."""

from datetime import timedelta

from tests.e2e.beginning import FOOD
from tests.e2e.clock import london
from tests.e2e.people import Person
from tests.e2e.recomputed import Bowl
from tests.e2e.scene import Scene
from tests.e2e.steps import record_meal
from tests.e2e.storm import Weather

SOAK_AT, MEAL_AT = london("2026-10-23 15:00"), london("2026-10-23 17:00")


def soak_at_three(scene: Scene, weather: Weather) -> None:
    """Both carers are mailed what to soak; Idris takes it, Oona sees that, and it is done by a tap."""
    duty, bowl = scene.duty("soak", SOAK_AT), scene.ledger.bowl(MEAL_AT)
    with weather.in_the_middle_of_sending(scene, SOAK_AT):
        scene.stack.move_to(SOAK_AT)
    letter = scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: Soak the food: due 15:00")
    assert soak_words(bowl, "17:00", 8) in letter, letter
    taken_at = SOAK_AT + timedelta(minutes=3)
    scene.stack.clock.set(taken_at)
    scene.tap(scene.idris, "take", duty, taken_at)
    sees_who_is_on_it(scene, scene.oona, duty["uid"], scene.idris)
    told = scene.tap(scene.oona, "take", duty, taken_at + timedelta(seconds=20))
    assert told["held_by_name"] == scene.idris.name
    assert told["warnings"][0]["text"] == "Idris Vane took this at 15:03 and is on it."
    scene.stack.clock.set(taken_at + timedelta(minutes=4))
    scene.tap(scene.idris, "done", duty, taken_at + timedelta(minutes=4))
    assert scene.duty("soak", SOAK_AT)["state"] == "closed"


def soak_words(bowl: Bowl, clock: str, pups: int) -> str:
    """The sentence a soak is told in."""
    return f"Soak for {clock}, Bramble's, {pups} pups: {bowl.dry_g:.0f} g of {FOOD} in {bowl.water_ml:.0f} mL water."


def meal_words(bowl: Bowl, pups: int) -> str:
    """The sentence a meal is told in."""
    return (
        f"Bramble's, {pups} pups: {bowl.dry_g:.0f} g of {FOOD} and {bowl.water_ml:.0f} mL water"
        f" ({bowl.energy_kcal:.0f} kcal)."
    )


def sees_who_is_on_it(scene: Scene, who: Person, duty: str, taker: Person) -> None:
    """On the board by the API, and on the page people look at."""
    due = {one["uid"]: one for one in who.get("board")["due"]}
    assert due[duty]["taken_by_name"] == taker.name
    assert taker.name in who.page(f"/kennels/{scene.kennel}/due/{duty}")


def meal_at_five(scene: Scene, weather: Weather) -> None:
    """Both are mailed the bowl; Oona takes it; the scale records the meal, and nobody is reminded any more."""
    duty, bowl = scene.duty("meal", MEAL_AT), scene.ledger.bowl(MEAL_AT)
    scene.stack.move_to(MEAL_AT)
    letter = scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: Meal: due 17:00")
    assert meal_words(bowl, 8) in letter, letter
    taken_at = MEAL_AT + timedelta(minutes=1)
    scene.stack.clock.set(taken_at)
    scene.tap(scene.oona, "take", duty, taken_at)
    sees_who_is_on_it(scene, scene.idris, duty["uid"], scene.oona)
    pending = [one for one in scene.messages(duty) if one["state"] == "pending"]
    # The next step: 15 min after it was due everybody is told, the keeper too.
    assert {(one["carer"], one["step"]) for one in pending} == {(one.name, 1) for one in scene.people}
    weather.worker_dies(scene)
    record_meal(scene, MEAL_AT, minutes=6, left_wet_g=90)
    after = {one["uid"]: one["state"] for one in scene.messages(duty)}
    assert {after[one["uid"]] for one in pending} == {"cancelled"}
    assert "pending" not in after.values()
    letters = len(scene.stack.sink.taken)
    for minutes in (16, 40):
        scene.stack.move_to(MEAL_AT + timedelta(minutes=minutes))
        scene.until_all_ticks_ran()
    assert len(scene.stack.sink.taken) == letters
