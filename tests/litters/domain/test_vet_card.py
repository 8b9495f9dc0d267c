"""The vet card: read aloud in twenty seconds, the most needed first."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain.whelping import (
    MOST_WORDS,
    DamFacts,
    EntryKind,
    LabourEntry,
    LabourReport,
    Pregnancy,
    count_words,
    labour_report,
    vet_card,
)
from tests.litters.domain.labour_lines import at, born, line, strong

BRAMBLE = DamFacts(
    kennel_name="Hollin Bank",
    dam_name="Bramble",
    breed="water-spaniel type",
    mass_kg=19,
    age_years=4,
    litters_before=1,
    days_since="63 days from ovulation",
    temperature_c=37.9,
)
LOG = [
    line(EntryKind.STAGE_ONE_BEGAN, at(0)),
    strong(at(5)),
    born(at(5, 20)),
    born(at(6, 20), is_alive=False),
    strong(at(8, 30)),
]


def report(hours: int, minutes: int = 0, log: list[LabourEntry] | None = None) -> LabourReport:
    return labour_report(
        LOG if log is None else log, at(hours, minutes), pregnancy=Pregnancy(expected_pups=7)
    )


def test_the_card_says_who_what_and_how_long_in_twenty_seconds() -> None:
    card = vet_card(BRAMBLE, report(9, 1))
    for needed in (
        "Hollin Bank",
        "Bramble",
        "19 kilos",
        "Emergency: strong straining for 31 min and no pup",
        "2 born, 1 stillborn",
        "5 still expected",
        "63 days from ovulation",
    ):
        assert needed in card.text
    assert card.word_count <= 55
    assert card.reading_time_s <= 20


def test_words_are_counted_as_spoken() -> None:
    assert count_words("2 born alive, last 10 min ago.") == 7
    card = vet_card(BRAMBLE, report(9, 1))
    assert card.word_count == len(card.text.split())
    assert card.text == " ".join(card.sentences)


def test_the_trouble_comes_right_after_the_name() -> None:
    assert vet_card(BRAMBLE, report(9, 1)).sentences[1].startswith("Emergency")
    assert vet_card(BRAMBLE, report(8, 50, LOG[:2])).sentences[1].startswith(("Emergency", "Advice"))
    assert "no warning sign" in vet_card(BRAMBLE, report(3)).sentences[1]


def test_after_whelping_the_card_counts_no_more_minutes() -> None:
    over = [*LOG[:3], line(EntryKind.FINISHED, at(7))]
    card = vet_card(BRAMBLE, report(60, log=over))
    assert card.sentences[0].startswith("Hollin Bank kennel here: bitch after whelping Bramble")
    assert "Whelping is over, no warning sign." in card.text
    assert "1 born alive, 6 fewer than counted." in card.text
    for gone in ("ago", "still expected", "Not straining", "63 days"):
        assert gone not in card.text
    ill = [*over, line(EntryKind.FOUL_SMELL, at(50))]
    assert vet_card(BRAMBLE, report(60, log=ill)).sentences[1] == "Emergency: foul smell."


def test_what_does_not_fit_is_named_as_left_out() -> None:
    talkative = replace(BRAMBLE, days_since=" ".join(["day"] * 40), medicines=" ".join(["pill"] * 40))
    card = vet_card(talkative, report(9, 1))
    assert card.word_count <= MOST_WORDS
    assert card.left_out
    assert not any(sentence in card.text for sentence in card.left_out)


def test_a_dam_of_whom_little_is_known_still_gets_a_card() -> None:
    card = vet_card(DamFacts(kennel_name="", dam_name="Sorrel"), labour_report([], at(1)))
    assert "Sorrel" in card.text
    assert "No pup yet." in card.text


def test_medicines_of_the_last_day_are_said() -> None:
    card = vet_card(replace(BRAMBLE, medicines="pyrantel at noon"), report(3))
    assert "Given in 24 hours: pyrantel at noon." in card.text


def test_a_dam_without_a_name_or_with_impossible_facts_is_refused() -> None:
    with pytest.raises(ValueError, match="name"):
        vet_card(replace(BRAMBLE, dam_name=" "), report(3))
    for wrong in ({"mass_kg": math.nan}, {"temperature_c": 98.6}, {"age_years": -1}):
        with pytest.raises(ValueError):
            replace(BRAMBLE, **wrong)


WORDS = st.text(max_size=400)


@given(
    kennel=WORDS,
    dam=WORDS.filter(str.strip),
    breed=WORDS,
    since=WORDS,
    medicines=WORDS,
    minutes=st.integers(min_value=0, max_value=900),
)
def test_no_text_however_long_makes_the_card_longer_than_twenty_seconds(
    kennel: str, dam: str, breed: str, since: str, medicines: str, minutes: int
) -> None:
    facts = DamFacts(kennel, dam, breed, 19, 4, 2, since, 38.0, medicines)
    card = vet_card(facts, report(0, minutes))
    assert 0 < card.word_count <= MOST_WORDS
    assert card.reading_time_s <= 20
    assert len(card.sentences) >= 3
