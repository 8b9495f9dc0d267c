"""Friday at two: the keeper signs up and in, makes the kennel, asks two carers in, pairs the scale, enters the litter."""

import base64
from datetime import timedelta
from fractions import Fraction
from typing import Any

from tests.e2e.clock import london
from tests.e2e.grid import BANDS, DAYS, GRAMS_PER_OUNCE, grams_in_file, grid_in_ounces, ounces
from tests.e2e.people import Device, Person
from tests.e2e.recomputed import ADULT_KG, DENSITY_G_PER_ML, KCAL_PER_KG, SHARE_FROM_FOOD, WATER_PARTS, Ledger
from tests.e2e.scene import Scene, iso, uid
from tests.e2e.stack import MainStack

ZONE = "Europe/London"  # its clocks go back on Sunday 25 October 2026 at 02:00
BEGIN = london("2026-10-23 14:00")
BORN_AT = london("2026-09-26 03:10")  # 27 days before
WEIGHED_AT = "08:00"  # the hour an import takes for a day without one
FOOD = "Hill pasture puppy"
MEDICINE = "Milbemycin oxime tablets"


def move_in(stack: MainStack) -> Scene:
    """The people, the kennel, the device."""
    maud = Person(stack, "Maud Ferrier").sign_up().sign_in()
    maud.fill_in(
        "/kennels/new", name="Hollin Bank", zone=ZONE, mass_unit="g", temperature_unit="C", place="GB"
    )
    (kennel,) = maud.get("/api/v1/kennels")["results"]
    assert (kennel["zone"], kennel["role"]) == (ZONE, "keeper")
    maud.kennel = kennel["uid"]
    carers: list[Person] = []
    for name in ("Idris Vane", "Oona Quill"):
        carer = Person(stack, name)
        maud.post("invitations", {"uid": uid(f"invitation {name}"), "role": "carer", "email": carer.email})
        carers.append(carer)
    stack.tick("kennel.people.tasks.send_letters")
    for carer in carers:
        stack.until(f"an invitation for {carer.name}", carer.letters)
        carer.join(kennel["uid"], carer.letters()[0])
    made = maud.post("devices", {"uid": uid("scale"), "name": "Scale by the box", "kind": "scale"})
    scale = Device(stack, kennel["uid"], made["pairing"]["code"])
    for member in maud.every("members"):
        if member["role"] == "carer":  # both are on duty round the clock
            shift = {
                "member": member["uid"],
                "first_on": "2026-10-23",
                "from_time": "00:00",
                "until_time": "00:00",
            }
            maud.post("shifts", {"uid": uid(f"shift {member['name']}"), **shift})
    idris, oona = carers
    return Scene(stack, maud, idris, oona, scale, kennel["uid"], Ledger(BORN_AT))


def enter_the_litter(scene: Scene) -> None:
    """Dam, litter of eight, and the weights from the spreadsheet."""
    maud = scene.maud
    maud.post("dogs", {"uid": uid("dam"), "name": "Bramble", "sex": "female", "adult_weight_kg": ADULT_KG})
    litter = {"uid": scene.litter, "name": "Bramble's", "dam": uid("dam"), "whelped_at": iso(BORN_AT)}
    maud.post("litters", {**litter, "expected_adult_kg": ADULT_KG})
    scene.pups = {band: uid(f"pup {band}") for band in BANDS}
    items = [_pup_item(scene, place, band) for place, band in enumerate(BANDS)]
    assert {one["outcome"] for one in maud.post("batch", {"items": items})["results"]} == {"created"}
    import_the_weights(scene)


def _pup_item(scene: Scene, place: int, band: str) -> dict[str, Any]:
    born_at = iso(BORN_AT + timedelta(minutes=20) * place)
    data = {"litter": scene.litter, "band": band, "born_at": born_at, "birth_order": place + 1}
    return {"op": "create", "type": "pup", "uid": scene.pups[band], "data": data}


def import_the_weights(scene: Scene) -> None:
    """224 weights in ounces out of an XLSX grid; twice, which changes nothing."""
    content = grid_in_ounces()
    sent = {"file_name": "weights.xlsx", "content": base64.b64encode(content).decode(), "dry_run": False}
    path = f"litters/{scene.litter}/imports"
    done, again = scene.maud.post(path, sent), scene.maud.post(path, sent)
    assert (done["counts"]["added"], done["counts"]["refused"]) == (DAYS * len(BANDS), 0), done["counts"]
    assert again["counts"]["already_here"] == DAYS * len(BANDS)
    bands = {pup: band for band, pup in scene.pups.items()}
    stored: dict[str, Fraction] = dict.fromkeys(BANDS, Fraction(0))
    for row in scene.maud.every("weighings"):
        stored[bands[row["pup"]]] += Fraction(str(row["weight_g"]))
    in_file = grams_in_file(content)
    for band in BANDS:
        # Each weight is kept to a hundredth of a gram, so 28 of them are at most 0.14 g off together.
        assert abs(stored[band] - sum(in_file[band])) <= Fraction(14, 100), band
        for day in range(DAYS):
            at = london(f"{(BORN_AT + timedelta(days=day)):%Y-%m-%d} {WEIGHED_AT}")
            scene.ledger.weigh(band, at, Fraction(str(ounces(band, day))) * GRAMS_PER_OUNCE, scene.maud.name)


def set_food_plan_and_medicine(scene: Scene) -> None:
    """What they are fed, when and how softened; what they are wormed with, when."""
    maud = scene.maud
    food = {"name": FOOD, "printed_kcal_per_kg": KCAL_PER_KG, "density_g_per_ml": DENSITY_G_PER_ML}
    maud.post("foods", {"uid": uid("food"), **food})
    stage = {
        "from_day": 21,
        "wall_times": ["12:00", "17:00"],
        "soak": {"food_parts": 1, "water_parts": WATER_PARTS},
        "share_from_food": SHARE_FROM_FOOD,
    }
    plan = {
        "uid": uid("plan"),
        "litter": scene.litter,
        "food": uid("food"),
        "stages": [stage],
        "soak_minutes": 120,
    }
    maud.post("feeding-plans", plan)
    labels = {one["key"]: one["medicine"] for one in maud.get("medicine-labels")["labels"]}
    # 21 CFR 520.1441: from 4 weeks of age and 2 lb (907 g), at least 0.5 mg/kg.
    label = labels["milbemycin_oxime"]
    assert (label["minimum_age_days"], float(label["minimum_weight_g"])) == (28, 907)
    maud.post("medicines", {**label, "uid": uid("medicine"), "prescriber": "the vet in the valley"})
    worming = {"uid": uid("worming"), "litter": scene.litter, "scheme": "capc", "medicine": uid("medicine")}
    maud.post("treatment-plans", {**worming, "wall_time": "08:30", "weigh_first_minutes": 120})
