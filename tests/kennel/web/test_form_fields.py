"""Form fields come from the input models, so a form offers exactly what the API takes."""

import pytest

from kennel.web.form_fields import data_of, shown_field, text_of
from kennel.web.forms import Entry
from litters.inputs import DogInput, LitterInput, PupInput, WeighingInput


@pytest.mark.parametrize(
    ("model", "name", "kind", "required"),
    [
        (DogInput, "name", "text", True),
        (DogInput, "note", "note", False),
        (DogInput, "born_on", "day", False),
        (DogInput, "adult_weight_kg", "number", False),
        (DogInput, "lives_here", "yes-no", False),
        (DogInput, "sex", "choice", True),
        (LitterInput, "whelped_at", "instant", False),
        (PupInput, "birth_order", "integer", False),
        (WeighingInput, "entered_unit", "choice", False),
    ],
)
def test_kind_and_need_follow_the_input_model(model: type, name: str, kind: str, required: bool) -> None:
    shown = shown_field(model, Entry(name, name))
    assert (shown.kind, shown.is_required) == (kind, required)


def test_closed_lists_are_offered_in_words() -> None:
    shown = shown_field(DogInput, Entry("sex", "Sex"))
    assert ("female", "Bitch") in shown.choices
    assert shown_field(PupInput, Entry("fate", "Fate")).value == "living"


def test_limits_of_numbers_are_known_to_the_form() -> None:
    shown = shown_field(DogInput, Entry("adult_weight_kg", "Weight"))
    assert (shown.least, shown.most) == ("0.3", "120")


def test_a_wall_time_is_read_in_the_kennels_zone() -> None:
    assert data_of("2026-01-15T03:10", "instant", "Europe/London") == "2026-01-15T03:10:00+00:00"
    assert data_of("2026-07-15T03:10", "instant", "Europe/London") == "2026-07-15T02:10:00+00:00"
    # RFC 5545 section 3.3.5: a skipped time moves forward by the gap, of a repeated one the first is meant.
    assert data_of("2026-03-29T01:30", "instant", "Europe/London") == "2026-03-29T01:30:00+00:00"
    assert data_of("2026-10-25T01:30", "instant", "Europe/London") == "2026-10-25T00:30:00+00:00"


def test_instants_are_shown_as_wall_time_to_the_minute() -> None:
    assert text_of("2026-07-15T02:10:33.000Z", "instant", "Europe/London") == "2026-07-15T03:10"


def test_numbers_may_be_typed_with_a_comma() -> None:
    assert data_of("14,53", "number", "UTC") == "14.53"
    assert data_of(" 412 ", "number", "UTC") == "412"
    assert data_of("7", "integer", "UTC") == 7
    assert data_of("", "number", "UTC") is None


def test_what_cannot_be_read_goes_on_unchanged_and_is_refused_by_the_model() -> None:
    assert data_of("seven", "integer", "UTC") == "seven"
    assert data_of("٧", "integer", "UTC") == "٧"
    assert data_of("yesterday", "instant", "UTC") == "yesterday"
