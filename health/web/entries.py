"""The fields of the forms about medicines, treatments, health events and watches, in the words people see."""

from collections.abc import Sequence
from typing import Any

from health.domain.units import RATE_UNITS, STRENGTH_UNITS
from kennel.web.forms import Entry

Choices = list[tuple[str, str]]
BAND_UNITS = (*RATE_UNITS, "mg", "mL", "g", "tablet")


def medicine_entries() -> list[Entry]:
    """A product as its label describes it."""
    return [
        Entry("name", "Name of the product"),
        Entry("purpose", "For"),
        Entry("active", "Active ingredient"),
        Entry("form", "Form"),
        Entry("strength_value", "Strength", "As printed on the bottle in your hand."),
        Entry("strength_unit", "Unit of the strength", choices=[(unit, unit) for unit in STRENGTH_UNITS]),
        Entry("dose_value", "Dose", "One rate for all weights; leave it empty for a weight table."),
        Entry("dose_unit", "Unit of the dose", choices=[(unit, unit) for unit in RATE_UNITS]),
        Entry("minimum_age_days", "Not under this age", unit="days"),
        Entry("minimum_weight_g", "Not under this weight", "2 lb is 907 g.", unit="g"),
        Entry("course_days", "Days of a course"),
        Entry("repeat_after_days", "Least days to the next course"),
        Entry("supply", "Handed out"),
        Entry("prescriber", "Prescribed by"),
        Entry("label_note", "What else the label says"),
        Entry("source", "Where this is from", "The label, with its date."),
        Entry("in_use", "In use"),
        Entry("dose_stated", "The dose is stated", is_more=True),
        Entry("strength_stated", "The strength is stated", is_more=True),
        Entry("base_per_salt", "Base in one part of salt", is_more=True),
        Entry("least_dose", 'The label says "at least"', is_more=True),
        Entry("dose_interval_h", "Hours between doses of a course", is_more=True),
        Entry("tablet_parts", "A tablet may be cut into", "1, 2 or 4 parts.", is_more=True),
        Entry("pregnancy", "Pregnant bitches", is_more=True),
        Entry("nursing", "Nursing bitches", is_more=True),
    ]


def treatment_entries(medicines: Sequence[dict[str, Any]]) -> list[Entry]:
    """A dose that was given."""
    choices: Choices = [(one["uid"], one["name"]) for one in medicines if one["in_use"]]
    return [
        Entry("medicine", "Medicine", choices=choices),
        Entry("amount", "Amount"),
        Entry("amount_unit", "Measured in", choices=[("mL", "mL"), ("g", "g"), ("tablet", "tablets")]),
        Entry("occurred_at", "Given at"),
        Entry("lot", "Lot"),
        Entry("expires_on", "Expires on"),
        Entry("outcome", "What became of it"),
        Entry("dose_mg", "Or the dose itself", unit="mg", is_more=True),
        Entry("prescriber", "Prescribed by", is_more=True),
        Entry("note", "Note", is_more=True),
    ]


def health_event_entries() -> list[Entry]:
    """Something that happened."""
    return [
        Entry("kind", "What happened"),
        Entry("occurred_at", "When"),
        Entry("note", "What was seen"),
        Entry("vet", "Vet", is_more=True),
        Entry("result", "Result or advice", is_more=True),
        Entry("ended_on", "Over since", is_more=True),
    ]


def watch_entries() -> list[Entry]:
    """An animal to keep an eye on."""
    return [Entry("level", "How urgent"), Entry("opened_at", "Since"), Entry("note", "Why")]
