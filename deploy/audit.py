"""Asks whether a locked package has a known weakness.  Being offline is no failure, a curable weakness is."""

import json
import subprocess
import sys
from collections.abc import Mapping

from deploy.environment import REPOSITORY

LOCK = REPOSITORY / "deploy" / "requirements-test.txt"
UNREACHABLE = (
    "ConnectionError",
    "ConnectTimeout",
    "ReadTimeout",
    "Max retries",
    "resolve",
    "timed out",
    "Timeout",
)


def known_weaknesses(variables: Mapping[str, str]) -> tuple[bool, str]:
    """Whether no locked package has a weakness that a newer release removes, and what was found."""
    words = [
        sys.executable,
        "-P",
        "-m",
        "pip_audit",
        "--disable-pip",
        "--require-hashes",
        "--requirement",
        str(LOCK),
    ]
    words += ["--format", "json", "--progress-spinner", "off", "--timeout", "10"]
    try:
        done = subprocess.run(
            words,
            cwd=REPOSITORY,
            env=dict(variables),
            capture_output=True,
            text=True,
            check=False,
            timeout=240,
        )
    except subprocess.TimeoutExpired:
        return True, "the service was not reachable in time: skipped"
    return judge(done.stdout, done.stderr)


def judge(answer: str, complaints: str) -> tuple[bool, str]:
    """Verdict on what pip-audit said: its JSON answer, and its complaints when there is none."""
    try:
        dependencies = json.loads(answer)["dependencies"]
    except (ValueError, KeyError):
        if any(word in complaints for word in UNREACHABLE):
            return True, "the service is not reachable: skipped"
        return False, f"pip-audit failed: {complaints.strip()[-300:]}"
    found = [
        (f"{package['name']} {package['version']}: {weakness['id']}", weakness["fix_versions"])
        for package in dependencies
        for weakness in package.get("vulns", [])
    ]
    for what, remedies in found:
        print(f"{what}, {'fixed in ' + ', '.join(remedies) if remedies else 'no remedy yet'}")
    curable = [what for what, remedies in found if remedies]
    if curable:
        return False, f"{len(curable)} to remove by newer releases"
    return (
        True,
        f"{len(found)} without a remedy yet" if found else f"{len(dependencies)} packages asked about",
    )
