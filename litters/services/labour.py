"""Labour of a litter from its log, its pups and the dam's temperatures, and the card to read to the vet."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from kennel.clock.wall_clock import local_day
from kennel.records.door import KennelHere
from litters import selectors_breeding as breeding
from litters.domain.gestation import NoUsableEvidence, Ovulation, due_window
from litters.domain.whelping import (
    DamFacts,
    DischargeColour,
    EntryKind,
    LabourEntry,
    LabourReport,
    Pregnancy,
    StrainingStrength,
    VetCard,
    labour_report,
    vet_card,
)
from litters.selectors_litters import LitterHead
from litters.services import due_windows
from litters.services.figures import Figures, agreed_figures, gestation_figures, labour_limits

# Common practice, no source: a birth told in the log and a pup entered within this time are one birth.
SAME_BIRTH = timedelta(minutes=45)
# Common practice, no source: two days after the last line of the log, and with pups born, whelping is over although
# nobody wrote it down; flags that nobody can act on any more would only teach people to overlook them.
OVER_AFTER = timedelta(hours=48)
TEMPERATURE_SPEAKS = timedelta(hours=24)
LOG_KINDS = frozenset(kind.value for kind in EntryKind)

# What an app says was given to a dog in the 24 h before: (dog id, kennel, instant) -> words, empty for nothing.
MedicinesToday = Callable[[int, KennelHere, datetime], str]
_medicines_today: list[MedicinesToday] = []


def add_medicines_today(told: MedicinesToday) -> None:
    """Say which medicines a dog had in the last 24 h; called from the `apps.py` of the app that knows."""
    _medicines_today.append(told)


@dataclass(frozen=True, slots=True)
class Labour:
    """The report of a litter's labour with the card for the vet, and the dam's newest temperature."""

    report: LabourReport
    card: VetCard
    temperature: tuple[datetime, float] | None
    expected_by: str


def labour_of(head: LitterHead, kennel: KennelHere, at: datetime) -> Labour:
    """Flags, counts and deadlines of labour, and the card.  Inside an open door; a fixed number of queries."""
    pregnancy = due_windows.pregnancy_of(head, kennel, at)
    log = breeding.log_of(head.id, kennel.id, at)
    births = breeding.births_of(head.id, kennel.id, at)
    figures = agreed_figures(kennel.id)
    expected, expected_by = _expected_pups(pregnancy)
    report = labour_report(
        _ended([*entries_of(log), *births_in(log, births)], at),
        at,
        pregnancy=Pregnancy(
            expected_pups=expected,
            expected_by=expected_by,
            first_mating_on=next(iter(pregnancy.matings_on), None),
            last_mating_on=next(iter(reversed(pregnancy.matings_on)), None),
            lh_surge_on=pregnancy.lh_surge_on,
            window_latest_on=_latest_on(pregnancy, figures),
        ),
        agreed=labour_limits(figures),
        today=local_day(at, kennel.zone),
    )
    temperatures = breeding.temperatures_of_dog(head.dam_id, kennel.id, at - TEMPERATURE_SPEAKS, at)
    newest = temperatures[-1] if temperatures else None
    card = vet_card(_dam_facts(head, pregnancy, newest, kennel, at), report)
    return Labour(report, card, newest, expected_by)


def _ended(entries: list[LabourEntry], at: datetime) -> list[LabourEntry]:
    """The entries, with the end that nobody wrote down when the newest of them is older than two days."""
    if not any(entry.kind == EntryKind.PUP_BORN for entry in entries):
        return entries
    over_at = max(entry.at for entry in entries) + OVER_AFTER
    return [*entries, LabourEntry(EntryKind.FINISHED, over_at)] if over_at <= at else entries


def entries_of(log: Sequence[breeding.LogRow]) -> list[LabourEntry]:
    """The lines of the log that labour is judged by, except births; remarks and scores are left out."""
    return [
        LabourEntry(
            EntryKind(row.kind),
            row.at,
            StrainingStrength(row.strength) if row.strength else None,
            DischargeColour(row.discharge) if row.discharge else None,
            row.is_alive,
        )
        for row in log
        if row.kind in LOG_KINDS and row.kind != EntryKind.PUP_BORN
    ]


def births_in(log: Sequence[breeding.LogRow], births: Sequence[breeding.BirthRow]) -> list[LabourEntry]:
    """Each birth once: pups on record, and births told in the log for which no pup was entered yet.

    A line that names its pup is that pup.  Of the others each belongs to the nearest pup, entered within 45 minutes
    of it, that no line names.
    """
    free = {row.id: row for row in births}
    told = [row for row in log if row.kind == EntryKind.PUP_BORN]
    unnamed = []
    for row in told:
        if row.pup_id is None:
            unnamed.append(row)
        else:
            free.pop(row.pup_id, None)
    known = {row.id for row in births}
    found = [LabourEntry(EntryKind.PUP_BORN, row.born_at, is_alive=row.is_alive) for row in births]
    # A line that names a pup which was removed since is still a birth somebody saw.
    found += [
        LabourEntry(EntryKind.PUP_BORN, row.at, is_alive=row.is_alive)
        for row in told
        if row.pup_id is not None and row.pup_id not in known
    ]
    for row in unnamed:
        near = [birth for birth in free.values() if abs(birth.born_at - row.at) <= SAME_BIRTH]
        if near:
            free.pop(min(near, key=lambda birth: (abs(birth.born_at - row.at), birth.id)).id)
        else:
            found.append(LabourEntry(EntryKind.PUP_BORN, row.at, is_alive=row.is_alive))
    return found


def _expected_pups(pregnancy: due_windows.Pregnancy) -> tuple[int | None, str]:
    """An X-ray's count goes before ultrasound's, a newer one before an older one, both before what was typed."""
    if pregnancy.counted:
        method, _, pups = max(pregnancy.counted, key=lambda one: (one[0] == "x_ray", one[1]))
        return pups, "X-ray" if method == "x_ray" else "ultrasound"
    typed = pregnancy.head.expected_pups
    return typed, "" if typed is None else "entered with the litter"


def _latest_on(pregnancy: due_windows.Pregnancy, figures: Figures) -> date | None:
    try:
        window = due_window(
            pregnancy.evidence,
            dam_mass_kg=pregnancy.head.dam_kg,
            breed=due_windows.formula_breed(pregnancy.head.dam_breed),
            figures=gestation_figures(figures),
        )
    except NoUsableEvidence:
        return None
    return window.latest_on


def _dam_facts(
    head: LitterHead,
    pregnancy: due_windows.Pregnancy,
    newest: tuple[datetime, float] | None,
    kennel: KennelHere,
    at: datetime,
) -> DamFacts:
    today = local_day(at, kennel.zone)
    born_on = head.dam_born_on
    had_birthday = born_on is not None and (today.month, today.day) >= (born_on.month, born_on.day)
    degrees = newest[1] if newest and due_windows.LOWEST_C <= newest[1] <= due_windows.HIGHEST_C else None
    return DamFacts(
        kennel_name=kennel.name,
        dam_name=head.dam_name,
        breed=head.dam_breed,
        mass_kg=head.dam_kg,
        age_years=None if born_on is None else max(0, today.year - born_on.year - (not had_birthday)),
        litters_before=breeding.litters_before(head.dam_id, head.id, kennel.id),
        days_since=_days_since(pregnancy, today),
        temperature_c=degrees,
        medicines=", ".join(words for told in _medicines_today if (words := told(head.dam_id, kennel, at))),
    )


def _days_since(pregnancy: due_windows.Pregnancy, today: date) -> str:
    ovulated_on = next((item.on for item in pregnancy.evidence if isinstance(item, Ovulation)), None)
    if pregnancy.lh_surge_on:
        return f"{(today - pregnancy.lh_surge_on).days} days from LH surge"
    if ovulated_on:
        return f"{(today - ovulated_on).days} days from ovulation"
    if pregnancy.matings_on:
        return f"{(today - pregnancy.matings_on[0]).days} days from first mating"
    return ""
