"""The runner must fail where it should: wrong values, unknown keys, empty and broken files."""

from datetime import date, datetime
from pathlib import Path

import pytest

from tests.reference.compare import difference, pedigree_tolerance
from tests.reference.inputs import Datasets, Inputs, PedigreeRow
from tests.reference.run import main, run

HEADER = "case_id,formula,inputs,output,expected,unit,rel_tol\n"
RIGHT = "X1,rer,bw_kg=10,kcal,393.6,kcal/d,0.001\n"
FULL_SIBS = (
    "pedigree,animal,sire,dam,expected_F\nown,s,,,0\nown,d,,,0\nown,a,s,d,0\nown,b,s,d,0\nown,x,a,b,0.25\n"
)


def _file(folder: Path, text: str, name: str = "cases.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_right_row_passes_and_the_exit_code_is_zero(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([str(_file(tmp_path, HEADER + RIGHT))]) == 0
    assert "1 checks, 1 passed, 0 failed" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("X1,rer,bw_kg=10,kcal,394.1,kcal/d,0.001", "got 393.6"),
        ("X1,rer,bw_kg=10,kcal,393.6,kcal/d,0", "got 393.6"),
        ("X1,no_such_formula,bw_kg=10,kcal,393.6,kcal/d,0.001", "unknown formula key 'no_such_formula'"),
        ("X1,rer,bw_kg=10,joule,393.6,kcal/d,0.001", "ValueError"),
        ("X1,rer,mass=10,kcal,393.6,kcal/d,0.001", "KeyError"),
        ("X1,rer,bw_kg=ten,kcal,393.6,kcal/d,0.001", "ValueError"),
        ("X1,rer,bw_kg=nan,kcal,393.6,kcal/d,0.001", "ValueError"),
        ("X1,rer,bw_kg=-1,kcal,393.6,kcal/d,0.001", "ValueError"),
        ("X1,rer,bw_kg,kcal,393.6,kcal/d,0.001", "broken row"),
        ("X1,rer,bw_kg=10;bw_kg=11,kcal,393.6,kcal/d,0.001", "given twice"),
        ("X1,rer,bw_kg=10;bw_g=10000,kcal,393.6,kcal/d,0.001", "several units"),
        ("X1,rer,bw_kg=10,kcal,393.6,kcal/d,1e9", "broken row"),
        ("X1,rer,bw_kg=10,kcal,,kcal/d,0.001", "nothing is expected"),
        ("X1,rer,bw_kg=10,kcal,nan,kcal/d,0.001", "got 393.6"),
        ("X1,rer,bw_kg=10,kcal,ValueError,kcal/d,0.001", "expected a refusal"),
        ("X1,rer,bw_kg=10,kcal,393.6,kcal/d", "6 cells under a header of 7"),
        ("X1,progeny_F,pedigree=nowhere;sire=a;dam=b,F_if_mated,0.25,-,0.001", "pedigree 'nowhere'"),
    ],
)
def test_a_broken_row_is_one_failure_line_and_a_non_zero_exit(
    row: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([str(_file(tmp_path, HEADER + RIGHT + row + "\n"))]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert [line for line in lines if line.startswith("FAIL") and said in line] == lines[:1]
    assert lines[-1].startswith("2 checks, 1 passed, 1 failed")


@pytest.mark.parametrize(
    "text",
    [
        "",
        HEADER,
        "\n\n",
        "name,value\na,1\n",
        "pedigree,animal,sire,dam,expected_F\n",
        "age_days,weight_kg\n",
    ],
)
def test_a_file_without_a_row_fails(text: str, tmp_path: Path) -> None:
    assert main([str(_file(tmp_path, text))]) == 1


def test_markdown_without_a_csv_block_fails(tmp_path: Path) -> None:
    assert main([str(_file(tmp_path, "# Prose\n\n```text\nnothing\n```\n", "sheet.md"))]) == 1


def test_a_missing_file_and_a_file_of_bytes_fail(tmp_path: Path) -> None:
    binary = tmp_path / "cases.csv"
    binary.write_bytes(b"\xff\xfe\x00")
    assert main([str(tmp_path / "absent.csv")]) == 1
    assert main([str(binary)]) == 1


def test_calling_without_a_file_is_a_usage_error() -> None:
    assert main([]) == 2


def test_rows_inside_markdown_are_found_and_prose_is_not(tmp_path: Path) -> None:
    text = f"# Sheet\n\n```csv\n{HEADER}{RIGHT}```\n\nwords, with, commas\n\n```csv\n{FULL_SIBS}```\n"
    outcome = run([_file(tmp_path, text, "sheet.md")])
    assert (outcome.checked, outcome.passed, outcome.failures) == (6, 6, [])


def test_an_unclosed_fence_fails_but_the_rows_before_it_are_still_checked(tmp_path: Path) -> None:
    outcome = run([_file(tmp_path, f"```csv\n{HEADER}{RIGHT}```\n```csv\n", "sheet.md")])
    assert outcome.passed == 1
    assert len(outcome.failures) == 1


def test_a_wrong_coefficient_in_a_pedigree_fails(tmp_path: Path) -> None:
    outcome = run([_file(tmp_path, FULL_SIBS.replace("0.25", "0.26"))])
    assert outcome.passed == 4
    assert "got F 0.25, expected 0.26" in outcome.failures[0]


def test_a_pedigree_in_any_order_is_read(tmp_path: Path) -> None:
    header, *rows = FULL_SIBS.splitlines()
    outcome = run([_file(tmp_path, "\n".join([header, *reversed(rows)]))])
    assert (outcome.passed, outcome.failures) == (5, [])


def test_a_pedigree_in_two_blocks_of_a_file_is_one(tmp_path: Path) -> None:
    header, *rows = FULL_SIBS.splitlines()
    text = "\n".join([header, *rows[:4], header, rows[4]])
    outcome = run([_file(tmp_path, text)])
    assert (outcome.passed, outcome.failures) == (5, [])


def test_a_pedigree_without_expectations_is_still_built(tmp_path: Path) -> None:
    header = "pedigree,animal,sire,dam\n"
    sound, loop = (
        run([_file(tmp_path, header + "own,x,s,d\n")]),
        run([_file(tmp_path, header + "own,x,x,d\n")]),
    )
    assert (sound.checked, sound.failures) == (1, [])
    assert "its own parent" in loop.failures[0]


def test_a_pedigree_with_a_cycle_fails_unless_a_refusal_is_expected(tmp_path: Path) -> None:
    header = "pedigree,animal,sire,dam,expected_F\n"
    wrong = run([_file(tmp_path, header + "loop,a,b,,0\nloop,b,a,,0\n")])
    right = run([_file(tmp_path, header + "loop,a,b,,ValueError\nloop,b,a,,ValueError\n")])
    assert (wrong.passed, len(wrong.failures)) == (0, 2)
    assert (right.passed, right.failures) == (2, [])


def test_rows_use_the_pedigree_of_their_own_file_before_the_committed_one(tmp_path: Path) -> None:
    pedigree = FULL_SIBS.replace("own,", "tabular_course,")
    case = "X1,progeny_F,pedigree=tabular_course;sire=a;dam=b,F_if_mated,0.25,-,0\n"
    assert run([_file(tmp_path, HEADER + case + pedigree)]).failures == []
    assert run([_file(tmp_path, pedigree + HEADER + case)]).failures == []


def test_rows_find_the_committed_pedigrees_by_name(tmp_path: Path) -> None:
    case = "X1,progeny_F,pedigree=tabular_course;sire=5;dam=6,F_if_mated,0.21875,-,0\n"
    assert run([_file(tmp_path, HEADER + case)]).failures == []


def test_a_row_may_use_the_pedigree_of_another_file_given_with_it(tmp_path: Path) -> None:
    pedigree = _file(tmp_path, FULL_SIBS, "mine.csv")
    case = _file(tmp_path, HEADER + "X1,progeny_F,pedigree=own;sire=a;dam=b,F_if_mated,0.25,-,0\n")
    assert run([case, pedigree]).failures == []
    assert len(run([case]).failures) == 1


SERIES = "age_days,weight_kg\n0,0.3\n30,1.5\n60,4\n"
FIT_ROW = "X1,gompertz_fit,dataset={},wmax_kg,1,kg,0.001\n"


@pytest.mark.parametrize(
    ("series", "said"),
    [
        ("age_days,weight_kg\n0,0.3\n0,0.4\n", "ages do not rise"),
        ("age_days,weight_kg\n0,0.3\n3,-0.4\n", "not a finite number"),
        ("age_days,weight_kg\n0,0.3\n3,heavy\n", "could not convert"),
    ],
)
def test_a_weight_series_that_serves_no_fit_fails(series: str, said: str, tmp_path: Path) -> None:
    outcome = run([_file(tmp_path, series)])
    assert said in outcome.failures[0]


def test_a_weight_series_alone_is_read_and_counted(tmp_path: Path) -> None:
    outcome = run([_file(tmp_path, SERIES)])
    assert (outcome.checked, outcome.passed, outcome.data_rows) == (1, 1, 3)


def test_inputs_offer_the_series_of_the_file_or_one_written_out() -> None:
    held = Datasets(series=((0.0, 0.3), (14.0, 0.9)))
    assert Inputs.parse("dataset=below", held).series() == [(0.0, 0.3), (14.0, 0.9)]
    assert Inputs.parse("dataset=0:0.4|7:0.8", held).series() == [(0.0, 0.4), (7.0, 0.8)]
    with pytest.raises(KeyError):
        Inputs.parse("dataset=below").series()


def test_inputs_offer_the_pedigree_standing_last_above_a_row_that_names_none() -> None:
    rows = (PedigreeRow("a", None, None),)
    held = Datasets(pedigrees={"own": rows}, current_pedigree="own")
    assert Inputs.parse("x=a", held).pedigree() == rows
    assert Inputs.parse("pedigree=own", held).pedigree() == rows


def test_inputs_read_other_units_by_the_ending_of_their_name() -> None:
    # 1 lb = 453.59237 g and 1 in = 25.4 mm by definition (1959 agreement); 1 kcal = 4.184 kJ.
    assert Inputs.parse("bw_lb=2").mass_kg("bw") == pytest.approx(0.90718474, rel=1e-12)
    assert Inputs.parse("bw_g=1500").mass_kg("bw") == 1.5
    assert Inputs.parse("pup_oz=16").mass_g("pup") == pytest.approx(453.59237, rel=1e-12)
    assert Inputs.parse("icc_cm=3").length_mm("icc") == 30
    assert Inputs.parse("kj=4184").energy_kcal("") == pytest.approx(1000, rel=1e-12)
    assert Inputs.parse("rectal_f=98.6").temperature_c("rectal") == pytest.approx(37, rel=1e-12)
    assert Inputs.parse("water_l=0.25").volume_ml("water") == 250


def test_inputs_refuse_what_is_not_of_the_kind_asked_for() -> None:
    inputs = Inputs.parse("n=6.5;day=20260301;flag=perhaps;empty=;big=1e999;odd=1_000")
    for read, name in [
        (inputs.integer, "n"),
        (inputs.day, "day"),
        (inputs.flag, "flag"),
        (inputs.text, "empty"),
        (inputs.number, "big"),
        (inputs.number, "odd"),
    ]:
        with pytest.raises(ValueError):
            read(name)


@pytest.mark.parametrize(
    ("answer", "expected", "rel_tol"),
    [
        (True, "true", 0),
        (9, "9", 0),
        (9.0, "9", 0),
        (4.500000000000001, "4.5", 0),
        (date(2028, 2, 29), "2028-02-29", 0),
        (datetime(2026, 3, 15, 8, 5), "2026-03-15T08:05", 0),
        ([date(2026, 3, 15), date(2026, 3, 29)], "2026-03-15 2026-03-29", 0),
        ([0.25, 0.5, 0.25], "0.25|0.5|0.25", 0),
        ((0, 1, 0), "0|1|0", 0),
        ("country", "country", 0),
        (0.0000000001, "0", 0.001),
        ([], "", 0),
    ],
)
def test_an_answer_that_matches_has_no_difference(answer: object, expected: str, rel_tol: float) -> None:
    assert difference(answer, expected, rel_tol) == ""


@pytest.mark.parametrize(
    ("answer", "expected", "rel_tol"),
    [
        (True, "1", 0),
        (1, "true", 0),
        (9, "10", 0),
        (4.5001, "4.5", 0),
        (4.506, "4.5", 0.001),
        (float("nan"), "nan", 0.001),
        (float("inf"), "inf", 0.001),
        (None, "none", 0),
        (date(2028, 2, 29), "2028-03-01", 0),
        ([date(2026, 3, 15)], "2026-03-15 2026-03-29", 0),
        ([0.25, 0.5, 0.25], "0.25|0.25|0.5", 0),
        ("country", "manufacturer", 0),
        (1e-6, "0", 0.001),
        (0.001, "0", 0),
    ],
)
def test_an_answer_that_does_not_match_is_told(answer: object, expected: str, rel_tol: float) -> None:
    assert "expected" in difference(answer, expected, rel_tol)


def test_a_coefficient_must_agree_to_the_figures_printed_and_to_four_at_least() -> None:
    assert pedigree_tolerance("0.25") == pytest.approx(0.00005, abs=2e-9)
    assert pedigree_tolerance("0.21875") == pytest.approx(0.000005, abs=2e-9)
    assert pedigree_tolerance("0") == 1e-9
