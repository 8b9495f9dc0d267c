"""The due window of a litter from everything on record about its pregnancy, and what hangs on it."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from kennel.clock.wall_clock import instant_of, local_day
from kennel.records.door import KennelHere
from litters import selectors_breeding as breeding
from litters.domain.gestation import (
    DiestrusDayOne,
    DueWindow,
    Evidence,
    FormulaBreed,
    LengthUnit,
    LhSurge,
    Mating,
    MatingKind,
    Milestone,
    NoUsableEvidence,
    Ovulation,
    ProgesteroneTest,
    ProgesteroneUnit,
    Scan,
    ScanStructure,
    TemperatureFallSeen,
    due_window,
    milestones,
    prediction_history,
)
from litters.domain.whelping import FallReport, TemperatureReading, temperature_falls
from litters.selectors_litters import LitterHead
from litters.services.figures import agreed_figures, gestation_figures

# One pregnancy from the first bleeding to the latest whelping: about 3 weeks of season, then 72 days from a
# mating, with room for a date written down late.
BEFORE_MATING, AFTER_MATING = timedelta(days=45), timedelta(days=85)
AFTER_SEASON_BEGAN = timedelta(days=115)
LOOK_BACK = timedelta(days=115)
LOWEST_C, HIGHEST_C = 30.0, 43.0


@dataclass(frozen=True, slots=True)
class Pregnancy:
    """What is on record about one pregnancy.  counted: (how, instant, pups) of the scans that counted pups."""

    head: LitterHead
    season: breeding.SeasonRow | None
    evidence: tuple[Evidence, ...]
    counted: tuple[tuple[str, datetime, int], ...]
    falls: FallReport

    @property
    def matings_on(self) -> list[date]:
        """Days of the matings, oldest first."""
        return sorted(item.on for item in self.evidence if isinstance(item, Mating))

    @property
    def lh_surge_on(self) -> date | None:
        """Day of the LH surge where a vet read it."""
        return None if self.season is None else self.season.lh_surge_on


@dataclass(frozen=True, slots=True)
class Prediction:
    """A due window with the predictions that stood before it and its milestones; window is None without evidence."""

    pregnancy: Pregnancy
    window: DueWindow | None
    nothing: NoUsableEvidence | None
    history: tuple[DueWindow, ...]
    milestones: tuple[Milestone, ...]


def pregnancy_of(head: LitterHead, kennel: KennelHere, at: datetime) -> Pregnancy:
    """What is on record about the pregnancy of a litter.  At most seven queries; inside an open door.

    Facts that name another season are left out, and everything before the dam's whelping before this one.
    """
    season = breeding.season_by_id(head.season_id, kennel.id) if head.season_id is not None else None
    until = min(at, head.whelped_at) if head.whelped_at else at
    from_at, to_at = _span(head, season, kennel, until)
    previous = breeding.previous_whelping(head.dam_id, head.id, kennel.id, until)
    if previous is not None:
        from_at = max(from_at, previous + timedelta(days=1))
    if season is None:
        found = breeding.seasons_of(
            head.dam_id, kennel.id, local_day(from_at, kennel.zone), local_day(to_at, kennel.zone)
        )
        season = found[0] if found else None
    scans = [
        s for s in breeding.scans_of(head.dam_id, kennel.id, from_at, to_at) if _fits(s.season_id, season)
    ]
    falls = _falls(head, kennel, from_at, to_at)
    evidence = [
        *_of_season(season),
        *_of_tests(head, season, kennel, from_at, to_at),
        *_of_matings(head, season, kennel, from_at, to_at),
        *_of_scans(scans, kennel),
        *(
            TemperatureFallSeen(local_day(fall.at, kennel.zone), "temperature")
            for fall in falls.falls
            if fall.is_clear
        ),
    ]
    counted = tuple((s.method, s.at, s.pups_counted) for s in scans if s.pups_counted is not None)
    return Pregnancy(head, season, tuple(evidence), counted, falls)


def predict(head: LitterHead, kennel: KennelHere, at: datetime) -> Prediction:
    """The due window of a litter as of an instant, with every earlier prediction and the milestones."""
    found = pregnancy_of(head, kennel, at)
    figures = gestation_figures(agreed_figures(kennel.id))
    breed = formula_breed(head.dam_breed)
    today = local_day(at, kennel.zone)
    try:
        window = due_window(
            found.evidence,
            dam_mass_kg=head.dam_kg,
            breed=breed,
            known_until=today,
            still_pregnant_on=today if head.whelped_at is None else None,
            figures=figures,
        )
    except NoUsableEvidence as nothing:
        return Prediction(found, None, nothing, (), ())
    history = prediction_history(found.evidence, dam_mass_kg=head.dam_kg, breed=breed, figures=figures)
    mated_on = found.matings_on
    return Prediction(
        found,
        window,
        None,
        history,
        milestones(
            window,
            first_mating_on=mated_on[0] if mated_on else None,
            last_mating_on=mated_on[-1] if mated_on else None,
            lh_surge_on=found.lh_surge_on,
        ),
    )


def formula_breed(breed: str) -> FormulaBreed | None:
    """The breed with a scan formula of its own that a dam's breed names."""
    words = breed.casefold()
    for known in FormulaBreed:
        if known.value.replace("_", " ") in words:
            return known
    return None


def _span(
    head: LitterHead, season: breeding.SeasonRow | None, kennel: KennelHere, until: datetime
) -> tuple[datetime, datetime]:
    if season is not None:
        began_at = _start_of(season.began_on, kennel)
        return began_at - timedelta(days=7), min(until, began_at + AFTER_SEASON_BEGAN)
    if head.mated_on is not None:
        mated_at = _start_of(head.mated_on, kennel)
        return mated_at - BEFORE_MATING, min(until, mated_at + AFTER_MATING)
    return until - LOOK_BACK, until


def _start_of(day: date, kennel: KennelHere) -> datetime:
    return instant_of(day, time(0, 0), kennel.zone)


def _fits(season_id: int | None, season: breeding.SeasonRow | None) -> bool:
    return season_id is None or season is None or season_id == season.id


def _of_season(season: breeding.SeasonRow | None) -> list[Evidence]:
    if season is None:
        return []
    ref = f"season:{season.uid}"
    found: list[Evidence] = []
    if season.lh_surge_on:
        found.append(LhSurge(season.lh_surge_on, ref))
    if season.ovulated_on:
        found.append(Ovulation(season.ovulated_on, ref))
    if season.diestrus_on:
        found.append(DiestrusDayOne(season.diestrus_on, ref))
    return found


def _of_tests(
    head: LitterHead,
    season: breeding.SeasonRow | None,
    kennel: KennelHere,
    from_at: datetime,
    to_at: datetime,
) -> list[Evidence]:
    return [
        ProgesteroneTest(
            local_day(row.at, kennel.zone),
            row.value,
            ProgesteroneUnit(row.unit),
            row.analyser,
            f"progesterone-test:{row.uid}",
            row.known_on,
        )
        for row in breeding.tests_of(head.dam_id, kennel.id, from_at, to_at)
        if _fits(row.season_id, season)
    ]


def _of_matings(
    head: LitterHead,
    season: breeding.SeasonRow | None,
    kennel: KennelHere,
    from_at: datetime,
    to_at: datetime,
) -> list[Evidence]:
    found: list[Evidence] = [
        Mating(local_day(row.at, kennel.zone), MatingKind(row.kind), f"mating:{row.uid}")
        for row in breeding.matings_of(head.dam_id, kennel.id, from_at, to_at)
        if _fits(row.season_id, season)
    ]
    # The day written on the litter counts when no mating of that day is on record by itself.
    if head.mated_on is not None and all(item.on != head.mated_on for item in found):
        found.append(Mating(head.mated_on, ref=f"litter:{head.uid}"))
    return found


def _of_scans(scans: list[breeding.ScanRow], kennel: KennelHere) -> list[Evidence]:
    return [
        Scan(
            local_day(row.at, kennel.zone),
            ScanStructure(row.structure),
            row.readings,
            LengthUnit(row.unit),
            f"scan:{row.uid}",
        )
        for row in scans
        if row.structure
    ]


def _falls(head: LitterHead, kennel: KennelHere, from_at: datetime, to_at: datetime) -> FallReport:
    readings = breeding.temperatures_of_dog(head.dam_id, kennel.id, from_at, to_at)
    return temperature_falls(
        [TemperatureReading(at, degrees) for at, degrees in readings if LOWEST_C <= degrees <= HIGHEST_C]
    )
