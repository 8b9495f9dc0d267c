"""Published lengths and spreads of canine gestation, each with its source, as one editable set of figures.

How a spread becomes a standard deviation
-----------------------------------------
Every prediction is a whole calendar day, so "within +/-1 day" means that the true instant lies less than 1.5
days from the middle of the predicted day.  A share `p` of pregnancies within +/-`n` whole days therefore
gives

    sd = (n + 0.5) / z((1 + p) / 2)          z = quantile of the standard normal distribution

Where a source gives the share for +/-1 and for +/-2 days the larger of the two answers is used: real errors
have longer tails than a normal curve, and a window that is too narrow does harm while one that is too wide
costs sleep.

    LH surge        64-66 d in >95 %                1.5 / 1.960 = 0.77 d
    progesterone >2 64-66 d, share not stated; read as the 90 % window: 1.5 / 1.645 = 0.91, taken as 0.90 d
    diestrus D1     56-58 d, share not stated; read as the 90 % window: 0.90 d (also quoted as 57 +/- 3 d)
    ovulation       63.1 d, SD 2.1 d as printed; 90 % is 1.645 x 2.1 = +/-3.5 d
    first mating    58-72 d, share not stated; read as the 90 % window, likeliest at day 63
    scans           by structure and week, see `SCAN_ACCURACY`
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from statistics import NormalDist

WINDOW_SHARE = 0.90
"""Share of the probability a due window holds: 5 % lies before it and 5 % after it."""

KUTZLER_2003 = "Kutzler et al. 2003, Theriogenology 60:1187-1196"
MERCK_WHELPING = "Merck Veterinary Manual, Whelping and Queening in Small Animals"
MIR_2011 = "Mir et al. 2011, Reprod Domest Anim 46:994-998"
BECCAGLIA_2012 = "Beccaglia & Luvoni 2012, Reprod Domest Anim 47 Suppl 6"
CECCHETTO_2017 = "Cecchetto et al. 2017, Anim Reprod Sci 184:110-119"
KUTZLER_QUOTED = "Kutzler et al. 2003 as quoted by an imaging-education page"

VERIFIED = "verified in text"
QUOTED = "verified in text (secondary quotation)"
FROM_MEMORY = "from memory, unverified"
COMMON_PRACTICE = "common practice, no source"
OURS = "our own choice, no source"


def sd_from_share_within(days: int, share: float) -> float:
    """Standard deviation in days of an error that stays within +/-`days` whole days in `share` of cases.

    days: 0 or more; share: strictly between 0 and 1 (0.81 for "81 %").  Raises ValueError otherwise.
    Derivation in the module docstring.
    """
    if days < 0 or not isfinite(share) or not 0 < share < 1:
        raise ValueError("days must be 0 or more and the share must lie strictly between 0 and 1")
    spread = (days + 0.5) / NormalDist().inv_cdf((1 + share) / 2)
    if not isfinite(spread):
        raise ValueError("a share this close to 0 or 1 gives no usable spread")
    return spread


@dataclass(frozen=True, slots=True)
class AccuracyRow:
    """Published accuracy of one structure in one week: shares of predictions within +/-1 and +/-2 days."""

    week: int
    share_within_1_day: float | None
    share_within_2_days: float | None

    @property
    def sd_days(self) -> float:
        """The wider of the standard deviations that the two published shares imply."""
        stated = ((1, self.share_within_1_day), (2, self.share_within_2_days))
        return max(sd_from_share_within(days, share) for days, share in stated if share is not None)


SCAN_ACCURACY: dict[str, tuple[AccuracyRow, ...]] = {
    # Beccaglia & Luvoni 2012 [verified in text]: small and medium dams, the two general structures.
    "icc": (AccuracyRow(4, 0.81, 0.931), AccuracyRow(5, 0.677, 0.859)),
    "bp": (AccuracyRow(5, 0.786, 0.952), AccuracyRow(6, 0.789, None), AccuracyRow(9, 0.509, 0.698)),
}
"""Accuracy by structure and week of pregnancy, ascending by week."""

GERMAN_SHEPHERD_ACCURACY = {
    # Cecchetto et al. 2017, abstract: ICC 77-100 %, BPD 83-96 % at +/-1 and +/-2 days.  100 % of 22 bitches
    # gives no standard deviation, so the inner cavity leans on the +/-1 day figure alone.
    "icc": AccuracyRow(0, 0.77, None),
    "bp": AccuracyRow(0, 0.83, 0.96),
}

AGE_FORMULA_ACCURACY = {
    # Kutzler et al. 2003 as quoted: 75 % within 1 day and 87 % within 2 near day 30; after day 39 fewer than
    # half within 2 days.
    "sac": AccuracyRow(0, 0.75, 0.87),
    "head": AccuracyRow(0, None, 0.50),
}


def scan_sd_days(structure: str, week: int) -> float:
    """Standard deviation in days of the inner-cavity ("icc") or head ("bp") formulas in a week of pregnancy.

    Weeks between two published ones are interpolated on a straight line; an earlier week takes the first
    published figure; a later one continues the last slope, because accuracy was falling.  Raises KeyError for
    another structure.
    """
    rows = SCAN_ACCURACY[structure]
    if week <= rows[0].week:
        return rows[0].sd_days
    for left, right in pairwise(rows):
        if week <= right.week:
            return _on_line(left, right, week)
    return _on_line(rows[-2], rows[-1], week)


def _on_line(left: AccuracyRow, right: AccuracyRow, week: int) -> float:
    slope = (right.sd_days - left.sd_days) / (right.week - left.week)
    return left.sd_days + slope * (week - left.week)


@dataclass(frozen=True, slots=True)
class GestationFigures:
    """The figures a due window is made from; a kennel may replace any of them with what its vet tells it.

    All lengths in days.  `lh_`, `rise_`, `diestrus_` and `mating_` are published ranges, see the module
    docstring.
    """

    lh_length_days: int = 65
    lh_sd_days: float = sd_from_share_within(1, 0.95)
    rise_sd_days: float = 0.90
    ovulation_mean_days: float = 63.1
    ovulation_sd_days: float = 2.1
    diestrus_length_days: int = 57
    diestrus_sd_days: float = 0.90
    mating_first_days: int = 58
    mating_likeliest_days: int = 63
    mating_last_days: int = 72

    apply_size_shift: bool = False
    """Shift the ovulation figure by the dam's size (about 62 d small, 64 d large: Mir et al. 2011 as quoted).

    Off by default: the quoted page states no weight limits for "small" and "large"."""
    small_dam_mean_days: float = 62.0
    large_dam_mean_days: float = 64.0
    small_dam_limit_kg: float = 10.0
    large_dam_limit_kg: float = 25.0

    lh_reading_sd_days: float = 12**-0.5
    """A surge read from daily samples is known to the day only: uniform over one day has SD 1/sqrt(12)."""
    shared_scan_sd_days: float = 0.6
    """Part of a scan's error that repeats at the next scan (pups large or small for their age); ours, no
    source.

    It is about half the variance of the best published scan.  Without it three scans would look three times
    as sure as one."""
    slip_share: float = 0.05
    """Chance that a piece of evidence is simply wrong (wrong day, wrong bitch); used only once two pieces
    contradict each other.  Ours, no source."""

    def __post_init__(self) -> None:
        for name in ("lh_sd_days", "rise_sd_days", "diestrus_sd_days", "ovulation_sd_days"):
            if not isfinite(getattr(self, name)) or getattr(self, name) <= self.shared_sd_days:
                raise ValueError(f"{name} must be wider than the spread every pregnancy shares")
        if not self.mating_first_days < self.mating_likeliest_days < self.mating_last_days:
            raise ValueError("the days after mating must ascend: first, likeliest, last")
        if not 0 < self.slip_share < 0.5 or not 0 < self.shared_scan_sd_days < 1:
            raise ValueError("slip_share must lie between 0 and 0.5, shared_scan_sd_days between 0 and 1")

    @property
    def shared_sd_days(self) -> float:
        """Spread of gestation itself, which no amount of evidence can remove.

        What is left of the LH figure once the reading error of the surge is taken out:
        sqrt(0.77^2 - 0.29^2) = 0.71 d.  Every other published spread contains it too, so it is added once,
        after the evidence is combined, instead of being averaged away.
        """
        remainder = self.lh_sd_days**2 - self.lh_reading_sd_days**2
        if not isfinite(remainder) or remainder <= 0:
            raise ValueError("lh_sd_days must be wider than the reading error of the surge")
        return float(remainder**0.5)

    def ovulation_length_days(self, dam_mass_kg: float | None) -> float:
        """Mean days from ovulation to whelping, shifted by size only if `apply_size_shift` says so."""
        if not self.apply_size_shift or dam_mass_kg is None:
            return self.ovulation_mean_days
        if dam_mass_kg <= self.small_dam_limit_kg:
            return self.small_dam_mean_days
        return self.large_dam_mean_days if dam_mass_kg > self.large_dam_limit_kg else self.ovulation_mean_days


PUBLISHED_FIGURES = GestationFigures()
"""The figures as published, used unless a kennel's vet has agreed others."""
