"""Tags for every page.  `zone` and `at` come from the page's context."""

from datetime import date, datetime
from typing import Any

from django import template
from django.templatetags.static import static
from django.utils.html import format_html
from django.utils.safestring import SafeString

from kennel.clock.wall_clock import zone_of
from kennel.web import shell, wording

register = template.Library()


@register.simple_tag
def asset(name: str) -> str:
    """Address of a static file with the version of all, so that new and old releases never mix."""
    return f"{static(name)}?v={shell.version()}"


@register.simple_tag(takes_context=True)
def when(context: Any, value: datetime | str | None) -> str | SafeString:
    """An instant in the kennel's zone, as a `time` element; an empty text for None."""
    if not value:
        return ""
    instant = wording.instant(value)
    text = wording.when(instant, context["at"], context["zone"])
    return format_html('<time datetime="{}">{}</time>', instant.isoformat(), text)


@register.simple_tag(takes_context=True)
def ago(context: Any, value: datetime | str | None) -> str | SafeString:
    """How long ago, as a `time` element that a page standing open keeps up to date."""
    if not value:
        return ""
    instant = wording.instant(value)
    text = wording.ago(instant, context["at"])
    return format_html('<time datetime="{}" data-ago>{}</time>', instant.isoformat(), text)


@register.simple_tag(takes_context=True)
def on_day(context: Any, value: date | str | None) -> str:
    """A date in words."""
    return wording.on_day(value, context["at"], context["zone"]) if value else ""


@register.simple_tag(takes_context=True)
def age(context: Any, born: datetime | date | str | None) -> str:
    """Age of an animal by its instant or date of birth."""
    if not born:
        return ""
    if isinstance(born, datetime) or (isinstance(born, str) and len(born) > 10):
        return wording.age(born, context["at"], context["zone"])
    today = context["at"].astimezone(zone_of(context["zone"])).date()
    return wording.age_on(born, today)


@register.inclusion_tag("web/field.html")
def entry_field(field: Any) -> dict[str, Any]:
    """One field of a record form: label, input, help, what was wrong."""
    return {"field": field}
