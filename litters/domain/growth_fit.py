"""Least-squares fits of growth curves to one dog's weights, and adult weight as a range.

Ages in days, weights in kg.  A fit is refused (ValueError) where it would be a guess.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from litters.domain.growth_measures import finite, positive
from litters.domain.growth_models import gompertz_kg, logistic_b_from_t99, logistic_kg, logistic_predict_a_kg
from litters.domain.least_squares import FitFailed, Parameters, fit_three_parameters

MINIMUM_WEIGHINGS = 5
LARGEST_WMAX_PER_LAST_WEIGHT = 3.0
DAYS_PER_MONTH = 365.25 / 12.0
TWELVE_WEEKS_DAYS = 84.0

# Start values of the sheet's fit (common practice, no source) and, should the descent stall, slower and
# faster growers; every start that arrives leads to the same least sum of squares.
_STARTS_B_C = ((55.0, 95.0), (35.0, 70.0), (80.0, 140.0), (20.0, 40.0), (120.0, 220.0))

EARLY_CAUTION = "Before 12 weeks such a prediction is often far off."
RANGE_CAUTION = "An estimate for planning, not a target to feed towards."


@dataclass(frozen=True)
class GrowthFit:
    """A fitted curve: model "gompertz" or "logistic", mature weight, scale b, age c of steepest growth.

    rmse_kg is the root of the mean squared residual of the weights in kg.  wmax_standard_error_kg comes from
    the curvature at the minimum; None when no degree of freedom is left.
    """

    model: str
    wmax_kg: float
    b_days: float
    c_days: float
    rmse_kg: float
    weighings: int
    last_age_days: float
    wmax_standard_error_kg: float | None


@dataclass(frozen=True)
class AdultWeightRange:
    """Expected adult weight from low to high, with its model, what it stands on, and the caution."""

    low_kg: float
    high_kg: float
    model: str
    basis: str
    caution: str


@dataclass(frozen=True)
class SizeClassGrowth:
    """Published logistic constants of a size class, months, mean and SD.

    Source: Posada et al., Rev MVZ Cordoba (verified in text); the T99 of medium dogs is not printed, the
    range from small to large is used.
    """

    size: str
    x0_months: float
    x0_sd: float
    t99_low_months: float
    t99_high_months: float


SIZE_CLASSES = {
    "small": SizeClassGrowth("small", 3.49, 0.03, 9.46 - 1.63, 9.46 + 1.63),
    "medium": SizeClassGrowth("medium", 4.21, 0.42, 9.46, 14.37),
    "large": SizeClassGrowth("large", 5.27, 0.86, 14.37 - 1.79, 14.37 + 1.79),
}


def fit_gompertz(points: Sequence[tuple[float, float]], *, log_weights: bool = False) -> GrowthFit:
    """Gompertz curve through (age in days, weight in kg), by plain least squares.

    log_weights: minimise on log weights instead, for errors that grow with size.  ValueError with fewer than
    5 ages, an inflection outside the data, a mature weight above 3 times the last weight (common practice, no
    source), or no minimum found.  Form: Helmink et al. 2000, J Anim Sci 78:27-32.
    """
    return _fit("gompertz", gompertz_kg, points, log_weights)


def fit_logistic(points: Sequence[tuple[float, float]], *, log_weights: bool = False) -> GrowthFit:
    """Logistic curve through (age in days, weight in kg), by plain least squares; c is the half-way age.

    Refusals as for `fit_gompertz`.

    Form: Posada et al., Rev MVZ Cordoba.  It ends lower than a Gompertz curve through the same weights.
    """
    return _fit("logistic", logistic_kg, points, log_weights)


def _fit(
    model: str,
    curve: Callable[[float, float, float, float], float],
    points: Sequence[tuple[float, float]],
    log_weights: bool,
) -> GrowthFit:
    data = sorted((finite("age_days", age), positive("weight_kg", kg)) for age, kg in points)
    if len({age for age, _ in data}) < MINIMUM_WEIGHINGS:
        raise ValueError(f"a fit needs weighings at {MINIMUM_WEIGHINGS} ages or more")
    ages = [age for age, _ in data]
    weights = [kg for _, kg in data]
    targets = [math.log(kg) for kg in weights] if log_weights else weights

    def predict(parameters: Parameters, age: float) -> float:
        value = curve(age, math.exp(parameters[0]), math.exp(parameters[1]), parameters[2])
        return math.log(value) if log_weights else value

    best = None
    for b, c in _STARTS_B_C:
        start = (math.log(1.1 * max(weights)), math.log(b), c)
        try:
            found = fit_three_parameters(predict, ages, targets, start)
        except FitFailed:
            continue
        if best is None or found.sum_of_squares < best.sum_of_squares:
            best = found
    if best is None:
        raise ValueError("no curve of this form fits these weights")
    wmax_kg, b_days, c_days = math.exp(best.parameters[0]), math.exp(best.parameters[1]), best.parameters[2]
    _refuse_guesses(wmax_kg, c_days, data)
    residuals = [kg - curve(age, wmax_kg, b_days, c_days) for age, kg in data]
    error = best.standard_errors
    return GrowthFit(
        model=model,
        wmax_kg=wmax_kg,
        b_days=b_days,
        c_days=c_days,
        rmse_kg=math.sqrt(sum(residual * residual for residual in residuals) / len(residuals)),
        weighings=len(data),
        last_age_days=ages[-1],
        # the fit runs on ln Wmax; its error times Wmax is the error of Wmax
        wmax_standard_error_kg=None if error is None else error[0] * wmax_kg,
    )


def _refuse_guesses(wmax_kg: float, c_days: float, data: Sequence[tuple[float, float]]) -> None:
    if not data[0][0] <= c_days <= data[-1][0]:
        raise ValueError("the steepest growth lies outside the weighings: too early for a fit")
    if wmax_kg > LARGEST_WMAX_PER_LAST_WEIGHT * data[-1][1]:
        raise ValueError("the fitted mature weight is above 3 times the last weight: too early for a fit")


def adult_weight_from_fit(fit: GrowthFit) -> AdultWeightRange:
    """Mature weight of a fit, two standard errors either way.

    The range is that of one model: Gompertz and logistic differ by more than it, so show both (see
    `adult_weight_ranges`).  ValueError when the fit left no degree of freedom to judge its error by.
    """
    if fit.wmax_standard_error_kg is None:
        raise ValueError("too few weighings to give a range")
    margin_kg = 2.0 * fit.wmax_standard_error_kg
    return AdultWeightRange(
        low_kg=max(0.0, fit.wmax_kg - margin_kg),
        high_kg=finite("high_kg", fit.wmax_kg + margin_kg),
        model=fit.model,
        basis=f"{fit.weighings} weighings to day {fit.last_age_days:g}, two standard errors either way",
        caution=EARLY_CAUTION if fit.last_age_days < TWELVE_WEEKS_DAYS else RANGE_CAUTION,
    )


def adult_weight_ranges(points: Sequence[tuple[float, float]]) -> tuple[AdultWeightRange, ...]:
    """Adult weight by every model that can be fitted to (age in days, weight in kg); empty when none can.

    The logistic range lies lower than the Gompertz one: name the model beside the number.
    """
    ranges = []
    for fit in (fit_gompertz, fit_logistic):
        try:
            ranges.append(adult_weight_from_fit(fit(points)))
        except ValueError:
            continue
    return tuple(ranges)


def adult_weight_from_one_weighing(age_days: float, weight_kg: float, size: str) -> AdultWeightRange:
    """Adult weight from one weighing and the published logistic constants of the size class, as a range.

    size: "small", "medium" or "large".  The range spans the published spread of the two ages (half grown, 99
    %). Source: Posada et al., Rev MVZ Cordoba (verified in text).
    """
    if size not in SIZE_CLASSES:
        raise ValueError(f"size must be one of {', '.join(SIZE_CLASSES)}")
    growth = SIZE_CLASSES[size]
    months = positive("age_days", age_days) / DAYS_PER_MONTH
    predictions = [
        logistic_predict_a_kg(months, weight_kg, logistic_b_from_t99(t99, x0), x0)
        for x0 in (growth.x0_months - growth.x0_sd, growth.x0_months + growth.x0_sd)
        for t99 in (growth.t99_low_months, growth.t99_high_months)
    ]
    early = age_days < TWELVE_WEEKS_DAYS
    return AdultWeightRange(
        low_kg=min(predictions),
        high_kg=max(predictions),
        model="logistic",
        basis=f"one weighing at day {age_days:g}, published ages of {size} dogs",
        caution=EARLY_CAUTION if early else RANGE_CAUTION,
    )


def adult_weight_from_parents(dam_kg: float, sire_kg: float | None, sex: str) -> AdultWeightRange:
    """Adult weight of a pup as a range between the parent of its sex and the parents' mean.

    sex: "female" or "male".  Without the sire the dam's weight alone stands for both ends.
    Source: the Dog Owner's Home Veterinary Handbook takes the dam's weight (verified in text); the parents'
    mean by sex is common practice, no source.
    """
    if sex not in ("female", "male"):
        raise ValueError('sex must be "female" or "male"')
    dam = positive("dam_kg", dam_kg)
    if sire_kg is None:
        return AdultWeightRange(dam, dam, "dam's weight", "the dam's weight", RANGE_CAUTION)
    sire = positive("sire_kg", sire_kg)
    ends = sorted(((dam if sex == "female" else sire), finite("mean", (dam + sire) / 2.0)))
    return AdultWeightRange(ends[0], ends[1], "parents' mean", f"both parents, {sex} pup", RANGE_CAUTION)
