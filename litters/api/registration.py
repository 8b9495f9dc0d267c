"""The computed reads of this app and their paths."""

from kennel.api.urls import add_view
from litters.api.due_window import LitterDueWindow
from litters.api.growth import LitterGrowth


def register() -> None:
    """Add them all; called once, from `apps.py`."""
    add_view("litters/<str:uid>/due-window", LitterDueWindow, "litter-due-window")
    add_view("litters/<str:uid>/growth", LitterGrowth, "litter-growth")
