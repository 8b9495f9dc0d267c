"""Import of a litter's weights: what a file says, what would become of each line, and the write.

Running it twice changes nothing: a weighing's uid is made of litter, pup, instant and weight, so the second run
finds every line here already.  The dry run applies the same rules as the write and stores nothing.
"""

import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Any
from uuid import UUID

from kennel.clock.wall_clock import as_utc, instant_of, local_day
from kennel.people.choices import MassUnit
from kennel.records import door, service
from kennel.records.door import Actor, Door, KennelHere
from kennel.records.refusals import Refusal
from litters import models
from litters.choices import WeightSource
from litters.domain.growth_series import Weighing as EarlierWeight
from litters.domain.slips import NewReading, slip_finder
from litters.domain.weight_moments import MORNING, Moment
from litters.domain.weight_pups import PupLabels
from litters.domain.weight_table import Reading, TableNotUnderstood, TableRead, read_table
from litters.inputs import WeighingInput
from litters.registrations import WEIGHING
from litters.services.weighings import grams, weighings_prepare
from litters.services.weight_files import Sheet, sheets_of, unreadable

SLICE = 200
MOST_READINGS = 5000
BEFORE_BIRTH = timedelta(hours=12)


@dataclass
class Line:
    """One line of the report.  outcome: add (dry run) or added, already_here, refused."""

    row: int
    column: int
    pup: UUID | None = None
    label: str = ""
    shown: str = ""
    uid: UUID | None = None
    input: WeighingInput | None = None
    outcome: str = "add"
    doubts: list[tuple[str, str]] = field(default_factory=list)
    refusal: tuple[str, str] | None = None

    def refuse(self, code: str, text: str) -> None:
        """Refuse the line; it is not stored."""
        self.outcome, self.refusal = "refused", (code, text)

    def doubt(self, code: str, text: str) -> None:
        """Something to look at; the line is stored all the same."""
        if code not in {known for known, _ in self.doubts}:
            self.doubts.append((code, text))


@dataclass
class Report:
    """What an import did, or would do."""

    form: str
    sheet: str
    is_dry_run: bool
    lines: list[Line]
    notes: list[tuple[str, str]]

    def counts(self) -> dict[str, int]:
        """Lines by outcome, and how many carry doubts."""
        counted = Counter(line.outcome for line in self.lines)
        kinds = ("add", "added", "already_here", "refused")
        return {kind: counted[kind] for kind in kinds} | {
            "doubtful": sum(bool(line.doubts) for line in self.lines)
        }


@dataclass(frozen=True)
class _Litter:
    """The litter and its pups as they are known before reading."""

    uid: UUID
    born_at: datetime
    zone: str
    pups: dict[str, models.Pup]
    labels: tuple[PupLabels, ...]


def weights_import(
    litter_uid: UUID,
    file_name: str,
    content: bytes,
    *,
    unit: str | None,
    is_dry_run: bool,
    kennel: KennelHere,
    actor: Actor,
    at: datetime,
) -> Report:
    """Report of importing a file into a litter; unless it is a dry run, the weights are stored.

    unit: g, kg, oz or lb where the file does not say.  Raises Refusal("not-found") for a litter that is not in this
    kennel, Refusal("validation") for a file that cannot be read.  Writes in slices of 200, each a transaction of
    its own, so that other people's entries go on between them; broken off, it can be run again.
    """
    with door.read(kennel, actor, at):
        litter = _litter(litter_uid, kennel)
    sheet, table = _table(sheets_of(file_name, content), litter, unit)
    if len(table.readings) + len(table.refused) > MOST_READINGS:
        raise unreadable("too_large", f"At most {MOST_READINGS} weights can be imported at once.")
    lines = [_line(reading, litter) for reading in table.readings]
    _doubt_within_file(lines, litter)
    lines += [
        Line(r.row, r.column, shown=r.shown, outcome="refused", refusal=(r.code, r.text))
        for r in table.refused
    ]
    lines.sort(key=lambda line: (line.row, line.column))
    for part in _slices([line for line in lines if line.refusal is None and line.outcome == "add"]):
        if is_dry_run:
            with door.read(kennel, actor, at) as opened:
                _foresee(part, litter, opened)
        else:
            with door.write(kennel, actor, at) as opened:
                _store(part, opened)
    return Report(table.form, sheet, is_dry_run, lines, _notes(table))


def _litter(uid: UUID, kennel: KennelHere) -> _Litter:
    litter = models.Litter.objects.filter(kennel_id=kennel.id, uid=uid, deleted_at=None).first()
    if litter is None:
        raise Refusal("not-found")
    pups = list(
        models.Pup.objects.filter(kennel_id=kennel.id, litter=litter, deleted_at=None).order_by(
            "born_at", "id"
        )[:60]
    )
    if not pups:
        raise unreadable(
            "no_pups", "Enter the pups of this litter first; the file's weights are matched to them."
        )
    ranked = all(pup.birth_order is None for pup in pups) and len({pup.born_at for pup in pups}) == len(pups)
    labels = tuple(
        PupLabels(str(pup.uid), pup.band, pup.name, rank if ranked else pup.birth_order)
        for rank, pup in enumerate(pups, 1)
    )
    born_at = litter.whelped_at or pups[0].born_at
    return _Litter(uid, born_at, kennel.zone, {str(pup.uid): pup for pup in pups}, labels)


def _table(sheets: Sequence[Sheet], litter: _Litter, unit: str | None) -> tuple[str, TableRead]:
    """The first sheet in which weights of this litter are found."""
    failure: TableNotUnderstood | None = None
    for sheet in sheets:
        try:
            table = read_table(sheet.rows, litter.labels, local_day(litter.born_at, litter.zone), unit)
        except TableNotUnderstood as error:
            failure = failure or error
            continue
        others = [other.name for other in sheets if other is not sheet]
        if others:
            text = f"Read from the sheet “{sheet.name}”; left out: {', '.join(others)}."
            table.notes.append(("other_sheets", text))
        return sheet.name, table
    raise unreadable("not_understood", str(failure))


def _line(reading: Reading, litter: _Litter) -> Line:
    pup = litter.pups[reading.pup]
    line = Line(
        reading.row, reading.column, pup.uid, str(pup), f"{reading.value.normalize():f} {reading.unit}"
    )
    line.doubts.extend(reading.doubts)
    unit = MassUnit(reading.unit)
    weight_g = grams(reading.value, unit)
    entered = reading.value.quantize(Decimal("0.001"), ROUND_HALF_UP)
    if not Decimal("0.1") <= weight_g <= 120_000 or not Decimal("0.001") <= entered <= 120_000:
        line.refuse("range", "A weight lies between 0.1 g and 120 kg.")
        return line
    occurred_at = _instant(reading.moment, pup, litter)
    if occurred_at < pup.born_at - BEFORE_BIRTH:
        line.refuse("before_birth", "This lies before the pup was born.")
        return line
    if occurred_at < pup.born_at:
        line.doubt("before_birth", "This lies before the hour of birth in the records.")
    line.input = WeighingInput(
        pup=pup.uid,
        occurred_at=occurred_at,
        weight_g=weight_g,
        entered_value=entered,
        entered_unit=unit,
        source=WeightSource.IMPORTED,
        is_birth_weight=reading.moment.is_birth,
    )
    line.uid = import_uid(litter.uid, pup.uid, occurred_at, weight_g)
    return line


def _instant(moment: Moment, pup: models.Pup, litter: _Litter) -> datetime:
    """The instant a label means for one pup; the hour a sheet leaves out is that of the morning round."""
    born_at: datetime = pup.born_at
    if moment.is_birth:
        return born_at
    if moment.age_hours is not None:
        return as_utc(born_at + timedelta(seconds=int(moment.age_hours * 3600)))
    assert moment.on is not None
    found = instant_of(moment.on, moment.at or MORNING, litter.zone)
    if moment.at is None and moment.on == local_day(born_at, litter.zone):
        return max(found, born_at)  # on its first day a pup is not weighed before it is there
    return found


def import_uid(litter: UUID, pup: UUID, occurred_at: datetime, weight_g: Decimal) -> UUID:
    """The uid an imported weighing always gets: a hash of what it is, in the form of a version 4 UUID (RFC 9562)."""
    text = f"weighing|{litter}|{pup}|{as_utc(occurred_at).isoformat()}|{weight_g.quantize(Decimal('0.01'))}"
    return UUID(bytes=hashlib.sha256(text.encode()).digest()[:16], version=4)


def _doubt_within_file(lines: Sequence[Line], litter: _Litter) -> None:
    """Lines that repeat or contradict each other, and weights that a slip of the pencil would explain."""
    rounds: dict[datetime, dict[UUID, Line]] = defaultdict(dict)
    seen: dict[UUID, Line] = {}
    for line in lines:
        if line.input is None or line.pup is None or line.uid is None:
            continue
        if (first := seen.setdefault(line.uid, line)) is not line:
            line.outcome = "already_here"
            line.doubt("repeated", f"The same weight stands in row {first.row} too; it is stored once.")
            continue
        other = rounds[line.input.occurred_at].setdefault(line.pup, line)
        if other is not line:
            line.doubt(
                "two_weights",
                f"Row {other.row} has another weight of this pup for the same time; both are kept.",
            )
    earlier: dict[UUID, list[EarlierWeight]] = defaultdict(list)
    for instant in sorted(rounds):
        _doubt_slips({str(pup): line for pup, line in rounds[instant].items()}, earlier, litter)


def _doubt_slips(lines: dict[str, Line], earlier: dict[UUID, list[EarlierWeight]], litter: _Litter) -> None:
    readings = [
        NewReading(
            key,
            litter.pups[key].born_at,
            line.input.occurred_at,
            float(line.input.weight_g),
            tuple(earlier[line.pup]),
        )
        for key, line in lines.items()
        if line.input
        and line.input.weight_g
        and line.pup
        and line.input.occurred_at >= litter.pups[key].born_at
    ]
    for question in slip_finder(readings):
        for key in question.pups:
            lines[key].doubt(question.kind, f"Look again: {question.words}?")
    for reading in readings:
        line = lines[reading.pup]
        if line.pup:
            earlier[line.pup].append(EarlierWeight(reading.weighed_at, reading.weight_g))


def _slices(lines: Sequence[Line]) -> Iterable[Sequence[Line]]:
    return (lines[start : start + SLICE] for start in range(0, len(lines), SLICE))


def _new_records(lines: Sequence[Line]) -> list[service.NewRecord]:
    return [
        service.NewRecord(place, line.uid, line.input)
        for place, line in enumerate(lines)
        if line.uid is not None and line.input is not None
    ]


def _foresee(lines: Sequence[Line], litter: _Litter, opened: Door) -> None:
    """What the write would say, by the same rules, without writing."""
    for outcome in service.replays(WEIGHING, _new_records(lines), opened):
        _take(lines[outcome.index], outcome)
    fresh = [(place, line) for place, line in enumerate(lines) if line.outcome == "add"]
    drafts = []
    for place, line in fresh:
        if line.input is None or line.uid is None:
            continue
        if line.input.occurred_at > opened.at + service.AHEAD:
            line.refuse("future", "This lies in the future by the server's clock.")
            continue
        columns: dict[str, Any] = {"pup_id": litter.pups[str(line.pup)].pk, "dog_id": None}
        drafts.append(
            service.Draft(place, line.uid, line.input, frozenset(line.input.model_fields_set), columns)
        )
    weighings_prepare(drafts, opened)
    for draft in drafts:
        for warning in draft.columns.get("warnings", ()):
            lines[draft.index].doubt(warning["code"], warning["text"])
        if draft.refusal is not None:
            _refuse_by(lines[draft.index], draft.refusal)


def _store(lines: Sequence[Line], opened: Door) -> None:
    for outcome in service.create(WEIGHING, _new_records(lines), opened):
        _take(lines[outcome.index], outcome)
    uids = [line.uid for line in lines if line.outcome == "added" and line.uid is not None]
    stored = models.Weighing.objects.filter(kennel_id=opened.kennel.id, uid__in=uids).values_list(
        "uid", "warnings"
    )
    by_uid = {line.uid: line for line in lines}
    for uid, warnings in stored[:SLICE]:
        for warning in warnings or ():
            by_uid[uid].doubt(warning["code"], warning["text"])


def _take(line: Line, outcome: service.Outcome) -> None:
    if outcome.outcome == "created":
        line.outcome = "added"
    elif outcome.outcome == "replayed":
        line.outcome = "already_here"
    elif outcome.refusal is not None:
        _refuse_by(line, outcome.refusal)


def _refuse_by(line: Line, refusal: Refusal) -> None:
    first = refusal.errors[0] if refusal.errors else None
    line.refuse(first.code if first else refusal.slug, first.detail if first else refusal.detail)


def _notes(table: TableRead) -> list[tuple[str, str]]:
    notes = list(table.notes)
    if any(r.moment.on is not None and r.moment.at is None for r in table.readings):
        notes.append(
            (
                "no_hour",
                "Where the file gives a day without an hour, 08:00 is taken, the usual morning round.",
            )
        )
    return notes
