"""The health pages without scripts: a worming day on one screen, treatments, events, watches, medicines, plans."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from health.domain.published_labels import PUBLISHED_LABELS
from health.medicine_data import body_of
from health.models import HealthEvent, Medicine, Treatment, TreatmentPlan, Watch
from kennel.people.choices import Role
from kennel.records import door
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import Nest, make_nest, make_record, weigh
from tests.web.pages import Pages, form_values, words

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def pages(place: Place) -> Pages:
    return Pages(place)


@pytest.fixture
def nest(place: Place) -> Nest:
    made = make_nest(place, days_old=28)
    for pup, grams in zip(made.pups.values(), (900, 915, 1000), strict=True):
        weigh(place, pup, grams, hours_ago=2)
    return made


def stored(place: Place, model: Any) -> list[Any]:
    """Rows of a model in the kennel."""
    with door.read(place.here, place.actor, timezone.now()):
        return list(model.objects.order_by("id"))


def label(place: Place, key: str) -> str:
    """A medicine copied from a published label."""
    return make_record(place, "medicine", **body_of(PUBLISHED_LABELS[key]))


def test_a_worming_day_shows_every_pup_with_its_dose_and_records_lot_and_expiry_once(
    place: Place, pages: Pages, nest: Nest
) -> None:
    medicine = label(place, "pyrantel_us_suspension")
    path = f"litters/{nest.litter}/worming-day/{medicine}"
    shown = words(pages.get(path))
    # 21 CFR 520.2042: 0.9 kg at 4.54 mg/lb is 9.008 mg, at 4.54 mg/mL 1.984 mL.
    assert "1.98 millilitres" in shown or "1.98 mL" in shown
    assert "900 g" in shown
    assert "follow the vet's instruction" in shown
    ticked = {f"give:{pup}": "yes" for pup in list(nest.pups.values())[:2]}
    saved = pages.fill(path, lot="L 4711", expires_on="2199-01-01", **ticked)
    assert saved.status_code == 302
    given = stored(place, Treatment)
    assert [(one.lot, str(one.expires_on)) for one in given] == [("L 4711", "2199-01-01")] * 2
    assert [float(one.amount) for one in given] == [1.98, 2.02]
    assert "L 4711" in words(pages.get("treatments"))


def test_the_same_worming_screen_sent_twice_records_one_dose(place: Place, pages: Pages, nest: Nest) -> None:
    medicine = label(place, "pyrantel_us_suspension")
    path = f"litters/{nest.litter}/worming-day/{medicine}"
    values = form_values(pages.get(path).content.decode()) | {f"give:{nest.pups['moss']}": "yes"}
    for _ in range(2):
        pages.post(path, values)
    assert len(stored(place, Treatment)) == 1


def test_what_was_typed_on_a_worming_day_survives_a_refusal(place: Place, pages: Pages, nest: Nest) -> None:
    path = f"litters/{nest.litter}/worming-day/{label(place, 'pyrantel_us_suspension')}"
    moss, rust = nest.pups["moss"], nest.pups["rust"]
    typed = form_values(pages.get(path).content.decode()) | {
        f"give:{moss}": "yes",
        f"give:{rust}": "yes",
        f"amount:{moss}": "much",
        f"amount:{rust}": "1.9",
        f"outcome:{rust}": "vomited",
        "lot": "L 4711",
    }
    refused = pages.post(path, typed)
    assert refused.status_code == 422
    assert "moss: " in words(refused)
    assert stored(place, Treatment) == []
    kept = form_values(refused.content.decode())
    assert kept | {"csrfmiddlewaretoken": ""} == typed | {"csrfmiddlewaretoken": ""}
    assert pages.post(path, kept | {f"amount:{moss}": "1.8"}).status_code == 302
    assert [float(one.amount) for one in stored(place, Treatment)] == [1.8, 1.9]


def test_nobody_ticked_is_said(place: Place, pages: Pages, nest: Nest) -> None:
    path = f"litters/{nest.litter}/worming-day/{label(place, 'pyrantel_us_suspension')}"
    refused = pages.fill(path)
    assert refused.status_code == 422
    assert "Nobody is ticked" in words(refused)


def test_a_litter_s_medicines_are_offered_wormers_first(place: Place, pages: Pages, nest: Nest) -> None:
    make_record(place, "medicine", name="A course", purpose="other", active="amoxicillin", form="tablet")
    wormer = label(place, "pyrantel_us_suspension")
    shown = pages.get(f"litters/{nest.litter}/worming-day").content.decode()
    assert f"/litters/{nest.litter}/worming-day/{wormer}" in shown
    assert shown.index("Pyrantel suspension") < shown.index("A course")


def test_a_pup_under_the_minimum_shows_why_and_a_vet_only_medicine_no_number(
    place: Place, pages: Pages, nest: Nest
) -> None:
    small = words(pages.get(f"litters/{nest.litter}/worming-day/{label(place, 'milbemycin_oxime')}"))
    assert "907 g" in small
    assert "moss weighs 0.9 kg" in small
    vet = pages.get(f"litters/{nest.litter}/worming-day/{label(place, 'emodepside_toltrazuril')}")
    assert "no amount is given here" in words(vet)
    assert "Measured out" not in words(vet)


def test_a_treatment_an_event_and_a_watch_of_one_pup(place: Place, pages: Pages, nest: Nest) -> None:
    medicine, moss = label(place, "pyrantel_us_suspension"), nest.pups["moss"]
    page = pages.get(f"pups/{moss}/treat")
    assert 'data-offline-type="treatment"' in page.content.decode()
    assert page.headers["Offline-Copy"] == "yes"
    made = pages.fill(
        f"pups/{moss}/treat", medicine=medicine, amount="1.98", amount_unit="mL", outcome="vomited"
    )
    assert made.status_code == 302
    assert stored(place, Treatment)[0].outcome == "vomited"
    assert "the vet decides" in words(pages.get("treatments"))
    happened = pages.fill(f"pups/{moss}/health-event", kind="diarrhoea", note="Soft since noon")
    assert happened.status_code == 302
    assert stored(place, HealthEvent)[0].kind == "diarrhoea"
    assert "Soft since noon" in words(pages.get("health"))
    watched = pages.fill(f"pups/{moss}/watch", level="act_today", note="Quiet")
    assert watched.status_code == 302
    watch = stored(place, Watch)[0]
    assert "moss: act today" in words(pages.get("watches"))
    refused = pages.post("watches", {"uid": str(watch.uid), "version": "1", "closing_reason": ""})
    assert refused.status_code == 422
    closed = pages.post(
        "watches",
        {"uid": str(watch.uid), "version": "1", "closing_reason": "Feeds well", "closed_by": "vet"},
    )
    assert closed.status_code == 302
    assert stored(place, Watch)[0].closed_by == "vet"
    assert "Feeds well" in words(pages.get("watches"))


def test_a_keeper_copies_a_published_label_and_a_carer_only_reads(place: Place, pages: Pages) -> None:
    made = pages.fill("medicines/new?label=pyrantel_us_suspension", strength_value="50")
    assert made.status_code == 302
    medicine = stored(place, Medicine)[0]
    assert medicine.strength_value == 50
    assert len(medicine.bands) == 2
    shown = words(pages.get("medicines"))
    assert "50 milligrams in each millilitre" in shown
    carer = Pages(place, add_member(place, Role.CARER))
    assert carer.get("medicines/new").status_code == 403
    assert "Correct the label" not in words(carer.get("medicines"))


def test_a_plan_is_chosen_and_shows_each_animals_dates(place: Place, pages: Pages, nest: Nest) -> None:
    medicine = label(place, "pyrantel_us_suspension")
    path = f"litters/{nest.litter}/treatment-plan"
    made = pages.fill(path, scheme="us_label_pyrantel", medicine=medicine)
    assert made.status_code == 302
    plan = stored(place, TreatmentPlan)[0]
    assert plan.phases[0]["days"] == [14, 21, 28, 42, 56, 70]
    assert "Moss" in words(pages.get(f"treatment-plans/{plan.uid}"))
    ended = (timezone.now() + timedelta(days=1)).date().isoformat()
    changed = pages.fill(f"treatment-plans/{plan.uid}/change", ended_on=ended)
    assert changed.status_code == 302
    assert str(stored(place, TreatmentPlan)[0].ended_on) == ended
    assert pages.get("treatment-plans").status_code == 200


def test_pages_of_another_kennel_are_not_there(place: Place, pages: Pages) -> None:
    theirs = make_nest(make_kennel("Elsewhere"))
    for path in (
        f"litters/{theirs.litter}/worming-day",
        f"litters/{theirs.litter}/worming-day/{label(place, 'pyrantel_us_suspension')}",
        f"pups/{theirs.pups['moss']}/treat",
        f"pups/{theirs.pups['moss']}/watch",
        f"litters/{theirs.litter}/treatment-plan",
    ):
        assert pages.get(path).status_code == 404
