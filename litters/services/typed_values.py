"""A measurement and what was typed for it: one follows from the other, and the two agree."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from kennel.records.refusals import invalid
from kennel.records.service import Draft


def settle(
    draft: Draft,
    name: str,
    unit_kept: Any,
    convert: Callable[[Decimal, Any], Decimal],
    tolerance: Callable[[Decimal], Decimal],
) -> Decimal:
    """The value in the unit that is kept; fills it in with what was typed, and refuses two that disagree.

    name: the field of the value.  convert(typed, unit): the value that was typed in unit_kept.  tolerance(value): by
    how much the two may differ.  In a correction the one that is sent leads the other.
    """
    typed, unit, value = draft.input.entered_value, draft.input.entered_unit, getattr(draft.input, name)
    if draft.before is not None:
        led_by_typed = draft.sent & {"entered_value", "entered_unit"} and typed is not None
        if name in draft.sent and "entered_value" not in draft.sent and value is not None:
            typed, unit = value, unit_kept
        elif led_by_typed and name not in draft.sent:
            value = None
    if value is None:
        value = convert(typed, unit)
    elif typed is None:
        typed, unit = value, unit_kept
    elif abs(convert(typed, unit) - value) > tolerance(value):
        draft.refuse(invalid("entered_value", "disagrees", f"{name} and what was typed are not the same."))
    draft.columns |= {name: value, "entered_value": typed, "entered_unit": unit}
    kept: Decimal = value
    return kept
