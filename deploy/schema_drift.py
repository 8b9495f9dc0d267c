"""Compares the committed description of the API with what the code says."""

import difflib
import subprocess
import sys
from collections.abc import Mapping

from deploy.environment import REPOSITORY

COMMITTED = REPOSITORY / "kennel" / "api" / "openapi.yaml"
GENERATE = ["manage.py", "spectacular", "--validate", "--fail-on-warn"]
SHOWN_LINES = 40


def compare(variables: Mapping[str, str]) -> tuple[bool, str]:
    """Whether the committed file is up to date, and what to do when it is not."""
    done = subprocess.run(
        [sys.executable, "-P", *GENERATE],
        cwd=REPOSITORY,
        env=dict(variables),
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    if done.returncode:
        print(done.stdout[-4000:])
        return False, "the description cannot be made without warnings"
    if not COMMITTED.exists():
        return False, f"{COMMITTED.relative_to(REPOSITORY)} is missing"
    difference = differing_lines(COMMITTED.read_text(), done.stdout)
    if difference:
        print("\n".join(difference[:SHOWN_LINES]))
        place = COMMITTED.relative_to(REPOSITORY)
        return False, f"drift: ./deploy/manage {' '.join(GENERATE[1:])} --file {place}"
    return True, ""


def differing_lines(committed: str, generated: str) -> list[str]:
    """Unified diff of two descriptions; empty when they say the same but for white space at the end."""
    before, after = committed.rstrip().splitlines(), generated.rstrip().splitlines()
    return list(difflib.unified_diff(before, after, "committed", "generated", lineterm="", n=1))
