"""Records about dams, sires, litters and pups."""

from litters.models.agreed import AgreedFigure, RuleSetting, Waiver
from litters.models.box_climate import BoxClimate
from litters.models.breeding import Mating, ProgesteroneTest, Scan, Season
from litters.models.departure import Booking, Departure, Return
from litters.models.dog import Dog
from litters.models.growth_table import GrowthTable
from litters.models.litter import Litter
from litters.models.milestone import Milestone
from litters.models.pup import Pup
from litters.models.temperature import Temperature
from litters.models.weighing import Weighing
from litters.models.whelping_entry import WhelpingEntry

__all__ = [
    "AgreedFigure",
    "Booking",
    "BoxClimate",
    "Departure",
    "Dog",
    "GrowthTable",
    "Litter",
    "Mating",
    "Milestone",
    "ProgesteroneTest",
    "Pup",
    "Return",
    "RuleSetting",
    "Scan",
    "Season",
    "Temperature",
    "Waiver",
    "Weighing",
    "WhelpingEntry",
]
