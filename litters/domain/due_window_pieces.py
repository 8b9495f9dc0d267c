"""Turns what is known about a pregnancy into pieces of evidence for the due window.

A piece is one independent source: blood and ovulation together (LH, first progesterone rise and ovulation
come from one series and count once), cytology, ultrasound, matings.  Whatever cannot be used is kept as a
contribution with the reason, so that nothing a person wrote down disappears.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from litters.domain.blood_evidence import gather_blood
from litters.domain.calendar_days import days_after
from litters.domain.day_distribution import bell_from_range
from litters.domain.due_window_result import Contribution, EvidenceFlag
from litters.domain.evidence_pieces import (
    CYTOLOGY,
    MATINGS,
    ULTRASOUND,
    Gathered,
    Part,
    Piece,
    normal,
    of_kind,
    shown,
)
from litters.domain.gestation_evidence import (
    DiestrusDayOne,
    Evidence,
    FormulaBreed,
    LhSurge,
    Mating,
    MatingKind,
    Ovulation,
    ProgesteroneTest,
    Scan,
    ScanStructure,
)
from litters.domain.gestation_figures import (
    COMMON_PRACTICE,
    MERCK_WHELPING,
    QUOTED,
    VERIFIED,
    WINDOW_SHARE,
    GestationFigures,
)
from litters.domain.ultrasound import ScanUnusable, read_scan

D1_CAUTION = "Others quote 57 +/- 3 days: the window is as good as the smears were frequent."
MATING_CAUTION = (
    "A mating day dates poorly: sperm live up to about 8 days. A progesterone series or a scan in weeks "
    "4 to 5 narrows this."
)
INSEMINATION_CAUTION = "The 58-72 days stand for natural matings; ask the vet who inseminated for the timing."
SCAN_RANK = {
    ScanStructure.INNER_CHORIONIC_CAVITY: 5,
    ScanStructure.GESTATIONAL_SAC: 5,
    ScanStructure.BIPARIETAL: 6,
    ScanStructure.HEAD: 6,
}
"""Place in the published order: the early structures before the late ones."""


def gather(
    evidence: Sequence[Evidence],
    early_tests: Sequence[ProgesteroneTest],
    *,
    dam_mass_kg: float | None,
    breed: FormulaBreed | None,
    figures: GestationFigures,
) -> Gathered:
    """All pieces of evidence about one pregnancy.

    early_tests: the progesterone samples of the season itself, without those of late pregnancy.
    """
    gathered = Gathered()
    gather_blood(evidence, early_tests, dam_mass_kg, figures, gathered)
    _gather_cytology(evidence, figures, gathered)
    _gather_scans(evidence, dam_mass_kg, breed, gathered)
    _gather_matings(evidence, figures, gathered)
    return gathered


def _gather_cytology(evidence: Sequence[Evidence], figures: GestationFigures, gathered: Gathered) -> None:
    items = of_kind(evidence, DiestrusDayOne)
    parts = []
    for item in items:
        bell = normal(item.on.toordinal() + figures.diestrus_length_days, figures.diestrus_sd_days)
        parts.append(
            shown(
                bell,
                item.on,
                key="diestrus_d1",
                piece=CYTOLOGY,
                rank=4,
                refs=(item.ref,),
                title=f"First day of diestrus on {item.on.isoformat()}",
                method=(
                    f"day {figures.diestrus_length_days} after D1, 56-58 d "
                    f"(SD {figures.diestrus_sd_days:.2f} d)"
                ),
                source=MERCK_WHELPING,
                status=VERIFIED,
                caution=D1_CAUTION,
            )
        )
    if parts:
        gathered.pieces.append(Piece(CYTOLOGY, tuple(parts)))


def _gather_scans(
    evidence: Sequence[Evidence], dam_mass_kg: float | None, breed: FormulaBreed | None, gathered: Gathered
) -> None:
    parts = []
    for scan in of_kind(evidence, Scan):
        try:
            parts.append(_scan_part(scan, dam_mass_kg, breed))
        except ScanUnusable as unusable:
            gathered.flags.append(EvidenceFlag(unusable.key, str(unusable), (scan.ref,)))
            gathered.unused.append(_unused_scan(scan, str(unusable)))
    if parts:
        gathered.pieces.append(Piece(ULTRASOUND, tuple(parts)))


def _scan_part(scan: Scan, dam_mass_kg: float | None, breed: FormulaBreed | None) -> Part:
    reading = read_scan(scan, dam_mass_kg=dam_mass_kg, breed=breed)
    formula = reading.formula
    bell = normal(scan.on.toordinal() + reading.days_left, reading.sd_days)
    return shown(
        bell,
        scan.on,
        key=f"scan_{scan.structure.value}",
        piece=ULTRASOUND,
        rank=SCAN_RANK[scan.structure],
        refs=(scan.ref,),
        title=f"Ultrasound {scan.structure.value.upper()} on {scan.on.isoformat()}",
        method=f"{formula.key}: {reading.mean_reading:.4g} {formula.unit.value} gives "
        f"{reading.days_left:.1f} days left; "
        f"week {reading.week}, SD {reading.sd_days:.2f} d ({reading.accuracy_source})",
        source=formula.source,
        status=formula.status,
        caution=" ".join(reading.cautions),
    )


def _unused_scan(scan: Scan, reason: str) -> Contribution:
    return Contribution(
        key=f"scan_{scan.structure.value}",
        piece=ULTRASOUND,
        rank=SCAN_RANK[scan.structure],
        refs=(scan.ref,),
        title=f"Ultrasound {scan.structure.value.upper()} on {scan.on.isoformat()}",
        is_used=False,
        reason_unused=reason,
        method="not computed",
        source="",
        status="",
        caution="",
    )


def _gather_matings(evidence: Sequence[Evidence], figures: GestationFigures, gathered: Gathered) -> None:
    matings = of_kind(evidence, Mating)
    if not matings:
        return
    first = matings[0]
    shape = bell_from_range(
        figures.mating_first_days, figures.mating_likeliest_days, figures.mating_last_days, WINDOW_SHARE
    )
    bell = replace(shape, peak=first.on.toordinal() + figures.mating_likeliest_days)
    caution = MATING_CAUTION
    if any(mating.kind != MatingKind.NATURAL for mating in matings):
        caution = f"{caution} {INSEMINATION_CAUTION}"
    part = shown(
        bell,
        first.on,
        key="first_mating",
        piece=MATINGS,
        rank=7,
        refs=tuple(mating.ref for mating in matings),
        title=f"First mating on {first.on.isoformat()}",
        method=f"{figures.mating_first_days}-{figures.mating_last_days} d after the first mating, "
        f"likeliest day {figures.mating_likeliest_days}",
        source=f"{MERCK_WHELPING}; day {figures.mating_likeliest_days}: printed tables ({COMMON_PRACTICE})",
        status=QUOTED,
        caution=caution,
    )
    gathered.pieces.append(Piece(MATINGS, (part,)))


def first_event_on(evidence: Sequence[Evidence], tests: Sequence[ProgesteroneTest]) -> date | None:
    """The earliest day that belongs to the season itself, from which late pregnancy is told apart."""
    days = [item.on for item in evidence if isinstance(item, LhSurge | Ovulation | Mating | DiestrusDayOne)]
    if not days and len(tests) > 1:
        days = [min(test.on for test in tests)]
    if not days:
        scans = of_kind(evidence, Scan)
        # A scan is never earlier than about day 17; without any other date it marks mid-pregnancy.
        days = [days_after(scans[0].on, -17)] if scans else []
    return min(days) if days else None
