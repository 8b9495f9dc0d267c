"""`deploy.supervisor` for the tests of the main job: the same, but its processes load the moved clock."""

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from deploy import supervisor
from deploy.environment import contract

HOOK = Path(__file__).resolve().parent / "moved_clock"


def _with_moved_clock(*args: Any, **named: Any) -> Mapping[str, str]:
    variables = contract(*args, **named)
    return {**variables, "PYTHONPATH": f"{HOOK}:{variables['PYTHONPATH']}"}


if __name__ == "__main__":
    supervisor.contract = _with_moved_clock
    sys.exit(supervisor.main())
