"""One due window from all evidence: a probability for every day, and what it rests on.

The model
---------
Let T be day 65 after the LH surge, and W the day of whelping.  W = T + B, where B is the spread of gestation
itself (SD 0.71 d, see `gestation_figures`).  Evidence speaks about T:

* blood and ovulation (LH, first progesterone rise, ovulation read from it) are ONE piece: the reading with
  the smallest published spread speaks, the others are shown; readings whose windows do not meet are averaged,
  since one of them must be wrong;
* cytology (D1), ultrasound and matings are further pieces, with independent errors;
* structures measured at one visit speak together, no surer than the best of them; several visits share a part
  of their error (pups large or small for their age), which is added after they are combined.

The pieces' curves are multiplied on a flat prior and B is added once, so evidence narrows the window, but
never below the spread every pregnancy has.  Alone, each piece gives back exactly its published spread.  Where
two pieces' 90 % windows do not meet, each piece may be plain wrong (5 %): both answers stay, and a third
piece decides. Signs of the last day (temperature, falling progesterone) and the fact that she has not whelped
yet come last. Nothing here reads a clock: the same evidence always gives the same window, also for any
earlier day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby

from litters.domain.calendar_days import checked_day
from litters.domain.day_distribution import (
    Bell,
    day_masses,
    grid_between,
    likeliest_day,
    normalised,
    product,
    quantile_day,
    scaled,
    sd_of_days,
    widened,
)
from litters.domain.due_window_pieces import first_event_on, gather
from litters.domain.due_window_result import (
    Contribution,
    DayProbability,
    DueWindow,
    EvidenceFlag,
    NoUsableEvidence,
)
from litters.domain.end_signs import days_open_to_signs, narrowed_by_signs, signs_of
from litters.domain.evidence_pieces import (
    BLOOD,
    CYTOLOGY,
    ULTRASOUND,
    Gathered,
    Part,
    Piece,
    day_of,
    of_kind,
)
from litters.domain.fetal_formulas import checked_dam_mass_kg
from litters.domain.gestation_evidence import (
    Evidence,
    FormulaBreed,
    ProgesteroneTest,
    TemperatureFallSeen,
    known_from,
)
from litters.domain.gestation_figures import PUBLISHED_FIGURES, WINDOW_SHARE, GestationFigures
from litters.domain.progesterone import SERIES_SPAN_DAYS

SAME_PREGNANCY_DAYS = 45
"""Pieces whose due days lie further apart than this cannot speak about one pregnancy."""
SHOWN_FROM = 0.0001

METHOD = (
    "published spreads combined into a probability for every day; one blood series counts once; "
    "90 % window, 5 % before and 5 % after"
)
CAUTION = (
    "An estimate for planning. A vet's instruction goes before it; ring the vet when the window passes, "
    "and earlier at any sign of trouble."
)


def due_window(
    evidence: Sequence[Evidence],
    *,
    dam_mass_kg: float | None = None,
    breed: FormulaBreed | None = None,
    known_until: date | None = None,
    still_pregnant_on: date | None = None,
    figures: GestationFigures = PUBLISHED_FIGURES,
) -> DueWindow:
    """The due window from everything known about one pregnancy.

    evidence: statements in any order.  dam_mass_kg: weight before pregnancy, above 0 and up to 120 kg;
    without it most scan formulas cannot be chosen.  breed: only for the scan formulas of two breeds.
    known_until: leave out what became known later, which recomputes any earlier prediction.
    still_pregnant_on: a day on which she had not whelped yet.
    Raises NoUsableEvidence (a ValueError) when nothing dates the pregnancy, ValueError for impossible dates
    or weights.  Impossible or unfitting evidence is flagged and left out, never an error.
    """
    known = _known(evidence, known_until)
    if dam_mass_kg is not None:
        checked_dam_mass_kg(dam_mass_kg)
    early, late = _tests_by_time(known)
    gathered = gather(known, early, dam_mass_kg=dam_mass_kg, breed=breed, figures=figures)
    pieces = _of_one_pregnancy(gathered)
    signs, high, sign_flags = signs_of(of_kind(known, TemperatureFallSeen), late)
    if not pieces and not signs:
        raise NoUsableEvidence(tuple(gathered.unused), (*gathered.flags, *sign_flags))
    conflicts = _conflicts(pieces)
    gathered.flags += conflicts
    masses = _masses(pieces, bool(conflicts), figures) if pieces else days_open_to_signs(signs)
    masses, sign_contributions, more_flags = narrowed_by_signs(masses, signs, high)
    gathered.flags += [*sign_flags, *more_flags]
    masses = _not_before(masses, still_pregnant_on, gathered)
    outside = {ref for flag in more_flags for ref in flag.refs}
    contributions = _shared_out(pieces, sign_contributions, outside)
    return _result(masses, (*contributions, *gathered.unused), gathered.flags, bool(conflicts), known_until)


def prediction_history(
    evidence: Sequence[Evidence],
    *,
    dam_mass_kg: float | None = None,
    breed: FormulaBreed | None = None,
    figures: GestationFigures = PUBLISHED_FIGURES,
) -> tuple[DueWindow, ...]:
    """Every prediction that stood at some time, oldest first: one for each day that brought news.

    Days on which nothing yet dated the pregnancy are left out.  Raises ValueError as `due_window` does.
    """
    windows = []
    for day in sorted({known_from(item) for item in evidence}):
        try:
            window = due_window(
                evidence, dam_mass_kg=dam_mass_kg, breed=breed, known_until=day, figures=figures
            )
        except NoUsableEvidence:
            continue
        windows.append(window)
    return tuple(windows)


def _known(evidence: Sequence[Evidence], known_until: date | None) -> list[Evidence]:
    for item in evidence:
        checked_day(item.on, "the day of the evidence")
        if item.known_on is not None:
            checked_day(item.known_on, "the day the evidence became known")
    if known_until is None:
        return list(evidence)
    checked_day(known_until, "known_until")
    return [item for item in evidence if known_from(item) <= known_until]


def _tests_by_time(known: Sequence[Evidence]) -> tuple[list[ProgesteroneTest], list[ProgesteroneTest]]:
    tests = of_kind(known, ProgesteroneTest)
    first = first_event_on(known, tests)
    if first is None:
        return tests, []
    early = [test for test in tests if (test.on - first).days <= SERIES_SPAN_DAYS]
    return early, [test for test in tests if test not in early]


def _of_one_pregnancy(gathered: Gathered) -> list[Piece]:
    """The pieces that can speak about the same pregnancy as the best-ranked one; the others are set aside."""
    if not gathered.pieces:
        return []
    reference = min((part for piece in gathered.pieces for part in piece.parts), key=_rank).bell.peak
    kept: list[Piece] = []
    for piece in gathered.pieces:
        near = tuple(part for part in piece.parts if abs(part.bell.peak - reference) <= SAME_PREGNANCY_DAYS)
        for part in piece.parts:
            if part not in near:
                _set_aside(part, gathered)
        if near:
            kept.append(Piece(piece.name, near))
    return kept


def _rank(part: Part) -> tuple[int, float, float]:
    return part.contribution.rank, part.bell.sd(), part.bell.peak


def _set_aside(part: Part, gathered: Gathered) -> None:
    title = part.contribution.title
    text = (
        f"{title}: its due day lies more than {SAME_PREGNANCY_DAYS} days from the best evidence. "
        "Check the year and the dam."
    )
    gathered.flags.append(EvidenceFlag("other_pregnancy", text, part.contribution.refs))
    gathered.unused.append(
        replace(part.contribution, is_used=False, reason_unused="belongs to another pregnancy")
    )


def _best(piece: Piece) -> Part:
    return min(piece.parts, key=lambda part: (part.bell.sd(), part.contribution.rank, part.bell.peak))


def _conflicts(pieces: Sequence[Piece]) -> list[EvidenceFlag]:
    parts = [part for piece in pieces for part in piece.parts]
    flags = []
    for index, left in enumerate(parts):
        for right in parts[index + 1 :]:
            if not left.meets(right):
                one, other = left.contribution, right.contribution
                text = (
                    f"{one.title} and {other.title} contradict each other ({one.due_on} and {other.due_on}): "
                    "check both dates; until then the window covers both."
                )
                flags.append(EvidenceFlag("conflicting_evidence", text, (*one.refs, *other.refs)))
    return flags


def _masses(pieces: Sequence[Piece], is_conflicting: bool, figures: GestationFigures) -> dict[int, float]:
    bells = [part.bell for piece in pieces for part in piece.parts]
    first = min(bell.peak - 7 * bell.sd_below for bell in bells)
    last = max(bell.peak + 7 * bell.sd_above for bell in bells)
    grid = grid_between(first, last)
    slip_share = figures.slip_share if is_conflicting else 0.0
    rows = [_piece_values(piece, grid, slip_share, figures) for piece in pieces]
    return day_masses(grid, product(rows, slip_share), figures.shared_sd_days)


def _piece_values(
    piece: Piece, grid: Sequence[float], slip_share: float, figures: GestationFigures
) -> list[float]:
    if piece.name == ULTRASOUND:
        return _scan_values(piece, grid, slip_share, figures)
    best = _best(piece)
    at_odds = [part for part in piece.parts if not best.meets(part)]
    return _average([_values(_evidence_bell(part, figures), grid) for part in [best, *at_odds]])


def _evidence_bell(part: Part, figures: GestationFigures) -> Bell:
    if part.contribution.key == "lh_surge":
        return Bell(part.bell.peak, figures.lh_reading_sd_days, figures.lh_reading_sd_days)
    return part.bell.narrowed(figures.shared_sd_days)


def _scan_values(
    piece: Piece, grid: Sequence[float], slip_share: float, figures: GestationFigures
) -> list[float]:
    common_sd = (figures.shared_sd_days**2 + figures.shared_scan_sd_days**2) ** 0.5
    visits = [_visit_values(visit, grid, common_sd) for visit in _visits(piece)]
    return widened(product(visits, slip_share), figures.shared_scan_sd_days)


def _visits(piece: Piece) -> list[list[Part]]:
    by_day = sorted(piece.parts, key=lambda part: part.observed_on)
    return [list(parts) for _, parts in groupby(by_day, key=lambda part: part.observed_on)]


def _visit_values(visit: Sequence[Part], grid: Sequence[float], common_sd: float) -> list[float]:
    best = min(visit, key=lambda part: part.bell.sd())
    if any(not best.meets(part) for part in visit):
        return _average([_values(part.bell.narrowed(common_sd), grid) for part in visit])
    weights = scaled([part.bell.sd() ** -2 for part in visit])
    mean = sum(weight * part.bell.peak for weight, part in zip(weights, visit, strict=True))
    narrowed = best.bell.narrowed(common_sd)
    return _values(replace(narrowed, peak=mean), grid)


def _values(bell: Bell, grid: Sequence[float]) -> list[float]:
    return scaled([bell.density(at) for at in grid])


def _average(rows: Sequence[Sequence[float]]) -> list[float]:
    return [sum(column) / len(rows) for column in zip(*rows, strict=True)]


def _not_before(
    masses: dict[int, float], still_pregnant_on: date | None, gathered: Gathered
) -> dict[int, float]:
    if still_pregnant_on is None:
        return masses
    today = checked_day(still_pregnant_on, "still_pregnant_on").toordinal()
    left = {day: mass for day, mass in masses.items() if day >= today}
    if sum(left.values()) < SHOWN_FROM:
        text = "She is past every day the evidence allows: ring the vet today."
        gathered.flags.append(EvidenceFlag("past_the_window", text))
        return masses
    return normalised(left)


def _shared_out(
    pieces: Sequence[Piece], signs: Sequence[Contribution], outside_refs: set[str]
) -> list[Contribution]:
    """All used contributions with their share of the information, largest first."""
    weighted: list[tuple[Contribution, float]] = []
    for piece in pieces:
        counted = list(piece.parts) if piece.name == ULTRASOUND else [_best(piece)]
        weighted += [(part.contribution, part.bell.sd() ** -2) for part in counted]
        weighted += [(_counted_once(part, counted[0]), 0.0) for part in piece.parts if part not in counted]
    for sign in signs:
        # A sample that is still high only rules days out; it names no day, so it has no share.
        counts = sign.is_used and sign.due_on is not None and not (outside_refs & set(sign.refs))
        weighted.append((sign, (sign.sd_days or 1.0) ** -2 if counts else 0.0))
    total = sum(weight for _, weight in weighted)
    ordered = sorted(weighted, key=lambda pair: (-pair[1], pair[0].rank, pair[0].title))
    return [replace(contribution, share=round(weight / total, 4)) for contribution, weight in ordered]


def _counted_once(part: Part, driver: Part) -> Contribution:
    source = {BLOOD: "same blood series", CYTOLOGY: "same smears"}.get(
        driver.contribution.piece, "same source"
    )
    return replace(
        part.contribution,
        is_used=False,
        reason_unused=f"{source} as “{driver.contribution.title}”: counted once"
        if part.meets(driver)
        else f"{source} as “{driver.contribution.title}” but at odds with it: the window covers both",
    )


def _result(
    masses: dict[int, float],
    contributions: tuple[Contribution, ...],
    flags: list[EvidenceFlag],
    is_conflicting: bool,
    known_until: date | None,
) -> DueWindow:
    tail = (1 - WINDOW_SHARE) / 2
    earliest, latest = quantile_day(masses, tail), quantile_day(masses, 1 - tail)
    driver = contributions[0]
    used = [item for item in contributions if item.is_used]
    return DueWindow(
        earliest_on=day_of(earliest),
        likeliest_on=day_of(likeliest_day(masses)),
        latest_on=day_of(latest),
        share_in_window=round(sum(mass for day, mass in masses.items() if earliest <= day <= latest), 4),
        sd_days=round(sd_of_days(masses), 2),
        driver=driver.key,
        driver_title=driver.title,
        contributions=contributions,
        flags=tuple(flags),
        is_conflicting=is_conflicting,
        probability_by_day=tuple(
            DayProbability(day_of(day), round(mass, 6)) for day, mass in masses.items() if mass >= SHOWN_FROM
        ),
        known_until=known_until,
        method=METHOD,
        source="; ".join(dict.fromkeys(item.source for item in used if item.source)),
        caution=" ".join([CAUTION, *dict.fromkeys(item.caution for item in used if item.caution)]),
    )
