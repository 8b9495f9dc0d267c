"""Growth tables as people paste them.  Common practice, no source; values invented."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain.growth_table_text import NotATable, rows_from_text

ROW = {"age_days": 84.0, "power": 0.5, "median_kg": 6.2, "spread": 0.12}


@pytest.mark.parametrize(
    "text",
    [
        "84 0.5 6.2 0.12",
        "84\t0.5\t6.2\t0.12",
        "84;0,5;6,2;0,12",
        "84, 0.5, 6.2, 0.12",
        "84,0.5,6.2,0.12",
        "\n  84 0,5 6,2 0,12 \n\n",
        "age_days;L;M;S\n84;0.5;6.2;0.12",
        "Age (weeks)\tL\tM\tS\n12\t0.5\t6.2\t0.12",
        "week M S L\n12 6.2 0.12 0.5",
        "age mu sigma nu\n84 6.2 0.12 0.5",
    ],
)
def test_every_way_people_write_a_row_is_read(text: str) -> None:
    assert rows_from_text(text) == [pytest.approx(ROW)]


def test_ages_in_weeks_are_taken_as_such_unless_the_heading_says_otherwise() -> None:
    assert rows_from_text("12 0.5 6.2 0.12", "weeks")[0]["age_days"] == 84
    assert rows_from_text("days L M S\n84 0.5 6.2 0.12", "weeks")[0]["age_days"] == 84


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("", 1, "nothing here"),
        ("84 0.5 6.2 0.12\n91 0.5 6.8", 2, "not 3"),
        ("84 0.5 6.2 0.12\n\n91 0.5 six 0.12", 3, "“six” is not a number"),
        ("age height L M\n84 1 1 1", 1, "heading"),
        ("84 0.5 6.2 1e3", 1, "heading"),
        ("84 0.5 6.2 0.12 7", 1, "not 5"),
    ],
)
def test_a_line_that_cannot_be_read_is_named(text: str, line: int, said: str) -> None:
    with pytest.raises(NotATable) as refused:
        rows_from_text(text)
    problem = refused.value.problems[0]
    assert problem.line == line
    assert said in problem.text


def test_no_more_than_ten_lines_are_named() -> None:
    with pytest.raises(NotATable) as refused:
        rows_from_text("\n".join(["1 2 3"] * 30))
    assert len(refused.value.problems) == 10


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        rows = rows_from_text(text)
    except NotATable:
        return
    assert rows
    assert all(set(row) == set(ROW) for row in rows)
