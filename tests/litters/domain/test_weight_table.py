"""Reading of weight sheets.  The sheets are ours, in the shapes people keep (common practice, no source)."""

from datetime import date, datetime, time
from decimal import Decimal

import pytest

from litters.domain.weight_cells import Formula, NotAWeight, unit_named, weight_of, without_unit
from litters.domain.weight_moments import Calendar, Moment, moment_of, time_of
from litters.domain.weight_places import Rows
from litters.domain.weight_pups import LitterLabels, PupLabels
from litters.domain.weight_table import TableNotUnderstood, TableRead, read_table

WHELPED_ON = date(2026, 3, 1)
CALENDAR = Calendar(WHELPED_ON)
PUPS = (
    PupLabels("r", band="red", name="Fern", number=1),
    PupLabels("g", band="green", number=2),
    PupLabels("m", band="moss", name="Reed", number=3),
)


def found(read: TableRead) -> list[tuple[str, date | None, time | None, Decimal, str]]:
    return [(r.pup, r.moment.on, r.moment.at, r.value, r.unit) for r in read.readings]


def codes(read: TableRead) -> list[tuple[int, int, str]]:
    return [(r.row, r.column, r.code) for r in read.refused]


D = Decimal


@pytest.mark.parametrize(
    ("cell", "unit", "value", "own"),
    [
        (412, None, "412", None),
        (14.5, "oz", "14.5", None),
        ("14,5", "oz", "14.5", None),
        ("412 g", None, "412", "g"),
        ("0,412kg", None, "0.412", "kg"),
        ("14.5 oz.", "g", "14.5", "oz"),
        ("1 lb 2.5 oz", None, "18.5", "oz"),
        ("2 lbs", None, "2", "lb"),
        ("1.234,5", "g", "1234.5", None),
        ("1,234.5", "g", "1234.5", None),
        ("1 234", "g", "1234", None),
        ("1,234", "g", "1234", None),
        ("1,234", "kg", "1.234", None),
        (0.1 + 0.2, "kg", "0.3", None),
        (Formula("=B2*2", 14.5), "oz", "14.5", None),
    ],
)
def test_a_weight_is_read_as_people_write_it(
    cell: object, unit: str | None, value: str, own: str | None
) -> None:
    weight = weight_of(cell, unit)  # type: ignore[arg-type]
    assert weight is not None
    assert (weight.value, weight.unit) == (D(value), own)


@pytest.mark.parametrize("cell", [None, "", "  ", "-", "–", "n/a", "not weighed"])
def test_a_blank_cell_is_not_weighed_and_never_zero(cell: object) -> None:
    assert weight_of(cell, "g") is None  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        (0, "zero"),
        ("0,0", "zero"),
        (-3, "negative"),
        ("-14.5", "negative"),
        ("sold", "not_a_weight"),
        ("#REF!", "not_a_weight"),
        (True, "not_a_weight"),
        (datetime(2026, 3, 1), "not_a_weight"),
        ("=1+1", "formula"),
        ('=HYPERLINK("http://x.example")', "formula"),
        ("@SUM(A1)", "formula"),
        (Formula("=SUM(B2:B9)", None), "formula"),
        (float("nan"), "not_a_weight"),
        (float("inf"), "not_a_weight"),
        ("9" * 40, "not_a_weight"),
        ("1.2.3", "not_a_weight"),
        ("٤١٢", "not_a_weight"),
    ],
)
def test_what_is_no_weight_is_refused_with_its_reason(cell: object, code: str) -> None:
    with pytest.raises(NotAWeight) as refused:
        weight_of(cell, "g")  # type: ignore[arg-type]
    assert refused.value.code == code


def test_a_heading_names_one_unit_or_none() -> None:
    assert [unit_named(text) for text in ("Red (oz)", "weight_g", "Weights in pounds", "kg")] == [
        "oz",
        "g",
        "lb",
        "kg",
    ]
    assert unit_named("lb / oz") is None
    assert unit_named("Gain") is None
    assert [without_unit(text) for text in ("Red (oz)", "red_g", "moss in oz", "g")] == [
        "Red",
        "red",
        "moss",
        "g",
    ]


@pytest.mark.parametrize(
    ("label", "heading", "expected"),
    [
        (date(2026, 3, 4), "", Moment(on=date(2026, 3, 4))),
        (datetime(2026, 3, 4), "", Moment(on=date(2026, 3, 4))),
        (datetime(2026, 3, 4, 7, 30), "", Moment(on=date(2026, 3, 4), at=time(7, 30))),
        ("2026-03-04", "", Moment(on=date(2026, 3, 4))),
        ("2026-03-04T07:30", "", Moment(on=date(2026, 3, 4), at=time(7, 30))),
        ("04.03.2026", "", Moment(on=date(2026, 3, 4))),
        ("4.3.", "", Moment(on=date(2026, 3, 4))),
        ("4.3.26 19:05", "", Moment(on=date(2026, 3, 4), at=time(19, 5))),
        ("4 Mar 2026", "", Moment(on=date(2026, 3, 4))),
        ("Wed 4th March", "", Moment(on=date(2026, 3, 4))),
        ("March 4, 2026", "", Moment(on=date(2026, 3, 4))),
        ("Day 3", "", Moment(on=date(2026, 3, 4), age_days=3)),
        ("D3 pm", "", Moment(on=date(2026, 3, 4), at=time(20), age_days=3)),
        (3, "Day", Moment(on=date(2026, 3, 4), age_days=3)),
        ("3", "", Moment(on=date(2026, 3, 4), age_days=3)),
        ("3 days old", "", Moment(on=date(2026, 3, 4), age_days=3)),
        ("Week 2", "", Moment(on=date(2026, 3, 15), age_days=14)),
        (2, "Week", Moment(on=date(2026, 3, 15), age_days=14)),
        (36, "Age (hours)", Moment(age_hours=D(36))),
        ("12 h", "", Moment(age_hours=D(12))),
        ("Birth", "", Moment(is_birth=True)),
        # 1 January 2000 is 36526 in spreadsheets: ECMA-376 part 1, 18.17.4.1, date base 1900 (from memory).
        (36526, "Date", Moment(on=date(2000, 1, 1))),
        ("Average", "", None),
        ("14.5", "", None),
        ("31.02.2026", "", None),
        ("Day 5000", "", None),
        (True, "", None),
    ],
)
def test_a_label_says_when(label: object, heading: str, expected: Moment | None) -> None:
    assert moment_of(label, heading, CALENDAR) == expected  # type: ignore[arg-type]


def test_a_slashed_date_is_settled_by_the_sheet_by_plausibility_or_said_as_a_doubt() -> None:
    assert moment_of("3/4/2026", "", Calendar(WHELPED_ON, day_first=False)) == Moment(on=date(2026, 3, 4))
    assert moment_of("3/4/2026", "", Calendar(WHELPED_ON, day_first=True)) == Moment(on=date(2026, 4, 3))
    assert moment_of("2/3/2026", "", CALENDAR) == Moment(
        on=date(2026, 3, 2)
    )  # 3 February lies before the birth
    doubtful = moment_of("3/4/2026", "", CALENDAR)
    assert doubtful is not None
    assert doubtful.on == date(2026, 4, 3)
    assert [code for code, _ in doubtful.doubts] == ["day_order"]


def test_wall_times_are_read_and_nonsense_is_not() -> None:
    assert [time_of(c) for c in ("7:30", "07.30", "7.30 pm", "7 pm", "12 am", "noon", time(6, 5, 9))] == [
        time(7, 30), time(7, 30), time(19, 30), time(19), time(0), time(12), time(6, 5),
    ]  # fmt: skip
    assert [time_of(c) for c in ("24:10", "25:00", "soon", None, 7)] == [None] * 5


@pytest.mark.parametrize(
    ("label", "key"),
    [
        ("RED", "r"), (" red  band", "r"), ("Fern", "r"), ("Fern (red)", "r"), ("Pup 1", "r"), ("#1", "r"), ("1", "r"),
        ("1 red", "r"), ("violet (1)", None), ("1 violet", None), ("No. 3", "m"), ("2.", "g"), ("dark red", None), ("red / green", None), ("4", None), ("", None),
    ],
)  # fmt: skip
def test_a_pup_is_known_by_band_name_or_number(label: str, key: str | None) -> None:
    assert LitterLabels(PUPS).find(label) == key


def test_a_label_two_pups_answer_to_finds_neither() -> None:
    labels = LitterLabels((PupLabels("a", band="red"), PupLabels("b", name="Red")))
    assert labels.find("red") is None


GRID: Rows = [
    ["Bramble's litter, weights in oz", None, None, None],
    [None, None, None, None],
    ["Day", "Red", "Green", "Moss"],
    [0, 14.5, 13, None],
    [1, 15, 13.25, 12],
    ["Average", 14.75, 13.125, 12],
]


def test_a_grid_is_read_in_both_directions_alike() -> None:
    upright = read_table(GRID, PUPS, WHELPED_ON)
    turned = read_table([GRID[0], *[[GRID[r][c] for r in range(2, 6)] for c in range(4)]], PUPS, WHELPED_ON)
    assert sorted(found(upright)) == sorted(found(turned))
    assert len(found(upright)) == 5
    assert found(upright)[0] == ("r", date(2026, 3, 1), None, D("14.5"), "oz")
    assert (upright.readings[0].row, upright.readings[0].column) == (4, 2)
    assert (turned.readings[0].row, turned.readings[0].column) == (3, 2)
    assert upright.refused == turned.refused == []
    assert "Average" in dict(upright.notes)["left_out"]


def test_numbered_pups_and_numbered_days_are_told_apart_by_the_corner_or_not_at_all() -> None:
    def square(corner: str) -> list[list[object]]:
        return [[corner, 1, 2, 3], [1, 400, 410, 420], [2, 430, 440, 450], [3, 460, 470, 480]]

    days_down = read_table(square("Day"), PUPS, WHELPED_ON, "g")  # type: ignore[arg-type]
    pups_down = read_table(square("Pup"), PUPS, WHELPED_ON, "g")  # type: ignore[arg-type]
    assert ("g", date(2026, 3, 2), None, D(410), "g") in found(days_down)
    assert ("r", date(2026, 3, 3), None, D(410), "g") in found(pups_down)
    with pytest.raises(TableNotUnderstood):
        read_table(square(""), PUPS, WHELPED_ON, "g")  # type: ignore[arg-type]


def test_a_merged_date_carries_to_the_rounds_below_it() -> None:
    rows: Rows = [
        ["Date", "Round", "red", "green"],
        [date(2026, 3, 2), "am", 400, 380],
        [None, "pm", 412, 391],
        [None, None, 1, None],
    ]
    read = read_table(rows, PUPS, WHELPED_ON, "g")
    assert found(read)[:3] == [
        ("r", date(2026, 3, 2), time(8), D(400), "g"),
        ("g", date(2026, 3, 2), time(8), D(380), "g"),
        ("r", date(2026, 3, 2), time(20), D(412), "g"),
    ]
    assert codes(read) == [(4, 3, "unknown_day")]


def test_a_second_heading_row_may_hold_the_units() -> None:
    rows: Rows = [["Date", "red", "green"], [None, "oz", "g"], ["2026-03-02", "14.5", "390"]]
    assert found(read_table(rows, PUPS, WHELPED_ON)) == [
        ("r", date(2026, 3, 2), None, D("14.5"), "oz"),
        ("g", date(2026, 3, 2), None, D(390), "g"),
    ]


def test_a_column_of_an_unknown_pup_is_refused_cell_by_cell_and_notes_are_left_out() -> None:
    rows: Rows = [["Day", "red", "violet", "Notes"], [0, 400, 380, "vet came"], [1, 420, None, ""]]
    read = read_table(rows, PUPS, WHELPED_ON, "g")
    assert len(read.readings) == 2
    assert codes(read) == [(2, 3, "unknown_pup")]
    assert dict(read.notes)["left_out"].endswith("Notes.")


def test_without_any_unit_nothing_is_guessed() -> None:
    rows: Rows = [["Day", "red", "green"], [0, 400, "13 oz"]]
    read = read_table(rows, PUPS, WHELPED_ON)
    assert codes(read) == [(2, 2, "unknown_unit")]
    assert found(read) == [("g", WHELPED_ON, None, D(13), "oz")]
    with pytest.raises(ValueError, match="unknown unit"):
        read_table(rows, PUPS, WHELPED_ON, "stone")


def test_a_unit_that_was_said_counts_before_headings_and_after_cells_and_is_noted() -> None:
    rows: Rows = [["Day", "red (oz)", "green (oz)"], [0, 400, "13 oz"]]
    read = read_table(rows, PUPS, WHELPED_ON, "g")
    assert [r.unit for r in read.readings] == ["g", "oz"]
    assert "unit_differs" in dict(read.notes)


def test_a_list_is_read_with_any_order_of_columns_and_its_unit_column() -> None:
    rows: Rows = [
        ["Weight", "Unit", "Time", "Band", "Date", "Note"],
        ["14,5", "oz", "07:30", "red", "02.03.2026", ""],
        ["0,41", "kg", "", "Reed", "02.03.2026", "sleepy"],
        ["", "", "", "green", "02.03.2026", "not weighed"],
        ["390", "g", "", "violet", "02.03.2026", ""],
        ["390", "g", "", "green", "some day", ""],
    ]
    read = read_table(rows, PUPS, WHELPED_ON)
    assert read.form == "list"
    assert found(read) == [
        ("r", date(2026, 3, 2), time(7, 30), D("14.5"), "oz"),
        ("m", date(2026, 3, 2), None, D("0.41"), "kg"),
    ]
    assert codes(read) == [(5, 1, "unknown_pup"), (6, 1, "unknown_day")]


def test_a_list_with_headings_in_another_language_is_read_by_its_content() -> None:
    rows: Rows = [
        ["Datum", "Welpe", "Gewicht (g)"],
        ["02.03.2026", "red", "412"],
        ["02.03.2026", "green", "390,5"],
    ]
    read = read_table(rows, PUPS, WHELPED_ON)
    assert [(r.pup, r.value, r.unit) for r in read.readings] == [("r", D(412), "g"), ("g", D("390.5"), "g")]


def test_a_sheet_that_begins_with_day_1_says_how_it_was_counted() -> None:
    assert "day_one" in dict(read_table([["Day", "red", "moss"], [1, 400, 1]], PUPS, WHELPED_ON, "g").notes)
    assert "day_one" not in dict(
        read_table([["Day", "red", "moss"], [0, 400, 1]], PUPS, WHELPED_ON, "g").notes
    )


@pytest.mark.parametrize("rows", [[], [[]], [["hello"]], [["red", "green"]], [[None, None], [1, 2]]])
def test_anything_else_is_not_understood(rows: list[list[object]]) -> None:
    with pytest.raises(TableNotUnderstood):
        read_table(rows, PUPS, WHELPED_ON, "g")  # type: ignore[arg-type]
