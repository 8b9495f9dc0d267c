"""Published calcium ranges against foods."""

import pytest

from feeding.domain.calcium import CALCIUM_RANGES, calcium_against


def test_every_range_is_possible_and_says_its_source_and_status() -> None:
    for entry in CALCIUM_RANGES:
        assert 0 < entry.low_pct < entry.high_pct < 3
        assert entry.source
        assert entry.status


def test_a_food_for_small_breeds_is_too_rich_in_calcium_for_a_giant() -> None:
    # Small Animal Clinical Nutrition: 0.7-1.7 % below 25 kg adult, 0.7-1.2 % above.
    def verdict(adult_kg: float) -> bool:
        return next(
            one.is_within
            for one in calcium_against(1.35, 10, adult_kg)
            if one.range.source.startswith("Small Animal") and one.range.who.startswith("pups")
        )

    assert verdict(8)
    assert not verdict(60)


@pytest.mark.parametrize(("adult_kg", "high"), [(31.7, 2.5), (31.76, 1.8)])
def test_seventy_pounds_divide_the_profile(adult_kg: float, high: float) -> None:
    # AAFCO 2016: large-size growth is 70 lb (31.75 kg) or more.
    limits = [one.range.high_pct for one in calcium_against(1, 10, adult_kg) if "2016" in one.range.source]
    assert limits == [high]


def test_without_an_adult_weight_every_range_is_compared() -> None:
    found = calcium_against(1.0, 10)
    assert len(found) == len(CALCIUM_RANGES)
    assert found[0].calcium_pct_of_dry_matter == pytest.approx(1.111, rel=0.001)


def test_more_calcium_than_dry_matter_is_refused() -> None:
    with pytest.raises(ValueError):
        calcium_against(40, 77)
