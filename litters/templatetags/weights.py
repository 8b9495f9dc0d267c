"""Tags for weights.  `carer` comes from the page's context."""

from typing import Any

from django import template

from litters.web import weights

register = template.Library()


@register.simple_tag(takes_context=True)
def weight(context: Any, grams: Any) -> str:
    """A weight in the carer's unit; an empty text for None."""
    return "" if grams is None else weights.said(grams, context["carer"].mass_unit)


@register.simple_tag(takes_context=True)
def weight_of(context: Any, weighing: dict[str, Any]) -> str:
    """The weight of a weighing, as typed where the units agree."""
    return weights.said_as_entered(weighing, context["carer"].mass_unit)


@register.simple_tag(takes_context=True)
def weight_change(context: Any, newer_g: Any, older_g: Any) -> str:
    """The difference between two weights in the carer's unit."""
    return weights.change_said(newer_g, older_g, context["carer"].mass_unit)
