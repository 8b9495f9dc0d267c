"""Signing in and up: nothing tells accounts apart, guessing is held back, an account can be taken back."""

import re
from datetime import timedelta
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.account.utils import user_pk_to_url_str
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import (
    TOTP,
    generate_totp_secret,
    hotp_value,
    yield_hotp_counters_from_time,
)
from allauth.usersessions.models import UserSession
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.core import mail
from django.test import Client

from kennel.people.choices import Role
from kennel.people.models import Carer, Invitation, Membership
from kennel.people.services.invitations import NewInvitation, invitation_create, link_token_of
from kennel.records import door
from tests.factories.people import AT, PASSWORD, Place, make_kennel
from tests.kennel.people.clients import CarerClient, make_carer

pytestmark = pytest.mark.usefixtures("db")
LOGIN = "/accounts/login/"
WRONG = "not-the-password-4711"
HELD = "Too many failed login attempts"


@pytest.fixture
def maud() -> Carer:
    return make_carer(name="Maud Ferrier", email="maud@hollin.example")


@pytest.fixture
def http() -> Client:
    return Client()


@pytest.fixture
def post_box(settings: Any) -> list[Any]:
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.MAIL_CONFIGURED = True
    mail.outbox = []
    return mail.outbox


def sign_in(http: Client, email: str, password: str, **extra: Any) -> Any:
    return http.post(LOGIN, {"login": email, "password": password}, **extra)


def is_in(answer: Any) -> bool:
    return bool(answer.status_code == 302)


def text_of(answer: Any, email: str) -> str:
    """The page without what differs anyway: the token against forgery and the address that was typed."""
    page = re.sub(r'value="[A-Za-z0-9]{64}"', "", answer.content.decode())
    return str(page).replace(email, "ADDRESS")


def test_the_right_password_lets_in_whatever_the_case_of_the_address(http: Client, maud: Carer) -> None:
    assert not is_in(sign_in(http, maud.email, WRONG))
    assert is_in(sign_in(http, "Maud@Hollin.example", PASSWORD))
    assert http.get("/account").status_code == 200


def test_known_and_unknown_accounts_answer_alike_to_the_byte(http: Client, maud: Carer) -> None:
    known = [sign_in(Client(), maud.email, WRONG) for _ in range(7)]
    unknown = [sign_in(Client(), "mauz@hollin.example", WRONG, REMOTE_ADDR="203.0.113.9") for _ in range(7)]
    assert [a.status_code for a in known] == [a.status_code for a in unknown] == [200] * 7
    texts = [text_of(a, maud.email) for a in known]
    assert texts == [text_of(a, "mauz@hollin.example") for a in unknown]
    assert [HELD in text for text in texts] == [False] * 5 + [True] * 2


def test_known_and_unknown_accounts_cost_the_same_work(
    http: Client, maud: Carer, monkeypatch: pytest.MonkeyPatch
) -> None:
    hashed: list[str] = []
    for name in ("encode", "verify"):
        original = getattr(Argon2PasswordHasher, name)

        def counted(*args: Any, original: Any = original, **kwargs: Any) -> Any:
            hashed.append("once")
            return original(*args, **kwargs)

        monkeypatch.setattr(Argon2PasswordHasher, name, counted)
    sign_in(http, maud.email, WRONG)
    known = len(hashed)
    sign_in(http, "mauz@hollin.example", WRONG)
    assert (known, len(hashed)) == (1, 2)


def test_guesses_from_many_addresses_are_held_back_per_account(maud: Carer) -> None:
    answers = [
        sign_in(Client(), maud.email, f"{WRONG}{n}", REMOTE_ADDR=f"203.0.113.{n % 50}").content.decode()
        for n in range(200)
    ]
    assert sum(HELD not in answer for answer in answers) == 5
    assert HELD in sign_in(Client(), maud.email, PASSWORD, REMOTE_ADDR="192.0.2.1").content.decode()
    other = make_carer()
    assert is_in(sign_in(Client(), other.email, PASSWORD, REMOTE_ADDR="192.0.2.1"))


def test_guesses_from_one_address_are_held_back_whatever_forwarding_header_is_sent(maud: Carer) -> None:
    tried = [
        sign_in(
            Client(headers={"X-Forwarded-For": f"198.51.100.{n}"}),
            f"n{n}@hollin.example",
            WRONG,
            REMOTE_ADDR="203.0.113.7",
        )
        for n in range(40)
    ]
    checked = [a for a in tried if a.status_code == 200 and HELD not in a.content.decode()]
    assert len(checked) == 10
    assert tried[-1].status_code == 429
    assert "passkey" in tried[-1].content.decode()
    forged = Client(headers={"X-Forwarded-For": "198.51.100.99"})
    assert not is_in(sign_in(forged, maud.email, PASSWORD, REMOTE_ADDR="203.0.113.7"))
    assert is_in(sign_in(Client(), maud.email, PASSWORD, REMOTE_ADDR="203.0.113.8"))


def test_the_passkey_door_stays_open_while_passwords_are_held_back(maud: Carer) -> None:
    for _ in range(40):
        sign_in(Client(), maud.email, WRONG, REMOTE_ADDR="203.0.113.7")
    http = Client(REMOTE_ADDR="203.0.113.7")
    assert http.post(LOGIN, {"login": maud.email, "password": PASSWORD}).status_code == 429
    options = http.get("/accounts/2fa/webauthn/login/", headers={"Accept": "application/json"})
    assert options.status_code == 200
    assert options.json()["request_options"]["publicKey"]["userVerification"] == "required"
    bad = http.post("/accounts/2fa/webauthn/login/", {"credential": "{}"})
    assert (bad.status_code, bad["Location"]) == (302, LOGIN)


def test_without_valkey_signing_in_works_and_guessing_is_still_held_back(maud: Carer, settings: Any) -> None:
    settings.CACHES = {
        "default": {
            "BACKEND": "kennel.records.cache.FallbackCache",
            "LOCATION": "redis://127.0.0.1:1/0",
            "KEY_PREFIX": "away",
        }
    }
    assert is_in(sign_in(Client(), maud.email, PASSWORD))
    answers = [sign_in(Client(), maud.email, WRONG).content.decode() for _ in range(8)]
    assert [HELD in answer for answer in answers] == [False] * 5 + [True] * 3


def with_totp(carer: Carer) -> str:
    secret = str(generate_totp_secret())
    TOTP.activate(carer, secret)
    RecoveryCodes.activate(carer)
    return secret


def code_now(secret: str) -> str:
    # RFC 6238 by allauth's own arithmetic: only a code that the server takes is needed here.
    counter = next(iter(yield_hotp_counters_from_time()))
    return f"{hotp_value(secret, counter):06d}"


def test_second_factor_guesses_are_held_back_and_the_password_alone_opens_nothing(
    http: Client, maud: Carer
) -> None:
    secret = with_totp(maud)
    first = sign_in(http, maud.email, PASSWORD)
    assert (first.status_code, first["Location"]) == (302, "/accounts/2fa/authenticate/")
    assert http.get("/account").status_code == 302
    path = "/accounts/2fa/authenticate/"
    right = code_now(secret)
    wrong = [f"{(int(right) + 1 + n) % 1_000_000:06d}" for n in range(12)]
    answers = [http.post(path, {"code": code}).content.decode() for code in wrong]
    assert sum("Incorrect code" in answer for answer in answers) == 5
    assert not is_in(http.post(path, {"code": code_now(secret)}))
    assert http.get("/account").status_code == 302


def test_the_right_second_factor_lets_in_and_a_recovery_code_once(maud: Carer) -> None:
    secret = with_totp(maud)
    code = Authenticator.objects.get(user=maud, type="recovery_codes").wrap().get_unused_codes()[0]
    path = "/accounts/2fa/authenticate/"
    for given, outcome in ((code_now(secret), True), (code, True), (code, False)):
        http = Client()
        sign_in(http, maud.email, PASSWORD)
        assert is_in(http.post(path, {"code": given})) is outcome
        assert (http.get("/account").status_code == 200) is outcome


def test_signing_up_keeps_the_name_and_lets_in(http: Client) -> None:
    form = {
        "email": "Idris@Hollin.example",
        "password1": PASSWORD,
        "password2": PASSWORD,
        "name": "Idris Vane",
    }
    short = http.post("/accounts/signup/", {**form, "password1": "wool", "password2": "wool"})
    assert (short.status_code, Carer.objects.count()) == (200, 0)
    assert is_in(http.post("/accounts/signup/", form))
    carer = Carer.objects.get()
    assert (carer.name, carer.email) == ("Idris Vane", "idris@hollin.example")
    assert carer.password.startswith("argon2$argon2id$")
    assert http.get("/account").status_code == 200


def test_where_accounts_are_by_invitation_only_the_invited_and_the_first_make_one(settings: Any) -> None:
    settings.SIGN_UP = "invited"
    form = {"password1": PASSWORD, "password2": PASSWORD, "name": "Oona Quill"}
    assert is_in(Client().post("/accounts/signup/", {**form, "email": "first@hollin.example"}))
    place = make_kennel()
    with door.write(place.here, place.actor, AT) as opened:
        invitation_create(NewInvitation(role=Role.CARER), opened, sends_mail=False)
    before = Carer.objects.count()
    closed = Client().post("/accounts/signup/", {**form, "email": "oona@hollin.example"})
    assert "by invitation" in closed.content.decode()
    assert Carer.objects.count() == before
    code = CarerClient(place, place.keeper).post("invitations", {"role": "carer"}).json()["code"]
    invited = Client()
    assert invited.get(f"/join/{code}").status_code == 200
    assert is_in(invited.post("/accounts/signup/", {**form, "email": "oona@hollin.example"}))


def test_a_mailed_link_makes_account_and_membership_in_three_steps_with_a_verified_address(
    post_box: list[Any],
) -> None:
    place = make_kennel()
    keeper = CarerClient(place, place.keeper)
    uid = keeper.post("invitations", {"role": "carer", "email": "oona@hollin.example"}).json()["uid"]
    join = f"/join/{link_token_of(Invitation.objects.get(uid=uid))}"
    http = Client()
    assert "Make an account" in http.get(join).content.decode()
    form = {
        "email": "oona@hollin.example",
        "password1": PASSWORD,
        "password2": PASSWORD,
        "name": "Oona Quill",
    }
    onwards = http.post(f"/accounts/signup/?next={join}", {**form, "next": join})
    assert (onwards.status_code, onwards["Location"]) == (302, join)
    joined = http.post(join)
    assert (joined.status_code, joined["Location"]) == (302, f"/kennels/{place.here.uid}")
    oona = Carer.objects.get(email="oona@hollin.example")
    assert Membership.objects.get(carer=oona).role == "carer"
    assert EmailAddress.objects.get(user=oona).verified


def a_factor(carer: Carer) -> None:
    Authenticator.objects.create(user=carer, type="recovery_codes", data={"seed": "x", "used_mask": 0})


def reset_by_mail(carer: Carer, post_box: list[Any]) -> None:
    Client().post("/accounts/password/reset/", {"email": carer.email})
    found = re.search(r"https?://[^/]+(/accounts/password/reset/key/\S+)", post_box[-1].body)
    assert found is not None
    http = Client()
    form_at = http.get(found[1])["Location"]
    done = http.post(form_at, {"password1": "another-band-4711", "password2": "another-band-4711"})
    assert done.status_code == 302


@pytest.mark.parametrize(("is_verified", "factors_left"), [(False, 0), (True, 1)])
def test_a_reset_by_mail_drops_second_factors_only_of_an_address_nobody_ever_proved(
    maud: Carer, post_box: list[Any], is_verified: bool, factors_left: int
) -> None:
    EmailAddress.objects.create(user=maud, email=maud.email, primary=True, verified=is_verified)
    a_factor(maud)
    thief = CarerClient(make_kennel(), maud).http
    assert thief.get("/account").status_code == 200
    reset_by_mail(maud, post_box)
    assert Authenticator.objects.filter(user=maud).count() == factors_left
    assert EmailAddress.objects.get(user=maud).verified
    assert thief.get("/account").status_code == 302


def test_a_reset_asked_for_an_unknown_address_looks_the_same(maud: Carer, post_box: list[Any]) -> None:
    known = Client().post("/accounts/password/reset/", {"email": maud.email}, follow=True)
    unknown = Client().post("/accounts/password/reset/", {"email": "mauz@hollin.example"}, follow=True)
    assert known.redirect_chain == unknown.redirect_chain
    assert text_of(known, maud.email) == text_of(unknown, "mauz@hollin.example")
    assert [message.to for message in post_box] == [[maud.email], ["mauz@hollin.example"]]


def test_a_reset_link_is_dead_after_use_and_after_its_days(maud: Carer, settings: Any) -> None:
    key = PasswordResetTokenGenerator().make_token(maud)
    settings.PASSWORD_RESET_TIMEOUT = 0
    path = f"/accounts/password/reset/key/{user_pk_to_url_str(maud)}-{key}/"
    assert "Set a new password" in Client().get(path, follow=True).content.decode()
    form = {"password1": "another-band-4711", "password2": "another-band-4711"}
    assert Client().post(path, form).status_code == 200
    maud.refresh_from_db()
    assert maud.check_password(PASSWORD)


def test_sessions_are_listed_and_one_or_all_others_end_at_once(maud: Carer) -> None:
    here, phone, library = Client(), Client(), Client()
    for http in (here, phone, library):
        assert is_in(sign_in(http, maud.email, PASSWORD))
    assert here.get("/account/sessions").content.decode().count('name="session"') == 2
    keys = {http: http.session.session_key for http in (here, phone, library)}
    row = UserSession.objects.get(session_key=keys[phone])
    assert here.post("/account/sessions", {"session": row.pk}).status_code == 302
    assert [http.get("/account").status_code for http in (here, phone, library)] == [200, 302, 200]
    own = UserSession.objects.get(session_key=keys[here])
    here.post("/account/sessions", {"session": own.pk})
    assert here.get("/account").status_code == 200
    here.post("/account/sessions")
    assert [http.get("/account").status_code for http in (here, phone, library)] == [200, 302, 302]


def test_nobody_ends_another_persons_session(maud: Carer) -> None:
    theirs, mine, idris = Client(), Client(), make_carer(name="Idris Vane")
    sign_in(theirs, idris.email, PASSWORD)
    sign_in(mine, maud.email, PASSWORD)
    row = UserSession.objects.get(user=idris)
    mine.post("/account/sessions", {"session": row.pk})
    assert theirs.get("/account").status_code == 200


def test_a_new_password_ends_all_sessions_but_needs_the_old_one(maud: Carer) -> None:
    here, phone = Client(), Client()
    for http in (here, phone):
        sign_in(http, maud.email, PASSWORD)
    new = {"password1": "another-band-4711", "password2": "another-band-4711"}
    here.post("/accounts/password/change/", {"oldpassword": WRONG, **new})
    assert phone.get("/account").status_code == 200
    here.post("/accounts/password/change/", {"oldpassword": PASSWORD, **new})
    assert phone.get("/account").status_code == 302


def test_an_account_switched_off_is_out_at_once(maud: Carer) -> None:
    http = Client()
    sign_in(http, maud.email, PASSWORD)
    assert http.get("/account").status_code == 200
    Carer.objects.filter(pk=maud.pk).update(is_active=False)
    assert http.get("/account").status_code == 302


def test_a_mail_server_that_is_away_stops_nobody_from_signing_up(http: Client, settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", 1, 1
    form = {
        "email": "idris@hollin.example",
        "password1": PASSWORD,
        "password2": PASSWORD,
        "name": "Idris Vane",
    }
    assert is_in(http.post("/accounts/signup/", form))
    assert http.get("/account").status_code == 200


def test_changing_what_protects_the_account_asks_again_and_once_more_after_a_while(maud: Carer) -> None:
    http, path = Client(), "/accounts/2fa/webauthn/add/"
    sign_in(http, maud.email, PASSWORD)
    asked = http.get(path)
    assert (asked.status_code, asked["Location"].split("?")[0]) == (302, "/accounts/reauthenticate/")
    assert http.post(asked["Location"], {"password": WRONG, "next": path}).status_code == 200
    assert http.get(path).status_code == 302
    assert http.post(asked["Location"], {"password": PASSWORD, "next": path})["Location"] == path
    assert http.get(path).status_code == 200
    session = http.session
    records = session["account_authentication_methods"]
    records[-1]["at"] -= timedelta(minutes=16).total_seconds()
    session["account_authentication_methods"] = records
    session.save()
    assert http.get(path)["Location"].split("?")[0] == "/accounts/reauthenticate/"


def test_who_is_not_signed_in_is_sent_to_sign_in_or_told_so() -> None:
    place: Place = make_kennel()
    assert CarerClient(place, None).get("members").status_code == 401
    assert Client().get(f"/kennels/{place.here.uid}/members").status_code == 302
