"""Invitations: single use, expiry, bound to the address, a code for the room, and their letters."""

from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from allauth.account.models import EmailAddress
from django.utils import timezone

from kennel.people.choices import Role
from kennel.people.models import Carer, Invitation, InvitationLetter, Membership
from kennel.people.services.invitations import MOST_LETTERS_A_DAY, MOST_OPEN, link_token_of
from kennel.records.ids import new_uid
from tests.factories.people import Place, add_member, make_kennel
from tests.kennel.people.clients import CarerClient, codes, make_carer, slug

pytestmark = pytest.mark.usefixtures("db")
ACCEPT = "/api/v1/invitations/accept"


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def keeper(place: Place, settings: Any) -> CarerClient:
    settings.MAIL_CONFIGURED = True
    return CarerClient(place, place.keeper)


@pytest.fixture
def oona() -> Carer:
    return make_carer(name="Oona Quill", email="oona@hollin.example")


def as_carer(place: Place, carer: Carer) -> CarerClient:
    return CarerClient(place, carer)


def mailed_token(uid: str) -> str:
    return link_token_of(Invitation.objects.get(uid=uid))


def age(uid: str, by: timedelta) -> None:
    """Make an invitation older than it is."""
    row = Invitation.objects.get(uid=uid)
    Invitation.objects.filter(pk=row.pk).update(expires_at=row.expires_at - by)


def test_a_code_shown_in_the_room_lets_somebody_in_once(
    place: Place, keeper: CarerClient, oona: Carer
) -> None:
    made = keeper.post("invitations", {"role": "carer"})
    assert made.status_code == 201, made.content
    body = made.json()
    assert body["url"].endswith(f"/join/{body['code']}")
    assert body["qr_svg"].startswith("<svg")
    joined = as_carer(place, oona).post(ACCEPT, {"code": body["code"].lower().replace("-", " ")})
    assert joined.status_code == 200, joined.content
    assert joined.json()["kennel"]["name"] == "Hollin Bank"
    assert as_carer(place, oona).get("members").status_code == 200
    piet = make_carer(name="Piet Lasker")
    assert slug(as_carer(place, piet).post(ACCEPT, {"code": body["code"]})) == "not-found"
    assert as_carer(place, piet).get("members").status_code == 404


def test_accepting_again_is_harmless_until_the_membership_ends(
    place: Place, keeper: CarerClient, oona: Carer
) -> None:
    code = keeper.post("invitations", {"role": "carer"}).json()["code"]
    first = as_carer(place, oona).post(ACCEPT, {"code": code}).json()
    assert as_carer(place, oona).post(ACCEPT, {"code": code}).json() == first
    assert Membership.objects.filter(carer=oona).count() == 1
    keeper.send("DELETE", f"members/{first['member']}", version=1)
    assert slug(as_carer(place, oona).post(ACCEPT, {"code": code})) == "not-found"


def test_a_member_who_scans_the_code_does_not_use_it_up(
    place: Place, keeper: CarerClient, oona: Carer
) -> None:
    code = keeper.post("invitations", {"role": "carer"}).json()["code"]
    own = keeper.post(ACCEPT, {"code": code})
    assert (own.status_code, own.json()["role"]) == (200, "keeper")
    assert as_carer(place, oona).post(ACCEPT, {"code": code}).status_code == 200


def test_a_mailed_invitation_is_for_its_address_alone(place: Place, keeper: CarerClient, oona: Carer) -> None:
    EmailAddress.objects.create(user=oona, email=oona.email, primary=True)
    made = keeper.post("invitations", {"role": "reader", "email": "Oona@Hollin.example"}).json()
    assert (made["email"], made["kind"], made["code"], made["url"]) == (oona.email, "mail", None, None)
    token = mailed_token(made["uid"])
    piet = make_carer(name="Piet Lasker")
    assert slug(as_carer(place, piet).post(ACCEPT, {"token": token})) == "forbidden"
    assert as_carer(place, oona).post(ACCEPT, {"token": token}).status_code == 200
    assert Membership.objects.get(carer=oona).role == "reader"
    assert EmailAddress.objects.get(user=oona).verified


@pytest.mark.parametrize(("is_verified", "status"), [(True, 200), (False, 403)])
def test_a_mailed_invitation_fits_a_second_address_once_that_is_proved(
    place: Place, keeper: CarerClient, oona: Carer, is_verified: bool, status: int
) -> None:
    second = "nights@hollin.example"
    EmailAddress.objects.create(user=oona, email=second, verified=is_verified)
    made = keeper.post("invitations", {"role": "reader", "email": second}).json()
    assert as_carer(place, oona).post(ACCEPT, {"token": mailed_token(made["uid"])}).status_code == status


@pytest.mark.parametrize(
    ("email", "lasts"), [("", timedelta(hours=1)), ("oona@hollin.example", timedelta(days=7))]
)
def test_an_invitation_ends_by_itself(
    place: Place, keeper: CarerClient, oona: Carer, email: str, lasts: timedelta
) -> None:
    made = keeper.post("invitations", {"role": "carer", **({"email": email} if email else {})}).json()
    secret = {"token": mailed_token(made["uid"])} if email else {"code": made["code"]}
    row = Invitation.objects.get(uid=made["uid"])
    assert row.expires_at - row.recorded_at == lasts
    age(made["uid"], lasts)
    assert slug(as_carer(place, oona).post(ACCEPT, secret)) == "not-found"
    age(made["uid"], -timedelta(minutes=1))
    assert as_carer(place, oona).post(ACCEPT, secret).status_code == 200


def test_a_withdrawn_invitation_is_dead_at_once(place: Place, keeper: CarerClient, oona: Carer) -> None:
    kept, gone = (keeper.post("invitations", {"role": "carer"}).json() for _ in range(2))
    path = f"invitations/{gone['uid']}"
    assert slug(keeper.send("DELETE", path)) == "precondition-required"
    assert slug(keeper.send("DELETE", path, version=4)) == "version-mismatch"
    assert keeper.send("DELETE", path, version=1).status_code == 204
    assert keeper.send("DELETE", path, version=1).status_code == 204
    assert slug(as_carer(place, oona).post(ACCEPT, {"code": gone["code"]})) == "not-found"
    assert [i["uid"] for i in keeper.get("invitations").json()["results"]] == [kept["uid"]]
    assert as_carer(place, oona).post(ACCEPT, {"code": kept["code"]}).status_code == 200
    assert codes(keeper.send("DELETE", f"invitations/{kept['uid']}", version=2)) == ["accepted"]


def test_the_same_sent_twice_makes_one_invitation_and_tells_the_same_code(keeper: CarerClient) -> None:
    uid = str(new_uid())
    first = keeper.post("invitations", {"uid": uid, "role": "carer"})
    again = keeper.post("invitations", {"uid": uid, "role": "carer"})
    assert (first.status_code, again.status_code, again["Replayed"]) == (201, 200, "true")
    assert again.json()["code"] == first.json()["code"]
    assert slug(keeper.post("invitations", {"uid": uid, "role": "keeper"})) == "uid-conflict"
    assert Invitation.objects.count() == 1


def test_a_code_that_was_accepted_is_not_told_again(place: Place, keeper: CarerClient, oona: Carer) -> None:
    uid = str(new_uid())
    code = keeper.post("invitations", {"uid": uid, "role": "carer"}).json()["code"]
    as_carer(place, oona).post(ACCEPT, {"code": code})
    again = keeper.post("invitations", {"uid": uid, "role": "carer"})
    assert (again.status_code, again.json()["code"]) == (200, None)


def test_nobody_is_invited_by_mail_where_there_is_none_or_who_is_here(
    place: Place, keeper: CarerClient, oona: Carer, settings: Any
) -> None:
    member = add_member(place, Role.CARER)
    assert codes(keeper.post("invitations", {"role": "carer", "email": member.email})) == ["member"]
    assert codes(keeper.post("invitations", {"role": "carer", "email": "not an address"})) == ["email"]
    settings.MAIL_CONFIGURED = False
    assert codes(keeper.post("invitations", {"role": "carer", "email": oona.email})) == ["no_mail"]
    settings.MAIL_CONFIGURED = True
    assert keeper.post("invitations", {"role": "carer", "email": oona.email}).status_code == 201


def test_open_invitations_and_letters_a_day_have_an_end(place: Place, keeper: CarerClient) -> None:
    letters = [
        keeper.post("invitations", {"role": "reader", "email": f"n{n}@hollin.example"}).status_code
        for n in range(MOST_LETTERS_A_DAY + 1)
    ]
    assert letters == [201] * MOST_LETTERS_A_DAY + [429]
    rooms = [
        keeper.post("invitations", {"role": "reader"}).status_code
        for _ in range(MOST_OPEN - MOST_LETTERS_A_DAY)
    ]
    assert set(rooms) == {201}
    assert codes(keeper.post("invitations", {"role": "reader"})) == ["too_many"]


@pytest.mark.parametrize(
    "body", [{}, {"token": "a", "code": "b"}, {"token": ""}, {"code": 7}, {"code": "x" * 40}, {"secret": "a"}]
)
def test_accepting_takes_one_secret(place: Place, oona: Carer, body: dict[str, Any]) -> None:
    assert slug(as_carer(place, oona).post(ACCEPT, body)) == "validation"


@pytest.mark.parametrize("typed", ["ABCD-EFGH", "ABCD-EFG1", "----", "ÄBCDEFGH", "A" * 32])
def test_guessed_codes_open_nothing(place: Place, keeper: CarerClient, oona: Carer, typed: str) -> None:
    keeper.post("invitations", {"role": "carer"})
    assert slug(as_carer(place, oona).post(ACCEPT, {"code": typed})) == "not-found"


def test_secrets_are_stored_as_hashes_and_stay_out_of_the_journal(keeper: CarerClient, owner: Any) -> None:
    room = keeper.post("invitations", {"role": "carer"}).json()
    mail = keeper.post("invitations", {"role": "carer", "email": "oona@hollin.example"}).json()
    secrets = [room["code"], room["code"].replace("-", ""), mailed_token(mail["uid"])]
    stored = owner.execute("SELECT i::text FROM people_invitation i").fetchall()
    journalled = owner.execute("SELECT new::text FROM records_journal WHERE type = 'invitation'").fetchall()
    assert len(stored) == len(journalled) == 2
    text = repr([*stored, *journalled])
    assert not [secret for secret in secrets if secret in text]
    assert "oona@hollin.example" not in repr(journalled)
    assert '"email": true' in repr(journalled)


def test_who_never_chose_a_zone_gets_the_kennels(place: Place, keeper: CarerClient, oona: Carer) -> None:
    berlin = make_carer(zone="Europe/Berlin")
    for carer in (oona, berlin):
        code = keeper.post("invitations", {"role": "carer"}).json()["code"]
        as_carer(place, carer).post(ACCEPT, {"code": code})
        carer.refresh_from_db()
    assert (oona.zone, berlin.zone) == ("Europe/London", "Europe/Berlin")


def test_a_letter_waits_for_the_worker_only_for_mailed_invitations(keeper: CarerClient, owner: Any) -> None:
    keeper.post("invitations", {"role": "carer"})
    mail = keeper.post("invitations", {"role": "carer", "email": "oona@hollin.example"}).json()
    rows = owner.execute(
        "SELECT i.uid, l.sent_at FROM people_invitationletter l"
        " JOIN people_invitation i ON i.id = l.invitation_id"
    ).fetchall()
    assert rows == [(UUID(mail["uid"]), None)]
    assert InvitationLetter.objects.using("jobs").filter(next_attempt_at__lte=timezone.now()).count() == 1
