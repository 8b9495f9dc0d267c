"""Medicines and schemes survive being kept as JSON; what does not fit is refused by name."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from health.domain.medicine import Band, Form, Medicine
from health.domain.published_labels import PUBLISHED_LABELS
from health.domain.record_json import (
    basis_from_json,
    medicine_as_json,
    medicine_from_json,
    scheme_as_json,
    scheme_from_json,
)
from health.domain.units import FixedAmount, Strength
from health.domain.worming_schemes import SCHEMES

TABLETS = Medicine(
    "Tablets by weight", "something", Form.TABLET, Strength(20, "mg/tablet"),
    (Band(2.0, 4.0, FixedAmount(0.5, "tablet")), Band(4.0, None, FixedAmount(1, "tablet"))),
)  # fmt: skip


@pytest.mark.parametrize("medicine", [*PUBLISHED_LABELS.values(), TABLETS], ids=lambda one: one.name)
def test_a_medicine_comes_back_from_json_as_it_was(medicine: Medicine) -> None:
    assert medicine_from_json(json.loads(json.dumps(medicine_as_json(medicine)))) == medicine


@pytest.mark.parametrize("key", SCHEMES)
def test_a_scheme_comes_back_from_json_as_it_was(key: str) -> None:
    assert scheme_from_json(json.loads(json.dumps(scheme_as_json(SCHEMES[key])))) == SCHEMES[key]


def changed(change: Callable[[dict[str, Any]], object]) -> dict[str, Any]:
    value: dict[str, Any] = json.loads(
        json.dumps(medicine_as_json(PUBLISHED_LABELS["pyrantel_us_suspension"]))
    )
    change(value)
    return value


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (lambda one: one.update(colour="red"), "colour"),
        (lambda one: one.pop("active"), "active"),
        (lambda one: one.update(form="syrup"), "syrup"),
        (lambda one: one.update(minimum_age_days="14"), "minimum_age_days"),
        (lambda one: one.update(minimum_age_days=True), "minimum_age_days"),
        (lambda one: one.update(minimum_age_days=14.5), "minimum_age_days"),
        (lambda one: one.update(least_dose=1), "least_dose"),
        (lambda one: one.update(strength=5), "strength"),
        (lambda one: one["strength"].update(unit="mg"), "strength"),
        (lambda one: one.update(basis={"rate": {"value": 5, "unit": "mg/kg"}, "bands": []}), "basis"),
        (lambda one: one["basis"]["bands"][0].pop("rate"), "band"),
        (lambda one: one["basis"]["bands"][0].update(weight=3), "band"),
        (lambda one: one["basis"]["bands"][0].update(to_kg="5"), "to_kg"),
        (lambda one: one["basis"].update(bands=7), "list"),
        (lambda one: one["basis"]["bands"][0]["rate"].update(value="4.54"), "value"),
    ],
)
def test_what_does_not_fit_is_refused_by_name(change: Callable[[dict[str, Any]], object], named: str) -> None:
    with pytest.raises(ValueError, match=named):
        medicine_from_json(changed(change))


def test_no_basis_is_none_and_a_scheme_without_its_phases_is_refused() -> None:
    assert basis_from_json(None) is None
    value = scheme_as_json(SCHEMES["esccap"])
    del value["phases"]
    with pytest.raises(ValueError, match="phases"):
        scheme_from_json(value)
