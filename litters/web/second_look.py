"""When a typed weight deserves a second look before it is saved.  It asks, it never refuses.

The limits are common practice without a source: wide enough for a full stomach and a good day's gain, narrow
enough for a missing digit, ounces typed as grams and most exchanged pups.  The finder of slips compares the
whole round afterwards.
"""

from datetime import datetime

LEAST_BIRTH_G, MOST_BIRTH_G = 40.0, 1200.0
LOWEST_SHARE, HIGHEST_SHARE = 0.8, 1.25
MOST_GROWTH_PER_DAY = 1.1
LONGEST_DAYS = 10.0


def expected_g(last_g: float | None, last_at: datetime | None, at: datetime) -> tuple[float, float] | None:
    """(least, most) grams that need no second look; None when the last weight is too old to say.

    last_g, last_at: the newest weight and its instant; None for a pup whose birth weight this is.
    """
    if last_g is None or last_at is None:
        return LEAST_BIRTH_G, MOST_BIRTH_G
    days = max(0.0, (at - last_at).total_seconds() / 86_400)
    if days > LONGEST_DAYS:
        return None
    return last_g * LOWEST_SHARE, last_g * HIGHEST_SHARE * MOST_GROWTH_PER_DAY**days
