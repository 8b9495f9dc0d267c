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


class ProgesteroneUnit(TextChoices):
    """Unit a laboratory or analyser states progesterone in."""

    NG_PER_ML = "ng/mL", "ng/mL"
    NMOL_PER_L = "nmol/L", "nmol/L"


class MatingKind(TextChoices):
    """How semen reached the bitch."""

    NATURAL = "natural", "natural mating"
    FRESH_INSEMINATION = "fresh_insemination", "insemination, fresh semen"
    CHILLED_INSEMINATION = "chilled_insemination", "insemination, chilled semen"
    FROZEN_INSEMINATION = "frozen_insemination", "insemination, frozen semen"


class ScanMethod(TextChoices):
    """How the pups were looked at before birth."""

    ULTRASOUND = "ultrasound", "ultrasound"
    X_RAY = "x_ray", "X-ray"


class ScanStructure(TextChoices):
    """What was measured on an ultrasound picture."""

    INNER_CHORIONIC_CAVITY = "icc", "inner chorionic cavity"
    BIPARIETAL = "bp", "biparietal diameter (head across)"
    GESTATIONAL_SAC = "sac", "gestational sac"
    HEAD = "head", "head"


class ScanUnit(TextChoices):
    """Unit of a measurement on a scan."""

    MM = "mm", "mm"
    CM = "cm", "cm"


class WhelpingKind(TextChoices):
    """What a line of the whelping log states."""

    STAGE_ONE_BEGAN = "stage_one_began", "first stage: restless, nesting, panting"
    STRAINING_BEGAN = "straining_began", "straining began"
    STRAINING_ENDED = "straining_ended", "straining ended"
    PUP_BORN = "pup_born", "pup born"
    PLACENTA_PASSED = "placenta_passed", "placenta passed"
    DISCHARGE_SEEN = "discharge_seen", "discharge seen"
    TEMPERATURE_FELL = "temperature_fell", "temperature fell"
    TEMPERATURE_RECOVERED = "temperature_recovered", "temperature rose again"
    PUP_STUCK = "pup_stuck", "a pup is stuck"
    FETAL_HEART_SLOW = "fetal_heart_slow", "a fetal heart is slow"
    COLLAPSE = "collapse", "the dam collapsed"
    FRESH_BLEEDING = "fresh_bleeding", "fresh red bleeding"
    FOUL_SMELL = "foul_smell", "foul smell"
    WORRY = "worry", "somebody is worried"
    VET_SEEN = "vet_seen", "seen by the vet"
    FINISHED = "finished", "whelping is over"
    APGAR = "apgar", "viability score of a pup"
    REMARK = "remark", "remark"


class StrainingStrength(TextChoices):
    """How hard the dam strains."""

    STRONG = "strong", "strong"
    WEAK = "weak", "weak"


class DischargeColour(TextChoices):
    """Colour of a discharge in labour."""

    CLEAR = "clear", "clear"
    GREEN = "green", "green"
    DARK = "dark", "dark"
    RED_BROWN = "red_brown", "red-brown"
    FRESH_RED = "fresh_red", "fresh red"


class FigureArea(TextChoices):
    """What a figure belongs to that a kennel may agree with its vet."""

    GROWTH = "growth", "watching growth"
    GESTATION = "gestation", "due window"
    LABOUR = "labour", "limits in labour"
    INBREEDING = "inbreeding", "lines for inbreeding"
