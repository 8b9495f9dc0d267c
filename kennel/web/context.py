"""What every page may show: the kennel, its menu, its vet, banners that stand."""

from typing import Any

from django.http import HttpRequest

from kennel.people import selectors
from kennel.people.choices import Role
from kennel.web import banners, menu


def surroundings(request: HttpRequest) -> dict[str, Any]:
    """Values for the page frame.  Inside a kennel: one query (the carer's kennels, for the vet's numbers)."""
    page = getattr(request, "kennel_page", None)
    if page is None:
        return {"here": None, "banners": banners.standing(None)}
    kennels = [kennel for kennel, _ in selectors.kennels_of(page.carer)]
    links = menu.links(page.here, page.actor, request.path)
    return {
        "here": page.here,
        "zone": page.here.zone,
        "actor": page.actor,
        "may_write": page.actor.may(Role.CARER),
        "is_keeper": page.actor.may(Role.KEEPER),
        "kennel": next((kennel for kennel in kennels if kennel.pk == page.here.id), None),
        "has_other_kennels": len(kennels) > 1,
        "menu": links,
        "menu_at_the_thumb": links[: menu.AT_THE_THUMB],
        "banners": banners.standing(page.here),
    }
