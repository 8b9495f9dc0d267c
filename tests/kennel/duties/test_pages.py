"""The pages of what is due, as a browser without scripts sees them."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from kennel.people.choices import Role
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.kennel.duties.scenes import Scene

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def duty(place: Place) -> str:
    at = timezone.now()
    made = DeviceClient(place, carer=place.keeper).post(
        "duties",
        {"kind": "task", "title": "Air the kennel", "due_at": (at - timedelta(minutes=5)).isoformat()},
    )
    assert made.status_code == 201, made.content
    return made.json()["uid"]


def signed_in(place: Place, role: Role | None = None) -> Client:
    client = Client()
    client.force_login(add_member(place, role) if role else place.keeper)
    return client


def test_what_is_due_stands_on_the_first_page_and_a_tap_is_seen_by_the_others(
    place: Place, duty: str
) -> None:
    keeper, carer = signed_in(place), signed_in(place, Role.CARER)
    base = f"/kennels/{place.here.uid}"
    assert "Air the kennel" in keeper.get(base).content.decode()
    assert "Air the kennel" in keeper.get(f"{base}/due").content.decode()
    answer = carer.post(f"{base}/due/{duty}/tap", {"action": "take"}, follow=True)
    assert "You are on it" in answer.content.decode()
    assert "Take that back" in answer.content.decode()
    seen = keeper.get(f"{base}/due/{duty}").content.decode()
    assert "is on it since" in seen
    assert "Take it over" in seen
    done = keeper.post(f"{base}/due/{duty}/tap", {"action": "done"}, follow=True).content.decode()
    assert "This is" in done
    assert "Air the kennel" not in keeper.get(f"{base}/due").content.decode()


def test_a_skip_needs_a_reason_and_a_reader_may_only_look(place: Place, duty: str) -> None:
    base = f"/kennels/{place.here.uid}"
    refused = (
        signed_in(place).post(f"{base}/due/{duty}/tap", {"action": "skip"}, follow=True).content.decode()
    )
    assert "why" in refused.lower()
    reader = signed_in(place, Role.READER)
    assert reader.get(f"{base}/due/{duty}").status_code == 200
    assert reader.post(f"{base}/due/{duty}/tap", {"action": "take"}).status_code == 403


def test_what_to_mind_stands_above_what_is_asked_for(scene: Scene) -> None:
    scene.routine()
    found = next(one for one in scene.duties() if one["cautions"] not in ([], "[]"))
    page = signed_in(scene.place).get(f"/kennels/{scene.place.here.uid}/due/{found['uid']}").content.decode()
    assert '<p class="caution">Not warmer than the hand.</p>' in page
    assert page.index("Not warmer than the hand.") < page.index("I'm on it")


def test_a_stranger_finds_nothing(place: Place, duty: str) -> None:
    stranger = signed_in(make_kennel("Elsewhere"))
    assert stranger.get(f"/kennels/{place.here.uid}/due/{duty}").status_code == 404
    other = make_kennel("Third")
    assert signed_in(other).get(f"/kennels/{other.here.uid}/due/{duty}").status_code == 404
