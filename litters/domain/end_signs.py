"""Signs that whelping is near, read as probabilities of the day of birth.

Rectal temperature falls 8-24 h before labour in most bitches, and progesterone under 2-5 ng/mL goes before
stage I by about 24 h (Merck Veterinary Manual, Whelping and Queening [verified in text]).  Stage I then takes
6-12 h (clinic leaflets [secondary quotation]), so the first pup comes between 8 and 36 h after the fall and
between 0 and 36 h after the blood sample.  How often a sign misleads is not published; the shares here are
ours.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from litters.domain.calendar_days import days_after
from litters.domain.day_distribution import normalised, sd_of_days
from litters.domain.due_window_result import Contribution, EvidenceFlag
from litters.domain.gestation_evidence import ProgesteroneTest, TemperatureFallSeen
from litters.domain.gestation_figures import MERCK_WHELPING, OURS, VERIFIED
from litters.domain.progesterone import in_ng_per_ml

FALL_LEAD_HOURS = (8.0, 36.0)
LOW_PROGESTERONE_LEAD_HOURS = (0.0, 36.0)
LOW_NG_PER_ML = 2.0
FALLING_NG_PER_ML = 5.0

FALL_TRUST = 0.8
LOW_TRUST = 0.8
FALLING_TRUST = 0.6
MISLED_SPAN_DAYS = 20
"""A misleading sign says nothing about the day: its share is spread over about as long as a mating-only
window."""
HIGH_PROGESTERONE_FACTORS = (0.2, 0.4)
"""A sample of 5 ng/mL or more makes birth on the same and the next day that much less likely; ours."""

FALL_CAUTION = "The fall can be brief, missed or false; no fall seen is never reassurance."
LOW_CAUTION = "Ring the vet who took the sample: a value this low long before term is itself an emergency."


@dataclass(frozen=True, slots=True)
class EndSign:
    """One sign: how likely it makes each day of birth, by days after the sign."""

    on: date
    shares: tuple[float, ...]
    trust: float
    contribution: Contribution

    def factor(self, day: int) -> float:
        """Likelihood of birth on the day with this ordinal; 0 before the sign: she had not whelped then."""
        days = day - self.on.toordinal()
        if days < 0:
            return 0.0
        share = self.shares[days] if days < len(self.shares) else 0.0
        return self.trust * share + (1 - self.trust) / MISLED_SPAN_DAYS


@dataclass(frozen=True, slots=True)
class HighProgesterone:
    """A late sample that is still high: birth within about a day is unlikely."""

    on: date
    contribution: Contribution

    def factor(self, day: int) -> float:
        """Likelihood of birth on the day with this ordinal, relative to a later one."""
        days = day - self.on.toordinal()
        if days < 0:
            return 0.0
        return HIGH_PROGESTERONE_FACTORS[days] if days < len(HIGH_PROGESTERONE_FACTORS) else 1.0


def birth_day_shares(lead_from_h: float, lead_to_h: float) -> tuple[float, float, float]:
    """Shares of births on the day of a sign, the next day and the day after.

    The lead is uniform between the two limits, 0 <= from < to <= 48 hours, and the sign may be seen at any
    hour of the day; then the share on the first day is the mean of max(24 - lead, 0) / 24, on the third the
    mean of max(lead - 24, 0) / 24.  Raises ValueError for other limits.
    """
    if not 0 <= lead_from_h < lead_to_h <= 48:
        raise ValueError("leads must satisfy 0 <= from < to <= 48 hours")
    width = lead_to_h - lead_from_h

    def area_below_24(limit_h: float) -> float:
        return max(24 - limit_h, 0.0) ** 2 / 48

    def area_above_24(limit_h: float) -> float:
        return max(limit_h - 24, 0.0) ** 2 / 48

    same = (area_below_24(lead_from_h) - area_below_24(lead_to_h)) / width
    third = (area_above_24(lead_to_h) - area_above_24(lead_from_h)) / width
    return same, 1 - same - third, third


def signs_of(
    falls: Sequence[TemperatureFallSeen], late_tests: Sequence[ProgesteroneTest]
) -> tuple[list[EndSign], list[HighProgesterone], list[EvidenceFlag]]:
    """The signs, the late samples that are still high, and flags for impossible samples."""
    signs = [_fall_sign(fall) for fall in falls]
    high: list[HighProgesterone] = []
    flags: list[EvidenceFlag] = []
    for test in late_tests:
        try:
            value = in_ng_per_ml(test.value, test.unit)
        except ValueError as impossible:
            text = f"Sample of {test.on.isoformat()}: {impossible}."
            flags.append(EvidenceFlag("progesterone_impossible", text, (test.ref,)))
            continue
        if value >= FALLING_NG_PER_ML:
            high.append(_high_sample(test, value))
        else:
            signs.append(_low_sign(test, value))
    return signs, high, flags


def _fall_sign(fall: TemperatureFallSeen) -> EndSign:
    return _sign(
        fall.on,
        birth_day_shares(*FALL_LEAD_HOURS),
        FALL_TRUST,
        fall.ref,
        "temperature_fall",
        f"Temperature fell on {fall.on.isoformat()}",
        "labour 8-24 h after the fall in most bitches",
        FALL_CAUTION,
    )


def _high_sample(test: ProgesteroneTest, value: float) -> HighProgesterone:
    contribution = Contribution(
        key="progesterone_still_high",
        piece="end_signs",
        rank=0,
        refs=(test.ref,),
        title=f"Progesterone {value:.1f} ng/mL on {test.on.isoformat()}",
        is_used=True,
        method=f"birth on this and the next day made less likely ({OURS})",
        source=MERCK_WHELPING,
        status=VERIFIED,
        caution="It can fall within hours: no reason to leave her alone.",
    )
    return HighProgesterone(test.on, contribution)


def _low_sign(test: ProgesteroneTest, value: float) -> EndSign:
    trust = LOW_TRUST if value < LOW_NG_PER_ML else FALLING_TRUST
    return _sign(
        test.on,
        birth_day_shares(*LOW_PROGESTERONE_LEAD_HOURS),
        trust,
        test.ref,
        "progesterone_fall",
        f"Progesterone {value:.1f} ng/mL on {test.on.isoformat()}",
        "stage I within about 24 h",
        LOW_CAUTION,
    )


def _sign(
    on: date,
    shares: tuple[float, float, float],
    trust: float,
    ref: str,
    key: str,
    title: str,
    method: str,
    caution: str,
) -> EndSign:
    peak = max(range(len(shares)), key=lambda days: shares[days])
    contribution = Contribution(
        key=key,
        piece="end_signs",
        rank=0,
        refs=(ref,),
        title=title,
        is_used=True,
        method=f"{method}; trusted in {trust:.0%} of cases ({OURS})",
        source=MERCK_WHELPING,
        status=VERIFIED,
        caution=caution,
        due_on=days_after(on, peak),
        earliest_on=on,
        latest_on=days_after(on, 2),
        sd_days=round(sd_of_days(dict(enumerate(shares))), 2),
    )
    return EndSign(on, shares, trust, contribution)


def days_open_to_signs(signs: Sequence[EndSign]) -> dict[int, float]:
    """The days left open when nothing but signs is known: evenly from the latest sign on.  Needs a sign."""
    first = max(sign.on for sign in signs).toordinal()
    return dict.fromkeys(range(first, first + MISLED_SPAN_DAYS), 1 / MISLED_SPAN_DAYS)


def narrowed_by_signs(
    masses: Mapping[int, float], signs: Sequence[EndSign], high: Sequence[HighProgesterone]
) -> tuple[dict[int, float], list[Contribution], list[EvidenceFlag]]:
    """The distribution over days once the signs are taken in, with their contributions and flags.

    A fall of temperature and a fall of progesterone are one event seen twice, so of several signs only the
    latest counts.  A sign that leaves no possible day is set aside.
    """
    flags: list[EvidenceFlag] = []
    contributions: list[Contribution] = []
    current = dict(masses)
    latest = max(signs, key=lambda sign: sign.on, default=None)
    for sign in signs:
        if sign is not latest:
            contributions.append(_unused(sign, "a later sign of the same event is used"))
    for late in high:
        current = _multiplied(current, late.factor) or current
        contributions.append(late.contribution)
    if latest is None:
        return current, contributions, flags
    expected = sum(current.get(latest.on.toordinal() + days, 0.0) for days in range(3))
    narrowed = _multiplied(current, latest.factor)
    if narrowed is None or expected < 0.01:
        text = (
            f"{latest.contribution.title}: outside the window the other evidence gives. Either the sign is "
            "false or the dates are wrong; ring the vet if she shows any other sign of labour."
        )
        flags.append(EvidenceFlag("sign_outside_window", text, latest.contribution.refs))
    if narrowed is None:
        contributions.append(_unused(latest, "no day of the window is left after this sign"))
        return current, contributions, flags
    contributions.append(latest.contribution)
    return narrowed, contributions, flags


def _multiplied(masses: Mapping[int, float], factor_of: Callable[[int], float]) -> dict[int, float] | None:
    product = {day: mass * factor_of(day) for day, mass in masses.items()}
    return normalised(product) if sum(product.values()) > 1e-9 else None


def _unused(sign: EndSign, reason: str) -> Contribution:
    return replace(sign.contribution, is_used=False, reason_unused=reason)
