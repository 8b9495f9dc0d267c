"""Closed lists of the feeding app."""

from django.db.models import TextChoices


class FoodKind(TextChoices):
    """What a food is: only dry and wet foods go into bowls, only replacer into bottles."""

    DRY = "dry", "dry food"
    WET = "wet", "wet food"
    REPLACER = "replacer", "milk replacer"


class EnergyMethod(TextChoices):
    """Where a food's energy comes from."""

    PRINTED = "printed", "printed by the maker"
    ATWATER = "atwater", "modified Atwater"


class NeedMethod(TextChoices):
    """Published ways to the need of a pup; the values are those of `domain.pup_needs.PupMethod`."""

    GROWTH_NRC = "growth_nrc", "NRC 2006, growing pups"
    GROWTH_KLEIN = "growth_klein", "Klein 2019, growing pups"
    GROWTH_FEDIAF_STEP = "growth_fediaf_step", "FEDIAF steps, growing pups"
    NEWBORN = "newborn", "25 kcal per 100 g, unweaned pups"


class MissingWeight(TextChoices):
    """What to do about a pup nobody has weighed; the values are those of `domain.pup_needs`."""

    LEAVE_OUT = "leave_out", "leave it out and say so"
    LITTERMATES_MEAN = "littermates_mean", "assume the littermates' mean and say so"


class MilkNeed(TextChoices):
    """Published energy needs of unweaned pups; the values are the keys of `domain.milk.MILK_NEEDS`."""

    NRC = "nrc", "NRC and FEDIAF, 25 kcal per 100 g"
    BREEDER_TEXT = "breeder_text", "breeder text, 24.2 kcal per 100 g"
    HANDBOOK = "handbook", "handbook, 13.2 to 19.8 kcal per 100 g by week"


class StockMoveKind(TextChoices):
    """How food came or went."""

    BOUGHT = "bought", "bought"
    USED = "used", "used otherwise than in recorded meals"
    THROWN_AWAY = "thrown_away", "thrown away"
    COUNTED = "counted", "weighed what is there"
