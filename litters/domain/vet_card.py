"""What to say to the vet, in one breath: a text that takes 20 seconds to read aloud.

The facts come in order of need; what does not fit is left out from the end and named, so that nobody believes
it was said.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from litters.domain.fetal_formulas import checked_dam_mass_kg
from litters.domain.labour_flags import FINISHED, LabourReport
from litters.domain.labour_limits import FlagKey, Level
from litters.domain.labour_timers import span_words

MOST_WORDS = 55
"""20 seconds at 165 spoken words a minute, a calm reading pace [common practice, no source]."""
WORDS_PER_MINUTE = 165
STRAINING_KEYS = (FlagKey.STRONG_STRAINING, FlagKey.WEAK_STRAINING)
MOST_NAME_WORDS = 3
MOST_FREE_WORDS = 8


@dataclass(frozen=True, slots=True)
class DamFacts:
    """The dam as the vet needs her: who she is and how far on.  Leave out what is not known.

    days_since: e.g. "63 days from ovulation", in the words the due window gives.  medicines: what she was
    given in the last 24 hours.  Raises ValueError for an impossible mass, temperature or count.
    """

    kennel_name: str
    dam_name: str
    breed: str = ""
    mass_kg: float | None = None
    age_years: int | None = None
    litters_before: int | None = None
    days_since: str = ""
    temperature_c: float | None = None
    medicines: str = ""

    def __post_init__(self) -> None:
        if self.mass_kg is not None:
            checked_dam_mass_kg(self.mass_kg)
        if self.temperature_c is not None and not (
            isfinite(self.temperature_c) and 30 <= self.temperature_c <= 43
        ):
            raise ValueError("a dam's temperature lies between 30 and 43 C")
        if any(count is not None and count < 0 for count in (self.age_years, self.litters_before)):
            raise ValueError("age and litters cannot be negative")


@dataclass(frozen=True, slots=True)
class VetCard:
    """The text to read aloud, its sentences, its length, and what had to be left out."""

    text: str
    sentences: tuple[str, ...]
    word_count: int
    reading_time_s: float
    left_out: tuple[str, ...]
    caution: str


def vet_card(facts: DamFacts, report: LabourReport) -> VetCard:
    """The card for a dam in labour: at most 55 words, most needed first.

    Long names and free texts are cut to a few words.  Raises ValueError when the dam has no name.
    """
    if not facts.dam_name.strip():
        raise ValueError("the card needs the dam's name")
    kept: list[str] = []
    left_out: list[str] = []
    for sentence in _sentences(facts, report):
        if count_words(" ".join([*kept, sentence])) <= MOST_WORDS:
            kept.append(sentence)
        else:
            left_out.append(sentence)
    text = " ".join(kept)
    words = count_words(text)
    return VetCard(
        text=text,
        sentences=tuple(kept),
        word_count=words,
        reading_time_s=round(words / WORDS_PER_MINUTE * 60, 1),
        left_out=tuple(left_out),
        caution="Have a pen ready, do what the vet says, and write down what was agreed and with whom.",
    )


def count_words(text: str) -> int:
    """Words of a text as spoken: everything between blanks."""
    return len(text.split())


def _sentences(facts: DamFacts, report: LabourReport) -> list[str]:
    """The sentences in the order of need; empty facts give none."""
    found = [
        _who(facts, report),
        _trouble(report),
        _pups(report),
        _effort(report),
        "" if _is_over(report) else _short(facts.days_since),
        _temperature(facts),
        _medicines(facts),
        _history(facts),
        _second_trouble(report),
    ]
    return [sentence for sentence in found if sentence]


def _cut(text: str, words: int) -> str:
    return " ".join(text.split()[:words])


def _is_over(report: LabourReport) -> bool:
    return report.stage == FINISHED


def _who(facts: DamFacts, report: LabourReport) -> str:
    kennel = _cut(facts.kennel_name, MOST_NAME_WORDS)
    breed = _cut(facts.breed, MOST_NAME_WORDS)
    mass = "" if facts.mass_kg is None else f"{facts.mass_kg:.0f} kilos"
    described = ", ".join(part for part in (_cut(facts.dam_name, MOST_NAME_WORDS), breed, mass) if part)
    opening = f"{kennel} kennel here" if kennel else "Kennel here"
    bitch = "bitch after whelping" if _is_over(report) else "whelping bitch"
    return f"{opening}: {bitch} {described}."


def _trouble(report: LabourReport) -> str:
    if not report.flags and _is_over(report):
        return "Whelping is over, no warning sign."
    if not report.flags:
        return f"Now: {report.stage}, no warning sign."
    flag = report.flags[0]
    urgency = "Emergency" if flag.level == Level.GO_NOW else "Advice please"
    return f"{urgency}: {_cut(flag.reason.split(';')[0], 14)}."


def _second_trouble(report: LabourReport) -> str:
    others = [_cut(flag.reason.split(";")[0], 14) for flag in report.flags[1:]]
    return f"Also {'; '.join(others)}." if others else ""


def _pups(report: LabourReport) -> str:
    if report.born == 0:
        expected = "" if report.still_expected is None else f", {report.still_expected} expected"
        return f"No pup yet{expected}."
    undelivered = report.born - report.born_alive
    born = f"{report.born} born, {undelivered} stillborn" if undelivered else f"{report.born} born alive"
    if _is_over(report):
        return f"{born}, {report.still_expected} fewer than counted." if report.still_expected else f"{born}."
    expected = "" if report.still_expected is None else f", {report.still_expected} still expected"
    ago = (
        ""
        if report.minutes_since_last_pup is None
        else f", last {span_words(report.minutes_since_last_pup)} ago"
    )
    return f"{born}{ago}{expected}."


def _effort(report: LabourReport) -> str:
    if report.flags and report.flags[0].key in STRAINING_KEYS and report.straining is not None:
        # Said already as the reason of the call.
        return ""
    if _is_over(report):
        return ""
    if report.straining is None:
        return "Not straining now."
    return (
        f"Straining {report.straining.strength.value} for {span_words(report.straining.minutes(report.at))}."
    )


def _short(words: str) -> str:
    return f"{_cut(words, MOST_FREE_WORDS)}." if words.strip() else ""


def _temperature(facts: DamFacts) -> str:
    return "" if facts.temperature_c is None else f"Temperature {facts.temperature_c:.1f}."


def _medicines(facts: DamFacts) -> str:
    given = _cut(facts.medicines, MOST_FREE_WORDS)
    return f"Given in 24 hours: {given}." if given else "No medicine given in 24 hours."


def _history(facts: DamFacts) -> str:
    age = "" if facts.age_years is None else f"Age {facts.age_years}"
    if facts.litters_before is None:
        return f"{age}." if age else ""
    litter = {0: "first litter", 1: "second litter"}.get(
        facts.litters_before, f"{facts.litters_before} litters before"
    )
    return f"{age}, {litter}." if age else f"{litter.capitalize()}."
