"""Figures that a kennel agreed with its vet, in place of the published ones."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any, TypeVar

from django.db import connection

from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft
from litters.choices import FigureArea
from litters.domain.figure_notes import rhythm_key, temperature_key
from litters.domain.gestation_figures import PUBLISHED_FIGURES, GestationFigures
from litters.domain.labour_limits import PUBLISHED_LIMITS, FlagKey, VetAgreedLimit, limits_with
from litters.domain.planned_mating import AMBER_FROM, RED_FROM, inbreeding_level
from litters.domain.watch_limits import PUBLISHED_RHYTHM, PUBLISHED_TEMPERATURE_LINES, Limits

Built = TypeVar("Built")
ENDS = ("advice_after", "go_now_after")


@dataclass(frozen=True)
class Agreed:
    """One agreed figure."""

    value: float
    agreed_with: str
    agreed_on: date


Figures = Mapping[tuple[str, str], Agreed]


def agreed_figures(kennel_id: int) -> dict[tuple[str, str], Agreed]:
    """What a kennel agreed, by area and key, in the order of agreement.  One query; inside an open door."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT area, key, value, agreed_with, agreed_on FROM litters_agreedfigure"
            " WHERE kennel_id = %s AND deleted_at IS NULL ORDER BY agreed_on, id LIMIT 1000",
            [kennel_id],
        )
        found: dict[tuple[str, str], Agreed] = {}
        for area, key, value, agreed_with, agreed_on in cursor.fetchall():
            found.pop((area, key), None)
            found[area, key] = Agreed(float(value), agreed_with, agreed_on)
        return found


def growth_limits(figures: Figures) -> Limits:
    """Limits of the watch rules as they stand for the kennel."""
    return _standing(figures, FigureArea.GROWTH, _growth_limits)


def gestation_figures(figures: Figures) -> GestationFigures:
    """Figures of the due window as they stand for the kennel."""
    return _standing(figures, FigureArea.GESTATION, _gestation_figures)


def inbreeding_lines(figures: Figures) -> tuple[float, float]:
    """(amber, red) lines of the coefficient of inbreeding as they stand for the kennel."""
    return _standing(figures, FigureArea.INBREEDING, _inbreeding_lines)


def labour_limits(figures: Figures) -> list[VetAgreedLimit]:
    """Limits in labour that a vet agreed with the kennel."""
    return _standing(figures, FigureArea.LABOUR, _labour_limits)


def _standing(figures: Figures, area: FigureArea, build: Callable[[Figures], Built]) -> Built:
    """What stands of an area, put together."""
    return build(_fitting(figures, area, build))


def _fitting(figures: Figures, area: FigureArea, build: Callable[[Figures], object]) -> Figures:
    """The agreed figures of an area that stand.  Each fitted the others when it was agreed; one that no longer does,
    because another was taken back since, is left out until it is agreed anew.
    """
    mine = {place: agreed for place, agreed in figures.items() if place[0] == area.value}
    try:
        build(mine)
    except ValueError:
        kept: dict[tuple[str, str], Agreed] = {}
        for place, agreed in mine.items():
            with suppress(ValueError):
                build({**kept, place: agreed})
                kept[place] = agreed
        return kept
    return mine


def standing(figures: Figures, area: FigureArea) -> dict[str, Agreed]:
    """The agreed figures of an area that stand in place of published ones, by key."""
    return {key: agreed for (_, key), agreed in _fitting(figures, area, _BUILDERS[area]).items()}


def _growth_limits(figures: Figures) -> Limits:
    agreed = _by_key(figures, growth_keys())
    whole = {f.name for f in fields(Limits) if type(f.default) is int}
    single: dict[str, Any] = {
        key: round(value) if key in whole else value for key, value in agreed.items() if "." not in key
    }
    lines = tuple(
        replace(line, below_c=agreed.get(temperature_key(line.from_day), line.below_c))
        for line in PUBLISHED_TEMPERATURE_LINES
    )
    rhythm = tuple(
        replace(step, every_h=agreed.get(rhythm_key(step.until_h), step.every_h)) for step in PUBLISHED_RHYTHM
    )
    return replace(Limits(), **single, temperature_lines=lines, rhythm=rhythm)


def _gestation_figures(figures: Figures) -> GestationFigures:
    whole = {name for name, default in gestation_keys().items() if isinstance(default, int)}
    agreed = _by_key(figures, gestation_keys())
    changed: dict[str, Any] = {n: round(value) if n in whole else value for n, value in agreed.items()}
    return replace(PUBLISHED_FIGURES, **changed)


def _inbreeding_lines(figures: Figures) -> tuple[float, float]:
    agreed = _by_key(figures, inbreeding_keys())
    amber_from, red_from = agreed.get("amber_from", AMBER_FROM), agreed.get("red_from", RED_FROM)
    inbreeding_level(0.0, amber_from, red_from)
    return amber_from, red_from


def _labour_limits(figures: Figures) -> list[VetAgreedLimit]:
    found: list[VetAgreedLimit] = []
    for (_, key), agreed in figures.items():
        sign, _, end = key.partition(".")
        found.append(
            VetAgreedLimit(FlagKey(sign), agreed.agreed_with, agreed.agreed_on, **{end: agreed.value})
        )
    joined = _joined(found)
    limits_with(joined)
    return joined


def growth_keys() -> dict[str, float]:
    """Names and published values of the limits of the watch rules: single numbers, and each line of the tables."""
    single = {f.name: float(f.default) for f in fields(Limits) if isinstance(f.default, int | float)}
    lines = {temperature_key(line.from_day): line.below_c for line in PUBLISHED_TEMPERATURE_LINES}
    return single | lines | {rhythm_key(step.until_h): step.every_h for step in PUBLISHED_RHYTHM}


def gestation_keys() -> dict[str, float]:
    """Names and published values of the figures of the due window."""
    return {
        f.name: getattr(PUBLISHED_FIGURES, f.name)
        for f in fields(GestationFigures)
        if isinstance(getattr(PUBLISHED_FIGURES, f.name), (int, float))
    }


def labour_keys() -> dict[str, float]:
    """Names and published values of the limits in labour; an end that no source names is left out."""
    return {
        f"{key.value}.{end}": value
        for key, limit in PUBLISHED_LIMITS.items()
        for end in ENDS
        if (value := getattr(limit, end)) is not None
    }


def inbreeding_keys() -> dict[str, float]:
    """Names and usual values of the lines of the coefficient of inbreeding."""
    return {"amber_from": AMBER_FROM, "red_from": RED_FROM}


def known_keys(area: FigureArea) -> frozenset[str]:
    """Names of the figures of an area that a kennel may agree with its vet."""
    if area is FigureArea.GROWTH:
        return frozenset(growth_keys())
    if area is FigureArea.GESTATION:
        return frozenset(gestation_keys())
    if area is FigureArea.INBREEDING:
        return frozenset(inbreeding_keys())
    return frozenset(f"{sign.value}.{end}" for sign in PUBLISHED_LIMITS for end in ENDS)


def figures_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Refuse figures that no formula knows, or with which the formulas could not work."""
    standing = agreed_figures(door.kennel.id)
    for draft in drafts:
        area, key = str(draft.input.area.value), draft.input.key
        if draft.before is not None:
            standing.pop((draft.before["area"], draft.before["key"]), None)
        given = Agreed(float(draft.input.value), draft.input.agreed_with, draft.input.agreed_on)
        tried = {**standing, (area, key): given}
        try:
            _check(area, key, tried)
        except (ValueError, TypeError) as error:
            draft.refuse(invalid("key", "figure", str(error).capitalize()))
        else:
            standing = tried


def _check(area: str, key: str, figures: Figures) -> None:
    known = known_keys(FigureArea(area))
    if key not in known:
        raise ValueError(f"there is no figure {key}; there are {', '.join(sorted(known))}.")
    _BUILDERS[FigureArea(area)]({place: agreed for place, agreed in figures.items() if place[0] == area})


_BUILDERS: dict[FigureArea, Callable[[Figures], object]] = {
    FigureArea.GROWTH: _growth_limits,
    FigureArea.GESTATION: _gestation_figures,
    FigureArea.INBREEDING: _inbreeding_lines,
    FigureArea.LABOUR: _labour_limits,
}


def _by_key(figures: Figures, known: Mapping[str, float]) -> dict[str, float]:
    return {key: agreed.value for (_, key), agreed in figures.items() if key in known}


def _joined(found: list[VetAgreedLimit]) -> list[VetAgreedLimit]:
    """Both ends of one sign as one agreement, so that they are held against each other."""
    by_key: dict[FlagKey, VetAgreedLimit] = {}
    for one in sorted(found, key=lambda limit: limit.agreed_on):
        known = by_key.get(one.key)
        by_key[one.key] = (
            one
            if known is None
            else replace(
                one,
                advice_after=one.advice_after if one.advice_after is not None else known.advice_after,
                go_now_after=one.go_now_after if one.go_now_after is not None else known.go_now_after,
            )
        )
    return list(by_key.values())
