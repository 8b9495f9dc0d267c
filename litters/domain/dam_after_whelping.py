"""Warning signs of the dam after whelping: eclampsia, udder, womb, fever, placenta, bleeding.

Two levels as in labour: ring for advice, go now.  A second sign of the same illness makes it go now.  No
diagnosis: the text names what to ask the vet about.  Sources stand with each rule.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from math import isfinite

from litters.domain.gestation_figures import FROM_MEMORY, QUOTED, VERIFIED
from litters.domain.labour_limits import Level
from litters.domain.labour_log import require_offset

MERCK_ECLAMPSIA = "Merck Veterinary Manual, Puerperal Hypocalcemia in Small Animals"
LSU = "Louisiana State University theriogenology notes"
PUERPERIUM = "small-animal reproduction text, puerperium chapter, as quoted"
INTERVIEW = "interview with a theriogenologist in a veterinary magazine"

ECLAMPSIA_LAST_DAY = 40
METRITIS_LAST_DAY = 14
LOCHIA_LAST_DAY = 21
BLEEDING_LAST_DAY = 42
RETAINED_PLACENTA_H = 24.0


class DamSign(StrEnum):
    """What a carer can see on the dam after whelping."""

    RESTLESS = "restless"
    PANTING = "panting"
    STIFF_GAIT = "stiff_gait"
    FACIAL_ITCH = "facial_itch"
    TREMOR = "tremor"
    SEIZURE = "seizure"
    GLAND_HOT_HARD_PAINFUL = "gland_hot_hard_painful"
    MILK_OFF_COLOUR = "milk_off_colour"
    PUPS_CRYING_OR_NOT_GAINING = "pups_crying_or_not_gaining"
    DISCHARGE_FOUL_OR_PURULENT = "discharge_foul_or_purulent"
    DISCHARGE_GREEN_BLACK = "discharge_green_black"
    DISCHARGE_BLOODY = "discharge_bloody"
    DISCHARGE_ANY = "discharge_any"
    DULL = "dull"
    NEGLECTS_PUPS = "neglects_pups"
    MILK_FALLS = "milk_falls"


@dataclass(frozen=True, slots=True)
class DamObservation:
    """The dam at one instant.  whelped_at: birth of the last pup, None before it.

    Raises ValueError for an instant without offset, a time before whelping or a temperature outside 30..43 C.
    """

    at: datetime
    whelped_at: datetime | None
    signs: Collection[DamSign] = ()
    temperature_c: float | None = None

    def __post_init__(self) -> None:
        require_offset(self.at)
        if self.whelped_at is not None:
            require_offset(self.whelped_at)
            if self.at < self.whelped_at:
                raise ValueError("an observation after whelping cannot lie before it")
        if self.temperature_c is not None and not (
            isfinite(self.temperature_c) and 30 <= self.temperature_c <= 43
        ):
            raise ValueError("a dam's temperature lies between 30 and 43 C")

    @property
    def hours_after(self) -> float | None:
        """Hours since the last pup; None before it."""
        if self.whelped_at is None:
            return None
        return (self.at - self.whelped_at).total_seconds() / 3600


@dataclass(frozen=True, slots=True)
class TemperatureLimits:
    """Upper limits of the dam's temperature after whelping in C, editable with the vet.

    Up to about 39.2-39.4 C can be normal for 24 to 48 h; higher or later is not (puerperium chapter and
    others, as quoted).  The looser figure holds for the first day, the stricter one from then on.
    """

    first_day_c: float = 39.4
    later_c: float = 39.2

    def upper_c(self, hours_after: float) -> float:
        """The highest temperature that can still be normal at this time."""
        return self.first_day_c if hours_after <= 24 else self.later_c


@dataclass(frozen=True, slots=True)
class DamWarning:
    """One thing to ask the vet about: how urgent, why, and what not to do meanwhile."""

    key: str
    level: Level
    reason: str
    source: str
    status: str
    caution: str


PUBLISHED_TEMPERATURE_LIMITS = TemperatureLimits()


def dam_warnings(
    seen: DamObservation,
    limits: TemperatureLimits = PUBLISHED_TEMPERATURE_LIMITS,
) -> tuple[DamWarning, ...]:
    """What the dam's signs at one instant ask for, most urgent first; empty when nothing is amiss."""
    has_fever = _has_fever(seen, limits)
    found = [
        *_eclampsia(seen, has_fever),
        *_mastitis(seen, has_fever),
        *_metritis(seen, has_fever),
        *_placenta(seen, has_fever),
        *_lasting_discharge(seen),
    ]
    if has_fever:
        found.append(_fever(seen, limits, any(warning.level == Level.GO_NOW for warning in found)))
    return tuple(sorted(found, key=lambda warning: (warning.level != Level.GO_NOW, warning.key)))


def eclampsia_risks(
    *, is_small_breed: bool, is_large_litter: bool, is_first_litter: bool, had_calcium_or_dairy: bool
) -> tuple[str, ...]:
    """The known risk factors for eclampsia that this dam has, in words.

    Source: Merck Veterinary Manual, Puerperal Hypocalcemia [verified in text].
    """
    factors = (
        (is_small_breed, "small breed"),
        (is_large_litter, "large litter"),
        (is_first_litter, "first litter"),
        (had_calcium_or_dairy, "calcium or dairy supplements in pregnancy"),
    )
    return tuple(words for holds, words in factors if holds)


def _has_fever(seen: DamObservation, limits: TemperatureLimits) -> bool:
    if seen.temperature_c is None:
        return False
    return seen.temperature_c > limits.upper_c(seen.hours_after or 0.0)


def _present(seen: DamObservation, *signs: DamSign) -> list[str]:
    return [sign.value.replace("_", " ") for sign in signs if sign in seen.signs]


def _level(certain: Sequence[str], possible: Sequence[str]) -> Level:
    return Level.GO_NOW if certain or len(possible) > 1 else Level.ADVICE


def _eclampsia(seen: DamObservation, has_fever: bool) -> list[DamWarning]:
    certain = _present(seen, DamSign.TREMOR, DamSign.SEIZURE, DamSign.STIFF_GAIT)
    possible = _present(seen, DamSign.RESTLESS, DamSign.PANTING, DamSign.FACIAL_ITCH)
    # Restless and panting before the last pup is labour, not a warning; tremor and stiffness always are one.
    if not certain and (not possible or seen.hours_after is None):
        return []
    if possible and has_fever:
        possible = [*possible, "fever"]
    days = None if seen.hours_after is None else int(seen.hours_after // 24)
    when = "before whelping" if days is None else f"day {days} after whelping"
    rare = days is not None and days >= ECLAMPSIA_LAST_DAY
    reason = f"{', '.join([*certain, *possible])} ({when}{', later than usual' if rare else ''}): eclampsia?"
    return [
        DamWarning(
            "eclampsia",
            _level(certain, possible),
            reason,
            f"{MERCK_ECLAMPSIA}; Five-Minute Veterinary Consult, 6th ed.",
            VERIFIED,
            "An emergency of minutes to hours: take the pups off her, keep her cool and quiet, go. "
            "Give no calcium unless the vet tells you to now.",
        )
    ]


def _mastitis(seen: DamObservation, has_fever: bool) -> list[DamWarning]:
    gland = _present(seen, DamSign.GLAND_HOT_HARD_PAINFUL, DamSign.MILK_OFF_COLOUR)
    if not gland:
        return []
    more = _present(seen, DamSign.PUPS_CRYING_OR_NOT_GAINING, DamSign.DULL) + (["fever"] if has_fever else [])
    return [
        DamWarning(
            "mastitis",
            _level([], [*gland, *more]),
            f"{', '.join([*gland, *more])}: inflamed udder?",
            INTERVIEW,
            VERIFIED,
            "Weigh the pups and ask the vet whether they may go on sucking that gland.",
        )
    ]


def _metritis(seen: DamObservation, has_fever: bool) -> list[DamWarning]:
    foul = _present(seen, DamSign.DISCHARGE_FOUL_OR_PURULENT)
    more = _present(seen, DamSign.DULL, DamSign.NEGLECTS_PUPS, DamSign.MILK_FALLS)
    if has_fever:
        more.append("fever")
    in_time = seen.hours_after is not None and seen.hours_after <= METRITIS_LAST_DAY * 24
    # Without the discharge two general signs in the first two weeks are enough to ask.
    if not foul and not (in_time and len(more) > 1):
        return []
    return [
        DamWarning(
            "metritis",
            Level.GO_NOW if foul and more else Level.ADVICE,
            f"{', '.join([*foul, *more])}: inflamed womb?",
            f"{INTERVIEW}; {LSU}",
            VERIFIED,
            "Keep the pups warm and fed while she is away; note when she last ate and drank.",
        )
    ]


def _placenta(seen: DamObservation, has_fever: bool) -> list[DamWarning]:
    hours = seen.hours_after
    if DamSign.DISCHARGE_GREEN_BLACK not in seen.signs or hours is None or hours <= RETAINED_PLACENTA_H:
        return []
    more = _present(seen, DamSign.DULL) + (["fever"] if has_fever else [])
    words = ", ".join([f"green-black discharge {hours:.0f} h after the last pup", *more])
    return [
        DamWarning(
            "retained_placenta",
            _level([], ["green-black discharge", *more]),
            f"{words}: a placenta kept back?",
            LSU,
            VERIFIED,
            "The count of placentas is only a hint. By 48 h the discharge should turn rust coloured.",
        )
    ]


def _lasting_discharge(seen: DamObservation) -> list[DamWarning]:
    if seen.hours_after is None:
        return []
    days = seen.hours_after / 24
    if DamSign.DISCHARGE_BLOODY in seen.signs and days > BLEEDING_LAST_DAY:
        return [
            DamWarning(
                "long_bleeding",
                Level.ADVICE,
                f"bloody discharge on day {days:.0f}: placental sites slow to heal?",
                "6 to 12 weeks are quoted",
                FROM_MEMORY,
                "Pale gums, weakness or heavy bleeding: go now.",
            )
        ]
    any_discharge = {DamSign.DISCHARGE_ANY, DamSign.DISCHARGE_BLOODY, DamSign.DISCHARGE_GREEN_BLACK}
    if days > LOCHIA_LAST_DAY and any_discharge & set(seen.signs):
        return [
            DamWarning(
                "long_lochia",
                Level.ADVICE,
                f"discharge on day {days:.0f}: it usually ends within 3 weeks",
                PUERPERIUM,
                QUOTED,
                "Normal discharge shrinks and does not smell.",
            )
        ]
    return []


def _fever(seen: DamObservation, limits: TemperatureLimits, is_urgent: bool) -> DamWarning:
    hours = seen.hours_after
    when = "before whelping" if hours is None else f"{hours:.0f} h after the last pup"
    upper_c = limits.upper_c(hours or 0.0)
    return DamWarning(
        "fever",
        Level.GO_NOW if is_urgent else Level.ADVICE,
        f"{seen.temperature_c:.1f} C {when}; up to {upper_c:.1f} C can be normal",
        f"{PUERPERIUM}; others",
        QUOTED,
        "No human painkillers or fever medicine: several are deadly to dogs.",
    )
