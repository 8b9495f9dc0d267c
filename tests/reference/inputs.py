"""What a case row hands to its adapter: named texts with typed readers, a weight series and pedigrees.

Units may differ from the sheets': the `mass_kg`, `length_mm`, ... readers accept `bw_kg`, `bw_g`, `bw_lb`
and so on for the stem `bw` and convert with the product's own unit functions.
"""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from litters.domain import units

_TRUE = frozenset({"true", "yes", "1"})
_FALSE = frozenset({"false", "no", "0"})
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


class PedigreeRow(NamedTuple):
    """One animal with its parents; an unknown parent is None."""

    animal: str
    sire: str | None
    dam: str | None


@dataclass(frozen=True)
class Datasets:
    """What the file around a row offers: one weight series (age_days, weight_kg) and pedigrees by name.

    `current_pedigree` is the one a row means that names none.
    """

    series: tuple[tuple[float, float], ...] | None = None
    pedigrees: Mapping[str, tuple[PedigreeRow, ...]] | None = None
    current_pedigree: str | None = None


class Inputs(Mapping[str, str]):
    """The `name=value;name=value` column of one row.  Missing names raise KeyError, bad values ValueError."""

    def __init__(self, values: Mapping[str, str], datasets: Datasets | None = None) -> None:
        self._values = dict(values)
        self._datasets = datasets or Datasets()

    @classmethod
    def parse(cls, text: str, datasets: Datasets | None = None) -> "Inputs":
        """Inputs read from `name=value;name=value`; an empty text has no inputs."""
        values: dict[str, str] = {}
        for part in filter(str.strip, text.split(";")):
            name, separator, value = part.partition("=")
            name = name.strip()
            if not separator or not name:
                raise ValueError(f"input {part!r} is not name=value")
            if name in values:
                raise ValueError(f"input {name!r} is given twice")
            values[name] = value.strip()
        return cls(values, datasets)

    def __getitem__(self, name: str) -> str:
        return self._values[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def name_of(self, *names: str) -> str:
        """The first of `names` that the row gives; KeyError when it gives none."""
        for name in names:
            if name in self._values:
                return name
        raise KeyError(" or ".join(names))

    def text(self, name: str) -> str:
        """The value as written, without surrounding blanks; an empty one raises ValueError."""
        value = self._values[name]
        if not value:
            raise ValueError(f"{name} is empty")
        return value

    def number(self, name: str) -> float:
        """A finite number."""
        value = float(self.text(name).replace("_", "?"))
        if not math.isfinite(value):
            raise ValueError(f"{name} is not a finite number")
        return value

    def integer(self, name: str) -> int:
        """A whole number; `6.0` counts as 6."""
        value = self.number(name)
        if not value.is_integer():
            raise ValueError(f"{name} is not a whole number: {value}")
        return int(value)

    def flag(self, name: str) -> bool:
        """true/yes/1 or false/no/0, in either case."""
        value = self.text(name).lower()
        if value in _TRUE:
            return True
        if value in _FALSE:
            return False
        raise ValueError(f"{name} is neither true nor false: {value!r}")

    def day(self, name: str) -> date:
        """A calendar date YYYY-MM-DD."""
        return _day(name, self.text(name))

    def days(self, name: str) -> list[date]:
        """Dates separated by `|` or blanks."""
        return [_day(name, part) for part in re.split(r"[|\s]+", self.text(name))]

    def moment(self, name: str) -> datetime:
        """An ISO 8601 date and time, with or without an offset."""
        return datetime.fromisoformat(self.text(name))

    def numbers(self, name: str) -> list[float]:
        """Finite numbers separated by `|`."""
        return [Inputs({name: part.strip()}).number(name) for part in self.text(name).split("|")]

    def pairs(self, name: str) -> list[tuple[float, float]]:
        """Numbers in pairs, `0:300|3:360`."""
        pairs = []
        for part in self.text(name).split("|"):
            first, _, second = part.partition(":")
            parsed = Inputs({"first": first.strip(), "second": second.strip()})
            pairs.append((parsed.number("first"), parsed.number("second")))
        return pairs

    def series(self, name: str = "dataset") -> list[tuple[float, float]]:
        """The weight series (age_days, weight_kg): the file's own, or written out as `0:0.3|14:0.9`."""
        if ":" in self._values.get(name, ""):
            return self.pairs(name)
        if self._datasets.series is None:
            raise KeyError("the file holds no weight series (age_days,weight_kg)")
        return list(self._datasets.series)

    def pedigree(self, name: str = "pedigree") -> Sequence[PedigreeRow]:
        """The pedigree the row names, or the one standing last above it when it names none."""
        wanted = self._values.get(name) or self._datasets.current_pedigree
        pedigrees = self._datasets.pedigrees or {}
        if wanted is None or wanted not in pedigrees:
            raise KeyError(f"pedigree {wanted!r} is in no file")
        return pedigrees[wanted]

    def mass_kg(self, stem: str) -> float:
        """Mass in kg from `<stem>_kg`, `_g`, `_mg`, `_lb` or `_oz`."""
        return units.mass_kg(*self._quantity(stem, units.MASS_UNITS))

    def mass_g(self, stem: str) -> float:
        """Mass in g from `<stem>_g`, `_kg`, `_mg`, `_lb` or `_oz`."""
        return units.mass_g(*self._quantity(stem, units.MASS_UNITS))

    def length_mm(self, stem: str) -> float:
        """Length in mm from `<stem>_mm`, `_cm` or `_in`."""
        return units.length_mm(*self._quantity(stem, units.LENGTH_UNITS))

    def volume_ml(self, stem: str) -> float:
        """Volume in mL from `<stem>_ml`, `_l`."""
        return units.volume_ml(*self._quantity(stem, units.VOLUME_UNITS))

    def energy_kcal(self, stem: str) -> float:
        """Energy in kcal from `<stem>_kcal`, `_kj`, `_mj`; for the stem "" from `kcal`, `kj`, `mj`."""
        return units.energy_kcal(*self._quantity(stem, units.ENERGY_UNITS))

    def temperature_c(self, stem: str) -> float:
        """Temperature in degrees Celsius from `<stem>_c` or `_f`."""
        return units.temperature_c(*self._quantity(stem, units.TEMPERATURE_UNITS))

    def _quantity(self, stem: str, known_units: Sequence[str]) -> tuple[float, str]:
        """Value and unit of the one input that carries this stem; two of them contradict each other."""
        given = [unit for unit in known_units if _joined(stem, unit) in self._values]
        if not given:
            raise KeyError(" or ".join(_joined(stem, unit) for unit in known_units))
        if len(given) > 1:
            raise ValueError(f"{stem} is given in several units")
        return self.number(_joined(stem, given[0])), given[0]


def _joined(stem: str, unit: str) -> str:
    return f"{stem}_{unit}" if stem else unit


def _day(name: str, text: str) -> date:
    if not _ISO_DAY.fullmatch(text):
        raise ValueError(f"{name} is not YYYY-MM-DD: {text!r}")
    return date.fromisoformat(text)
