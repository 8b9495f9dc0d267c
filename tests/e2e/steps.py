"""Single steps several days have in common."""

from datetime import datetime, timedelta
from typing import Any

from tests.e2e.people import Caller, Person
from tests.e2e.recomputed import Meal
from tests.e2e.scene import Scene, iso, uid


def record_meal(scene: Scene, due_at: datetime, *, minutes: int, left_wet_g: int | None) -> dict[str, Any]:
    """The scale records the bowl that was asked for, so many minutes after it was due; its duty closes."""
    at, bowl = due_at + timedelta(minutes=minutes), scene.ledger.bowl(due_at)
    scene.stack.clock.set(at)
    dry_g, water_ml = round(bowl.dry_g), round(bowl.water_ml)
    body = {"uid": uid(f"meal {at}"), "litter": scene.litter, "occurred_at": iso(at), "dry_g": dry_g}
    body |= {"water_ml": water_ml} | ({"left_wet_g": left_wet_g} if left_wet_g is not None else {})
    meal: dict[str, Any] = scene.scale.post("meals", body)
    assert (meal["recorded_device"], meal["warnings"]) == ("Scale by the box", []), meal
    assert scene.duty("meal", due_at)["state"] == "closed"
    scene.ledger.meals.append(Meal(at, dry_g, water_ml, left_wet_g, bowl))
    scene.ledger.due_meals[due_at] = at
    return meal


def weigh(scene: Scene, who: Caller, at: datetime, grams: dict[str, int]) -> None:
    """Weights in one batch, as a round by the box is sent."""
    items = [
        {
            "op": "create",
            "type": "weighing",
            "uid": uid(f"weighing {band} {at}"),
            "data": {"pup": scene.pups[band], "weight_g": weight, "occurred_at": iso(at)},
        }
        for band, weight in grams.items()
    ]
    results = who.post("batch", {"items": items})["results"]
    assert [one["outcome"] for one in results] == ["created"] * len(items), results
    for band, weight in grams.items():
        scene.ledger.weigh(band, at, weight, who.name if isinstance(who, Person) else "")


def done_by(scene: Scene, who: Person, kind: str, due_at: datetime, *, minutes: int) -> None:
    """Somebody taps "done" so many minutes after it was due."""
    at = due_at + timedelta(minutes=minutes)
    scene.stack.clock.set(at)
    scene.tap(who, "done", scene.duty(kind, due_at), at)
    assert scene.duty(kind, due_at)["state"] == "closed"
