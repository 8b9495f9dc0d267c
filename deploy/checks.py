"""Every check and test of the project: `./deploy/test`.

    ./deploy/test                      everything
    ./deploy/test --fast               without the tests that start servers or a browser
    ./deploy/test tests/kennel -k word only pytest, with these arguments, one test after the other

PostgreSQL and Valkey are real and thrown away afterwards; OWNER_DATABASE_URL, DATABASE_URL, JOBS_DATABASE_URL
and REDIS_URL name servers of one's own instead.  CHROMIUM names the browser.
"""

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from deploy import audit, browser, schema_drift
from deploy.binaries import postgres_programs
from deploy.environment import REPOSITORY, Addresses, contract, own_databases
from deploy.postgres import APP, JOBS, OWNER, Cluster
from deploy.state import write_private
from deploy.valkey import Server

CODE = ["kennel", "litters", "feeding", "health", "deploy", "tests", "manage.py"]
PUBLIC_ORIGIN = "https://kennel.example.org"  # RFC 2606: a name that is nobody's
NO_TESTS_RAN = 5
MOST_WORKERS = 4


def side_by_side(processors: int | None) -> list[str]:
    """Arguments that let pytest run on so many processors; tests that need the machine stay in one worker."""
    workers = min(MOST_WORKERS, processors or 1)
    return ["-n", str(workers), "--dist", "loadgroup"] if workers > 1 else []


@dataclass(frozen=True)
class Outcome:
    """How one step ended.  note: a few words for the table."""

    passed: bool
    note: str = ""


@dataclass(frozen=True)
class Step:
    """One check."""

    name: str
    run: Callable[[], Outcome]


@contextmanager
def surroundings() -> Iterator[dict[str, str]]:
    """Throw-away servers (or the ones given) and the variables that lead to them."""
    with ExitStack() as opened:
        place = Path(opened.enter_context(tempfile.TemporaryDirectory(prefix="kennel-test-")))
        place.chmod(0o711)  # the database account passes through when root runs the tests
        databases, redis = own_databases(os.environ), os.environ.get("REDIS_URL")
        if databases is None:
            cluster = Cluster(place / "postgres", durable=False, can_create_databases=True)
            opened.enter_context(cluster)
            databases = cluster.url(OWNER), cluster.url(APP), cluster.url(JOBS)
        if redis is None:
            redis = opened.enter_context(Server(place / "valkey")).url
        state = place / "state"
        state.mkdir(mode=0o700)
        secret_key = state / "secret-key"
        write_private(secret_key, "only-for-the-length-of-a-test-run-" + "0123456789" * 3)
        programs = postgres_programs(None, place / "programs")
        yield contract(
            Addresses(*databases, redis),
            state=state,
            secret_key=secret_key,
            origin="http://127.0.0.1:8000",
            programs=programs,
        ) | {"TEST": "1"}


def command(variables: Mapping[str, str], *words: str, **more: str) -> Callable[[], Outcome]:
    """A step that passes when a program exits with 0."""

    def run() -> Outcome:
        done = subprocess.run(words, cwd=REPOSITORY, env={**variables, **more}, check=False)
        return Outcome(done.returncode == 0, "" if done.returncode == 0 else f"exit code {done.returncode}")

    return run


def static_steps(variables: Mapping[str, str]) -> list[Step]:
    """Everything but the tests, quickest first."""
    python = [sys.executable, "-P"]
    module = [*python, "-m"]
    manage = [*python, "manage.py"]
    present = [name for name in CODE if (REPOSITORY / name).exists()]
    steps = [
        Step("ruff check", command(variables, *module, "ruff", "check", "--output-format", "concise", ".")),
        Step("ruff format", command(variables, *module, "ruff", "format", "--check", ".")),
        Step("mypy", command(variables, *module, "mypy", "--no-error-summary", *present)),
    ]
    migrations = [*manage, "makemigrations", "--check", "--dry-run", "--verbosity", "0"]
    deployment = [*manage, "check", "--deploy", "--fail-level", "WARNING"]
    return [
        *steps,
        Step("migrations complete", command(variables, *migrations)),
        Step("deployment check", command(variables, *deployment, ORIGIN=PUBLIC_ORIGIN)),
        Step("API description", lambda: Outcome(*schema_drift.compare(variables))),
        Step("known weaknesses", lambda: Outcome(*audit.known_weaknesses(variables))),
    ]


class Tests:
    """The pytest step; keeps pytest's closing line, which is printed again as the very last one."""

    def __init__(self, variables: Mapping[str, str], arguments: Sequence[str]) -> None:
        self.variables = variables
        self.arguments = list(arguments)
        self.closing = ""

    def __call__(self) -> Outcome:
        """Run pytest, showing its output as it comes."""
        words = [sys.executable, "-P", "-m", "pytest", *self.arguments]
        if sys.stdout.isatty():
            words.append("--color=yes")
        process = subprocess.Popen(words, cwd=REPOSITORY, env=dict(self.variables), stdout=subprocess.PIPE)
        assert process.stdout is not None
        line = b""
        try:
            while part := os.read(process.stdout.fileno(), 65_536):
                sys.stdout.buffer.write(part)
                sys.stdout.buffer.flush()
                *whole, line = (line + part).split(b"\n")
                if said := [entry for entry in whole if entry.strip()]:
                    self.closing = said[-1].decode(errors="replace")
            code = process.wait()
        finally:
            process.kill()  # only when we are told to leave: otherwise it has ended
            process.stdout.close()
            process.wait()
        return Outcome(code == 0, {0: "", NO_TESTS_RAN: "no test ran"}.get(code, f"exit code {code}"))


def run_steps(steps: Sequence[Step]) -> list[tuple[str, Outcome, float]]:
    """Run every step, also after a failed one; returns name, outcome and seconds of each."""
    results = []
    for step in steps:
        print(f"--- {step.name}", flush=True)
        began = time.monotonic()
        outcome = step.run()
        results.append((step.name, outcome, time.monotonic() - began))
        if outcome.note:
            print(f"    {outcome.note}", flush=True)
    return results


def table(results: Sequence[tuple[str, Outcome, float]]) -> str:
    """The closing table."""
    width = max(len(name) for name, _, _ in results)
    lines = []
    for name, outcome, seconds in results:
        word = "ok" if outcome.passed else "FAILED"
        lines.append(f"  {name:<{width}}  {word:<6}  {seconds:7.1f} s  {outcome.note}".rstrip())
    return "\n".join(["", *lines, ""])


def main() -> int:
    """Run the checks; returns 0 when all passed."""
    arguments = sys.argv[1:]
    fast = "--fast" in arguments
    arguments = [argument for argument in arguments if argument != "--fast"]
    only_tests = bool(arguments)
    # A terminated run must stop its servers as well: the signal becomes an ordinary way out.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    marks = ["not e2e", "not browser"] if fast else []
    with surroundings() as variables:
        program, note = browser.find(may_install=not fast and not only_tests)
        if program:
            variables["CHROMIUM"] = program
        elif not fast:
            print(f"Browser tests are left out: {note}.", flush=True)
            marks.append("not browser")
        arguments = arguments or side_by_side(os.cpu_count())
        chosen = arguments if not marks or "-m" in arguments else [*arguments, "-m", " and ".join(marks)]
        tests = Tests(variables, chosen)
        steps = [] if only_tests else static_steps(variables)
        results = run_steps([*steps, Step("tests", tests)])
    print(table(results))
    failed = [name for name, outcome, _ in results if not outcome.passed]
    if failed:
        print(f"Failed: {', '.join(failed)}")
    print(tests.closing, flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
