"""Records about dams, sires, litters and pups."""

from litters.models.box_climate import BoxClimate
from litters.models.departure import Booking, Departure, Return
from litters.models.dog import Dog
from litters.models.litter import Litter
from litters.models.milestone import Milestone
from litters.models.pup import Pup
from litters.models.temperature import Temperature
from litters.models.weighing import Weighing

__all__ = [
    "Booking",
    "BoxClimate",
    "Departure",
    "Dog",
    "Litter",
    "Milestone",
    "Pup",
    "Return",
    "Temperature",
    "Weighing",
]
