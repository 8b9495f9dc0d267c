"""Medicines and worming schemes as plain JSON and back, so that a kennel can keep and edit its own.

Reading is strict: an unknown member, a missing one or a wrong type is a ValueError that names it, because a
dose worked out from a half-read label would be worse than none.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, asdict, fields
from typing import Any, TypeVar

from health.domain.medicine import Band, Breeding, Form, Medicine, OtherActive, Stated, Supply
from health.domain.units import FixedAmount, Rate, Strength
from health.domain.worming_schemes import Anchor, End, Phase, Scheme, Subject

Json = Mapping[str, Any]
Made = TypeVar("Made")


def medicine_as_json(medicine: Medicine) -> dict[str, Any]:
    """A medicine as JSON values; the basis as {"rate": ...}, {"bands": [...]} or None."""
    value = asdict(medicine)
    value["basis"] = basis_as_json(medicine.basis)
    value["other_actives"] = list(value["other_actives"])
    return value


def medicine_from_json(value: Json) -> Medicine:
    """The medicine of a JSON object as `medicine_as_json` writes it; ValueError naming what does not fit."""
    return _made(
        Medicine,
        value,
        form=lambda raw: Form(raw),
        strength=lambda raw: None if raw is None else _made(Strength, raw),
        basis=basis_from_json,
        dose_stated=lambda raw: Stated(raw),
        strength_stated=lambda raw: Stated(raw),
        other_actives=lambda raw: tuple(
            _made(OtherActive, one, strength=lambda inner: _made(Strength, inner)) for one in _list(raw)
        ),
        supply=lambda raw: Supply(raw),
        pregnancy=lambda raw: Breeding(raw),
        nursing=lambda raw: Breeding(raw),
    )


def basis_as_json(basis: Rate | tuple[Band, ...] | None) -> dict[str, Any] | None:
    """A dose basis as JSON: {"rate": {...}}, {"bands": [{..., "rate" or "amount": {...}}]} or None."""
    if basis is None:
        return None
    if isinstance(basis, Rate):
        return {"rate": asdict(basis)}
    return {"bands": [{"from_kg": band.from_kg, "to_kg": band.to_kg, **_give(band)} for band in basis]}


def basis_from_json(value: Json | None) -> Rate | tuple[Band, ...] | None:
    """The dose basis of a JSON object as `basis_as_json` writes it; ValueError naming what does not fit."""
    if value is None:
        return None
    if not isinstance(value, Mapping) or len(value) != 1 or not {"rate", "bands"} & set(value):
        raise ValueError("a basis is {'rate': ...} or {'bands': [...]}")
    if "rate" in value:
        return _made(Rate, value["rate"])
    return tuple(_band(one) for one in _list(value["bands"]))


def scheme_as_json(scheme: Scheme) -> dict[str, Any]:
    """A worming scheme as JSON values."""
    value = asdict(scheme)
    value["phases"] = [{**one, "days": list(one["days"])} for one in value["phases"]]
    return value


def scheme_from_json(value: Json) -> Scheme:
    """The scheme of a JSON object as `scheme_as_json` writes it; ValueError naming what does not fit."""
    return _made(
        Scheme,
        value,
        subject=lambda raw: Subject(raw),
        phases=lambda raw: tuple(
            _made(
                Phase,
                one,
                anchor=lambda inner: Anchor(inner),
                days=lambda inner: tuple(_list(inner)),
                end=lambda inner: (
                    None if inner is None else _made(End, inner, anchor=lambda anchor: Anchor(anchor))
                ),
            )
            for one in _list(raw)
        ),
    )


def _give(band: Band) -> dict[str, Any]:
    return {"amount" if isinstance(band.give, FixedAmount) else "rate": asdict(band.give)}


def _band(value: Json) -> Band:
    if not isinstance(value, Mapping) or ("rate" in value) == ("amount" in value):
        raise ValueError("a band has either a rate or an amount")
    if set(value) - {"from_kg", "to_kg", "rate", "amount"}:
        raise ValueError("a band has from_kg, to_kg and a rate or an amount, nothing else")
    give = _made(Rate, value["rate"]) if "rate" in value else _made(FixedAmount, value["amount"])
    edges = [value.get("from_kg"), value.get("to_kg")]
    if not _is_number(edges[0]) or not (edges[1] is None or _is_number(edges[1])):
        raise ValueError("from_kg is a number, to_kg a number or null")
    return Band(value["from_kg"], value.get("to_kg"), give)


def _made(kind: Callable[..., Made], value: Json, **readers: Callable[[Any], Any]) -> Made:
    """An instance of a dataclass from a JSON object, members read by `readers` or as plain values."""
    if not isinstance(value, Mapping):
        raise ValueError(f"{_name(kind)} is an object, not {value!r}")
    known = {one.name: one for one in fields(kind)}  # type: ignore[arg-type]
    unknown = sorted(set(value) - set(known))
    if unknown:
        raise ValueError(f"{_name(kind)} does not know {', '.join(unknown)}")
    missing = [name for name, one in known.items() if name not in value and one.default is MISSING]
    if missing:
        raise ValueError(f"{_name(kind)} lacks {', '.join(missing)}")
    return kind(
        **{
            name: readers[name](raw) if name in readers else _plain(name, raw, str(known[name].type))
            for name, raw in value.items()
        }
    )


def _plain(name: str, raw: Any, wanted: str) -> Any:
    """A plain member of the type its dataclass declares; texts and truth values are no numbers."""
    fits = {
        "str": isinstance(raw, str),
        "bool": isinstance(raw, bool),
        "int": isinstance(raw, int) and not isinstance(raw, bool),
        "float": _is_number(raw),
        "None": raw is None,
    }
    if not any(fits.get(one.strip(), False) for one in wanted.split("|")):
        raise ValueError(f"{name} must be {wanted}, not {raw!r}")
    return raw


def _is_number(raw: Any) -> bool:
    return isinstance(raw, int | float) and not isinstance(raw, bool)


def _list(raw: Any) -> list[Any]:
    if not isinstance(raw, list | tuple):
        raise ValueError(f"a list is needed, not {raw!r}")
    return list(raw)


def _name(kind: Callable[..., object]) -> str:
    return getattr(kind, "__name__", "the record").lower()
