"""The computed reads of this app and their paths."""

from kennel.api.urls import add_view
from litters.api.adult_weight import PupAdultWeight
from litters.api.due_window import LitterDueWindow
from litters.api.figures import Figures
from litters.api.growth import LitterGrowth
from litters.api.growth_position import PupGrowthPosition
from litters.api.leaving import LitterLeavingRead, PupLeavingRead
from litters.api.pedigree import DogPedigree, PlannedMating
from litters.api.timeline import LitterTimeline
from litters.api.vet_card import LitterVetCard


def register() -> None:
    """Add them all; called once, from `apps.py`."""
    add_view("litters/<str:uid>/due-window", LitterDueWindow, "litter-due-window")
    add_view("figures", Figures, "figures")
    add_view("litters/<str:uid>/growth", LitterGrowth, "litter-growth")
    add_view("litters/<str:uid>/vet-card", LitterVetCard, "litter-vet-card")
    add_view("pups/<str:uid>/adult-weight", PupAdultWeight, "pup-adult-weight")
    add_view("pups/<str:uid>/growth-position", PupGrowthPosition, "pup-growth-position")
    add_view("dogs/<str:uid>/pedigree", DogPedigree, "dog-pedigree")
    add_view("planned-mating", PlannedMating, "planned-mating")
    add_view("litters/<str:uid>/leaving", LitterLeavingRead, "litter-leaving")
    add_view("pups/<str:uid>/leaving", PupLeavingRead, "pup-leaving")
    add_view("litters/<str:uid>/timeline", LitterTimeline, "litter-timeline")
