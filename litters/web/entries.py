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
