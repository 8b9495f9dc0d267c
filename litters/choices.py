"""Closed lists of the litters app."""

from django.db.models import TextChoices


class Sex(TextChoices):
    """Sex of a dog or pup."""

    FEMALE = "female", "bitch"
    MALE = "male", "dog"
    UNKNOWN = "unknown", "not known"


class WeightSource(TextChoices):
    """Where a weight came from."""

    SCALE = "scale", "read by a scale"
    TYPED = "typed", "typed in"
    ESTIMATED = "estimated", "estimated"
    IMPORTED = "imported", "from a file"


class Fate(TextChoices):
    """What became of a pup."""

    LIVING = "living", "living"
    STILLBORN = "stillborn", "stillborn"
    DIED = "died", "died"


class Rearing(TextChoices):
    """How an unweaned pup gets its milk."""

    SUCKING = "sucking", "sucking"
    TOPPED_UP = "topped_up", "sucking and topped up"
    HAND_FED = "hand_fed", "hand-fed"
    WEANED = "weaned", "weaned"


class DepartureKind(TextChoices):
    """How a pup left."""

    SOLD = "sold", "gone home (sold)"
    GIVEN = "given", "gone home (given)"
    LENT = "lent", "lent"
    TO_OWNER = "to_owner", "gone to its owner"
    OTHER = "other", "left otherwise"


class MilestoneKind(TextChoices):
    """First times worth writing down."""

    EYES_OPEN = "eyes_open", "eyes open"
    EARS_OPEN = "ears_open", "ears open"
    CRAWLS = "crawls", "crawls"
    STANDS = "stands", "stands"
    WALKS = "walks", "walks"
    LAPS = "laps", "laps from a dish"
    TEETH = "teeth", "first milk teeth"
    OTHER = "other", "something else"
