"""The checker itself, on histories that are whole and on broken ones."""

import pytest

from tests.faults.history import History, Said, faults_of_creates, faults_of_edits, faults_of_feed


def _history(**told: list[Said]) -> History:
    return History(told=dict(told))


@pytest.mark.parametrize(
    ("told", "present"),
    [
        ([Said.YES], 1),
        ([Said.UNKNOWN], 0),
        ([Said.UNKNOWN], 1),
        ([Said.UNKNOWN, Said.YES], 1),
        ([Said.NO], 0),
        ([Said.NO, Said.UNKNOWN], 1),
    ],
)
def test_a_history_whose_promises_were_kept_has_no_faults(told: list[Said], present: int) -> None:
    assert faults_of_creates(_history(a=told), ["a"] * present) == []


@pytest.mark.parametrize(
    ("told", "present", "fault"),
    [
        ([Said.YES], 0, "lost"),
        ([Said.UNKNOWN, Said.YES], 0, "lost"),
        ([Said.YES], 2, "doubled"),
        ([Said.UNKNOWN], 2, "doubled"),
        ([Said.NO], 1, "refused"),
    ],
)
def test_a_broken_history_is_named_by_its_fault(told: list[Said], present: int, fault: str) -> None:
    found = faults_of_creates(_history(a=told), ["a"] * present)
    assert [line.split(":")[0] for line in found] == [fault]


def test_a_row_that_nobody_sent_is_a_fault() -> None:
    assert faults_of_creates(_history(), ["b"]) == ["from nowhere: b is there and nobody sent it"]


def test_a_status_says_yes_no_or_nothing() -> None:
    history = History()
    for status in (201, 200, 409, 422, 503, 0):
        history.note_status("a", status)
    assert history.told["a"] == [Said.YES, Said.YES, Said.NO, Said.NO, Said.UNKNOWN, Said.UNKNOWN]
    assert history.acknowledged == {"a"}


def _entry(seq: int, uid: str, version: int) -> dict[str, object]:
    return {"seq": seq, "uid": uid, "version": version}


def test_a_feed_in_order_that_ends_at_the_servers_versions_is_whole() -> None:
    assert faults_of_feed([_entry(1, "a", 1), _entry(4, "b", 1), _entry(5, "a", 2)], {"a": 2, "b": 1}) == []


@pytest.mark.parametrize(
    ("entries", "fault"),
    [
        ([_entry(2, "a", 1), _entry(1, "b", 1)], "out of order"),
        ([_entry(1, "a", 1), _entry(1, "b", 1)], "out of order"),
        ([_entry(1, "a", 1)], "missed"),
        ([_entry(1, "b", 2), _entry(2, "b", 1), _entry(3, "a", 1)], "backwards"),
    ],
)
def test_a_broken_feed_is_named_by_its_fault(entries: list[dict[str, object]], fault: str) -> None:
    assert fault in {line.split(":")[0] for line in faults_of_feed(entries, {"a": 1, "b": 1})}


def test_edits_that_all_stand_in_the_history_are_whole() -> None:
    assert faults_of_edits([2, 4, 3], [1, 2, 3, 4]) == []


@pytest.mark.parametrize(
    ("acknowledged", "versions", "fault"),
    [([2, 2], [1, 2], "lost update"), ([2, 3], [1, 2], "lost"), ([2], [1, 3], "gap")],
)
def test_broken_edits_are_named_by_their_fault(
    acknowledged: list[int], versions: list[int], fault: str
) -> None:
    assert fault in {line.split(":")[0] for line in faults_of_edits(acknowledged, versions)}
