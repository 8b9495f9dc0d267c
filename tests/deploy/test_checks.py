"""The test command's own judgement: what fails it and what does not."""

import json
import subprocess
import sys
from typing import Any

import pytest

from deploy import audit, checks, schema_drift
from deploy.checks import Outcome, Step


def test_a_failed_step_does_not_keep_the_others_from_running() -> None:
    ran: list[str] = []

    def step(name: str, passed: bool) -> Step:
        def run() -> Outcome:
            ran.append(name)
            return Outcome(passed, "" if passed else "exit code 1")

        return Step(name, run)

    results = checks.run_steps([step("mypy", False), step("tests", True)])
    assert ran == ["mypy", "tests"]
    assert [outcome.passed for _, outcome, _ in results] == [False, True]
    lines = checks.table(results).strip().splitlines()
    assert "FAILED" in lines[0]
    assert "exit code 1" in lines[0]
    assert "ok" in lines[1]


def test_a_program_fails_its_step_by_its_exit_code() -> None:
    assert checks.command({}, sys.executable, "-c", "")().passed
    failed = checks.command({}, sys.executable, "-c", "raise SystemExit(3)")()
    assert failed == Outcome(False, "exit code 3")


def test_pytests_closing_line_is_kept_to_be_said_last(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    program = "print('collected 2 items\\n..\\n\\n=== 2 passed in 0.01s ===')"
    tests = checks.Tests({}, [])
    real = subprocess.Popen

    def instead(words: list[str], **more: Any) -> subprocess.Popen[bytes]:
        return real([sys.executable, "-c", program], **more)

    monkeypatch.setattr(subprocess, "Popen", instead)
    assert tests() == Outcome(True, "")
    assert tests.closing == "=== 2 passed in 0.01s ==="
    assert "collected 2 items" in capfd.readouterr().out


@pytest.mark.parametrize(("processors", "workers"), [(None, 1), (1, 1), (2, 2), (64, 4)])
def test_the_whole_suite_runs_on_every_processor_up_to_four(processors: int | None, workers: int) -> None:
    arguments = checks.side_by_side(processors)
    assert arguments == ([] if workers == 1 else ["-n", str(workers), "--dist", "loadgroup"])


def finding(remedies: list[str]) -> str:
    """pip-audit's JSON for one package with one weakness."""
    weakness = {"id": "PYSEC-0000-1", "fix_versions": remedies, "aliases": [], "description": ""}
    sound = {"name": "sound", "version": "2.0", "vulns": []}
    return json.dumps(
        {"dependencies": [sound, {"name": "weak", "version": "1.0", "vulns": [weakness]}], "fixes": []}
    )


@pytest.mark.parametrize(
    ("answer", "complaints", "passed", "said"),
    [
        (
            json.dumps({"dependencies": [{"name": "a", "version": "1", "vulns": []}]}),
            "",
            True,
            "1 packages asked",
        ),
        (finding(["1.1"]), "", False, "newer releases"),
        (finding([]), "", True, "without a remedy"),
        ("", "requests.exceptions.ConnectionError: HTTPSConnectionPool", True, "not reachable: skipped"),
        ("", "TypeError: something else broke", False, "something else broke"),
    ],
)
def test_only_a_weakness_with_a_remedy_or_a_broken_audit_fails_the_audit(
    answer: str, complaints: str, passed: bool, said: str
) -> None:
    verdict, note = audit.judge(answer, complaints)
    assert verdict is passed
    assert said in note


def test_a_changed_line_of_the_api_description_is_drift_and_a_missing_last_newline_is_not() -> None:
    assert schema_drift.differing_lines("a: 1\nb: 2\n", "a: 1\nb: 2") == []
    shown = schema_drift.differing_lines("a: 1\nb: 2\n", "a: 1\nb: 3\n")
    assert "-b: 2" in shown
    assert "+b: 3" in shown
