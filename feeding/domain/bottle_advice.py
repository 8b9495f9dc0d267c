"""Whether a pup may have milk now: temperature, slow warming, suck test, only then a volume.

A chilled pup's gut stands still and its suck reflex is lost, so below the line no number is shown at all
(The Veterinary Nurse, review of hand feeding, 2016; lines by age from a veterinary reproduction page).  A
warm pup that does not suck is a case for the vet, not for more tries (common practice, no source).
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from feeding.domain.milk import BottlePlan
from feeding.domain.ranges import between

HIGHEST_NORMAL_C = 39.0
MEASURED_ALWAYS_BEFORE_DAY = 21
TEMPERATURE_IS_FRESH_FOR = timedelta(hours=2)
WARMING = (
    "Warm slowly, at most 1 °C an hour (over 2 °C an hour harms), no hot bottle on the skin, turn often,"
    " check again in 15-30 min."
)
TUBE = (
    "A tube only after a vet has shown how, and only when its place is sure: it can enter the windpipe; over"
    " 1-2 min; stop when the belly is taut, milk returns or the pup struggles. Never an eye dropper."
)
TRY_THE_SUCK = "Try the suck on a clean finger first: no suck, no bottle."
RELIEVE = "Under about 3 weeks: rub belly and genitals until urine and stool come, and write it down."


@dataclass(frozen=True)
class ColdLine:
    """Rectal temperature below which a pup gets no milk, for completed days from `from_day`."""

    from_day: int
    below_c: float


COLD_LINES = (ColdLine(0, 35.0), ColdLine(7, 36.0), ColdLine(21, 37.0))


class BottleStep(StrEnum):
    """What to do first."""

    MEASURE_FIRST = "measure_first"
    WARM_FIRST = "warm_first"
    VET = "vet"
    TEST_SUCK = "test_suck"
    FEED = "feed"


@dataclass(frozen=True)
class PupState:
    """What is known of a pup before a bottle: temperature and its instant, suck reflex, whether watched."""

    age_days: int
    temperature_c: float | None = None
    temperature_at: datetime | None = None
    is_sucking: bool | None = None
    is_under_watch: bool = False


@dataclass(frozen=True)
class BottleAdvice:
    """The step to take, the plan only when milk may be given, and why."""

    step: BottleStep
    plan: BottlePlan | None
    reasons: tuple[str, ...]
    method: str
    source: str
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def cold_line_c(age_days: int, lines: tuple[ColdLine, ...] = COLD_LINES) -> float:
    """The line for an age in completed days; published to day 30, the last one is held beyond.

    ValueError for a negative age and for lines that leave the age out.
    """
    passed = [line for line in lines if 0 <= line.from_day <= age_days]
    if not passed:
        raise ValueError(f"no temperature line covers an age of {age_days} days")
    return max(passed, key=lambda line: line.from_day).below_c


def bottle_advice(
    pup: PupState, plan: BottlePlan, at: datetime, lines: tuple[ColdLine, ...] = COLD_LINES
) -> BottleAdvice:
    """What to do with this pup now; the plan's numbers come back only where milk may be given.

    An old temperature counts as none; without one, pups before day 21, under watch, not sucking or cold when
    last measured are measured first.
    A pup under watch gets no volume before its suck has been tried.
    """
    line_c = cold_line_c(pup.age_days, lines)
    temperature_c = _fresh_temperature(pup, at)
    if temperature_c is not None and temperature_c < line_c:
        return _without_milk(
            BottleStep.WARM_FIRST,
            (f"{temperature_c:.1f} °C is below {line_c:.1f} °C for this age: no milk by bottle or tube.",),
            (
                WARMING,
                "Ring the vet.",
                "A warm, willing dam may keep the pup: the line stops the bottle only.",
            ),
        )
    if temperature_c is None and _must_be_measured(pup, line_c):
        reason = _why_not_known(pup, at)
        return _without_milk(
            BottleStep.MEASURE_FIRST, (reason,), ("Temperature first, then the suck, then milk.",)
        )
    if pup.is_sucking is False:
        return _without_milk(
            BottleStep.VET, ("Warm but not sucking.",), ("Ring the vet now; do not try the bottle.", TUBE)
        )
    if pup.is_sucking is None and pup.is_under_watch:
        return _without_milk(BottleStep.TEST_SUCK, (TRY_THE_SUCK,), ("A volume only once it sucks.",))
    return _with_milk(pup, plan, temperature_c)


def _must_be_measured(pup: PupState, line_c: float) -> bool:
    """Whether milk waits for a temperature: young, watched, not sucking, or cold when last measured."""
    was_cold = pup.temperature_c is not None and pup.temperature_c < line_c
    is_young = pup.age_days < MEASURED_ALWAYS_BEFORE_DAY
    return is_young or pup.is_under_watch or pup.is_sucking is False or was_cold


def _with_milk(pup: PupState, plan: BottlePlan, temperature_c: float | None) -> BottleAdvice:
    cautions = [*plan.cautions, TUBE]
    if pup.age_days < MEASURED_ALWAYS_BEFORE_DAY:
        cautions.append(RELIEVE)
    if temperature_c is not None and temperature_c > HIGHEST_NORMAL_C:
        cautions.insert(0, f"{temperature_c:.1f} °C is hot: cool the box and ring the vet.")
    if temperature_c is None:
        cautions.insert(0, "No fresh temperature: a chilled pup gets no milk.")
    step = BottleStep.FEED if pup.is_sucking else BottleStep.TEST_SUCK
    reasons = ("It sucks.",) if pup.is_sucking else (TRY_THE_SUCK,)
    return BottleAdvice(step, plan, reasons, plan.method, plan.source, plan.assumptions, tuple(cautions))


def _without_milk(step: BottleStep, reasons: tuple[str, ...], cautions: tuple[str, ...]) -> BottleAdvice:
    return BottleAdvice(
        step,
        None,
        reasons,
        "temperature, then suck, then volume",
        "The Veterinary Nurse, review of hand feeding, 2016; lines: veterinary reproduction page",
        ("The lines by age are settings of the kennel; the vet's word outranks them.",),
        cautions,
    )


def _fresh_temperature(pup: PupState, at: datetime) -> float | None:
    """The temperature when it was taken within the last two hours; its instant unknown counts as now."""
    if pup.temperature_c is None:
        return None
    between("temperature in °C", pup.temperature_c, 20, 45)
    is_old = pup.temperature_at is not None and at - pup.temperature_at > TEMPERATURE_IS_FRESH_FOR
    return None if is_old else pup.temperature_c


def _why_not_known(pup: PupState, at: datetime) -> str:
    if pup.temperature_c is None or pup.temperature_at is None:
        return "No temperature is known."
    hours = (at - pup.temperature_at) / timedelta(hours=1)
    return f"The last temperature is {hours:.1f} h old."
