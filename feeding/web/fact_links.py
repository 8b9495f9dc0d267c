"""Where the facts of this app's duties are written down."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.urls import reverse

from kennel.duties.pages import FactPage


def meal(kennel: UUID, duty: Mapping[str, Any]) -> FactPage:
    """The bowl of the litter."""
    return FactPage(reverse("web:bowl", args=[kennel, duty["asks"]["litter"]]), "Record the meal")


def bottles(kennel: UUID, duty: Mapping[str, Any]) -> FactPage:
    """The bottles of the litter."""
    return FactPage(reverse("web:bottles", args=[kennel, duty["asks"]["litter"]]), "Record the bottles")
