"""LH, progesterone and ovulation as one piece of evidence: they are readings of the same blood series."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from litters.domain.due_window_result import EvidenceFlag
from litters.domain.evidence_pieces import BLOOD, Gathered, Part, Piece, normal, of_kind, shown
from litters.domain.gestation_evidence import Evidence, LhSurge, Ovulation, ProgesteroneTest
from litters.domain.gestation_figures import (
    KUTZLER_2003,
    MERCK_WHELPING,
    MIR_2011,
    VERIFIED,
    GestationFigures,
)
from litters.domain.progesterone import Crossing, SeriesReading, read_series

OVULATION_CAUTION = (
    "Printed tables say +/-1 day; the published spread is wider. Small dams tend to whelp nearer day 62, "
    "large ones nearer day 64, and small litters later."
)


def gather_blood(
    evidence: Sequence[Evidence],
    tests: Sequence[ProgesteroneTest],
    dam_mass_kg: float | None,
    figures: GestationFigures,
    gathered: Gathered,
) -> None:
    """Adds the one piece that LH, progesterone and ovulation make to what is gathered, with its flags."""
    ovulation_days = figures.ovulation_length_days(dam_mass_kg)
    parts = [_lh_part(item, figures) for item in of_kind(evidence, LhSurge)]
    series = _read(tests, gathered)
    if series is not None and series.rise is not None:
        parts.append(_rise_part(series, series.rise, figures))
    parts += [
        _ovulation_part(item.on, item.ref, ovulation_days, figures) for item in of_kind(evidence, Ovulation)
    ]
    if series is not None and series.ovulation is not None:
        parts.append(_series_ovulation_part(series, series.ovulation, ovulation_days, figures))
    _flag_undated_series(series, gathered)
    if parts:
        # Parts stand in the order of the published ranking: surge, rise, ovulation stated, ovulation read.
        gathered.pieces.append(Piece(BLOOD, tuple(parts)))


def _lh_part(item: LhSurge, figures: GestationFigures) -> Part:
    bell = normal(item.on.toordinal() + figures.lh_length_days, figures.lh_sd_days)
    return shown(
        bell,
        item.on,
        key="lh_surge",
        piece=BLOOD,
        rank=1,
        refs=(item.ref,),
        title=f"LH surge on {item.on.isoformat()}",
        method=(
            f"day {figures.lh_length_days} after the surge; 64-66 d in more than 95 % "
            f"(SD {figures.lh_sd_days:.2f} d)"
        ),
        source=f"{KUTZLER_2003}; share: Concannon 2003 as quoted",
        status=VERIFIED,
        caution="",
    )


def _rise_part(series: SeriesReading, rise: Crossing, figures: GestationFigures) -> Part:
    sd = (figures.rise_sd_days**2 + rise.gap_variance) ** 0.5
    bell = normal(rise.reached_on.toordinal() + figures.lh_length_days, sd)
    return shown(
        bell,
        rise.reached_on,
        key="progesterone_rise",
        piece=BLOOD,
        rank=2,
        refs=_refs(series),
        title=f"Progesterone above 2 ng/mL between {_between(rise)}",
        method=(
            f"day {figures.lh_length_days} after the first rise, 64-66 d; samples {rise.gap_days} d apart "
            f"(SD {sd:.2f} d)"
        ),
        source=MERCK_WHELPING,
        status=VERIFIED,
        caution=_gap_caution(rise),
    )


def _ovulation_part(on: date, ref: str, length_days: float, figures: GestationFigures) -> Part:
    bell = normal(on.toordinal() + length_days, figures.ovulation_sd_days)
    return shown(
        bell,
        on,
        key="ovulation",
        piece=BLOOD,
        rank=3,
        refs=(ref,),
        title=f"Ovulation on {on.isoformat()}",
        method=f"mean {length_days:g} d after ovulation, SD {figures.ovulation_sd_days:g} d",
        source=MIR_2011,
        status=VERIFIED,
        caution=OVULATION_CAUTION,
    )


def _series_ovulation_part(
    series: SeriesReading, crossing: Crossing, length_days: float, figures: GestationFigures
) -> Part:
    sd = (figures.ovulation_sd_days**2 + crossing.gap_variance) ** 0.5
    bell = normal(crossing.reached_on.toordinal() + length_days, sd)
    return shown(
        bell,
        crossing.reached_on,
        key="progesterone_ovulation",
        piece=BLOOD,
        rank=3,
        refs=_refs(series),
        title=f"Progesterone reached 6 ng/mL between {_between(crossing)}",
        method=f"mean {length_days:g} d after ovulation; samples {crossing.gap_days} d apart (SD {sd:.2f} d)",
        source=MIR_2011,
        status=VERIFIED,
        caution=f"{OVULATION_CAUTION} {_gap_caution(crossing)}".strip(),
    )


def _read(tests: Sequence[ProgesteroneTest], gathered: Gathered) -> SeriesReading | None:
    usable = []
    for test in tests:
        try:
            read_series([test])
        except ValueError as impossible:
            gathered.flags.append(
                EvidenceFlag(
                    "progesterone_impossible", f"Sample of {test.on.isoformat()}: {impossible}.", (test.ref,)
                )
            )
        else:
            usable.append(test)
    if not usable:
        return None
    series = read_series(usable)
    if series.set_aside:
        refs = tuple(test.ref for test in series.set_aside)
        gathered.flags.append(EvidenceFlag("progesterone_mixed", f"{series.notes[-1].capitalize()}.", refs))
    return series


def _flag_undated_series(series: SeriesReading | None, gathered: Gathered) -> None:
    if series is None:
        return
    notes = series.notes[:-1] if series.set_aside else series.notes
    gathered.flags += [
        EvidenceFlag("progesterone_series", f"Progesterone: {note}.", _refs(series)) for note in notes
    ]
    if series.rise is None and series.ovulation is None and not notes:
        text = "Progesterone: no sample has passed 2 ng/mL yet, so the series does not date anything."
        gathered.flags.append(EvidenceFlag("progesterone_series", text, _refs(series)))


def _refs(series: SeriesReading) -> tuple[str, ...]:
    return tuple(test.ref for test in series.used)


def _between(crossing: Crossing) -> str:
    return f"{crossing.last_below_on.isoformat()} and {crossing.first_above_on.isoformat()}"


def _gap_caution(crossing: Crossing) -> str:
    if crossing.gap_days <= 1:
        return ""
    return f"{crossing.gap_days} days lie between the two samples: the day inside is not known."
