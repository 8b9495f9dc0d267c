"""Growth curves: Gompertz and logistic.

Ages in days (logistic constants as published in months: any one unit), weights in kg.  Every function gives a
finite number or raises ValueError.
"""

from __future__ import annotations

import math

from litters.domain.growth_measures import finite, positive

LARGEST_EXPONENT = 700.0


def _exponential(exponent: float) -> float:
    """exp(), infinite instead of an overflow, so that a curve can run out to its asymptote."""
    return math.inf if exponent > LARGEST_EXPONENT else math.exp(exponent)


def gompertz_kg(t: float, wmax: float, b: float, c: float) -> float:
    """Weight at age t: Wmax exp(-exp(-(t - c)/b)).

    t, c (age at the steepest growth) and b (scale) in days, wmax the mature weight in kg; wmax, b > 0.  Valid
    from weaning to adult: it misfits the first 3 weeks.
    Source: Helmink et al. 2000, J Anim Sci 78:27-32 (form verified in text).
    """
    exponent = -(finite("t", t) - finite("c", c)) / positive("b", b)
    return finite("the weight", positive("wmax", wmax) * math.exp(-_exponential(exponent)))


def gompertz_peak_gain_kg_per_day(wmax: float, b: float) -> float:
    """The steepest gain, at age c: Wmax/(b e), kg a day.  Algebra from Helmink's form."""
    return finite("the gain", positive("wmax", wmax) / positive("b", b) / math.e)


def gompertz_age_at_fraction_days(fraction: float, b: float, c: float) -> float:
    """The age at a fraction of mature weight: c - b ln(-ln q), 0 < q < 1.  Algebra from Helmink's form."""
    share = _fraction(fraction)
    return finite("the age", finite("c", c) - positive("b", b) * math.log(-math.log(share)))


def gompertz_growth_duration_days(b: float, c: float) -> float:
    """The end of growth by convention, 4b + c days, where 98.18 % of mature weight is reached.

    Source: Helmink et al. 2000 (verified in text).
    """
    return finite("the duration", 4.0 * positive("b", b) + finite("c", c))


def gompertz_predict_wmax_kg(t: float, w: float, b: float, c: float) -> float:
    """Mature weight from one weighing with trusted b and c of that breed and sex: W/exp(-exp(-(t - c)/b)).

    ValueError when the age says next to nothing (the answer would leave any range).  Before 12 weeks the
    error is large (common practice, no source).
    """
    exponent = -(finite("t", t) - finite("c", c)) / positive("b", b)
    grown = math.exp(-_exponential(exponent))
    if grown <= 0.0:
        raise ValueError("too early to predict from")
    return finite("the prediction", positive("w", w) / grown)


def logistic_kg(t: float, a: float, b: float, x0: float) -> float:
    """Weight at age t: a/(1 + exp(-(t - x0)/b)).

    x0 the age at half of mature weight a, b > 0, all in one unit of time.

    Source: Posada et al., Rev MVZ Cordoba, dogs of several breeds (verified in text).
    """
    exponent = -(finite("t", t) - finite("x0", x0)) / positive("b", b)
    return finite("the weight", positive("a", a) / (1.0 + _exponential(exponent)))


def logistic_t99(b: float, x0: float) -> float:
    """The age at 99 % of mature weight: x0 + b ln 99, in the unit of b and x0.  Posada et al."""
    return finite("the age", finite("x0", x0) + positive("b", b) * math.log(99.0))


def logistic_b_from_t99(t99: float, x0: float) -> float:
    """The scale b from the ages at 99 % and at half of mature weight, t99 after x0.  Posada et al."""
    return positive("t99 - x0", finite("t99", t99) - finite("x0", x0)) / math.log(99.0)


def logistic_age_at_fraction(fraction: float, b: float, x0: float) -> float:
    """The age at a fraction q of mature weight: x0 + b ln(q/(1 - q)), 0 < q < 1.  Algebra of the form."""
    share = _fraction(fraction)
    return finite("the age", finite("x0", x0) + positive("b", b) * math.log(share / (1.0 - share)))


def logistic_predict_a_kg(t: float, w: float, b: float, x0: float) -> float:
    """Mature weight from one weighing with trusted b and x0; ValueError when the age says next to nothing."""
    exponent = -(finite("t", t) - finite("x0", x0)) / positive("b", b)
    return finite("the prediction", positive("w", w) * (1.0 + _exponential(exponent)))


def _fraction(fraction: float) -> float:
    share = finite("fraction", fraction)
    if not 0.0 < share < 1.0:
        raise ValueError("fraction must lie strictly between 0 and 1")
    return share
