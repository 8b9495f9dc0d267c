"""Words of messages: what is due, what was not confirmed, never a request to make up for it."""

from datetime import UTC, datetime

from kennel.duties.domain.wording import Item, for_digest, for_duty

NOW = datetime(2026, 7, 1, 16, 0, tzinfo=UTC)
URL = "https://hollin.example/kennels/k"


def item(hour: int = 16, title: str = "Softened food", **more: object) -> Item:
    return Item(title, datetime(2026, 7, 1, hour, 0, tzinfo=UTC), "120 g for moss.", **more)  # type: ignore[arg-type]


def words(one: Item, **more: object) -> str:
    given = {"kennel": "Hollin Bank", "zone": "Europe/London", "now": NOW, "is_escalated": False, "url": URL}
    made = for_duty(one, **{**given, **more})  # type: ignore[arg-type]
    return f"{made.subject}\n{made.body}"


def test_a_message_says_what_when_in_the_kennels_time_and_what_to_take_care_of() -> None:
    text = words(item(cautions=("Not warmer than the hand.",)))
    # British Summer Time is UTC+1.
    assert text.startswith("Hollin Bank: Softened food: due 17:00\n")
    assert "120 g for moss." in text
    assert "Take care: Not warmer than the hand." in text
    assert URL in text


def test_one_that_waits_says_so() -> None:
    assert "was due 13:00, not confirmed" in words(item(12))
    assert "was due 17:00, not confirmed" in words(item(), is_escalated=True)


def test_another_day_is_named() -> None:
    yesterday = Item("Weigh-in", datetime(2026, 6, 30, 7, 0, tzinfo=UTC), "")
    assert "was due Tue 30 Jun 08:00" in words(yesterday)


def test_a_digest_tells_first_what_is_still_to_do_and_never_asks_to_make_up_for_anything() -> None:
    missed = item(3, "Bottle", is_missed=True)
    made = for_digest([missed, item(12)], kennel="Hollin Bank", zone="Europe/London", now=NOW, url=URL)
    assert made.subject == "Hollin Bank: 1 still to do, 1 not confirmed"
    assert made.body.index("Softened food") < made.body.index("Bottle: was due 04:00, not confirmed.")
    assert "Do not make up for what was missed" in made.body
    assert "120 g for moss" not in made.body[made.body.index("Bottle") :]


def test_a_long_digest_is_cut_and_says_how_many_more() -> None:
    items = [item(3, f"Bottle {n}", is_missed=True) for n in range(25)]
    made = for_digest(items, kennel="Hollin Bank", zone="Europe/London", now=NOW, url=URL)
    assert "- and 5 more." in made.body


def test_a_subject_is_one_line() -> None:
    assert "\n" not in words(item(title="Softened\nfood")).split(": due")[0]
