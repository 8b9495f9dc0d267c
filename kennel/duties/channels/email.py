"""E-mail by SMTP, to confirmed addresses only.  One connection for some messages.

A resend carries the same Message-ID (RFC 5322 3.6.4), so that a mail program shows it once.  Auto-Submitted
is RFC 3834; one-click unsubscribing of digests RFC 8058.  Reply codes are read as RFC 5321 4.2.1 says: 4yz
may pass later, 5yz will not.
"""

import smtplib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import structlog
from django.conf import settings
from django.core.mail import EmailMessage, get_connection

from kennel.duties.channels.registry import Channel, Deliver, Outcome, Outgoing, Result, register

log = structlog.get_logger(__name__)


@contextmanager
def session() -> Iterator[Deliver]:
    """A connection that opens with the first message and again after a failure."""
    post = _Post()
    try:
        yield post.deliver
    finally:
        post.close()


class _Post:
    """A mail connection for one batch."""

    def __init__(self) -> None:
        self._connection: Any = None

    def deliver(self, message: Outgoing) -> Result:
        """Hand one message over."""
        if (result := self._open()) is not None:
            return result
        try:
            self._connection.send_messages([self._mail(message)])
        except smtplib.SMTPRecipientsRefused as error:
            codes = [code for code, _ in error.recipients.values()]
            return self._failed(_of_code(max(codes)), error, codes)
        except smtplib.SMTPDataError as error:
            return self._failed(_of_code(error.smtp_code), error, [error.smtp_code])
        except smtplib.SMTPResponseException as error:
            # HELO, MAIL FROM and the like: the server's or our set-up, not this message.
            return self._failed(Outcome.RETRY, error, [error.smtp_code])
        except (smtplib.SMTPException, OSError) as error:
            # The line broke while the message was on its way: it may have been taken.
            return self._failed(Outcome.UNKNOWN, error, [])
        return Result(Outcome.ACCEPTED)

    def _open(self) -> Result | None:
        if self._connection is not None:
            return None
        connection = get_connection()
        try:
            connection.open()
        except (smtplib.SMTPException, OSError) as error:
            # Not handed over, whatever the reason; a keeper may put the set-up right meanwhile.
            return Result(Outcome.RETRY, f"no connection to the mail server ({type(error).__name__})")
        self._connection = connection
        return None

    def _mail(self, message: Outgoing) -> EmailMessage:
        headers = {
            "Message-ID": f"<reminder-{message.uid}@{settings.ALLOWED_HOSTS[0]}>",
            "Auto-Submitted": "auto-generated",
        }
        if message.level == "critical":
            headers["Importance"] = "high"
        if message.unsubscribe_url:
            headers["List-Unsubscribe"] = f"<{message.unsubscribe_url}>"
            headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
        return EmailMessage(
            subject=message.subject,
            body=message.body,
            to=[message.address],
            headers=headers,
            connection=self._connection,
        )

    def _failed(self, outcome: Outcome, error: Exception, codes: list[int]) -> Result:
        self.close()
        said = " ".join(map(str, codes)) or type(error).__name__
        log.warning("mail not accepted", outcome=outcome.value, said=said)
        return Result(outcome, f"the mail server said {said}" if codes else f"the connection broke ({said})")

    def close(self) -> None:
        """Say goodbye; a line that is gone already is no matter."""
        if self._connection is None:
            return
        connection, self._connection = self._connection, None
        try:
            connection.close()
        except (smtplib.SMTPException, OSError) as error:
            log.info("mail connection ended badly", error=type(error).__name__)


def _of_code(code: int) -> Outcome:
    return Outcome.REFUSED if code >= 500 else Outcome.RETRY


def is_configured() -> bool:
    """Whether this server was told a mail server."""
    return bool(settings.MAIL_CONFIGURED)


register(
    Channel(
        "email",
        "E-mail",
        session,
        is_configured=is_configured,
        reachable_sql=(
            "EXISTS (SELECT FROM account_emailaddress e"
            " WHERE e.user_id = c.id AND e.verified AND lower(e.email) = c.email)"
        ),
    )
)
