"""When a sign in labour means "ring for advice" and when "go now", and how a vet replaces either figure.

Published figures disagree.  The shorter one rings for advice, the longer one sends the dam off; a sign with
one published figure rings at it, and goes when a second sign joins.  All are secondary quotations unless
said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from math import isfinite

from litters.domain.gestation_figures import QUOTED, VERIFIED

FRESHMAN = "Freshman 2002 as quoted by a clinic page"
JUTKOWITZ = "Jutkowitz 2005, Vet Clin North Am 35:397-420, Box 2"
PUBLISHED = "published figure"


class FlagKey(StrEnum):
    """The signs that are watched in labour."""

    STRONG_STRAINING = "strong_straining"
    WEAK_STRAINING = "weak_straining"
    GREEN_DISCHARGE = "green_discharge"
    GAP_SINCE_PUP = "gap_since_pup"
    STAGE_ONE_LONG = "stage_one_long"
    NO_LABOUR_AFTER_FALL = "no_labour_after_fall"
    ACTIVE_LABOUR_LONG = "active_labour_long"
    OVERDUE_FIRST_MATING = "overdue_first_mating"
    OVERDUE_LAST_MATING = "overdue_last_mating"
    OVERDUE_LH = "overdue_lh"
    OVERDUE_WINDOW = "overdue_window"
    PUP_STUCK = "pup_stuck"
    FETAL_HEART_SLOW = "fetal_heart_slow"
    COLLAPSE = "collapse"
    FRESH_BLEEDING = "fresh_bleeding"
    FOUL_SMELL = "foul_smell"


class Level(StrEnum):
    """What a flag asks for."""

    ADVICE = "ring_for_advice"
    GO_NOW = "go_now"


@dataclass(frozen=True, slots=True)
class Limit:
    """When one sign becomes a flag; None: never by itself.

    unit: "min" or "d".  set_by: "published figure" or the vet who agreed another one.
    """

    key: FlagKey
    unit: str
    advice_after: float | None
    go_now_after: float | None
    source: str
    status: str
    set_by: str = PUBLISHED


@dataclass(frozen=True, slots=True)
class VetAgreedLimit:
    """A limit that a vet agreed with this kennel, in place of one or both published figures.

    In the unit of the published limit (minutes; days for an overdue dam).
    """

    key: FlagKey
    vet_name: str
    agreed_on: date
    advice_after: float | None = None
    go_now_after: float | None = None


PUBLISHED_LIMITS: Mapping[FlagKey, Limit] = {
    limit.key: limit
    for limit in (
        Limit(FlagKey.STRONG_STRAINING, "min", 20, 30, f"20 min: {FRESHMAN}; 30 min: {JUTKOWITZ}", QUOTED),
        Limit(FlagKey.WEAK_STRAINING, "min", 240, None, JUTKOWITZ, QUOTED),
        Limit(FlagKey.GREEN_DISCHARGE, "min", 15, 120, f"15 min: {FRESHMAN}; 2 h: {JUTKOWITZ}", QUOTED),
        Limit(FlagKey.GAP_SINCE_PUP, "min", 120, 240, f"2 h: clinic pages; 4 h: {JUTKOWITZ}", QUOTED),
        Limit(FlagKey.STAGE_ONE_LONG, "min", 480, 1440, f"8 h: {FRESHMAN}; 12-24 h: clinic leaflets", QUOTED),
        Limit(
            FlagKey.NO_LABOUR_AFTER_FALL, "min", 1440, None, f"sign: {JUTKOWITZ}; 24 h: clinic pages", QUOTED
        ),
        Limit(
            FlagKey.ACTIVE_LABOUR_LONG,
            "min",
            360,
            None,
            "Runcan & Coutinho da Silva 2018, Topics Companion Anim Med 33:12-16",
            VERIFIED,
        ),
        Limit(FlagKey.OVERDUE_FIRST_MATING, "d", 70, None, JUTKOWITZ, QUOTED),
        Limit(FlagKey.OVERDUE_LAST_MATING, "d", None, 72, FRESHMAN, QUOTED),
        Limit(FlagKey.OVERDUE_LH, "d", 66, None, "from the published 64-66 days after LH", "derived"),
        Limit(
            FlagKey.OVERDUE_WINDOW, "d", 0, None, "from the published spreads of the due window", "derived"
        ),
    )
}
"""The limits that stand unless a vet has agreed others."""

AT_ONCE_SOURCE = JUTKOWITZ


def limits_with(agreed: Sequence[VetAgreedLimit]) -> dict[FlagKey, Limit]:
    """The published limits with those a vet agreed in their place; of two for one sign the newer one stands.

    Raises ValueError when a limit names no vet, no figure, a figure that is not a positive number, a sign
    that is always at once, or an advice figure beyond the go-now figure.
    """
    limits = dict(PUBLISHED_LIMITS)
    for agreement in sorted(agreed, key=lambda agreement: agreement.agreed_on):
        limits[agreement.key] = _replaced(agreement)
    return limits


def _replaced(agreement: VetAgreedLimit) -> Limit:
    if agreement.key not in PUBLISHED_LIMITS:
        raise ValueError(f"{agreement.key.value} has no timer: it always means go now")
    if not agreement.vet_name.strip():
        raise ValueError("a limit can be replaced only with the name of the vet who agreed it")
    figures = [figure for figure in (agreement.advice_after, agreement.go_now_after) if figure is not None]
    if not figures or any(not isfinite(figure) or figure <= 0 for figure in figures):
        raise ValueError("a limit needs a positive figure for advice, go now, or both")
    published = PUBLISHED_LIMITS[agreement.key]
    advice = published.advice_after if agreement.advice_after is None else agreement.advice_after
    go_now = published.go_now_after if agreement.go_now_after is None else agreement.go_now_after
    if advice is not None and go_now is not None and advice > go_now:
        if agreement.advice_after is not None:
            raise ValueError("advice cannot come after go now: have both figures agreed")
        # A shorter go-now figure from the vet takes the advice figure with it.
        advice = go_now
    set_by = f"{agreement.vet_name.strip()}, {agreement.agreed_on.isoformat()}"
    return replace(published, advice_after=advice, go_now_after=go_now, set_by=set_by)
