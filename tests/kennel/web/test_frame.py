"""Who sees which page, and what stands in the frame."""

import uuid
from unittest import mock

import psycopg
import pytest
from django.db import OperationalError
from django.test import Client
from django.utils import timezone

from kennel.people.choices import Role
from kennel.people.models import Carer, Kennel
from kennel.records import door
from kennel.web import banners
from litters.models import Dog
from tests.api import DeviceClient
from tests.factories.people import PASSWORD, Place, add_member, make_kennel
from tests.web.pages import Pages, form_values, words

pytestmark = pytest.mark.usefixtures("db")


def make_newcomer() -> Carer:
    """Somebody with an account and no kennel."""
    return Carer.objects.create_user("newcomer@hollin.example", "wool-band-4711", name="Oona Quill")


def test_nobody_sees_a_page_before_signing_in() -> None:
    place = make_kennel()
    for path in (
        "/",
        "/kennels",
        "/kennels/new",
        f"/kennels/{place.here.uid}",
        f"/kennels/{place.here.uid}/dogs",
    ):
        answer = Client().get(path)
        assert answer.status_code == 302
        assert answer["Location"].startswith("/accounts/login/?next=")


def test_a_foreign_kennel_looks_exactly_like_an_absent_one() -> None:
    mine, other = make_kennel(), make_kennel("Elsewhere")
    pages = Pages(mine)
    foreign = pages.get(f"/kennels/{other.here.uid}")
    absent = pages.get(f"/kennels/{uuid.uuid4()}")
    assert foreign.status_code == absent.status_code == 404
    assert foreign.content == absent.content
    assert "Elsewhere" not in words(foreign)
    assert pages.get("/kennels/not-a-uid").status_code == 404


def test_a_reader_may_look_and_finds_no_way_to_write() -> None:
    place = make_kennel()
    reader = Pages(place, add_member(place, Role.READER))
    home = reader.get()
    assert home.status_code == 200
    assert "Add a" not in words(home)
    assert reader.get("dogs/new").status_code == 403
    assert reader.post("dogs/new", {"name": "Bramble", "sex": "female"}).status_code == 403
    assert "A keeper of the kennel can change roles" in words(reader.get("dogs/new"))
    assert reader.get("dogs").status_code == 200


def test_the_first_page_leads_straight_into_the_only_kennel() -> None:
    place = make_kennel()
    assert Pages(place).get("/")["Location"] == f"/kennels/{place.here.uid}"
    newcomer = make_newcomer()
    assert Pages(place, newcomer).get("/")["Location"] == "/kennels"
    assert "You do not belong to a kennel yet" in words(Pages(place, newcomer).get("/kennels"))


def test_the_vets_numbers_stand_on_every_page_of_the_kennel(owner: psycopg.Connection) -> None:
    place = make_kennel()
    assert "No vet's number is stored yet" in words(Pages(place).get())
    owner.execute("UPDATE people_kennel SET vet_phone = '01632 960001', night_vet_phone = '01632 960002'")
    for path in ("", "dogs", "dogs/new", "menu"):
        told = words(Pages(place).get(path))
        assert "01632 960001" in told
        assert "Out of hours: 01632 960002" in told


def test_a_banner_stands_on_every_page_while_its_source_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    place = make_kennel()
    monkeypatch.setattr(banners, "_sources", [])
    banners.add(lambda here: banners.Banner("Reminders are not running.", "danger") if here else None)
    assert "Reminders are not running." in words(Pages(place).get())
    assert "Reminders are not running." not in words(Pages(place).get("/kennels"))


def test_answers_carry_a_strict_policy_and_no_inline_script_or_style() -> None:
    place = make_kennel()
    answer = Pages(place).get()
    assert "default-src 'self'" in answer["Content-Security-Policy"]
    assert "unsafe" not in answer["Content-Security-Policy"]
    html = answer.content.decode()
    assert "style=" not in html
    assert "onclick=" not in html
    assert all("src=" in tag for tag in html.split("<script")[1:])
    assert '"allowEval":false,"includeIndicatorStyles":false,"historyCacheSize":0' in html
    data = DeviceClient(place).get("dogs")
    assert "Content-Security-Policy" not in data
    assert data["X-Content-Type-Options"] == "nosniff"


def test_pages_with_records_are_private_and_say_whether_a_copy_may_be_kept() -> None:
    pages = Pages(make_kennel())
    home, form = pages.get(), pages.get("dogs/new")
    assert home["Cache-Control"] == "private, no-cache"
    assert home["Offline-Copy"] == "yes"
    assert "Offline-Copy" not in form


def test_a_kennel_is_made_once_however_often_the_button_is_pressed() -> None:
    place = make_kennel()
    newcomer = make_newcomer()
    pages = Pages(place, newcomer)
    page = pages.get("/kennels/new").content.decode()
    sent = form_values(page) | {"name": "Far Field", "zone": "Europe/London"}
    first, second = pages.post("/kennels/new", sent), pages.post("/kennels/new", sent)
    assert first.status_code == second.status_code == 302
    assert first["Location"] == second["Location"]
    assert Kennel.objects.filter(name="Far Field").count() == 1
    assert "You are its keeper" in words(pages.get(first["Location"]))


def test_a_kennel_without_a_name_is_refused_beside_the_field() -> None:
    pages = Pages(make_kennel())
    answer = pages.fill("/kennels/new", name="", zone="Europe/London")
    assert answer.status_code == 422
    assert "Please fill this in" in words(answer)
    assert Kennel.objects.count() == 1


@pytest.mark.parametrize("path", ["/offline", "/outbox"])
def test_the_shells_own_pages_hold_nothing_of_anybody(path: str) -> None:
    place = make_kennel()
    signed_in, nobody = Pages(place).get(path), Client().get(path)
    assert signed_in.status_code == 200
    assert signed_in.content == nobody.content
    assert place.keeper.name not in words(signed_in)


def test_error_pages_say_whether_trying_again_helps() -> None:
    pages = Pages(make_kennel())
    assert "does not exist" in words(pages.get("/no-such-page"))
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post("/accounts/login/", {"login": "x"})
    assert answer.status_code == 403
    assert "Open the page again" in words(answer)


def dogs_of(place: Place) -> list[Dog]:
    """Dogs that the kennel holds."""
    with door.read(place.here, place.actor, timezone.now()):
        return list(Dog.objects.all())


def sign_in_anew(http: Client, carer: Carer) -> None:
    """As somebody does it in another tab of the same browser."""
    form = form_values(http.get("/accounts/login/").content.decode())
    answer = http.post("/accounts/login/", form | {"login": carer.email, "password": PASSWORD})
    assert answer.status_code == 302


def test_the_csrf_cookie_comes_when_it_changes_and_with_no_other_answer() -> None:
    """An answer under way during a sign-in would otherwise put the old cookie back."""
    place = make_kennel()
    http = Client(enforce_csrf_checks=True)
    assert "csrf" in http.get("/accounts/login/").cookies
    assert "csrf" not in http.get("/accounts/login/").cookies
    before = http.cookies["csrf"].value
    sign_in_anew(http, place.keeper)
    assert http.cookies["csrf"].value != before
    page = http.get(f"/kennels/{place.here.uid}/dogs/new")
    assert "csrfmiddlewaretoken" in form_values(page.content.decode())
    assert "csrf" not in page.cookies


def test_a_form_filled_in_before_another_sign_in_is_sent_by_one_more_press() -> None:
    place = make_kennel()
    carer = add_member(place, Role.CARER)
    http = Client(enforce_csrf_checks=True, headers={"Origin": "http://testserver"})
    sign_in_anew(http, carer)
    path = f"/kennels/{place.here.uid}/dogs/new"
    typed = form_values(http.get(path).content.decode())
    typed |= {"name": 'Bramble "the <b>"', "sex": "female"}
    http.cookies.pop("session")
    sign_in_anew(http, place.keeper)
    refused = http.post(path, typed)
    assert refused.status_code == 403
    assert f"Send it as {place.keeper.name}" in words(refused)
    assert dogs_of(place) == []
    again = form_values(refused.content.decode())
    assert {name for name in again | typed if again.get(name) != typed.get(name)} == {"csrfmiddlewaretoken"}
    assert http.post(path, again).status_code == 302
    [dog] = dogs_of(place)
    assert (dog.name, dog.recorded_by_id) == ('Bramble "the <b>"', place.keeper.pk)


@pytest.mark.parametrize("origin", ["https://elsewhere.example", "null", None])
def test_what_no_page_of_ours_sent_is_not_offered_again(origin: str | None) -> None:
    place = make_kennel()
    http = Client(enforce_csrf_checks=True, headers={"Origin": origin} if origin else {})
    http.force_login(place.keeper, backend="allauth.account.auth_backends.AuthenticationBackend")
    form = {"uid": str(uuid.uuid4()), "name": "Bramble", "sex": "female"}
    answer = http.post(f"/kennels/{place.here.uid}/dogs/new", form)
    assert answer.status_code == 403
    assert "Open the page again" in words(answer)
    assert "Bramble" not in answer.content.decode()


def test_a_kennel_where_somebody_else_writes_too_long_answers_busy_and_stores_nothing(
    owner: psycopg.Connection,
) -> None:
    place = make_kennel()
    pages = Pages(place)
    sent = form_values(pages.get("dogs/new").content.decode()) | {"name": "Bramble", "sex": "female"}
    owner.execute("BEGIN")
    owner.execute("SELECT 1 FROM records_counter FOR UPDATE")
    busy = pages.post("dogs/new", sent)
    owner.execute("ROLLBACK")
    assert busy.status_code == 503
    assert 1 <= int(busy["Retry-After"]) <= 4
    assert "Trying again in a moment helps" in words(busy)
    assert pages.post("dogs/new", sent).status_code == 302
    assert "Bramble" in words(pages.get("dogs"))


def test_a_database_that_is_away_before_the_page_begins_is_said_to_be_busy() -> None:
    place = make_kennel()
    pages = Pages(place)
    with mock.patch(
        "django.contrib.sessions.backends.db.SessionStore.load", side_effect=OperationalError("away")
    ):
        answer = pages.get()
    assert answer.status_code == 503
    assert "Retry-After" in answer
    assert "The server is busy" in words(answer)
