"""Saturday, worming day: weighed first, dosed by weight, one pup too light; three leave at two, the bowl shrinks."""

from datetime import datetime, timedelta
from fractions import Fraction

from tests.e2e.beginning import MEDICINE
from tests.e2e.clock import london
from tests.e2e.friday import meal_words, soak_words
from tests.e2e.grid import BANDS, DAYS, RUNT
from tests.e2e.scene import Scene, iso, uid
from tests.e2e.steps import done_by, record_meal, weigh

WEIGH_FIRST_AT, WORMING_AT = london("2026-10-24 06:30"), london("2026-10-24 08:30")
WEIGHED_AT = london("2026-10-24 06:40")
NOON, LEAVE_AT, EVENING_BOWL_AT = (london(f"2026-10-24 {text}") for text in ("12:00", "14:00", "17:00"))
PASSES_AT = london("2026-10-24 19:30")
OFFERED_AT = PASSES_AT + timedelta(minutes=1)
LEAVING = ("moss", "rust", "slate")
HEAVY = tuple(band for band in BANDS if band != RUNT)


def weigh_first(scene: Scene) -> dict[str, int]:
    """Two hours before the worming both carers are asked to weigh; Idris does."""
    scene.stack.move_to(WEIGH_FIRST_AT)
    letter = scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: Weigh before worming: due 06:30")
    assert f"weigh {', '.join(BANDS)} first, for worming at 08:30 with {MEDICINE}." in letter
    grams = {band: 2 * round(float(scene.ledger.weights[band][_friday_morning()]) * 0.525) for band in HEAVY}
    grams[RUNT] = 899  # 21 CFR 520.1441: not under 2 lb, which is 907 g
    scene.stack.clock.set(WEIGHED_AT)
    weigh(scene, scene.idris, WEIGHED_AT, grams)
    assert scene.duty("weigh-first", WEIGH_FIRST_AT)["state"] == "closed"
    # The next tick gives the worming the new weights.
    scene.stack.tick()
    scene.stack.until("a worming by the new weights", lambda: f"{grams['rose']} g" in _worming(scene)["text"])
    return grams


def _friday_morning() -> datetime:
    return london(f"{london('2026-09-26 12:00') + timedelta(days=DAYS - 1):%Y-%m-%d} 08:00")


def _worming(scene: Scene) -> dict[str, object]:
    return scene.duty("worming", WORMING_AT)


def worm(scene: Scene, grams: dict[str, int]) -> None:
    """Doses by weight and its age for seven; the runt is told of and stays outstanding."""
    scene.stack.move_to(WORMING_AT)
    letter = scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: Worming: due 08:30")
    assert f"Bramble's, {MEDICINE}." in letter
    for band in HEAVY:  # 21 CFR 520.1441: 0.5 mg/kg; weighed at 06:40, 1 h 50 min before
        told = f"{band} {dose_mg(grams[band]):g} milligrams of milbemycin oxime, {grams[band]} g weighed 2 h before"
        assert told in letter, letter
    assert f"{RUNT}: The label begins at 0.907 kg (907 g); {RUNT} weighs 0.899 kg." in letter
    given_at = WORMING_AT + timedelta(minutes=20)
    scene.stack.clock.set(given_at)
    doses = {one["name"]: one for one in scene.idris.get(_doses(scene))["doses"]}
    assert {band: doses[band]["dose_mg"] for band in HEAVY} == {band: dose_mg(grams[band]) for band in HEAVY}
    assert (doses[RUNT]["outcome"], doses[RUNT]["dose_mg"]) == ("outstanding", None)
    animals = [
        {"uid": uid(f"dose {band}"), "pup": scene.pups[band], "dose_mg": doses[band]["dose_mg"]}
        for band in HEAVY
    ]
    common = {
        "medicine": uid("medicine"),
        "plan": uid("worming"),
        "lot": "L 2210",
        "expires_on": "2027-06-30",
    }
    sent = {**common, "occurred_at": iso(given_at), "animals": animals}
    for outcome in ("created", "replayed"):  # sent twice, as after a lost answer
        results = scene.idris.post("treatments/for-many", sent)["results"]
        assert [one["outcome"] for one in results] == [outcome] * len(HEAVY), results
    scene.ledger.doses += [given_at] * len(HEAVY)
    scene.ledger.written.add((given_at, scene.idris.name))
    assert _states(scene) == {**dict.fromkeys(HEAVY, "done"), RUNT: "outstanding"}
    assert _worming(scene)["state"] == "open"


def _doses(scene: Scene) -> str:
    return f"litters/{scene.litter}/doses?medicine={uid('medicine')}"


def dose_mg(grams: int) -> float:
    """0.5 mg/kg, as 21 CFR 520.1441 says, to a microgram."""
    return float(round(Fraction(grams, 2000), 3))


def _states(scene: Scene) -> dict[str, str]:
    return {one["name"]: one["state"] for one in scene.duty("worming", WORMING_AT)["animals"]}


def noon(scene: Scene) -> None:
    """Soaked at ten; the bowl of noon waits too long, so that the keeper hears of it as well; then it is recorded."""
    soak_at = NOON - timedelta(hours=2)
    scene.stack.move_to(soak_at)
    letter = scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: Soak the food: due 10:00")
    assert soak_words(scene.ledger.bowl(NOON), "12:00", 8) in letter, letter
    done_by(scene, scene.oona, "soak", soak_at, minutes=8)
    scene.stack.move_to(WORMING_AT + timedelta(hours=2))  # one pup is outstanding: nobody may forget it
    letter = scene.mailed(*scene.people, subject="Hollin Bank: Worming: was due 08:30, not confirmed")
    assert RUNT in letter
    assert "milligrams" not in letter, letter  # the others had theirs
    scene.stack.move_to(NOON)
    scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: Meal: due 12:00")
    scene.stack.move_to(NOON + timedelta(minutes=15))
    scene.mailed(*scene.people, subject="Hollin Bank: Meal: was due 12:00, not confirmed")
    record_meal(scene, NOON, minutes=18, left_wet_g=60)


def three_leave(scene: Scene) -> None:
    """At two; the bowl of five o'clock was planned for eight and is for five from that moment on."""
    before = scene.duty("meal", EVENING_BOWL_AT)["asks"]
    planned = scene.ledger.bowl(EVENING_BOWL_AT)
    assert (before["pups"], before["dry_g"]) == (8, round(planned.dry_g))
    scene.stack.clock.set(LEAVE_AT)
    for band in LEAVING:
        left = {
            "uid": uid(f"departure {band}"),
            "pup": scene.pups[band],
            "kind": "lent",
            "occurred_at": iso(LEAVE_AT),
        }
        scene.maud.post("departures", {**left, "note": "To be raised with a second dam."})
        scene.ledger.left[band] = LEAVE_AT
        scene.ledger.written.add((LEAVE_AT, scene.maud.name))
    shrunk = scene.ledger.bowl(EVENING_BOWL_AT)
    after = scene.duty("meal", EVENING_BOWL_AT)
    assert (after["asks"]["pups"], after["asks"]["dry_g"]) == (5, round(shrunk.dry_g))
    assert {one["name"] for one in after["animals"]} == set(BANDS) - set(LEAVING)
    assert shrunk.dry_g < planned.dry_g
    soak_at = EVENING_BOWL_AT - timedelta(hours=2)
    scene.stack.move_to(soak_at)
    letter = scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: Soak the food: due 15:00", nth=2)
    assert soak_words(shrunk, "17:00", 5) in letter, (shrunk, letter)
    done_by(scene, scene.idris, "soak", soak_at, minutes=5)
    scene.stack.move_to(EVENING_BOWL_AT)
    letter = scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: Meal: due 17:00", nth=2)
    assert meal_words(shrunk, 5) in letter, letter
    record_meal(scene, EVENING_BOWL_AT, minutes=4, left_wet_g=None)


def runt_passes(scene: Scene) -> None:
    """A weight over the minimum offers the dose at once; both are told; given, nothing is outstanding any more."""
    scene.stack.clock.set(PASSES_AT)
    weigh(scene, scene.oona, PASSES_AT, {RUNT: 916})
    assert _states(scene)[RUNT] == "deferred"
    (own,) = scene.duties("worming", PASSES_AT, PASSES_AT + timedelta(minutes=5))
    assert [(one["name"], one["state"]) for one in own["animals"]] == [(RUNT, "outstanding")]
    scene.stack.move_to(PASSES_AT + timedelta(minutes=2))
    letter = scene.mailed(scene.idris, scene.oona, subject="Hollin Bank: Worming: due 19:31")
    assert f"{RUNT} {dose_mg(916):g} milligrams of milbemycin oxime, 916 g weighed 0 h before" in letter
    given_at = PASSES_AT + timedelta(minutes=10)
    scene.stack.clock.set(given_at)
    dose = {
        "uid": uid(f"dose {RUNT}"),
        "pup": scene.pups[RUNT],
        "medicine": uid("medicine"),
        "plan": uid("worming"),
    }
    scene.oona.post("treatments", {**dose, "occurred_at": iso(given_at), "dose_mg": 0.46, "lot": "L 2210"})
    scene.ledger.doses.append(given_at)
    scene.ledger.written.add((given_at, scene.oona.name))
    # Put off to its own duty, the runt left nothing outstanding of the morning's.
    scene.ledger.due_doses |= {WORMING_AT: PASSES_AT, OFFERED_AT: given_at}
    (own,) = scene.duties("worming", PASSES_AT, PASSES_AT + timedelta(minutes=5))
    assert (own["state"], own["animals"][0]["state"]) == ("closed", "done")
    assert _worming(scene)["state"] == "closed"
