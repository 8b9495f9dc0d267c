"""Adapters for the formula keys of gestation: due dates, progesterone units and fetal ultrasound."""

from collections.abc import Callable
from datetime import date

from litters.domain import gestation
from tests.reference.inputs import Inputs

DUE_OUTPUTS = {"due_date": "due_on", "window_start": "window_start_on", "window_end": "window_end_on"}


def _due(rule: Callable[[date], gestation.DueDates], anchor: str) -> Callable[[Inputs, str], object]:
    def answer(inputs: Inputs, output: str) -> object:
        if output not in DUE_OUTPUTS:
            raise ValueError(f"unknown output {output!r}")
        anchor_on = inputs.day(inputs.name_of(anchor, f"{anchor}_on"))
        return getattr(rule(anchor_on), DUE_OUTPUTS[output])

    return answer


def _only(name: str, compute: Callable[[Inputs], float]) -> Callable[[Inputs, str], object]:
    def answer(inputs: Inputs, output: str) -> object:
        if output != name:
            raise ValueError(f"unknown output {output!r}")
        return compute(inputs)

    return answer


def _centimetres(inputs: Inputs, stem: str) -> float:
    return gestation.centimetres_from_millimetres(inputs.length_mm(stem))


def _dam_mass_kg(inputs: Inputs) -> float | None:
    try:
        return inputs.mass_kg("dam")
    except KeyError:
        return None


def _days_left(compute: Callable[[Inputs], float]) -> Callable[[Inputs, str], object]:
    return _only("days_before_parturition", compute)


def _sized(formula: Callable[..., float], stem: str) -> Callable[[Inputs, str], object]:
    return _days_left(lambda inputs: formula(inputs.length_mm(stem), dam_mass_kg=_dam_mass_kg(inputs)))


def _age(formula: Callable[..., float], stem: str) -> Callable[[Inputs, str], object]:
    return _only(
        "ga_days_post_lh",
        lambda inputs: formula(_centimetres(inputs, stem), dam_mass_kg=_dam_mass_kg(inputs)),
    )


FORMULAS: dict[str, Callable[[Inputs, str], object]] = {
    "due_from_lh": _due(gestation.due_from_lh, "lh_surge"),
    "due_from_ovulation": _due(gestation.due_from_ovulation, "ovulation"),
    "due_from_diestrus_d1": _due(gestation.due_from_diestrus_d1, "diestrus_d1"),
    "window_from_first_mating": _due(gestation.window_from_first_mating, "first_mating"),
    "p4_ng_to_nmol": _only(
        "nmol_per_l", lambda inputs: gestation.nmol_per_l_from_ng_per_ml(inputs.number("ng_per_ml"))
    ),
    "p4_nmol_to_ng": _only(
        "ng_per_ml", lambda inputs: gestation.ng_per_ml_from_nmol_per_l(inputs.number("nmol_per_l"))
    ),
    "dbp_icc_small": _sized(gestation.days_before_parturition_icc_small, "icc"),
    "dbp_icc_medium": _sized(gestation.days_before_parturition_icc_medium, "icc"),
    "dbp_bp_small": _sized(gestation.days_before_parturition_bp_small, "bp"),
    "dbp_bp_medium": _sized(gestation.days_before_parturition_bp_medium, "bp"),
    "dbp_icc_gsd": _days_left(
        lambda inputs: gestation.days_before_parturition_icc_german_shepherd(_centimetres(inputs, "icc"))
    ),
    "dbp_bpd_gsd": _days_left(
        lambda inputs: gestation.days_before_parturition_bpd_german_shepherd(_centimetres(inputs, "bpd"))
    ),
    "dbp_bpd_chihuahua": _days_left(
        lambda inputs: gestation.days_before_parturition_bpd_chihuahua(_centimetres(inputs, "bpd"))
    ),
    "ga_from_sac": _age(gestation.gestational_age_from_sac_days, "sac"),
    "ga_from_head": _age(gestation.gestational_age_from_head_days, "head"),
    "days_left_from_ga": _only(
        "days_to_parturition",
        lambda inputs: gestation.days_left_from_gestational_age(inputs.number("ga_days_post_lh")),
    ),
}
