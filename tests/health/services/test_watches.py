"""Watches: opened by a weight, raised, kept after one small gain, closed by people or after a quiet day."""

import json
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kennel.duties import board
from kennel.records import door
from tests.health.scenes import Health
from tests.kennel.duties.scenes import minutes, utc

pytestmark = pytest.mark.usefixtures("db")
# The pups are born on 7 January at 03:00, :01, :02.
BIRTH = utc("2026-01-07 04:00")
DAY = timedelta(days=1)


class Newborn(Health):
    """The same litter in its first days; each pup weighed at birth."""

    def __init__(self, pups: int = 3) -> None:
        super().__init__(pups, weight_g=None)
        for pup in self.pups:
            self.weigh_in(pup, 400, BIRTH, is_birth_weight=True)

    def round(self, day: float, first_g: float, others_g: float) -> None:
        """All weighed so many days after birth."""
        at = BIRTH + day * DAY
        for place, pup in enumerate(self.pups):
            self.weigh_in(pup, first_g if place == 0 else others_g, at + minutes(place))

    def watches(self, where: str = "true") -> list[dict[str, Any]]:
        """Watches in order of opening."""
        found = self.rows(
            "SELECT h.*, p.band FROM health_watch h JOIN litters_pup p ON p.id = h.pup_id"
            f" WHERE h.kennel_id = %(k)s AND h.deleted_at IS NULL AND {where} ORDER BY h.opened_at, h.id"
        )
        for one in found:
            for name in ("rules", "reasons"):
                one[name] = json.loads(one[name]) if isinstance(one[name], str) else one[name]
        return found


def test_a_pup_that_loses_a_tenth_is_watched_and_its_littermates_are_not() -> None:
    scene = Newborn()
    scene.round(1, 396, 410)
    scene.round(2, 356, 440)
    watch = scene.watches()
    assert [one["band"] for one in watch] == ["moss"]
    # Dog Owner's Home Veterinary Handbook, 4th ed., chapter 17: 10 % lost in the first 48 h.
    assert "first_days_loss" in watch[0]["rules"]
    assert watch[0]["level"] == "act_today"
    assert any("Lost 11.0 %" in reason for reason in watch[0]["reasons"])


def with_table(scene: Newborn) -> None:
    """A growth table whose score is plain: with L 1 a weight lies (y/M - 1)/S deviations from the median.  Invented."""
    ages = ((84, 6), (168, 14))
    rows = [{"age_days": day, "power": 1, "median_kg": kg, "spread": 0.1} for day, kg in ages]
    told = {"supplied_by": "Dr Reed", "supplied_on": "2026-01-05", "source": "the vet's own sheet"}
    scene.create("growth-table", {"name": "All our dogs", "rows": rows, **told})


def test_from_twelve_weeks_on_crossed_centile_lines_alone_open_a_watch() -> None:
    # Salt et al. 2020, PLoS ONE 15(9):e0238521: more than two centile lines.
    scene = Newborn()
    # Medians: 6571 g on day 90, 10476 g on day 131.  Scores 0.1 and -1.5: three lines down for the first pup.
    scene.round(90, 6640, 6640)
    scene.round(131, 8905, 10500)
    assert scene.watches() == []
    with_table(scene)
    scene.round(132, 8990, 10600)
    watch = scene.watches()
    assert [(one["band"], one["level"], one["rules"]) for one in watch] == [
        ("moss", "watch", ["centile_lines"])
    ]
    assert "3 centile lines crossed downwards" in watch[0]["reasons"][0]
    assert "All our dogs" in watch[0]["reasons"][0]
    # Back up on its line, and a day later still: nothing found any more.
    scene.round(133, 10700, 10700)
    scene.round(135, 10900, 10900)
    assert scene.watches()[0]["closed_by"] == "rules"


def test_a_loss_still_watched_at_twelve_weeks_is_closed_by_people_and_not_by_age() -> None:
    scene = Newborn()
    with_table(scene)
    scene.round(82, 5800, 5800)
    scene.round(83, 5000, 5850)
    assert [one["band"] for one in scene.watches("closed_at IS NULL")] == ["moss"]
    for day in (85, 87, 89):
        scene.round(day, 5000 + 90 * (day - 83), 5900 + 90 * (day - 83))
    open_still = scene.watches("closed_at IS NULL")
    assert [one["band"] for one in open_still] == ["moss"]
    assert open_still[0]["quiet_since"] is None


def test_one_small_gain_does_not_clear_a_loss_of_a_tenth() -> None:
    scene = Newborn()
    scene.round(1, 396, 410)
    scene.round(2, 356, 440)
    scene.round(2.5, 360, 450)
    watch = scene.watches()[0]
    assert watch["closed_at"] is None
    assert watch["quiet_since"] is None
    assert "loss_still_open" in watch["rules"]
    assert watch["level"] == "act_today"


def test_a_watch_is_raised_when_the_pup_is_still_not_gaining_at_72_hours() -> None:
    scene = Newborn()
    scene.round(1, 396, 410)
    scene.round(2, 356, 440)
    scene.round(3, 352, 480)
    watch = scene.watches()
    assert len(watch) == 1
    assert watch[0]["level"] == "emergency"
    assert "call the vet" in " ".join(watch[0]["reasons"])


def test_a_watched_pup_is_weighed_again_every_twelve_hours_until_the_watch_is_closed() -> None:
    scene = Newborn()
    scene.round(1, 396, 410)
    scene.round(2, 356, 440)
    at = BIRTH + 2 * DAY
    again = scene.duties("kind = 'weigh-again' AND state = 'open'")
    assert len(again) == 1
    # Twice a day under watch: common practice, no source.
    assert timedelta(hours=11) < again[0]["due_at"] - at < timedelta(hours=13)
    assert again[0]["text"].startswith("Weigh moss again. Growth from birth to day 2 was -11.0 %")
    scene.weigh_in(scene.pups[0], 358, at + timedelta(hours=12))
    assert scene.duties("kind = 'weigh-again' AND state = 'closed'")
    following = scene.duties("kind = 'weigh-again' AND state = 'open'")
    assert len(following) == 1
    closing = {
        "closed_at": (at + timedelta(hours=13)).isoformat(),
        "closed_by": "vet",
        "closing_reason": "Seen by the vet, feeds well.",
    }
    scene.change("watch", scene.watches()[0]["uid"], closing, at + timedelta(hours=13))
    assert scene.duties("kind = 'weigh-again' AND state = 'open'") == []


def test_what_the_vet_closed_is_not_opened_again_by_the_same_reading() -> None:
    scene = Newborn()
    scene.round(1, 396, 410)
    scene.round(2, 356, 440)
    at = BIRTH + 2 * DAY + timedelta(hours=3)
    closing = {"closed_at": at.isoformat(), "closed_by": "vet", "closing_reason": "Seen by the vet."}
    scene.change("watch", scene.watches()[0]["uid"], closing, at)
    scene.weigh_in(scene.pups[0], 359, at + timedelta(hours=9))
    assert scene.watches("h.closed_at IS NULL") == []
    scene.weigh_in(scene.pups[0], 330, at + timedelta(hours=30))
    assert [one["band"] for one in scene.watches("h.closed_at IS NULL")] == ["moss"]


def test_a_mistyped_weight_that_is_corrected_closes_its_watch_at_once() -> None:
    scene = Newborn()
    scene.round(1, 410, 410)
    scene.round(2, 440, 440)
    wrong = scene.weigh_in(scene.pups[1], 348, BIRTH + 2.5 * DAY)
    assert [one["band"] for one in scene.watches("h.closed_at IS NULL")] == ["rust"]
    patch = {"weight_g": 448, "reason": "mistyped"}
    scene.change("weighing", wrong, patch, BIRTH + 2.5 * DAY + minutes(5))
    closed = scene.watches()[0]
    assert closed["closed_by"] == "rules"
    assert closed["closing_reason"] == "A reading was corrected; nothing is found any more."


def test_a_watch_ends_by_itself_only_after_a_quiet_day() -> None:
    scene = Newborn()
    scene.round(1, 410, 410)
    scene.round(2, 409, 440)
    assert scene.watches()[0]["level"] == "act_today"
    day = 3.0
    grams = 445.0
    while scene.watches()[0]["quiet_since"] is None:
        scene.round(day, grams, grams + 30)
        assert scene.watches()[0]["closed_at"] is None
        day, grams = day + 1, round(grams * 1.08)
        assert day < 12
    scene.round(day, grams, grams + 30)
    ended = scene.watches()[0]
    assert ended["closed_by"] == "rules"
    assert ended["closing_reason"] == "Nothing found any more for a day."


def test_a_pup_that_is_only_not_weighed_yet_opens_no_watch() -> None:
    scene = Newborn()
    scene.weigh_in(scene.pups[0], 420, BIRTH + 2.5 * DAY)
    assert [one["band"] for one in scene.watches()] == []


def test_the_board_names_the_watched_most_urgent_first() -> None:
    scene = Newborn()
    scene.round(1, 396, 410)
    scene.round(2, 356, 440)
    at = BIRTH + 2 * DAY
    manual = {
        "pup": str(scene.pups[2]),
        "level": "watch",
        "opened_at": at.isoformat(),
        "note": "Quiet today.",
    }
    scene.create("watch", manual, at)
    with door.read(scene.place.here, door.SERVER, at) as opened:
        found = board.board(opened, at).keep_an_eye_on
    assert [(one["name"], one["level"]) for one in found] == [("moss", "due"), ("slate", "info")]
    assert found[1]["text"] == "slate (Bramble's): keep an eye on. Quiet today."


def test_a_pup_that_goes_home_is_not_watched_any_more() -> None:
    scene = Newborn()
    scene.round(1, 396, 410)
    scene.round(2, 356, 440)
    at = BIRTH + 3 * DAY
    gone = {"pup": str(scene.pups[0]), "kind": "sold", "occurred_at": at.isoformat()}
    scene.create("departure", gone, at)
    assert [one["closing_reason"] for one in scene.watches()] == ["Gone home."]


def test_a_weighing_costs_the_same_queries_in_a_litter_of_3_and_of_12() -> None:
    counts = []
    for pups in (3, 12):
        scene = Newborn(pups)
        scene.round(1, 410, 410)
        with CaptureQueriesContext(connection) as caught:
            scene.weigh_in(scene.pups[0], 430, BIRTH + 2 * DAY)
        counts.append(len(caught))
    assert counts[0] == counts[1]
