"""The fields of the forms about dogs, litters, pups and weights, in the words people see."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from kennel.web.forms import Entry

Choices = list[tuple[str, str]]
CHIP_HELP = "15 digits; older chips 9 or 10 letters and digits."


def pup_label(pup: dict[str, Any]) -> str:
    """What people call a pup: band and name, or its place in the litter."""
    words = [pup["band"].capitalize(), pup["name"]]
    told = " · ".join(word for word in words if word)
    return told or f"Pup {pup['birth_order'] or ''}".strip()


def dog_choices(dogs: Sequence[dict[str, Any]], sex: str) -> Choices:
    """Dogs of one sex by name."""
    return [(dog["uid"], dog["name"]) for dog in dogs if dog["sex"] == sex]


def dog_entries(dogs: Sequence[dict[str, Any]]) -> list[Entry]:
    """A dog."""
    return [
        Entry("name", "Call name"),
        Entry("sex", "Sex"),
        Entry("born_on", "Born on"),
        Entry("adult_weight_kg", "Usual adult weight", "Rations and doses start from it.", unit="kg"),
        Entry("lives_here", "Lives here"),
        Entry("breed", "Breed", is_more=True),
        Entry("colour", "Colour", is_more=True),
        Entry("chip_code", "Chip code", CHIP_HELP, is_more=True),
        Entry("registered_name", "Registered name", is_more=True),
        Entry("dam", "Its dam", choices=dog_choices(dogs, "female"), is_more=True),
        Entry("sire", "Its sire", choices=dog_choices(dogs, "male"), is_more=True),
        Entry("note", "Note", is_more=True),
    ]


def litter_entries(dogs: Sequence[dict[str, Any]]) -> list[Entry]:
    """A litter, expected or born."""
    return [
        Entry("dam", "Dam", choices=dog_choices(dogs, "female")),
        Entry("sire", "Sire", choices=dog_choices(dogs, "male")),
        Entry("name", "What you call the litter", "Such as Sorrel's spring litter."),
        Entry("mated_on", "Mated on"),
        Entry("whelped_at", "Whelping began at", "Leave empty while the litter is expected."),
        Entry("expected_pups", "Pups expected", "What the scan showed."),
        Entry("expected_adult_kg", "Adult weight to expect", unit="kg"),
        Entry("note", "Note"),
    ]


def litter_change_entries(dogs: Sequence[dict[str, Any]]) -> list[Entry]:
    """The same for a litter that is there, with the days that end something."""
    more = [
        Entry("weaned_on", "Weaned on"),
        Entry("closed_on", "Closed on", "When the last pup has gone home."),
    ]
    return [*litter_entries(dogs)[:-1], *more, litter_entries(dogs)[-1]]


def pup_entries() -> list[Entry]:
    """A pup."""
    return [
        Entry("litter", "Litter", choices=[], is_hidden=True),
        Entry("band", "Band", "The word for its wool band; no two of a litter wear the same."),
        Entry("sex", "Sex"),
        Entry("born_at", "Born at"),
        Entry("birth_order", "Place in the litter", "1 for the firstborn.", is_more=True),
        Entry("fate", "At birth", is_more=True),
        Entry("rearing", "Milk", is_more=True),
        Entry("colour", "Colour", is_more=True),
        Entry("marks", "Marks", "What tells it apart when the band is off.", is_more=True),
        Entry("name", "Name", is_more=True),
        Entry("note", "Note", is_more=True),
    ]


def pup_change_entries() -> list[Entry]:
    """A pup that is there; its death is told on a page of its own."""
    left_out = {"litter", "fate"}
    chip = Entry("chip_code", "Chip code", CHIP_HELP)
    kept = [replace(entry, is_more=False) for entry in pup_entries() if entry.name not in left_out]
    return [*kept[:-1], chip, kept[-1]]


def weighing_entries(animal: str, animals: Choices, *, is_fixed: bool = False) -> list[Entry]:
    """A weight as it was typed; is_fixed: the page says which animal, the form only carries it."""
    return [
        Entry(animal, "Weight of", choices=animals, is_hidden=is_fixed),
        Entry("entered_value", "Weight", is_large=True, is_needed=True),
        Entry("entered_unit", "Unit"),
        Entry("occurred_at", "Weighed at"),
        Entry("note", "Note", is_more=True),
    ]


def temperature_entries(animal: str, animals: Choices, *, is_fixed: bool = False) -> list[Entry]:
    """A body temperature as it was typed; is_fixed: the page says which animal."""
    return [
        Entry(animal, "Temperature of", choices=animals, is_hidden=is_fixed),
        Entry("entered_value", "Temperature", is_large=True, is_needed=True),
        Entry("entered_unit", "Unit"),
        Entry("occurred_at", "Taken at"),
        Entry("note", "Note", is_more=True),
    ]


def climate_entries(litter: Choices) -> list[Entry]:
    """Whelping-box temperature and humidity."""
    return [
        Entry("litter", "Litter", choices=litter, is_hidden=True),
        Entry("surface_c", "Where the pups lie", "Read at the pups' height.", unit="°C", is_large=True),
        Entry("area_c", "Around it", "So that a pup can crawl away from the warmth.", unit="°C"),
        Entry("humidity_pct", "Humidity", unit="%"),
        Entry("occurred_at", "Read at"),
        Entry("note", "Note", is_more=True),
    ]


def whelping_entries(litter: Choices, pups: Choices) -> list[Entry]:
    """A line of the whelping log."""
    points = "0, 1 or 2, about 5 minutes after birth."
    return [
        Entry("litter", "Litter", choices=litter, is_hidden=True),
        Entry("kind", "What happened"),
        Entry("occurred_at", "At"),
        Entry("strength", "Straining", "Left empty it counts as strong: the more careful reading."),
        Entry("discharge", "Colour of the discharge"),
        Entry("pup", "Pup", choices=pups),
        Entry("is_alive", "Born alive"),
        Entry("note", "Note"),
        Entry("vet_name", "Vet", is_more=True),
        Entry("apgar_heart_rate", "Score: heart rate", points, is_more=True),
        Entry("apgar_breathing", "Score: breathing", points, is_more=True),
        Entry("apgar_reflex", "Score: reflex", points, is_more=True),
        Entry("apgar_motility", "Score: movement", points, is_more=True),
        Entry("apgar_colour", "Score: colour of the gums", points, is_more=True),
    ]


def season_entries(dam: Choices) -> list[Entry]:
    """A season (heat)."""
    return [
        Entry("dam", "Dam", choices=dam, is_hidden=True),
        Entry("began_on", "Began on", "First day of bleeding."),
        Entry("ended_on", "Ended on"),
        Entry("lh_surge_on", "LH surge on", "As the vet read it."),
        Entry("ovulated_on", "Ovulation on", "As the vet read it."),
        Entry("diestrus_on", "First day of diestrus", "As the vet read it from a smear."),
        Entry("note", "Note", is_more=True),
    ]


def progesterone_entries(dam: Choices) -> list[Entry]:
    """A blood test for progesterone."""
    return [
        Entry("dam", "Dam", choices=dam, is_hidden=True),
        Entry("value", "Progesterone", is_large=True),
        Entry("unit", "Unit", "As the report prints it."),
        Entry("analyser", "Analyser or laboratory", "Only one and the same makes a trend."),
        Entry("occurred_at", "Sample taken at"),
        Entry("known_on", "Answer came on"),
        Entry("note", "Note", is_more=True),
    ]


def mating_entries(dam: Choices, sires: Choices) -> list[Entry]:
    """A mating."""
    return [
        Entry("dam", "Dam", choices=dam, is_hidden=True),
        Entry("sire", "Sire", choices=sires),
        Entry("occurred_at", "Mated at"),
        Entry("kind", "How"),
        Entry("note", "Note", is_more=True),
    ]
