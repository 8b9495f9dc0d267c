"""What a rule of a place is: its value, where it stands, when it was read, and that it can be switched off.

Not legal advice. Rules advise with a date and a source; they never forbid writing down what happened.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

CAUTION = (
    "Not legal advice: rules change and differ by place. Check the text, or ask the authority or your vet."
)


class Topic(StrEnum):
    """What a rule is about; the unit of its value follows from it."""

    LEAVE_AGE = "age to leave the dam"  # days
    LEAVE_WEANED = "weaned before leaving"
    TRANSPORT_AGE = "age for transport without the dam"  # days
    CHIP_AGE = "chipped by age"  # days
    REGISTER_AGE = "registered by age"  # days
    CHIP_BEFORE_LEAVING = "chipped before leaving"
    PUP_TAG = "tagged or marked by age"  # days
    DAM_AGE_AT_MATING = "least age of the dam at mating"  # months
    LITTER_INTERVAL = "time between litters"  # months
    LITTERS_IN_LIFE = "litters in a life"
    CAESAREANS = "caesareans before no further mating"
    LICENCE = "litters in 12 months that need a licence"
    DAM_TRANSPORT = "last day of transport after mating"  # days
    DAM_REST = "no transport after whelping"  # hours
    RABIES_AGE = "least age for rabies vaccination"  # days
    RABIES_WAIT = "wait after rabies vaccination"  # days
    CHIP_BEFORE_RABIES = "chipped before rabies vaccination"
    RECORDS = "records kept"  # years
    DUTY = "duty without a date"


@dataclass(frozen=True)
class PlaceRule:
    """One rule: place, what it says in our words, its value, source, how far checked, and when it was read.

    exception: who or what the place excepts. enabled: the kennel's own switch.
    """

    key: str
    place: str
    topic: Topic
    text: str
    value: int | None
    source: str
    status: str
    read_on: date
    exception: str = ""
    enabled: bool = True

    @property
    def label(self) -> str:
        """Rule set, source, how far checked and day of reading, to show beside what follows from it."""
        return f"{self.place}: {self.source} ({self.status}), read on {self.read_on.isoformat()}"


@dataclass(frozen=True)
class RuleSet:
    """The rules a kennel goes by, of one place or several; unchangeable, edits give a new set."""

    name: str
    rules: tuple[PlaceRule, ...]
    caution: str = CAUTION

    def on(self, topic: Topic) -> tuple[PlaceRule, ...]:
        """The rules of a topic that are switched on."""
        return tuple(rule for rule in self.rules if rule.topic is topic and rule.enabled)

    def strictest(self, topic: Topic) -> PlaceRule | None:
        """The enabled rule with the highest value of a topic where higher is stricter; None without any."""
        return max(
            (rule for rule in self.on(topic) if rule.value is not None),
            key=lambda rule: rule.value or 0,
            default=None,
        )

    def soonest(self, topic: Topic) -> PlaceRule | None:
        """The enabled rule with the lowest value of a topic where lower is stricter; None without any."""
        return min(
            (rule for rule in self.on(topic) if rule.value is not None),
            key=lambda rule: rule.value or 0,
            default=None,
        )

    def switched(self, key: str, enabled: bool) -> RuleSet:
        """The same set with one rule switched on or off. Raises ValueError for an unknown key."""
        return self._changed(key, enabled=enabled)

    def edited(self, key: str, value: int, source: str, read_on: date) -> RuleSet:
        """The same set with one rule's value replaced by what the kennel read itself, and where.

        Raises ValueError for an unknown key, an empty source or a negative value.
        """
        if not source.strip() or value < 0:
            raise ValueError("an edited rule needs a source and a value of 0 or more")
        return self._changed(key, value=value, source=source, read_on=read_on, status="entered by the kennel")

    def joined(self, other: RuleSet) -> RuleSet:
        """Both sets together, such as the kennel's place and the rules of travel."""
        return RuleSet(f"{self.name} + {other.name}", self.rules + other.rules)

    def _changed(self, key: str, **changes: object) -> RuleSet:
        if key not in {rule.key for rule in self.rules}:
            raise ValueError(f"no rule {key!r} in the set {self.name!r}")
        changed = (replace(rule, **changes) if rule.key == key else rule for rule in self.rules)  # type: ignore[arg-type]
        return replace(self, rules=tuple(changed))
