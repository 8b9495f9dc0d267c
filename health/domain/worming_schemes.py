"""Published worming schemes as data: choosable, editable, each with its body, source and status.

The bodies differ (until two weeks after weaning, until 12 weeks, a US label's list of ages), so none of
them is the default. Why they begin at two weeks: pups are infected before birth and through the milk, and
the worms lay eggs from about three to four weeks of age (CDC, secondary quotation).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

CAUTION = (
    "Check the label in your hand and the vet's instruction; weigh first. Not while an animal is chilled or "
    "ill; diarrhoea first needs a diagnosis."
)


class Anchor(StrEnum):
    """The event a phase counts its days from."""

    BIRTH = "birth"
    WEANING = "weaning"
    MATING = "mating"  # first mating; day 40 of pregnancy is 40 days after it
    WHELPING = "whelping"
    PUPS_FIRST_DOSE = "pups' first dose"
    PLAN_START = "start of the plan"
    PREVIOUS = "previous dose"  # the last date of the phase before


class Subject(StrEnum):
    """Whom a scheme is for."""

    PUPS = "pups"
    DAM = "dam"
    KENNEL = "every dog of the kennel"


@dataclass(frozen=True)
class End:
    """When a phase ends, that day included: so many days or calendar months after an event."""

    anchor: Anchor
    days: int = 0
    months: int = 0


@dataclass(frozen=True)
class Phase:
    """Due dates of one stretch of a scheme.

    Either `days`: fixed days after `anchor`; or a repeat: the first `first_days` / `first_months` after
    `anchor`, then every `every_days` or `every_months`, up to and including `end` (None: until the horizon
    that is asked for). Raises ValueError for anything else.
    """

    anchor: Anchor
    days: tuple[int, ...] = ()
    first_days: int = 0
    first_months: int = 0
    every_days: int | None = None
    every_months: int | None = None
    end: End | None = None

    def __post_init__(self) -> None:
        steps = [one for one in (self.every_days, self.every_months) if one is not None]
        if (len(steps) == 1) == bool(self.days) or len(steps) > 1:
            raise ValueError("a phase lists its days or repeats by days or by months, exactly one of these")
        if any(not 1 <= one <= 400 for one in steps):
            raise ValueError("a step is 1 to 400")
        if list(self.days) != sorted(set(self.days)):
            raise ValueError("days stand in rising order, each once")
        if self.days and (self.first_days or self.first_months or self.end):
            raise ValueError("a list of days needs no first day and no end")


@dataclass(frozen=True)
class Scheme:
    """A worming scheme: for whom, by which body, its phases, how much its text was checked, and notes."""

    key: str
    name: str
    body: str
    subject: Subject
    phases: tuple[Phase, ...]
    source: str
    status: str
    note: str = ""
    caution: str = CAUTION


_VERIFIED = "verified in text"
_SECONDARY = "verified in text (secondary quotation)"
_ESCCAP = "ESCCAP summary table of the scheme for individual deworming"
_SIX_MONTHS = End(Anchor.BIRTH, months=6)

_ALL = (
    Scheme(
        "esccap",
        "Every 14 days from 2 weeks until 2 weeks after weaning, then monthly to 6 months",
        "ESCCAP",
        Subject.PUPS,
        (
            Phase(Anchor.BIRTH, first_days=14, every_days=14, end=End(Anchor.WEANING, days=14)),
            Phase(Anchor.PREVIOUS, first_months=1, every_months=1, end=_SIX_MONTHS),
        ),
        _ESCCAP,
        _VERIFIED,
    ),
    Scheme(
        "esccap_2021",
        "Every 2 weeks from 2 to 12 weeks, monthly to 6 months, then every 3 months",
        "ESCCAP 2021 as reported by Vet Times",
        Subject.PUPS,
        (
            Phase(Anchor.BIRTH, first_days=14, every_days=14, end=End(Anchor.BIRTH, days=84)),
            Phase(Anchor.PREVIOUS, first_months=1, every_months=1, end=_SIX_MONTHS),
            Phase(Anchor.PREVIOUS, first_months=3, every_months=3),
        ),
        "Vet Times CPD article",
        _SECONDARY,
    ),
    Scheme(
        "capc",
        "At 2, 4, 6 and 8 weeks, then monthly",
        "CAPC",
        Subject.PUPS,
        (
            Phase(Anchor.BIRTH, days=(14, 28, 42, 56)),
            Phase(Anchor.PREVIOUS, first_months=1, every_months=1),
        ),
        "clinic summary of CAPC",
        _SECONDARY,
    ),
    Scheme(
        "us_label_pyrantel",
        "At 2, 3, 4, 6, 8 and 10 weeks",
        "US label of pyrantel",
        Subject.PUPS,
        (Phase(Anchor.BIRTH, days=(14, 21, 28, 42, 56, 70)),),
        "21 CFR 520.2042",
        _VERIFIED,
        note="Confirm by a test of the droppings; test again 2 to 4 weeks after.",
    ),
    Scheme(
        "dam_esccap_fenbendazole",
        "Fenbendazole daily from day 40 of pregnancy to 2 days after birth",
        "ESCCAP",
        Subject.DAM,
        (Phase(Anchor.MATING, first_days=40, every_days=1, end=End(Anchor.WHELPING, days=2)),),
        _ESCCAP,
        _VERIFIED,
        note="Whether this product may be given in pregnancy is on its own label; the vet decides.",
    ),
    Scheme(
        "dam_fenbendazole_trial",
        "Fenbendazole daily from day 40 of pregnancy to day 14 after birth",
        "a trial, not a scheme of any body",
        Subject.DAM,
        (Phase(Anchor.MATING, first_days=40, every_days=1, end=End(Anchor.WHELPING, days=14)),),
        "trial quoted in veterinary texts: far fewer worms than when stopping at whelping",
        _SECONDARY,
        note="Only as the vet orders and the label allows.",
    ),
    Scheme(
        "dam_esccap_lactone",
        "Macrocyclic lactone on days 40 and 55 of pregnancy",
        "ESCCAP",
        Subject.DAM,
        (Phase(Anchor.MATING, days=(40, 55)),),
        _ESCCAP,
        _VERIFIED,
        note="Some breeds do not bear this group well (MDR1): the vet decides.",
    ),
    Scheme(
        "dam_with_pups",
        "The nursing dam together with the pups' first treatment",
        "ESCCAP; CAPC likewise (from memory, unverified)",
        Subject.DAM,
        (Phase(Anchor.PUPS_FIRST_DOSE, days=(0,)),),
        _ESCCAP,
        _VERIFIED,
    ),
    Scheme(
        "dam_us_label_pyrantel",
        "The nursing dam 2 to 3 weeks after whelping",
        "US label of pyrantel",
        Subject.DAM,
        (Phase(Anchor.WHELPING, days=(14,)),),
        "21 CFR 520.2042",
        _VERIFIED,
        note="Due at 2 weeks, by the label until 3 weeks after whelping. Other adults: monthly.",
    ),
    Scheme(
        "kennel_monthly",
        "Every dog monthly",
        "ESCCAP, dogs in kennels",
        Subject.KENNEL,
        (Phase(Anchor.PLAN_START, first_days=0, every_months=1),),
        _ESCCAP,
        _VERIFIED,
    ),
    Scheme(
        "kennel_test",
        "Droppings tested every 4 weeks, treated on finding",
        "ESCCAP, dogs in kennels",
        Subject.KENNEL,
        (Phase(Anchor.PLAN_START, first_days=0, every_days=28),),
        _ESCCAP,
        _VERIFIED,
        note="These are days of tests; a dose follows a finding.",
    ),
    Scheme(
        "giardia_coccidia",
        "Giardia and coccidia: test, then the vet",
        "none",
        Subject.KENNEL,
        (),
        "common practice",
        "common practice, no source",
        note="No dates and no doses: test first, the vet decides.",
    ),
)

SCHEMES: dict[str, Scheme] = {one.key: one for one in _ALL}
