"""Slips at weighing, and where to look first: the pup, or the dam and the box."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from litters.domain import growth
from litters.domain.growth import NewReading, PupRecord, Weighing, slip_finder
from litters.domain.slips import readings_of_round
from litters.domain.units import mass_g

BORN_AT = datetime(2026, 3, 2, 4, 30, tzinfo=UTC)
DAYS = 5


def at_day(day: float) -> datetime:
    return BORN_AT + timedelta(days=day)


def reading(pup: str, birth_g: float, noted_g: float | None = None, days: int = DAYS) -> NewReading:
    """Today's reading of a pup that gained 8 % a day until yesterday; as expected unless noted otherwise."""
    earlier = tuple(Weighing(at_day(day), birth_g * 1.08**day, day == 0) for day in range(days))
    today_g = birth_g * 1.08**days if noted_g is None else noted_g
    return NewReading(pup, BORN_AT, at_day(days), today_g, earlier)


def kinds(readings: Sequence[NewReading]) -> list[tuple[str, tuple[str, ...]]]:
    return [(question.kind, question.pups) for question in slip_finder(readings)]


RED, BLUE, GREEN = reading("red", 300), reading("blue", 360), reading("green", 330)


def test_readings_that_fit_raise_no_question() -> None:
    assert slip_finder([RED, BLUE, GREEN]) == ()
    assert slip_finder([]) == ()


def test_two_exchanged_readings_are_asked_about_and_not_changed() -> None:
    exchanged = [reading("red", 300, BLUE.weight_g), reading("blue", 360, RED.weight_g), GREEN]
    (question,) = slip_finder(exchanged)
    assert (question.kind, question.pups) == ("exchanged", ("red", "blue"))
    assert dict(question.would_fit) == {"red": RED.weight_g, "blue": BLUE.weight_g}
    assert question.words.endswith("the other way round.")
    assert "?" in question.words
    assert exchanged[0].weight_g == BLUE.weight_g


# NIST Special Publication 811, appendix B.8: 1 oz = 28.34952 g, 1 lb = 453.5924 g.
@pytest.mark.parametrize(
    ("factor", "kind"),
    [(10, "factor_10"), (0.1, "factor_10"), (1 / 28.34952, "unit"), (28.34952, "unit"),
     (1 / 453.5924, "unit"), (453.5924, "unit"), (0.001, "unit"), (1000, "unit")],
)  # fmt: skip
def test_a_wrong_digit_or_unit_is_asked_about(factor: float, kind: str) -> None:
    (question,) = slip_finder([reading("red", 300, RED.weight_g * factor), BLUE, GREEN])
    assert (question.kind, question.pups) == (kind, ("red",))
    assert question.would_fit[0][1] == pytest.approx(RED.weight_g, rel=1e-5)
    (alone,) = slip_finder([reading("red", 300, RED.weight_g * factor)])
    assert (alone.kind, alone.would_fit) == (kind, question.would_fit)


def test_a_slip_at_birth_shows_against_the_littermates() -> None:
    litter = [
        NewReading(name, BORN_AT, at_day(0), weight_g) for name, weight_g in (("red", 31.0), ("blue", 330.0))
    ]
    assert slip_finder(litter) == ()
    litter.append(NewReading("green", BORN_AT, at_day(0), 290.0))
    assert kinds(litter) == [("factor_10", ("red",))]


def test_a_pup_in_trouble_is_not_explained_away() -> None:
    assert slip_finder([reading("red", 300, RED.weight_g * 0.85), BLUE, GREEN]) == ()
    all_slow = [
        reading(name, grams, grams * 1.08**4) for name, grams in (("red", 300), ("blue", 360), ("green", 330))
    ]
    assert slip_finder(all_slow) == ()


def test_yesterdays_slip_does_not_make_todays_reading_wrong() -> None:
    yesterday = Weighing(at_day(4), 10 * 300 * 1.08**4)
    earlier = (*RED.earlier[:4], yesterday)
    today = NewReading("red", BORN_AT, at_day(5), RED.weight_g, earlier)
    assert slip_finder([today, BLUE, GREEN]) == ()


def test_one_pup_is_asked_about_once() -> None:
    with pytest.raises(ValueError):
        slip_finder([RED, RED])


def test_a_reading_before_the_birth_or_without_weight_is_refused() -> None:
    with pytest.raises(ValueError):
        NewReading("red", BORN_AT, at_day(-1), 300)
    with pytest.raises(ValueError):
        NewReading("red", BORN_AT, at_day(1), 0)


def test_the_readings_of_a_round_are_the_newest_of_the_pups_weighed_together() -> None:
    def record(name: str, *days: float) -> PupRecord:
        return PupRecord(name, BORN_AT, tuple(Weighing(at_day(day), 300 + 20 * day) for day in days))

    litter = [record("red", 0, 1, 2), record("blue", 0, 1, 2.1), record("green", 0, 1), record("wool")]
    found = readings_of_round(litter, at_day(2.5))
    assert [(one.pup, one.weight_g, len(one.earlier)) for one in found] == [("red", 340, 2), ("blue", 342, 2)]
    assert [one.pup for one in readings_of_round(litter, at_day(1.5))] == ["red", "blue", "green"]
    assert readings_of_round([record("wool")], at_day(1)) == ()


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.floats(min_value=1e-3, max_value=1e7), min_size=1, max_size=6),
    st.floats(min_value=80, max_value=700),
)
def test_any_readings_are_answered_and_what_would_fit_is_the_reading_changed_by_a_known_slip(
    noted: list[float], birth_g: float
) -> None:
    litter = [reading(f"pup {number}", birth_g, grams) for number, grams in enumerate(noted)]
    weights = {one.pup: one.weight_g for one in litter}
    slips = [10.0, 0.1, *(f for unit in ("oz", "lb", "kg") for f in (mass_g(1, unit), 1 / mass_g(1, unit)))]
    for question in slip_finder(litter):
        for pup, grams in question.would_fit:
            if question.kind == "exchanged":
                assert grams in weights.values()
            else:
                assert any(grams == pytest.approx(weights[pup] * slip) for slip in slips)


def litter_of(*slow: bool | None) -> growth.PupOrDam:
    """pup_or_dam of a litter with slow, gaining and unweighed (None) pups, by real weights."""
    pups = []
    for number, is_slow in enumerate(slow):
        last_g = 340.0 if is_slow else 360.0
        weights = [(0, 300.0), (1, 310.0), (2, 335.0)] + ([] if is_slow is None else [(3, last_g)])
        weighings = tuple(Weighing(at_day(day), grams, day == 0) for day, grams in weights)
        pups.append(PupRecord(f"pup {number}", BORN_AT, weighings))
    return growth.pup_or_dam(growth.assess_litter(pups, at_day(3.3)))


# Common practice (no source): all slow points to dam or box, one to the pup; handbook ch. 17: several, the
# dam.
@pytest.mark.parametrize(
    ("slow", "verdict"),
    [
        ((False, False, False, False), "nobody"),
        ((True, False, False, False), "pup"),
        ((True, True, False, False), "several"),
        ((True, True, True, False), "dam_or_box"),
        ((True, True, True, True), "dam_or_box"),
        ((True, True), "several"),
        ((True,), "unknown"),
        ((), "unknown"),
        ((None, None), "unknown"),
        ((True, None, None, None), "unknown"),
    ],
)
def test_one_slow_pup_points_to_the_pup_and_all_slow_to_the_dam_or_the_box(
    slow: tuple[bool | None, ...], verdict: str
) -> None:
    found = litter_of(*slow)
    assert found.verdict == verdict
    assert len(found.slow_pups) == slow.count(True)
    assert len(found.gaining_pups) == slow.count(False)
    assert len(found.not_weighed) == slow.count(None)


def test_the_words_send_the_carer_to_the_dam_before_the_bottle() -> None:
    words = litter_of(True, True, True).words
    assert words.index("dam") < words.index("box")
    assert "vet" in words
