"""Pups that have gone home leave the pages of the daily round, and can still be weighed with a warning."""

from datetime import timedelta

import pytest
from django.utils import timezone

from kennel.records import door
from litters.models import Weighing
from tests.factories.people import Place, make_kennel
from tests.factories.records import make_nest, make_record
from tests.web.pages import Pages, words

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


def test_a_pup_that_has_gone_home_is_not_offered_for_weighing_until_it_comes_back(place: Place) -> None:
    pages = Pages(place)
    nest = make_nest(place, days_old=60)
    left_at = (timezone.now() - timedelta(hours=3)).isoformat()
    make_record(place, "departure", pup=nest.pups["rust"], kind="sold", occurred_at=left_at)
    round_page = words(pages.get(f"litters/{nest.litter}/weigh"))
    assert "Moss" in round_page
    assert "Rust" not in round_page
    litter_page = words(pages.get(f"litters/{nest.litter}"))
    assert "2 pups" in litter_page
    assert litter_page.index("Gone home") < litter_page.index("Rust")
    back_at = (timezone.now() - timedelta(hours=1)).isoformat()
    make_record(place, "return", pup=nest.pups["rust"], occurred_at=back_at)
    assert "Rust" in words(pages.get(f"litters/{nest.litter}/weigh"))
    assert "Gone home" not in words(pages.get(f"litters/{nest.litter}"))


def test_a_pup_asked_for_by_itself_can_be_weighed_after_it_left_and_the_weight_warns(place: Place) -> None:
    pages = Pages(place)
    nest = make_nest(place, days_old=60)
    left_at = (timezone.now() - timedelta(hours=3)).isoformat()
    make_record(place, "departure", pup=nest.pups["rust"], kind="lent", occurred_at=left_at)
    path = f"litters/{nest.litter}/weigh?pup={nest.pups['rust']}"
    assert pages.fill(path, entered_value="4100", pup=nest.pups["rust"], sure="yes").status_code == 302
    with door.read(place.here, place.actor, timezone.now()):
        kept = list(Weighing.objects.all())
    assert [weighing.weight_g for weighing in kept] == [4100]
    assert [warning["code"] for warning in kept[0].warnings] == ["pup_left"]
