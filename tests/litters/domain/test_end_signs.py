"""Signs of the last day: how a lead time in hours becomes days."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain.end_signs import birth_day_shares


def test_the_shares_are_those_of_a_simulated_lead() -> None:
    # Seeded: the sign is seen at any hour, birth follows 8-36 h later (Merck 8-24 h to labour, leaflets 6-12
    # h).
    source = random.Random(7)
    rounds = 100_000
    days = [int((source.uniform(0, 24) + source.uniform(8, 36)) // 24) for _ in range(rounds)]
    for number, share in enumerate(birth_day_shares(8, 36)):
        assert days.count(number) / rounds == pytest.approx(share, abs=0.006)


@given(st.floats(min_value=0, max_value=47), st.floats(min_value=0.5, max_value=48))
def test_shares_are_a_probability(first: float, width: float) -> None:
    if first + width > 48:
        with pytest.raises(ValueError):
            birth_day_shares(first, first + width)
    else:
        shares = birth_day_shares(first, first + width)
        assert sum(shares) == pytest.approx(1)
        assert all(share >= -1e-9 for share in shares)
