"""Letters of invitations: sent once while useful, tried again later, never by two at once."""

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core import mail
from django.core.mail.backends.base import BaseEmailBackend
from django.db import connections
from django.utils import timezone

from kennel.celery import app
from kennel.people import tasks
from kennel.people.choices import Role
from kennel.people.models import InvitationLetter
from kennel.people.services.invitations import (
    NewInvitation,
    invitation_accept,
    invitation_create,
    invitation_withdraw,
)
from kennel.people.services.letters import Sent, letters_send
from kennel.records import door
from tests.factories.people import AT, Place, make_kennel
from tests.kennel.people.clients import make_carer

pytestmark = pytest.mark.usefixtures("db")
SOON = AT + timedelta(seconds=1)


class AwayBackend(BaseEmailBackend):
    """A mail server that cannot be reached."""

    def send_messages(self, email_messages: Any) -> int:
        """Refuse like a closed port."""
        raise ConnectionRefusedError


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def post_box(settings: Any) -> list[Any]:
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    mail.outbox = []
    return mail.outbox


def invite(place: Place, email: str, at: datetime = AT) -> Any:
    with door.write(place.here, place.actor, at) as opened:
        return invitation_create(
            NewInvitation(role=Role.CARER, email=email), opened, sends_mail=True
        ).invitation


def test_a_letter_says_who_invites_where_and_its_link_lets_in(place: Place, post_box: list[Any]) -> None:
    invitation = invite(place, "oona@hollin.example")
    assert letters_send(SOON) == Sent(1, 0)
    (letter,) = post_box
    assert (letter.to, letter.subject) == (["oona@hollin.example"], "Invitation to Hollin Bank")
    assert place.keeper.name in letter.body
    # RFC 3834, section 5: machine mail says so; RFC 5322, 3.6.4: a resend is recognised by its Message-ID.
    assert letter.extra_headers["Auto-Submitted"] == "auto-generated"
    assert str(invitation.uid) in letter.extra_headers["Message-ID"]
    secret = re.search(r"/join/(\S+)", letter.body)
    assert secret is not None
    joined = invitation_accept(secret[1], make_carer(email="oona@hollin.example"), SOON)
    assert joined.kennel.id == place.here.id


def test_a_letter_is_sent_once(place: Place, post_box: list[Any]) -> None:
    invite(place, "oona@hollin.example")
    assert [letters_send(SOON), letters_send(SOON + timedelta(days=1))] == [Sent(1, 0), Sent(0, 0)]
    assert len(post_box) == 1


def test_no_letter_leaves_for_what_was_withdrawn_or_is_over(place: Place, post_box: list[Any]) -> None:
    gone, over = invite(place, "oona@hollin.example"), invite(place, "idris@hollin.example")
    with door.write(place.here, place.actor, SOON) as opened:
        invitation_withdraw(gone.uid, None, opened)
    assert letters_send(over.expires_at) == Sent(0, 0)
    assert letters_send(over.expires_at - timedelta(seconds=1)) == Sent(1, 0)
    assert [letter.to for letter in post_box] == [["idris@hollin.example"]]


def test_a_mail_server_that_is_away_is_tried_again_ever_later(
    place: Place, post_box: list[Any], settings: Any
) -> None:
    invite(place, "oona@hollin.example")
    settings.EMAIL_BACKEND = f"{__name__}.AwayBackend"
    at, pauses = SOON, []
    for _ in range(7):
        assert letters_send(at) == Sent(0, 1)
        assert letters_send(at) == Sent(0, 0)
        again = InvitationLetter.objects.using("jobs").get().next_attempt_at
        pauses.append(int((again - at).total_seconds()))
        at = again
    # The schedule of the conventions, section 10: 15 s, 1 min, 5 min, 15 min, 1 h.
    assert pauses == [15, 60, 300, 900, 3600, 3600, 3600]
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    assert letters_send(at) == Sent(1, 0)
    assert len(post_box) == 1


def test_a_sender_that_died_leaves_its_letter_to_the_next_a_minute_later(
    place: Place, post_box: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    invite(place, "oona@hollin.example")

    class Killed(BaseException):
        pass

    def die(letter: Any) -> bool:
        raise Killed

    with monkeypatch.context() as patched:
        patched.setattr("kennel.people.services.letters._deliver", die)
        with pytest.raises(Killed):
            letters_send(SOON)
    assert letters_send(SOON + timedelta(seconds=59)) == Sent(0, 0)
    assert letters_send(SOON + timedelta(seconds=60)) == Sent(1, 0)


def test_many_senders_at_once_send_each_letter_once(place: Place, post_box: list[Any]) -> None:
    addresses = [f"n{n}@hollin.example" for n in range(20)]
    for address in addresses:
        invite(place, address)

    def send(_: int) -> int:
        try:
            return letters_send(SOON, limit=7).sent
        finally:
            connections.close_all()

    with ThreadPoolExecutor(6) as pool:
        assert sum(pool.map(send, range(6))) == 20
    assert sorted(to for letter in post_box for to in letter.to) == sorted(addresses)


def test_the_tick_is_on_the_schedule_and_sends(place: Place, post_box: list[Any]) -> None:
    entry = app.conf.beat_schedule["invitation-letters"]
    assert entry["task"] == tasks.send_letters.name
    assert entry["options"]["expires"] == entry["schedule"] == 15
    invite(place, "oona@hollin.example", timezone.now())
    tasks.send_letters()
    assert len(post_box) == 1


def test_the_web_sees_no_letters_of_other_kennels(place: Place) -> None:
    invite(place, "oona@hollin.example")
    other = make_kennel("Elsewhere")
    with door.read(other.here, other.actor, AT):
        assert InvitationLetter.objects.count() == 0
    with door.read(place.here, place.actor, AT):
        assert InvitationLetter.objects.count() == 1
