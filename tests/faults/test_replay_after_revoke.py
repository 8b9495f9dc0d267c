"""Fault test 19: what was revoked is dead on the next request, also for sending again what succeeded before."""

import pytest
from django.test import Client
from django.utils import timezone

from kennel.people.models import Device, Membership
from kennel.people.services import invitations
from kennel.people.services.invitations import NewInvitation, invitation_create
from kennel.records import door
from kennel.records.ids import new_uid
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_device, make_kennel
from tests.kennel.people.clients import CarerClient, make_carer, slug
from tests.tenancy.callers import EVERYTHING

pytestmark = [pytest.mark.usefixtures("db"), pytest.mark.fault]


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def program(place: Place) -> DeviceClient:
    """A keeper's program that may manage."""
    return DeviceClient(place, scopes=EVERYTHING, carer=place.keeper)


def _dog() -> dict[str, str]:
    return {"uid": str(new_uid()), "name": "Bramble", "sex": "female"}


def test_19_a_revoked_token_is_dead_for_reads_writes_and_replays(place: Place, program: DeviceClient) -> None:
    device, token = make_device(place, carer=place.keeper)
    phone, body = DeviceClient(place, token=token), _dog()
    assert phone.post("dogs", body).status_code == 201
    assert phone.post("dogs", body)["Replayed"] == "true"
    assert program.delete(f"devices/{device.uid}", 1).status_code == 204
    for answer in (
        phone.post("dogs", body),
        phone.get("dogs"),
        phone.get("changes"),
        phone.post("batch", {"items": []}),
    ):
        assert (answer.status_code, slug(answer)) == (401, "unauthenticated")
    # The row itself stays, and another device's replay is still answered.
    assert program.post("dogs", body)["Replayed"] == "true"


def test_19_an_ended_membership_ends_the_sessions_and_devices_of_that_carer(
    place: Place, program: DeviceClient
) -> None:
    idris = add_member(place, "carer")  # type: ignore[arg-type]
    session, phone, body = CarerClient(place, idris), DeviceClient(place, carer=idris), _dog()
    assert session.post("dogs", body).status_code == 201
    assert phone.post("dogs", body).status_code == 200
    membership = Membership.objects.get(carer=idris)
    assert program.delete(f"members/{membership.uid}", membership.version).status_code == 204
    assert session.post("dogs", body).status_code == 404
    assert session.get("changes").status_code == 404
    assert phone.post("dogs", body).status_code in (401, 404)
    assert phone.get("changes").status_code in (401, 404)


def test_19_a_session_that_was_ended_is_dead(place: Place) -> None:
    here, there = CarerClient(place, place.keeper), CarerClient(place, place.keeper)
    body = _dog()
    assert here.post("dogs", body).status_code == 201
    copied = Client()
    copied.cookies = here.http.cookies.copy()  # type: ignore[assignment]
    here.http.logout()
    answer = copied.get(f"/api/v1/kennels/{place.here.uid}/dogs")
    assert answer.status_code == 401
    assert there.post("dogs", body).status_code == 200


def test_19_a_pairing_code_works_once_and_not_after_a_newer_one_or_a_revocation(
    program: DeviceClient,
) -> None:
    http = DeviceClient(program.place, token="none").http

    def pair(code: str) -> int:
        answer = http.post("/api/v1/devices/pair", {"code": code}, content_type="application/json")
        return int(answer.status_code)

    def made() -> tuple[str, str]:
        answer = program.post("devices", {"name": "Scale at the box", "kind": "scale"}).json()
        return answer["uid"], answer["pairing"]["code"]

    uid, code = made()
    newer = program.post(f"devices/{uid}/pairing", None).json()["pairing"]["code"]
    assert newer != code
    assert 400 <= pair(code) < 500
    assert pair(newer) == 200
    assert 400 <= pair(newer) < 500, "a code opens once"
    uid, code = made()
    version = program.get(f"devices/{uid}").json()["version"]
    assert program.delete(f"devices/{uid}", version).status_code == 204
    assert 400 <= pair(code) < 500
    assert not Device.objects.filter(uid=uid, token_key__isnull=False, revoked_at=None).exists()


def test_19_a_withdrawn_or_used_invitation_opens_nothing(place: Place, program: DeviceClient) -> None:
    def invite() -> "invitations.Any":
        with door.write(place.here, place.actor, timezone.now()) as opened:
            return invitation_create(NewInvitation(role="carer"), opened, sends_mail=False)  # type: ignore[arg-type]

    def accept(code: str) -> int:
        carer = CarerClient(place, make_carer())
        return int(carer.post("/api/v1/invitations/accept", {"code": code}).status_code)

    made = invite()
    assert program.delete(f"invitations/{made.invitation.uid}", 1).status_code == 204
    assert 400 <= accept(made.code) < 500
    used = invite()
    assert accept(used.code) == 200
    assert 400 <= accept(used.code) < 500, "an invitation is for one"
