"""A worker's part in a process of its own: `python -m tests.kennel.duties.worker_for_tests WHAT INSTANT`.

WHAT is `send:<channel>:<limit>` (one batch), `ticks:1` (all ticks once),
    or `listen` (all ticks at each instant
that arrives on standard input, answered by "ok").
"""

import logging
import sys
from datetime import datetime

import django


def main() -> None:
    """Do it and say so on standard output."""
    django.setup()
    logging.disable(logging.WARNING)
    from kennel.duties.services import sending, ticks
    from tests.kennel.duties.kinds_for_tests import register_once

    register_once()
    what, at = sys.argv[1].split(":"), datetime.fromisoformat(sys.argv[2])
    if what[0] == "send":
        print(sending.send_batch(what[1], at, limit=int(what[2])), flush=True)
        return
    instants = map(datetime.fromisoformat, map(str.strip, sys.stdin)) if what[0] == "listen" else [at]
    for now in instants:
        ticks.plan_tick(now)
        ticks.release_tick(now)
        ticks.send_tick("inbox", now)
        ticks.send_tick("email", now)
        print("ok", flush=True)


if __name__ == "__main__":
    main()
