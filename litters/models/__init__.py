"""Records about dams, sires, litters and pups."""

from litters.models.dog import Dog
from litters.models.litter import Litter
from litters.models.pup import Pup
from litters.models.weighing import Weighing

__all__ = ["Dog", "Litter", "Pup", "Weighing"]
