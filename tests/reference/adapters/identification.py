"""Identification and law keys: transponder codes and the dates of the rules by place."""

from collections.abc import Callable

from litters.domain import law_checks
from litters.domain.identification import chip_class
from tests.reference.inputs import Inputs

Adapter = Callable[[Inputs, str], object]


def _one(output_name: str, reckon: Callable[[Inputs], object]) -> Adapter:
    """An adapter with a single output."""

    def adapter(inputs: Inputs, output: str) -> object:
        if output != output_name:
            raise ValueError(f"unknown output {output!r}")
        return reckon(inputs)

    return adapter


def _travel(inputs: Inputs) -> object:
    chipped_on = inputs.day("chip") if "chip" in inputs else None
    return law_checks.eu_travel_earliest(inputs.day("dob"), inputs.day("rabies"), chipped_on)


FORMULAS: dict[str, Adapter] = {
    "chip_class": _one("class", lambda row: chip_class(row["code"])),
    "earliest_leave_8wk": _one("date", lambda row: law_checks.earliest_leave_on(row.day("dob"))),
    "eu_travel_earliest": _one("date", _travel),
    "eu_rabies_valid": _one(
        "valid", lambda row: law_checks.eu_rabies_valid(row.day("dob"), row.day("chip"), row.day("rabies"))
    ),
    "eng_mating_age_ok": _one(
        "ok", lambda row: law_checks.mating_age_ok(row.day("dam_dob"), row.day("mating"))
    ),
    "eng_litter_interval_ok": _one(
        "ok", lambda row: law_checks.litter_interval_ok(row.day("previous"), row.day("next"))
    ),
    "eng_litter_count_ok": _one(
        "ok_for_another", lambda row: law_checks.litter_count_ok(row.integer("previous_litters"))
    ),
    "eng_last_transport_date": _one("date", lambda row: law_checks.last_transport_on(row.day("mating"))),
    "us_pup_tag_due": _one("sixteen_weeks", lambda row: law_checks.pup_tag_due_on(row.day("dob"))),
}
