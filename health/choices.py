"""Closed lists of the health app."""

from django.db.models import TextChoices


class Purpose(TextChoices):
    """What a medicine is for."""

    WORMING = "worming", "worming"
    VACCINATION = "vaccination", "vaccination"
    PARASITES = "parasites", "fleas, ticks, mites"
    OTHER = "other", "other"


class MedicineForm(TextChoices):
    """What the product is, which decides in what it is measured out."""

    LIQUID = "liquid", "liquid"
    GRANULES = "granules", "granules"
    TABLET = "tablet", "tablets"
    PASTE = "paste", "paste"


class StatedAs(TextChoices):
    """Whether a mass of active means the base, the whole salt, or a substance without that question."""

    AS_IS = "as_is", "the substance itself"
    BASE = "base", "as the base"
    SALT = "salt", "as the salt"


class Supply(TextChoices):
    """Who may hand the product out."""

    OPEN_SALE = "open_sale", "on open sale"
    PRESCRIPTION = "prescription", "on prescription"
    VET_ONLY = "vet_only", "vet only"


class LabelSays(TextChoices):
    """What the label says about a pregnant or nursing bitch."""

    NOT_STATED = "not_stated", "not stated"
    LABELLED = "labelled", "on the label"
    NOT_RECOMMENDED = "not_recommended", "not recommended"


class AmountUnit(TextChoices):
    """In what an amount of a product is measured out."""

    ML = "mL", "mL"
    G = "g", "g"
    TABLET = "tablet", "tablets"


class TreatmentOutcome(TextChoices):
    """What became of a dose."""

    GIVEN = "given", "given"
    SPAT_OUT = "spat_out", "spat out"
    VOMITED = "vomited", "vomited"


class PlanKind(TextChoices):
    """What a treatment plan is about."""

    WORMING = "worming", "worming"
    VACCINATION = "vaccination", "vaccination"


class HealthEventKind(TextChoices):
    """What happened to an animal's health."""

    DIARRHOEA = "diarrhoea", "diarrhoea"
    VOMITING = "vomiting", "vomiting"
    INJURY = "injury", "injury"
    ILLNESS = "illness", "illness"
    VET_VISIT = "vet_visit", "vet visit"
    TEST = "test", "test"
    OTHER = "other", "other"


class WatchLevel(TextChoices):
    """How urgently an animal needs an eye kept on it."""

    WATCH = "watch", "keep an eye on"
    ACT_TODAY = "act_today", "act today"
    EMERGENCY = "emergency", "emergency"


class ClosedBy(TextChoices):
    """Who ended a watch: the rules when nothing stands any more, a carer, or the vet."""

    RULES = "rules", "nothing found any more"
    CARER = "carer", "a carer"
    VET = "vet", "the vet"
