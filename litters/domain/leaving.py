"""What still keeps each pup from leaving, each with its date, and the one visit that frees most pups.

Everything here advises. A pup that leaves all the same is recorded with what was still open; rules of a
place can be switched off, and a hold can be waived with a reason and a name.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from litters.domain.calendar_days import checked_day
from litters.domain.identification import chip_code
from litters.domain.law_checks import chip_by_on
from litters.domain.place_rules import PlaceRule, RuleSet, Topic

CAUTION = "The place's rules and the vet decide. Leaving early needs a vet's written reason."


class Clears(StrEnum):
    """What makes a hold go away."""

    TIME = "time"  # by itself on its date
    VISIT = "visit"  # at the vet's, from its date on
    PERSON = "person"  # when somebody decides or records something


@dataclass(frozen=True)
class NeededVaccination:
    """A vaccination asked for before leaving and still to be given.

    Between not_before_on and not_after_on; doses_left of it, gap_days apart. wait_days: from the (last)
    dose until the pup may leave.
    """

    name: str
    not_before_on: date
    not_after_on: date | None = None
    doses_left: int = 1
    gap_days: int = 14
    wait_days: int = 0


@dataclass(frozen=True)
class RunningCourse:
    """A course of medicine with its last dose still to come, and days to wait after it."""

    medicine: str
    last_dose_on: date
    wait_days: int = 0


@dataclass(frozen=True)
class DueTreatment:
    """A dose of a plan whose day has come and that is not on record.

    possible_on: the first day it can be given; None when nobody can say (a pup under the label's weight);
    reason: why not at once, empty when nothing stands against it.
    """

    name: str
    due_on: date
    possible_on: date | None = None
    reason: str = ""


@dataclass(frozen=True)
class OpenWatch:
    """A pup to keep an eye on: since when and why; key tells it from the pup's other watches."""

    reason: str
    opened_on: date
    key: str = ""


@dataclass(frozen=True)
class VetCheck:
    """The vet's look at a pup before it leaves: when done, and how many days that holds (None: for good)."""

    done_on: date | None = None
    valid_days: int | None = None
    not_before_on: date | None = None

    def holds_on(self, day: date) -> bool:
        """Whether a look that was taken still counts on a day."""
        if self.done_on is None:
            return False
        return self.valid_days is None or (day - self.done_on).days <= self.valid_days


@dataclass(frozen=True)
class Travel:
    """A journey into another country: where to, and the rabies vaccination if there is one."""

    destination: str
    rabies_on: date | None = None


@dataclass(frozen=True)
class Waiver:
    """A hold set aside: its key, why, and who said so."""

    hold_key: str
    reason: str
    by: str


@dataclass(frozen=True)
class PupFacts:
    """A pup as leaving sees it. weaning_expected_on, collect_from_on: plans, while there is no fact yet.

    vet_check: None when none is asked for. kept_back: why the kennel keeps it, empty when it does not.
    """

    name: str
    born_on: date
    weaned_on: date | None = None
    weaning_expected_on: date | None = None
    chip: str = ""
    chipped_on: date | None = None
    registered_on: date | None = None
    vaccinations: tuple[NeededVaccination, ...] = ()
    courses: tuple[RunningCourse, ...] = ()
    treatments: tuple[DueTreatment, ...] = ()
    watches: tuple[OpenWatch, ...] = ()
    vet_check: VetCheck | None = None
    booked: bool = False
    collect_from_on: date | None = None
    travel: Travel | None = None
    kept_back: str = ""
    waivers: tuple[Waiver, ...] = ()


@dataclass(frozen=True)
class Hold:
    """One thing that keeps a pup: why, what clears it, and its date.

    on: the day it clears by itself, or the first day a visit can clear it, or when it is expected; None
    when nobody can say. until_on: the last day a visit can still clear it. wait_days: from the visit until
    leaving. valid_days: how long the visit counts. visits: how many it takes, gap_days apart. due_by_on: a
    rule's deadline.
    """

    key: str
    text: str
    clears: Clears
    on: date | None = None
    until_on: date | None = None
    wait_days: int = 0
    valid_days: int | None = None
    visits: int = 1
    gap_days: int = 0
    due_by_on: date | None = None
    rule: str = ""
    waived: str = ""


@dataclass(frozen=True)
class Leaving:
    """Everything that keeps one pup.

    free_on: the day from which nothing keeps it, when only time is left; earliest_on: the same if every
    visit took place on its first possible day and plans held; None when something has no date. check: the
    vet's look as asked for, because one that holds today may have run out by a later day of leaving.
    """

    pup: str
    free_on: date | None
    earliest_on: date | None
    holds: tuple[Hold, ...]
    check: VetCheck | None = None
    caution: str = CAUTION

    @property
    def open_holds(self) -> tuple[Hold, ...]:
        """The holds that count: those not waived."""
        return tuple(hold for hold in self.holds if not hold.waived)


def leaving(pup: PupFacts, rules: RuleSet, on: date) -> Leaving:
    """What keeps `pup` as of the day `on`, by the enabled rules, each with its date.

    Raises ValueError for dates outside 1900 to 2199 or a day before birth.
    """
    if checked_day(on, "day") < checked_day(pup.born_on, "birth"):
        raise ValueError(f"{on} is before {pup.name} was born")
    found = [
        *_age_holds(pup, rules, on),
        *_weaning_holds(pup, rules),
        *_chip_holds(pup, rules, on),
        *_health_holds(pup, on),
        *_travel_holds(pup, rules, on),
        *_home_holds(pup, on),
    ]
    waived = {waiver.hold_key: f"{waiver.reason} ({waiver.by})" for waiver in pup.waivers}
    holds = [replace(hold, waived=waived.get(hold.key, "")) for hold in found]
    # Whether the vet's look still holds is asked for the day the pup can leave, not for today.
    holds += [
        replace(hold, waived=waived.get(hold.key, ""))
        for hold in _vet_check_holds(pup, on, _earliest(holds, on) or on)
    ]
    earliest_on = _earliest(holds, on)
    only_time = all(hold.clears is Clears.TIME for hold in holds if not hold.waived)
    check = None if "vet_check" in waived else pup.vet_check
    return Leaving(pup.name, earliest_on if only_time else None, earliest_on, tuple(holds), check)


def _age_holds(pup: PupFacts, rules: RuleSet, on: date) -> list[Hold]:
    held = []
    for topic in (Topic.LEAVE_AGE, Topic.TRANSPORT_AGE):
        rule = rules.strictest(topic)
        if rule is not None and rule.value is not None:
            old_enough_on = pup.born_on + timedelta(days=rule.value)
            if on < old_enough_on:
                text = f"{rule.text} Old enough on {old_enough_on}."
                held.append(Hold(_key(topic), text, Clears.TIME, old_enough_on, rule=rule.label))
    return held


def _weaning_holds(pup: PupFacts, rules: RuleSet) -> list[Hold]:
    if pup.weaned_on is not None:
        return []
    rule = next(iter(rules.on(Topic.LEAVE_WEANED)), None)
    expected = pup.weaning_expected_on
    text = "Not recorded as weaned" + (f"; expected on {expected}." if expected else "; no date is planned.")
    return [Hold("weaning", text, Clears.PERSON, expected, rule=rule.label if rule else "common practice")]


def _chip_holds(pup: PupFacts, rules: RuleSet, on: date) -> list[Hold]:
    held = []
    before_leaving = next(iter(rules.on(Topic.CHIP_BEFORE_LEAVING)), None)
    deadline = rules.soonest(Topic.CHIP_AGE)
    due_by_on = chip_by_on(pup.born_on, deadline.value or 0) if deadline is not None else None
    if pup.chipped_on is None and before_leaving is not None:
        late = "" if due_by_on is None else f" Due by {due_by_on}{', overdue' if on > due_by_on else ''}."
        text = f"No chip. {before_leaving.text}{late}"
        held.append(Hold("chip", text, Clears.VISIT, on, due_by_on=due_by_on, rule=before_leaving.label))
    elif pup.chip and not chip_code(pup.chip).usable_on_papers:
        text = "The chip's code: " + " ".join(chip_code(pup.chip).reasons) + " Have it read again."
        held.append(Hold("chip_code", text, Clears.VISIT, on, rule="ISO 11784"))
    register = rules.soonest(Topic.REGISTER_AGE)
    if register is not None and pup.registered_on is None:
        by_on = chip_by_on(pup.born_on, register.value or 0)
        text = f"Not registered. {register.text} Due by {by_on}."
        held.append(Hold("registration", text, Clears.PERSON, on, due_by_on=by_on, rule=register.label))
    return held


def _health_holds(pup: PupFacts, on: date) -> list[Hold]:
    held = []
    for needed in pup.vaccinations:
        first_on = max(on, needed.not_before_on)
        text = f"{needed.name} is still to be given, from {needed.not_before_on} on."
        if needed.doses_left > 1:
            text += f" {needed.doses_left} doses, at least {needed.gap_days} days apart."
        if needed.not_after_on is not None and on > needed.not_after_on:
            text += f" It was due by {needed.not_after_on}: the vet says whether to begin again."
        held.append(
            Hold(
                f"vaccination:{needed.name}", text, Clears.VISIT, first_on, until_on=needed.not_after_on,
                wait_days=needed.wait_days, visits=needed.doses_left, gap_days=needed.gap_days,
                rule="vaccination plan and the vet",
            )
        )  # fmt: skip
    for course in pup.courses:
        over_on = course.last_dose_on + timedelta(days=course.wait_days)
        if on <= over_on:
            text = f"{course.medicine} is still being given, last dose on {course.last_dose_on}."
            free_on = over_on + timedelta(days=1)
            held.append(Hold(f"course:{course.medicine}", text, Clears.TIME, free_on, rule="treatment plan"))
    for due in pup.treatments:
        was = "is" if due.due_on >= on else "was"
        text = f"{due.name} {was} due on {due.due_on} and is not on record. {due.reason}".strip()
        key = f"treatment:{due.name}"
        held.append(Hold(key, text, Clears.PERSON, due.possible_on, rule="treatment plan and the label"))
    for watch in pup.watches:
        text = f"To keep an eye on since {watch.opened_on}: {watch.reason.rstrip('.')}."
        key = f"watch:{watch.key or watch.reason}"
        held.append(Hold(key, text, Clears.PERSON, None, rule="open watch; ask the vet"))
    return held


def _vet_check_holds(pup: PupFacts, on: date, leaves_on: date) -> list[Hold]:
    check = pup.vet_check
    if check is None:
        return []
    text = "The vet has still to look at it before it leaves."
    if check.done_on is not None:
        if check.holds_on(leaves_on):
            return []
        text = f"The vet's look of {check.done_on} holds {check.valid_days} days, not until {leaves_on}."
    first_on = max(on, check.not_before_on or on)
    return [
        Hold("vet_check", text, Clears.VISIT, first_on, valid_days=check.valid_days, rule="common practice")
    ]


def _travel_holds(pup: PupFacts, rules: RuleSet, on: date) -> list[Hold]:
    if pup.travel is None:
        return []
    held = []
    age, wait = rules.strictest(Topic.RABIES_AGE), rules.strictest(Topic.RABIES_WAIT)
    chip_first = next(iter(rules.on(Topic.CHIP_BEFORE_RABIES)), None)
    if pup.chipped_on is None and chip_first is not None and not rules.on(Topic.CHIP_BEFORE_LEAVING):
        text = f"No chip, and {pup.travel.destination} asks for one no later than the rabies vaccination."
        held.append(Hold("travel_chip", text, Clears.VISIT, on, rule=chip_first.label))
    if age is None or wait is None:
        return held
    old_enough_on = pup.born_on + timedelta(days=age.value or 0)
    wait_days = wait.value or 0
    given_on = pup.travel.rabies_on
    counts = given_on is not None and given_on >= old_enough_on and _chipped_by(pup, given_on, chip_first)
    if given_on is not None and counts:
        free_on = given_on + timedelta(days=wait_days)
        if on < free_on:
            text = f"Rabies vaccination of {given_on} counts for {pup.travel.destination} from {free_on} on."
            held.append(Hold("travel_wait", text, Clears.TIME, free_on, rule=wait.label))
        return held
    text = f"Rabies vaccination for {pup.travel.destination} from {old_enough_on} on, then {wait_days} days."
    if given_on is not None:
        text = f"The one of {given_on} does not count (under age, or before the chip). {text}"
    first_on = max(on, old_enough_on)
    held.append(Hold("travel_rabies", text, Clears.VISIT, first_on, wait_days=wait_days, rule=age.label))
    return held


def _chipped_by(pup: PupFacts, day: date, rule: PlaceRule | None) -> bool:
    return rule is None or (pup.chipped_on is not None and pup.chipped_on <= day)


def _home_holds(pup: PupFacts, on: date) -> list[Hold]:
    if pup.kept_back:
        return [Hold("kept_back", f"Kept back: {pup.kept_back}.", Clears.PERSON, None, rule="the kennel")]
    if not pup.booked:
        return [Hold("booking", "Not booked.", Clears.PERSON, None, rule="the kennel")]
    if pup.collect_from_on is not None and on < pup.collect_from_on:
        text = f"To be collected from {pup.collect_from_on} on."
        return [Hold("collection", text, Clears.TIME, pup.collect_from_on, rule="booking")]
    return []


def _cleared_on(hold: Hold, on: date) -> date | None:
    """The first day a hold can be gone; None when nobody can say."""
    if hold.clears is not Clears.VISIT:
        return hold.on
    if hold.until_on is not None and max(on, hold.on or on) > hold.until_on:
        return None
    first_on = max(on, hold.on or on)
    return first_on + timedelta(days=hold.gap_days * (hold.visits - 1) + hold.wait_days)


def _earliest(holds: list[Hold], on: date) -> date | None:
    """The day on which all holds that count can be gone; None when one of them has no date."""
    cleared = [_cleared_on(hold, on) for hold in holds if not hold.waived]
    known = [one for one in cleared if one is not None]
    return max([on, *known]) if len(known) == len(cleared) else None


def _key(topic: Topic) -> str:
    return {Topic.LEAVE_AGE: "leave_age", Topic.TRANSPORT_AGE: "transport_age"}[topic]
