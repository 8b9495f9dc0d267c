"""Adapters for the formula keys of growth: newborn weights, growth curves, scores of a table."""

from collections.abc import Callable

from litters.domain import growth
from tests.reference.inputs import Inputs


def _only(output: str, *known: str) -> None:
    if output not in known:
        raise ValueError(f"unknown output {output!r}")


def _mass_kg(inputs: Inputs, stem: str) -> float:
    """Mass in kg from the bare stem, or with any unit the reader knows."""
    return inputs.number(stem) if stem in inputs else inputs.mass_kg(stem)


def _age(inputs: Inputs) -> float:
    return inputs.number(inputs.name_of("t", "t_days", "age_days", "day", "months"))


def _b(inputs: Inputs) -> float:
    return inputs.number(inputs.name_of("b", "b_days", "b_months"))


def _c(inputs: Inputs) -> float:
    return inputs.number(inputs.name_of("c", "c_days"))


def _x0(inputs: Inputs) -> float:
    return inputs.number(inputs.name_of("x0", "x0_days", "x0_months"))


def _limits(inputs: Inputs, name: str) -> dict[str, float]:
    """The limit a row sets instead of the published one, if it does."""
    return {"limit_pct": inputs.number(name)} if name in inputs else {}


def _early_growth_rate(inputs: Inputs, output: str) -> float:
    _only(output, "egr_pct")
    return growth.early_growth_rate_pct(inputs.mass_g("birth"), inputs.mass_g("day2"))


def _early_growth_flag(inputs: Inputs, output: str) -> bool:
    _only(output, "at_risk")
    limits = _limits(inputs, "limit_pct")
    return growth.early_growth_at_risk(inputs.mass_g("birth"), inputs.mass_g("day2"), **limits)


def _weight_loss(inputs: Inputs, output: str) -> float:
    _only(output, "loss_pct")
    return growth.weight_loss_pct(inputs.mass_g("birth"), inputs.mass_g("now"))


def _loss_alarm(inputs: Inputs, output: str) -> bool:
    _only(output, "alarm")
    limits = _limits(inputs, "limit_pct")
    return growth.loss_alarm(inputs.mass_g("birth"), inputs.mass_g("now"), **limits)


def _low_vs_litter(inputs: Inputs, output: str) -> float:
    _only(output, "below_pct")
    return growth.low_vs_litter_pct(inputs.mass_g("pup"), inputs.mass_g("littermates_mean"))


def _low_vs_litter_flag(inputs: Inputs, output: str) -> bool:
    _only(output, "flag")
    limits = _limits(inputs, "limit_pct")
    return growth.is_low_vs_litter(inputs.mass_g("pup"), inputs.mass_g("littermates_mean"), **limits)


def _daily_gain_from_adult(inputs: Inputs, output: str) -> float:
    _only(output, "gain_g_per_day")
    return growth.daily_gain_from_adult_g(inputs.mass_kg("adult"), inputs.number("g_per_kg"))


def _daily_gain(inputs: Inputs, output: str) -> float:
    _only(output, "gain_pct_per_day")
    return growth.daily_gain_pct(inputs.mass_g("prev"), inputs.mass_g("now"), inputs.number("days"))


def _birth_weight_of_dam(inputs: Inputs, output: str) -> float:
    _only(output, "pct")
    return growth.birth_weight_pct_of_dam(inputs.mass_g("birth"), inputs.mass_kg("dam"))


def _max_growth_curve(inputs: Inputs, output: str) -> float:
    _only(output, "weight_g")
    return growth.max_growth_curve_g(inputs.mass_g("birth"), inputs.number("day"))


def _doubling_day(inputs: Inputs, output: str) -> float:
    _only(output, "interpolated_day")
    return growth.day_reaching_multiple(inputs.pairs("log"))


def _gompertz(inputs: Inputs, output: str) -> float:
    _only(output, "kg", "kg_at_4b_plus_c")
    b, c = _b(inputs), _c(inputs)
    if output == "kg_at_4b_plus_c" and "t" not in inputs:
        return growth.gompertz_kg(growth.gompertz_growth_duration_days(b, c), _mass_kg(inputs, "wmax"), b, c)
    return growth.gompertz_kg(_age(inputs), _mass_kg(inputs, "wmax"), b, c)


def _gompertz_peak_gain(inputs: Inputs, output: str) -> float:
    _only(output, "kg_per_day")
    return growth.gompertz_peak_gain_kg_per_day(_mass_kg(inputs, "wmax"), _b(inputs))


def _gompertz_age_at_fraction(inputs: Inputs, output: str) -> float:
    _only(output, "days")
    return growth.gompertz_age_at_fraction_days(inputs.number("fraction"), _b(inputs), _c(inputs))


def _gompertz_predict_wmax(inputs: Inputs, output: str) -> float:
    _only(output, "wmax_kg")
    return growth.gompertz_predict_wmax_kg(_age(inputs), _mass_kg(inputs, "w"), _b(inputs), _c(inputs))


def _gompertz_fit(inputs: Inputs, output: str) -> float:
    _only(output, "wmax_kg", "b_days", "c_days", "rmse_kg")
    fit = growth.fit_gompertz(inputs.series())
    return {
        "wmax_kg": fit.wmax_kg,
        "b_days": fit.b_days,
        "c_days": fit.c_days,
        "rmse_kg": fit.rmse_kg,
    }[output]


def _logistic(inputs: Inputs, output: str) -> float:
    _only(output, "kg")
    return growth.logistic_kg(_age(inputs), _mass_kg(inputs, "a"), _b(inputs), _x0(inputs))


def _logistic_t99(inputs: Inputs, output: str) -> float:
    _only(output, "months", "days", "weeks")
    return growth.logistic_t99(_b(inputs), _x0(inputs))


def _logistic_b_from_t99(inputs: Inputs, output: str) -> float:
    _only(output, "months", "days", "weeks")
    return growth.logistic_b_from_t99(inputs.number("t99"), _x0(inputs))


def _lms_z(inputs: Inputs, output: str) -> float:
    _only(output, "z")
    return growth.lms_z(inputs.number("y"), inputs.number("L"), inputs.number("M"), inputs.number("S"))


def _lms_x(inputs: Inputs, output: str) -> float:
    _only(output, "kg", "y", "x")
    return growth.lms_x(inputs.number("z"), inputs.number("L"), inputs.number("M"), inputs.number("S"))


def _lines_crossed(inputs: Inputs, output: str) -> int | bool:
    _only(output, "count", "alert")
    start, now = inputs.number("z_start"), inputs.number("z_now")
    if output == "alert":
        return growth.crosses_too_many_lines(start, now)
    return growth.lines_crossed(start, now)


FORMULAS: dict[str, Callable[[Inputs, str], object]] = {
    "early_growth_rate_pct": _early_growth_rate,
    "early_growth_flag": _early_growth_flag,
    "weight_loss_pct": _weight_loss,
    "loss_alarm_48h": _loss_alarm,
    "low_vs_litter_pct": _low_vs_litter,
    "low_vs_litter_flag": _low_vs_litter_flag,
    "daily_gain_from_adult": _daily_gain_from_adult,
    "daily_gain_pct": _daily_gain,
    "birth_weight_pct_of_dam": _birth_weight_of_dam,
    "max_growth_curve": _max_growth_curve,
    "days_since_birth_to_double": _doubling_day,
    "gompertz": _gompertz,
    "gompertz_peak_gain": _gompertz_peak_gain,
    "gompertz_age_at_fraction": _gompertz_age_at_fraction,
    "gompertz_predict_wmax": _gompertz_predict_wmax,
    "gompertz_fit": _gompertz_fit,
    "logistic": _logistic,
    "logistic_t99": _logistic_t99,
    "logistic_b_from_t99": _logistic_b_from_t99,
    "lms_z": _lms_z,
    "lms_x": _lms_x,
    "lines_crossed": _lines_crossed,
}
