"""What every page may show."""

from typing import Any

from django.http import HttpRequest


def surroundings(request: HttpRequest) -> dict[str, Any]:
    """Values for the page frame."""
    return {}
