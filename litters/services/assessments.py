"""Judging the pups of litters from the records: each pup's level and reasons, pup or dam, likely slips.

For pages, the API, and the app that opens and closes watches when a weight is written.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from litters import selectors, selectors_litters
from litters.domain.centiles import FIRST_STANDARD_DAY
from litters.domain.growth import (
    Assessment,
    Limits,
    PupOrDam,
    PupRecord,
    SlipQuestion,
    TemperatureReading,
    Weighing,
    assess_litter,
    pup_or_dam,
    slip_finder,
)
from litters.domain.slips import readings_of_round
from litters.selectors import ResidentPup
from litters.selectors_litters import LitterHead
from litters.services.figures import agreed_figures, growth_limits
from litters.services.growth_tables import GrowthTable, growth_tables, table_for

FIRST_STANDARD_AGE = timedelta(days=FIRST_STANDARD_DAY)
EXPECTED, DAM, NOT_KNOWN = "expected adult weight of the litter", "the dam's adult weight", "not known"


@dataclass(frozen=True, slots=True)
class PupAssessment:
    """A pup that is here, and what is found of it."""

    pup: ResidentPup
    found: Assessment


@dataclass(frozen=True, slots=True)
class LitterAssessment:
    """The pups of one litter judged at one instant.

    adult_weight_from: what the expected adult weight stands on.  limits: as they stand for the kennel.
    """

    litter: LitterHead
    at: datetime
    pups: tuple[PupAssessment, ...]
    where_to_look: PupOrDam
    slips: tuple[SlipQuestion, ...]
    adult_weight_kg: float | None
    adult_weight_from: str
    limits: Limits

    def uid_of(self, called: str) -> UUID:
        """The pup that the words call so."""
        return next(one.pup.uid for one in self.pups if one.found.pup == called)


def assess_litters(
    litters: Sequence[UUID],
    kennel_id: int,
    at: datetime,
    loss_watch_closed_at: Mapping[int, datetime] | None = None,
) -> dict[UUID, LitterAssessment]:
    """Each litter's pups that are here, judged at an instant, by litter uid.  Six queries for any number;
    one more when a pup is old enough for a growth table.

    loss_watch_closed_at: pup (internal id) -> when the vet closed its watch over a loss of 10 %.
    Call inside `door.read` or `door.write`.  Litters that are not here are missing from the answer.
    """
    heads = selectors_litters.litter_heads(litters, kennel_id)
    pups = selectors.resident_pups(list(heads), kennel_id, at)
    limits = growth_limits(agreed_figures(kennel_id))
    facts = _facts(pups, kennel_id, at)
    by_litter: dict[UUID, list[ResidentPup]] = defaultdict(list)
    for pup in pups:
        by_litter[pup.litter].append(pup)
    closed = loss_watch_closed_at or {}
    return {
        uid: _assess(head, by_litter.get(uid, []), facts, closed, at, limits) for uid, head in heads.items()
    }


@dataclass(frozen=True, slots=True)
class _Facts:
    weighings: Mapping[int, list[Weighing]]
    temperatures: Mapping[int, list[TemperatureReading]]
    apgar: Mapping[int, int]
    tables: Sequence[GrowthTable]


def _facts(pups: Sequence[ResidentPup], kennel_id: int, at: datetime) -> _Facts:
    ids = [pup.id for pup in pups]
    born_at = {pup.id: pup.born_at for pup in pups}
    weighings: dict[int, list[Weighing]] = defaultdict(list)
    for one in selectors_litters.weights_of_pups(ids, kennel_id, at):
        # Noted a minute before the birth was: the clock on the wall, not a weight of an unborn pup.
        weighed_at = max(one.at, born_at[one.animal_id])
        weighings[one.animal_id].append(Weighing(weighed_at, one.value, one.is_birth_weight))
    temperatures: dict[int, list[TemperatureReading]] = defaultdict(list)
    for one in selectors_litters.temperatures_of_pups(ids, kennel_id, at):
        temperatures[one.animal_id].append(TemperatureReading(one.at, one.value))
    is_table_needed = any(at - pup.born_at >= FIRST_STANDARD_AGE for pup in pups)
    return _Facts(
        weighings,
        temperatures,
        selectors_litters.apgar_totals(ids, kennel_id, at),
        growth_tables(kennel_id) if is_table_needed else [],
    )


def _assess(
    head: LitterHead,
    pups: Sequence[ResidentPup],
    facts: _Facts,
    closed: Mapping[int, datetime],
    at: datetime,
    limits: Limits,
) -> LitterAssessment:
    adult_kg, adult_from = expected_adult(head)
    records = [
        PupRecord(
            pup=called,
            born_at=pup.born_at,
            weighings=tuple(facts.weighings.get(pup.id, ())),
            temperatures=tuple(facts.temperatures.get(pup.id, ())),
            apgar_total=facts.apgar.get(pup.id),
            adult_weight_kg=adult_kg,
            loss_watch_closed_at=closed.get(pup.id),
            growth_table=table_for(facts.tables, pup.sex, adult_kg, (at - pup.born_at) / timedelta(days=1)),
        )
        for pup, called in zip(pups, told_apart(pups), strict=True)
    ]
    found = assess_litter(records, at, limits)
    return LitterAssessment(
        litter=head,
        at=at,
        pups=tuple(PupAssessment(pup, one) for pup, one in zip(pups, found, strict=True)),
        where_to_look=pup_or_dam(found),
        slips=slip_finder(readings_of_round(records, at)),
        adult_weight_kg=adult_kg,
        adult_weight_from=adult_from,
        limits=limits,
    )


def expected_adult(head: LitterHead) -> tuple[float | None, str]:
    """(kg, what it stands on): the litter's expected adult weight, else the dam's own."""
    if head.expected_adult_kg is not None:
        return head.expected_adult_kg, EXPECTED
    if head.dam_kg is not None:
        return head.dam_kg, DAM
    return None, NOT_KNOWN


def told_apart(pups: Sequence[ResidentPup]) -> list[str]:
    """What each pup is called, with a number behind a name that stands twice."""
    seen: dict[str, int] = defaultdict(int)
    names = []
    for pup in pups:
        seen[pup.called] += 1
        names.append(pup.called if seen[pup.called] == 1 else f"{pup.called} ({seen[pup.called]})")
    return names
