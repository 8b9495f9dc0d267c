"""What travels to the database as JSON."""

import json
from decimal import Decimal

from kennel.records import store


def test_decimals_stay_numbers_and_lose_no_digit() -> None:
    # 1 oz in grams to all its digits (NIST SP 811, appendix B.8), and a small number that str() would write as 1E-9.
    text = store.dump([{"asks": {"dry_g": Decimal("28.349523125"), "least": Decimal("0.000000001")}}])
    found = json.loads(text, parse_float=Decimal)[0]["asks"]
    assert found == {"dry_g": Decimal("28.349523125"), "least": Decimal("0.000000001")}
    assert "E" not in text
