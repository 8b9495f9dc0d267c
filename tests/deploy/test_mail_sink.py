"""The mail folder of a trial, spoken to by the standard library's client."""

import email
import email.policy
import smtplib
import sys
from collections.abc import Iterator
from email.message import EmailMessage
from pathlib import Path

import pytest

from deploy.children import Child
from deploy.environment import REPOSITORY
from deploy.mail_sink import MOST_BYTES
from deploy.ports import LOOPBACK, any_free
from tests.deploy.test_children import wait_until


@pytest.fixture
def sink(tmp_path: Path) -> Iterator[tuple[int, Path]]:
    """A running sink: its port and its folder."""
    port, folder = any_free(), tmp_path / "mail"
    command = [sys.executable, "-P", "-m", "deploy.mail_sink", "--port", str(port), "--folder", str(folder)]
    child = Child("mail", command, {"PYTHONPATH": str(REPOSITORY)}, tmp_path / "mail.log")
    child.start()

    def answers() -> bool:
        try:
            smtplib.SMTP(LOOPBACK, port, timeout=2).quit()
        except OSError:
            return False
        return True

    wait_until(answers)
    yield port, folder
    child.stop(5)


def reminder(subject: str) -> EmailMessage:
    """A mail with more than ASCII in it."""
    message = EmailMessage()
    message["From"] = "kennel@hollin-bank.example"
    message["To"] = "idris@hollin-bank.example"
    message["Message-ID"] = "<reminder-1@hollin-bank.example>"
    message["Subject"] = subject
    message.set_content("Softened food for 8 pups is due.\n.\nA line with a dot alone stands above.\n")
    return message


def test_a_mail_is_on_disk_whole_before_the_sender_is_told_it_was_taken(sink: tuple[int, Path]) -> None:
    port, folder = sink
    sent = reminder("Füttern um 7 – 38 °C")
    with smtplib.SMTP(LOOPBACK, port) as client:
        client.send_message(sent, to_addrs=["idris@hollin-bank.example", "oona@hollin-bank.example"])
        (path,) = folder.glob("*.eml")
        kept = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
    assert kept["Subject"] == sent["Subject"]
    assert kept["Message-ID"] == "<reminder-1@hollin-bank.example>"
    assert kept["X-Envelope-To"] == "idris@hollin-bank.example, oona@hollin-bank.example"
    assert kept.get_content().splitlines() == sent.get_content().splitlines()


def test_mails_of_one_moment_keep_their_order_by_name(sink: tuple[int, Path]) -> None:
    port, folder = sink
    with smtplib.SMTP(LOOPBACK, port) as client:
        for number in range(12):
            client.send_message(reminder(f"number {number}"))
    subjects = [
        email.message_from_bytes(path.read_bytes())["Subject"] for path in sorted(folder.glob("*.eml"))
    ]
    assert subjects == [f"number {number}" for number in range(12)]


def test_a_mail_too_large_is_refused_and_not_kept(sink: tuple[int, Path]) -> None:
    port, folder = sink
    with smtplib.SMTP(LOOPBACK, port) as client, pytest.raises(smtplib.SMTPException):
        client.sendmail("a@hollin-bank.example", ["b@hollin-bank.example"], "x" * (MOST_BYTES + 1))
    assert list(folder.glob("*.eml")) == []
