"""The authorisation matrix: every operation against every kind of caller, made from resolver and description.

A record type or view that is registered is in the matrix by that; an operation for which no succeeding call can be
made, or that only one of the two lists knows, fails here.
"""

import psycopg
import pytest

from kennel.people.choices import RANK, Role
from kennel.people.models import Carer, Membership
from tests.factories.people import make_kennel
from tests.kennel.people.clients import CarerClient, make_carer
from tests.tenancy.callers import CALLERS
from tests.tenancy.operations import KENNEL, Operation, World, described, routed

pytestmark = [pytest.mark.usefixtures("db"), pytest.mark.fault]

ROUTED = routed()
DENIED = {
    "other kennel's keeper": 404,
    "ex-member": 404,
    "no token": 401,
    "expired": 401,
    "revoked": 401,
    "wrong scope": 403,
}
# Operations that belong to no kennel, or that a secret of their own opens.  Each has a test of its own below or
# beside the code it belongs to.
OPENED_BY_A_SECRET = {
    "POST devices/pair",
    "POST invitations/accept",
    f"GET {KENNEL}digests/unsubscribe/{{token}}",
    f"POST {KENNEL}digests/unsubscribe/{{token}}",
}
SHARED_TABLETS_ONLY = {f"POST {KENNEL}tablet/act", f"DELETE {KENNEL}tablet/act"}
OF_NO_KENNEL = {"GET kennels", "POST kennels"}
# The policy, written down apart from the views: least roles that differ from "readers read, carers write".
LEAST = {
    "PATCH kennels/{kennel}": Role.KEEPER,
    f"PATCH {KENNEL}members/{{uid}}": Role.KEEPER,
    f"DELETE {KENNEL}members/{{uid}}": Role.KEEPER,
    f"GET {KENNEL}invitations": Role.KEEPER,
    f"POST {KENNEL}invitations": Role.KEEPER,
    f"GET {KENNEL}invitations/{{uid}}": Role.KEEPER,
    f"DELETE {KENNEL}invitations/{{uid}}": Role.KEEPER,
    f"GET {KENNEL}devices": Role.CARER,
    f"POST {KENNEL}devices": Role.KEEPER,
    f"GET {KENNEL}devices/{{uid}}": Role.CARER,
    f"DELETE {KENNEL}devices/{{uid}}": Role.KEEPER,
    f"POST {KENNEL}devices/{{uid}}/pairing": Role.KEEPER,
    f"POST {KENNEL}tablet/pin": Role.READER,
    f"DELETE {KENNEL}tablet/pin": Role.READER,
    f"POST {KENNEL}reminders/{{uid}}/seen": Role.READER,
    f"POST {KENNEL}reminder-choices": Role.READER,
    f"POST {KENNEL}contacts/{{uid}}/erase": Role.KEEPER,
}
IN_MATRIX = [o for o in ROUTED if o.id not in OPENED_BY_A_SECRET | SHARED_TABLETS_ONLY | OF_NO_KENNEL]


def _least(operation: Operation) -> Role:
    reading = operation.method == "GET"
    if operation.id in LEAST:
        return LEAST[operation.id]
    if operation.record_type is not None:
        return operation.record_type.read_role if reading else operation.record_type.write_role
    return Role.READER if reading else Role.CARER


def _good(operation: Operation) -> set[int]:
    answers = described()[operation.method, operation.path]["responses"]
    return {int(status) for status in answers if status.startswith("2")}


def test_resolver_and_description_know_the_same_operations() -> None:
    assert {(o.method, o.path) for o in ROUTED} == set(described())


def test_the_written_policy_names_only_operations_that_exist() -> None:
    assert set(LEAST) | OPENED_BY_A_SECRET | SHARED_TABLETS_ONLY | OF_NO_KENNEL <= {o.id for o in ROUTED}


def _changes(owner: psycopg.Connection, kennel_id: int) -> int:
    row = owner.execute("SELECT seq FROM records_counter WHERE kennel_id = %s", [kennel_id]).fetchone()
    assert row is not None
    return int(row[0])


@pytest.mark.parametrize("operation", IN_MATRIX, ids=lambda o: o.id)
def test_each_operation_answers_each_caller_as_the_policy_says(
    operation: Operation, owner: psycopg.Connection
) -> None:
    world = World(make_kennel())
    good = _good(operation)
    call = world.call(operation)
    found, expected = {}, {}
    for who, make in CALLERS.items():
        client = make(world.place, operation.method)
        role = Role(who) if who in Role.values else None
        allowed = role is not None and RANK[role] >= RANK[_least(operation)]
        expected[who] = 200 if allowed else DENIED.get(who, 403)
        if allowed:
            # An inbox is its owner's: the message lies in that of who asks.
            newest = Membership.objects.filter(
                kennel_id=world.place.here.id, role=role, ended_at=None
            ).latest("id")
            world.reads_as = Carer.objects.get(pk=newest.carer_id)
            call = world.call(operation)
        before = _changes(owner, world.place.here.id)
        answer = call.send(client, operation.method)
        found[who] = 200 if answer.status_code in good else answer.status_code
        if not allowed:
            assert answer["Content-Type"] == "application/problem+json"
            assert _changes(owner, world.place.here.id) == before, who
        else:
            assert answer.status_code < 300, (who, answer.content)
    assert found == expected


WITH_UID = [o for o in IN_MATRIX if "{uid}" in o.path]


@pytest.mark.parametrize("operation", WITH_UID, ids=lambda o: o.id)
def test_what_belongs_to_others_looks_like_what_never_was(operation: Operation) -> None:
    ours, theirs = make_kennel(), World(make_kennel("Elsewhere"))
    call = theirs.call(operation)
    keeper = CarerClient(ours, ours.keeper)
    foreign = call.send(keeper, operation.method)
    uid = next(word for word in call.path.split("/") if len(word) == 36)
    call.path = call.path.replace(uid, "019a9f00-0000-7000-8000-00000000aaaa")
    absent = call.send(keeper, operation.method)
    assert (foreign.status_code, absent.status_code) == (404, 404)
    assert _without_instance(foreign.content) == _without_instance(absent.content)
    assert _headers(foreign) == _headers(absent)


def _without_instance(body: bytes) -> bytes:
    before, _, rest = body.partition(b'"instance":"')
    assert len(rest) > 45
    return before + rest[45:]


def _headers(answer: object) -> dict[str, str]:
    changing = {"Request-Id", "RateLimit"}
    return {k: v for k, v in answer.headers.items() if k not in changing}  # type: ignore[attr-defined]


@pytest.mark.parametrize("operation", [o for o in IN_MATRIX if "{uid}" not in o.path], ids=lambda o: o.id)
def test_another_kennel_looks_like_one_that_never_was(operation: Operation) -> None:
    theirs = World(make_kennel("Elsewhere"))
    stranger = CarerClient(theirs.place, make_carer())
    call = theirs.call(operation)
    foreign = call.send(stranger, operation.method)
    here = str(theirs.place.here.uid)
    stranger.base = stranger.base.replace(here, "019a9f00-0000-7000-8000-00000000aaaa")
    call.path = call.path.replace(here, "019a9f00-0000-7000-8000-00000000aaaa")
    absent = call.send(stranger, operation.method)
    assert (foreign.status_code, absent.status_code) == (404, 404)
    assert _without_instance(foreign.content) == _without_instance(absent.content)


def test_lists_of_kennels_hold_ones_own_alone_and_devices_make_none() -> None:
    ours, theirs = make_kennel(), make_kennel("Elsewhere")
    operations = {o.id: o for o in ROUTED}
    world = World(ours)
    for who, expected in {"no token": 401, "expired": 401, "revoked": 401}.items():
        for name in OF_NO_KENNEL:
            client = CALLERS[who](ours, operations[name].method)
            assert world.call(operations[name]).send(client, operations[name].method).status_code == expected
    shown = CarerClient(ours, ours.keeper).get("/api/v1/kennels").json()["results"]
    assert [kennel["uid"] for kennel in shown] == [str(ours.here.uid)]
    assert str(theirs.here.uid) not in str(shown)
    making = world.call(operations["POST kennels"])
    assert making.send(world.device, "POST").status_code == 403
    assert making.send(CarerClient(ours, ours.keeper), "POST").status_code == 201


def test_a_digest_link_opens_the_digests_of_its_own_kennel_only() -> None:
    ours, theirs = World(make_kennel()), make_kennel("Elsewhere")
    nobody = CarerClient(ours.place, None)
    path = ours.unsubscribe().path
    assert nobody.get(path).status_code == 200
    assert nobody.post(path).status_code == 200
    moved = path.replace(str(ours.place.here.uid), str(theirs.here.uid))
    assert nobody.post(moved).status_code == 404
    assert nobody.post(path[:-2] + ("aa" if path[-2:] != "aa" else "bb")).status_code == 404
