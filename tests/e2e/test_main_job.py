"""The whole job of a breeder's day, by people, letters, a scale and a night, against real processes."""

import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.e2e import beginning, friday, night, saturday
from tests.e2e.final_state import final_state
from tests.e2e.stack import MainStack
from tests.e2e.storm import Weather
from tests.kennel.duties.mail import Sink

CONFIRM = "Please Confirm Your Email Address"
pytestmark = [pytest.mark.e2e, pytest.mark.timeout(600)]


@pytest.fixture(scope="module")
def stack(database: str) -> Iterator[MainStack]:
    """One running server for both days of this module."""
    with tempfile.TemporaryDirectory(prefix="kennel-e2e-") as name, Sink() as sink:
        folder = Path(name)
        folder.chmod(0o711)  # the account of the database passes through
        with MainStack(folder, sink) as running:
            yield running
        running.empty()


@pytest.fixture(scope="module")
def live(stack: MainStack) -> Callable[[Weather], dict[str, Any]]:
    """Live the days of the story on an empty server; gives all that the server holds at the end.  Each weather once."""
    ended: dict[bool, dict[str, Any]] = {}

    def through(weather: Weather) -> dict[str, Any]:
        if weather.is_stormy not in ended:
            stack.begin(beginning.BEGIN)
            ended[weather.is_stormy] = main_job(stack, weather)
        return ended[weather.is_stormy]

    return through


def main_job(stack: MainStack, weather: Weather) -> dict[str, Any]:
    """From signing up on Friday to Monday's roll-up."""
    scene = beginning.move_in(stack)
    beginning.enter_the_litter(scene)
    beginning.set_food_plan_and_medicine(scene)
    friday.soak_at_three(scene, weather)
    friday.meal_at_five(scene, weather)
    grams = saturday.weigh_first(scene)
    saturday.worm(scene, grams)
    saturday.noon(scene)
    saturday.three_leave(scene)
    saturday.runt_passes(scene)
    night.plan_the_night(scene)
    night.pass_the_night(scene, weather)
    night.read_the_summary(scene)
    night.read_the_days(scene, weather)
    return final_state(scene)


# Who was written to about what, by the story: both carers each time something is due; the keeper when it waits.
TO_BOTH_CARERS = {
    "Invitation to Hollin Bank": 1,
    "Hollin Bank: Soak the food: due 15:00": 2,
    "Hollin Bank: Soak the food: due 10:00": 1,
    "Hollin Bank: Meal: due 17:00": 2,
    "Hollin Bank: Meal: due 12:00": 1,
    "Hollin Bank: Weigh before worming: due 06:30": 1,
    "Hollin Bank: Worming: due 08:30": 1,
    "Hollin Bank: Worming: due 19:31": 1,
    "Hollin Bank: Look into the whelping box: due 22:00": 1,
    "Hollin Bank: Look into the whelping box: due 01:00": 1,
    "Hollin Bank: Warm the milk: due 01:30": 1,
    "Hollin Bank: Look into the whelping box: due 03:00": 1,
    "Hollin Bank: Look into the whelping box: due 06:00": 1,
    "Hollin Bank: 4 not confirmed": 1,  # Sunday's soaks and meals
}
TO_EVERYBODY = {
    "Hollin Bank: Worming: was due 08:30, not confirmed": 1,
    "Hollin Bank: Meal: was due 12:00, not confirmed": 1,
}


def test_the_main_job(live: Callable[[Weather], dict[str, Any]]) -> None:
    ended = live(Weather(is_stormy=False))
    for name in ("Idris Vane", "Oona Quill"):
        assert ended["letters"][name] == TO_BOTH_CARERS | TO_EVERYBODY
    assert ended["letters"]["Maud Ferrier"] == TO_EVERYBODY | {CONFIRM: 1}
    assert ended["watches"] == []


def test_the_main_job_with_workers_killed_and_valkey_emptied_ends_the_same(
    live: Callable[[Weather], dict[str, Any]], stack: MainStack
) -> None:
    storm = Weather(is_stormy=True)
    ended = live(storm)
    assert storm.deaths == 4
    # Only the letter whose answer the killed sender never heard was sent again, under the same Message-ID.
    assert sorted(Counter(stack.sink.ids()).values())[-2:] == [1, 2]
    calm = live(Weather(is_stormy=False))
    for what, kept in calm.items():
        assert ended[what] == kept, what
