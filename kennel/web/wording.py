"""How instants and ages are said on pages: in the kennel's zone, short, near days in words."""

from datetime import date, datetime, timedelta

from kennel.clock.wall_clock import zone_of

DAYS_IN_WORDS = {0: "today", -1: "yesterday", 1: "tomorrow"}


def instant(value: datetime | str) -> datetime:
    """An aware instant from an instant or its RFC 3339 text."""
    return value if isinstance(value, datetime) else datetime.fromisoformat(value)


def day(value: date | str) -> date:
    """A date from a date or its ISO text."""
    return value if isinstance(value, date) else date.fromisoformat(value)


def when(value: datetime | str, at: datetime, zone: str) -> str:
    """ "today 07:10", "yesterday 23:55", "Tue 3 Mar 07:10", and with the year when it is not this one's."""
    local, now = instant(value).astimezone(zone_of(zone)), at.astimezone(zone_of(zone))
    return f"{_day_words(local.date(), now.date())} {local:%H:%M}"


def on_day(value: date | str, at: datetime, zone: str) -> str:
    """ "today", "yesterday", "Tue 3 Mar", "3 Mar 2024"."""
    return _day_words(day(value), at.astimezone(zone_of(zone)).date())


def _day_words(shown: date, today: date) -> str:
    apart = (shown - today).days
    if apart in DAYS_IN_WORDS:
        return DAYS_IN_WORDS[apart]
    if shown.year != today.year:
        return f"{shown.day} {shown:%b %Y}"
    return f"{shown:%a} {shown.day} {shown:%b}"


def ago(value: datetime | str, at: datetime) -> str:
    """How long before `at`: "just now", "25 min ago", "11 weeks ago"; for what lies ahead "in 25 min"."""
    passed = at - instant(value)
    if passed < timedelta(minutes=-1):
        return f"in {_length(-passed)}"
    if passed < timedelta(minutes=1):
        return "just now"
    return f"{_length(passed)} ago"


def _length(passed: timedelta) -> str:
    minutes = int(passed.total_seconds() // 60)
    if minutes < 60:
        return f"{minutes} min"
    hours = minutes // 60
    if hours < 48:
        return f"{hours} h"
    days = hours // 24
    return f"{days} days" if days < 70 else f"{days // 7} weeks"


def age(born_at: datetime | str, at: datetime, zone: str) -> str:
    """Age of a young animal by local days: "born today", "13 days", "5 weeks 3 days", "14 months"."""
    born, now = instant(born_at).astimezone(zone_of(zone)).date(), at.astimezone(zone_of(zone)).date()
    return age_on(born, now)


def age_on(born: date | str, today: date) -> str:
    """The same from a date of birth."""
    start = day(born)
    days = (today - start).days
    if days <= 0:
        return "born today" if days == 0 else "not born yet"
    if days < 21:
        return f"{days} day{'' if days == 1 else 's'}"
    months = (today.year - start.year) * 12 + today.month - start.month - (today.day < start.day)
    if days < 26 * 7:
        rest = days % 7
        return f"{days // 7} weeks" + (f" {rest} day{'' if rest == 1 else 's'}" if rest else "")
    return f"{months} months" if months < 24 else f"{months // 12} years"
