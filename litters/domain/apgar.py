"""Viability score of a newborn pup: five signs, 0 to 2 points each, taken about 5 minutes after birth.

Source of criteria, timing and classes: Veronesi et al. 2009, Theriogenology 72:401-407 (193 pups, 42 litters)
[verified in text].  The cut-offs that turn a count into points are quoted from memory and are only an offer:
the person scoring may set the points directly.  Later work proposes other classes by breed size (Animals
2022, 12:1664), so the component scores are kept, not only the class.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from litters.domain.gestation_figures import FROM_MEMORY, VERIFIED

SCORED_MINUTES_AFTER_BIRTH = 5
SOURCE = "Veronesi et al. 2009, Theriogenology 72:401-407"
MEANINGS = {
    "normal": "no distress",
    "moderate": "more deaths within 2 h than among pups scored 7 to 10",
    "severe": "most deaths; weakest search and suck reflexes",
}
CAUTIONS = {
    "normal": "Keep watching: warm, dried, seen sucking.",
    "moderate": "Dry, warm slowly, score again in a few minutes; ring the vet if it does not improve.",
    "severe": "Clear the mouth, dry and rub, keep warm, ring the vet now.",
}


@dataclass(frozen=True, slots=True)
class ApgarScore:
    """The five component scores, 0 to 2 each.

    Raises ValueError for a component that is not 0, 1 or 2.
    """

    heart_rate: int
    breathing: int
    reflex: int
    motility: int
    colour: int

    def __post_init__(self) -> None:
        for name in ("heart_rate", "breathing", "reflex", "motility", "colour"):
            points = getattr(self, name)
            if isinstance(points, bool) or points not in (0, 1, 2):
                raise ValueError(f"{name} must be 0, 1 or 2 points")

    @property
    def total(self) -> int:
        """Sum of the five components, 0 to 10."""
        return self.heart_rate + self.breathing + self.reflex + self.motility + self.colour


@dataclass(frozen=True, slots=True)
class ApgarResult:
    """A score with its class, what that means, and what to do about it."""

    score: ApgarScore
    total: int
    apgar_class: str
    meaning: str
    source: str
    status: str
    caution: str


def apgar_result(score: ApgarScore) -> ApgarResult:
    """The class of a score with its meaning and caution."""
    found = apgar_class(score.total)
    return ApgarResult(score, score.total, found, MEANINGS[found], SOURCE, VERIFIED, CAUTIONS[found])


def apgar_total(*, heart_rate: int, breathing: int, reflex: int, motility: int, colour: int) -> int:
    """Sum of the five components, 0 to 10.  Raises ValueError for a component that is not 0, 1 or 2."""
    return ApgarScore(heart_rate, breathing, reflex, motility, colour).total


def apgar_class(total: int) -> str:
    """Class of a total: "normal" for 7 to 10 points, "moderate" for 4 to 6, "severe" for 0 to 3.

    Raises ValueError for anything but a whole number from 0 to 10.  Source: Veronesi et al. 2009 [verified in
    text].
    """
    if isinstance(total, bool) or not isinstance(total, int) or not 0 <= total <= 10:
        raise ValueError("a total must be a whole number from 0 to 10")
    if total >= 7:
        return "normal"
    return "moderate" if total >= 4 else "severe"


CUT_OFF_STATUS = FROM_MEMORY


def heart_rate_points(beats_per_min: float) -> int:
    """Points for the heart rate: under 180 none, 180 to 220 one, above 220 two [from memory, unverified].

    0 <= beats_per_min <= 400; ValueError outside.
    """
    if not isfinite(beats_per_min) or not 0 <= beats_per_min <= 400:
        raise ValueError("heart rate must lie between 0 and 400 beats per minute")
    if beats_per_min < 180:
        return 0
    return 1 if beats_per_min <= 220 else 2


def breathing_points(breaths_per_min: float) -> int:
    """Points for the breathing rate: under 6 none, 6 to 15 one, above 15 two [from memory, unverified].

    The cry counts too: none, weak, clear.  0 <= breaths_per_min <= 150; ValueError outside.
    """
    if not isfinite(breaths_per_min) or not 0 <= breaths_per_min <= 150:
        raise ValueError("breathing rate must lie between 0 and 150 breaths per minute")
    if breaths_per_min < 6:
        return 0
    return 1 if breaths_per_min <= 15 else 2
