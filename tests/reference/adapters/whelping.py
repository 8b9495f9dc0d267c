"""Adapters for the formula keys of whelping: the viability score of the newborn."""

from collections.abc import Callable

from litters.domain import whelping
from tests.reference.inputs import Inputs


def _apgar_total(inputs: Inputs, output: str) -> int:
    if output != "total":
        raise ValueError(f"unknown output {output!r}")
    return whelping.apgar_total(
        heart_rate=inputs.integer(inputs.name_of("hr", "heart_rate")),
        breathing=inputs.integer(inputs.name_of("resp", "breathing")),
        reflex=inputs.integer("reflex"),
        motility=inputs.integer("motility"),
        colour=inputs.integer(inputs.name_of("colour", "color")),
    )


def _apgar_class(inputs: Inputs, output: str) -> str:
    if output != "class":
        raise ValueError(f"unknown output {output!r}")
    return whelping.apgar_class(inputs.integer("total"))


FORMULAS: dict[str, Callable[[Inputs, str], object]] = {
    "apgar_total": _apgar_total,
    "apgar_class": _apgar_class,
}
