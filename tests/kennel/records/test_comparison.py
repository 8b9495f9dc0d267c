"""When a stored value and a value asked for mean the same, so that sending a correction twice is harmless."""

from decimal import Decimal
from typing import Any

import pytest

from kennel.records.comparison import alike

ROW = {"age_days": 84, "spread": Decimal("0.12")}


@pytest.mark.parametrize(
    ("stored", "asked", "expected"),
    [
        (Decimal("1.00"), "1", True),
        (Decimal("0.1"), 0.1, True),
        (None, 0, False),
        ("2026-03-01T07:30:00Z", "2026-03-01T08:30:00+01:00", True),
        ([Decimal("15.2"), 15], [15.2, 15.0], True),
        ([Decimal("15.2")], [15.2, 15.2], False),
        ([Decimal("15.2")], [15.3], False),
        ([ROW], [{"age_days": 84.0, "spread": 0.12}], True),
        ([ROW], [{"age_days": 84.0}], False),
        ([ROW], [{"age_days": 84.0, "spread": 0.13}], False),
        ([], {}, False),
        ([1], 1, False),
    ],
)
def test_values_mean_the_same_whatever_their_spelling(stored: Any, asked: Any, expected: bool) -> None:
    assert alike(stored, asked) is expected
