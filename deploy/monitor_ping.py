"""Tells an outside monitor that the server is well, so that its silence is noticed when it is not.

    MONITOR_URL=... python -m deploy.monitor_ping --health URL [--host NAME] [--authority FILE] [--every N]

The monitor (any service that raises an alarm when it is *not* called) is called only after the server's own
/healthz answered 200, so a stopped reminder tick raises the alarm as well as a dead machine.
"""

import argparse
import os
import time
import urllib.error
import urllib.request
from pathlib import Path
from urllib.parse import urlsplit

from deploy.readiness import answer_status

EVERY_S = 60.0


def ping_once(url: str, health_url: str, host: str, authority: Path | None) -> str:
    """One round.  Returns what happened, in words for the log."""
    status = answer_status(health_url, host, authority)
    if status != 200:
        return f"not well: /healthz answered {status or 'nothing'}; the monitor was not called"
    try:
        with urllib.request.urlopen(url, timeout=10) as answer:
            return f"well; the monitor answered {answer.status}"
    except urllib.error.HTTPError as refusal:
        return f"well, but the monitor answered {refusal.code}"
    except OSError as problem:
        return f"well, but the monitor could not be reached: {type(problem).__name__}"


def main() -> None:
    """Ping until told to leave; writes a line to the log whenever the outcome changes."""
    parser = argparse.ArgumentParser(prog="deploy.monitor_ping")
    parser.add_argument("--health", required=True)
    parser.add_argument("--host")
    parser.add_argument("--authority", type=Path)
    parser.add_argument("--every", type=float, default=EVERY_S)
    chosen = parser.parse_args()
    host = chosen.host or urlsplit(chosen.health).netloc
    url = os.environ["MONITOR_URL"]  # it holds a secret, so it is no argument everybody could read
    last = ""
    while True:
        said = ping_once(url, chosen.health, host, chosen.authority)
        if said != last:
            print(said, flush=True)
            last = said
        time.sleep(chosen.every)


if __name__ == "__main__":
    main()
