"""Holding the state folder, its permissions and its secrets."""

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from deploy.accounts import Account, can_reach
from deploy.environment import REPOSITORY
from deploy.state import State, StateHeld, StateUnusable, default_folder, read_json, write_private


def mode(path: Path) -> int:
    """Permission bits."""
    return stat.S_IMODE(path.stat().st_mode)


def test_nobody_else_may_read_the_state_or_its_secrets(place: Path) -> None:
    old = os.umask(0o000)  # the most careless surroundings
    try:
        with State(place / "state") as state:
            state.secret("postgres-kennel_app")
            key = state.secret_path("secret-key")
            assert mode(state.folder) == 0o700
            assert {mode(folder) for folder in (state.logs, state.mail, state.secrets)} == {0o700}
            assert mode(key) == mode(state.secrets / "postgres-kennel_app") == 0o600
            assert len(key.read_text()) >= 50  # the least Django's deployment check accepts
    finally:
        os.umask(old)


def test_with_a_server_account_others_may_pass_through_the_folder_but_not_look_into_it(place: Path) -> None:
    with State(place / "state", Account("daemon", 1, 1)) as state:
        assert mode(state.folder) == 0o711
        assert mode(state.secrets) == 0o700


def test_a_secret_stays_the_same_and_differs_from_the_others(place: Path) -> None:
    with State(place / "state") as state:
        first = state.secret("valkey")
    with State(place / "state") as state:
        assert state.secret("valkey") == first
        assert state.secret("other") != first


def test_a_second_holder_is_refused_and_told_who_holds_it(place: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from deploy.state import State, StateHeld\n"
        "try:\n    State(Path(sys.argv[1])).__enter__()\nexcept StateHeld as held:\n    print(held)"
    )
    with State(place / "state") as state:
        words = [sys.executable, "-P", "-c", program, str(state.folder)]
        environment = {**os.environ, "PYTHONPATH": str(REPOSITORY)}
        said = subprocess.run(words, env=environment, capture_output=True, text=True, check=True).stdout
        assert f"process {os.getpid()}" in said
        assert "--state" in said
    with State(place / "state"):
        pass  # let go of, it can be held again


def test_a_refused_second_holder_changes_nothing_about_the_folder(place: Path) -> None:
    with State(place / "state", Account("daemon", 1, 1)) as state:
        with pytest.raises(StateHeld):
            State(place / "state").__enter__()
        assert mode(state.folder) == 0o711


def test_a_folder_inside_a_held_one_is_refused(place: Path) -> None:
    with State(place / "state"), pytest.raises(StateHeld, match="lies inside"):
        State(place / "state" / "mail" / "deeper").__enter__()
    with State(place / "state" / "mail" / "deeper"):
        pass


def test_a_folder_the_database_account_cannot_enter_is_refused_with_the_remedy(place: Path) -> None:
    closed = place / "closed"
    closed.mkdir(mode=0o700)
    nobody = Account("nobody", 65534, 65534)
    assert not can_reach(closed, nobody)
    with pytest.raises(StateUnusable, match="--state"):
        State(closed / "state", nobody).__enter__()


def test_a_folder_that_is_a_file_is_said_in_words(place: Path) -> None:
    (place / "state").write_text("")
    with pytest.raises(StateUnusable, match="cannot be used"):
        State(place / "state").__enter__()


def test_the_state_is_beside_the_code_where_that_works_and_elsewhere_for_root_at_home(place: Path) -> None:
    daemon = Account("daemon", 1, 1)
    assert default_folder(place, None) == place / ".state"
    assert default_folder(place, daemon) == place / ".state"
    home = place / "home"
    home.mkdir(mode=0o700)
    (home / "one").mkdir()
    (home / "two").mkdir()
    one, two = default_folder(home / "one", daemon), default_folder(home / "two", daemon)
    assert one.parent == two.parent == Path("/var/lib")
    assert one != two


def test_a_port_is_kept_from_one_start_to_the_next(place: Path) -> None:
    with State(place / "state") as state:
        first, other = state.port("postgres"), state.port("valkey")
        assert first != other
    with State(place / "state") as state:
        assert state.port("postgres") == first


def test_a_file_cut_short_by_a_crash_counts_as_missing(place: Path) -> None:
    (place / "ports.json").write_text('{"postgres": 54')
    assert read_json(place / "ports.json") is None
    assert read_json(place / "absent.json") is None


def test_a_private_file_replaces_the_old_one_whole_also_after_an_unfinished_attempt(place: Path) -> None:
    path = place / "running.json"
    (place / ".running.json.new").write_text("left by a crash")
    write_private(path, json.dumps({"a": 1}))
    write_private(path, json.dumps({"a": 2}))
    assert read_json(path) == {"a": 2}
    assert mode(path) == 0o600
    assert [entry.name for entry in place.iterdir()] == ["running.json"]
