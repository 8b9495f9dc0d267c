"""The command that gives a kennel its keeper back."""

import re
from io import StringIO
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from kennel.people.choices import Role
from kennel.people.models import Carer, Membership
from tests.factories.people import Place, add_member, make_kennel
from tests.kennel.people.clients import CarerClient

pytestmark = pytest.mark.usefixtures("db")
NEW = "another-band-4711"


@pytest.fixture
def place() -> Place:
    return make_kennel()


def recover(*args: Any, **options: Any) -> str:
    out = StringIO()
    call_command("keeper_recover", *map(str, args), stdout=out, **options)
    return out.getvalue()


def follow(text: str) -> None:
    """Set a new password by the printed link."""
    path = re.search(r"https?://[^/\s]+(/accounts/password/reset/key/\S+)", text)
    assert path is not None
    http = Client()
    form_at = http.get(path[1])["Location"]
    assert http.post(form_at, {"password1": NEW, "password2": NEW}).status_code == 302


def signs_in(email: str) -> bool:
    return bool(Client().post("/accounts/login/", {"login": email, "password": NEW}).status_code == 302)


def test_a_member_becomes_keeper_and_gets_a_way_to_a_new_password(place: Place) -> None:
    idris = add_member(place, Role.CARER)
    text = recover(place.here.uid, idris.email.upper())
    assert Membership.objects.get(carer=idris).role == "keeper"
    follow(text)
    assert signs_in(idris.email)
    idris.refresh_from_db()
    assert CarerClient(place, idris).get("invitations").status_code == 200
    entry = CarerClient(place, idris).get("journal").json()["results"][0]
    assert (entry["type"], entry["by"], entry["new"]) == ("membership", None, {"role": "keeper"})


def test_somebody_new_becomes_keeper_of_a_kennel_whose_members_all_left(place: Place) -> None:
    Membership.objects.update(ended_at=timezone.now())
    with pytest.raises(CommandError, match="--name"):
        recover(place.here.uid, "oona@hollin.example")
    follow(recover(place.here.uid, "oona@hollin.example", name="Oona Quill"))
    assert signs_in("oona@hollin.example")
    oona = Carer.objects.get(email="oona@hollin.example")
    assert (oona.name, Membership.objects.get(carer=oona, ended_at=None).role) == ("Oona Quill", "keeper")


def test_second_factors_go_only_when_asked_for(place: Place) -> None:
    EmailAddress.objects.create(user=place.keeper, email=place.keeper.email, primary=True, verified=True)
    Authenticator.objects.create(user=place.keeper, type="totp", data={"secret": "x"})
    assert "--drop-second-factors" in recover(place.here.uid, place.keeper.email)
    assert Authenticator.objects.count() == 1
    assert "--drop-second-factors" not in recover(
        place.here.uid, place.keeper.email, drop_second_factors=True
    )
    assert Authenticator.objects.count() == 0


def test_without_arguments_it_lists_kennels_and_keepers(place: Place) -> None:
    text = recover()
    assert str(place.here.uid) in text
    assert place.keeper.email in text
    Membership.objects.update(ended_at=timezone.now())
    assert "keepers: none" in recover()


def test_an_unknown_kennel_a_bad_address_or_an_account_switched_off_changes_nothing(place: Place) -> None:
    idris = add_member(place, Role.CARER)
    with pytest.raises(CommandError, match="no kennel"):
        recover("01890a5d-ac96-774b-bcce-b302099a8057", idris.email)
    with pytest.raises(CommandError, match="address"):
        recover(place.here.uid, "nonsense", name="Nobody")
    Carer.objects.filter(pk=idris.pk).update(is_active=False)
    with pytest.raises(CommandError, match="switched off"):
        recover(place.here.uid, idris.email)
    assert list(Membership.objects.filter(role="keeper").values_list("carer_id", flat=True)) == [
        place.keeper.pk
    ]
