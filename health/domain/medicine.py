"""A medicine as its own label describes it: the product record every dose hangs on.

Two products with one active can carry opposite labels (one fenbendazole label lists young pups, another
forbids them under 12 weeks), so no rule here is looked up by active ingredient.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from health.domain.units import FixedAmount, Rate, Strength, body_mass_kg, positive

EDGE_KG = 1e-9  # a microgram: the noise of converting pounds, not a tolerance


class Form(StrEnum):
    """What the product is, which decides in what it is measured out."""

    LIQUID = "liquid"
    GRANULES = "granules"
    TABLET = "tablet"
    PASTE = "paste"


class Stated(StrEnum):
    """Whether a mass of active means the base, the whole salt, or a substance without that question."""

    AS_IS = "as is"
    BASE = "base"
    SALT = "salt"


class Supply(StrEnum):
    """Who may hand the product out."""

    OPEN_SALE = "open sale"
    PRESCRIPTION = "prescription"
    VET_ONLY = "vet only"


class Breeding(StrEnum):
    """What the label says about a pregnant or nursing bitch."""

    NOT_STATED = "not stated"
    LABELLED = "labelled"
    NOT_RECOMMENDED = "not recommended"


_PARTS_OF_FORM = {
    Form.LIQUID: ("mL",),
    Form.GRANULES: ("g",),
    Form.TABLET: ("tablet",),
    Form.PASTE: ("g", "mL"),
}


@dataclass(frozen=True)
class Band:
    """One line of a label's weight table: from `from_kg` up to and including `to_kg` (None: no upper end).

    give: a rate, or an amount for the whole band. Where two lines share an edge, the edge is the lower's.
    """

    from_kg: float
    to_kg: float | None
    give: Rate | FixedAmount

    def __post_init__(self) -> None:
        if not 0 <= self.from_kg <= 120 or (self.to_kg is not None and not self.from_kg < self.to_kg <= 120):
            raise ValueError("a band runs from a lower to a higher body mass, within 0 to 120 kg")

    def holds(self, mass_kg: float) -> bool:
        """Whether a body mass lies in this band."""
        return self.from_kg - EDGE_KG <= mass_kg and (self.to_kg is None or mass_kg <= self.to_kg + EDGE_KG)

    def amount_at(self, mass_kg: float) -> float:
        """The band's mg, mL, g or tablets at a body mass."""
        return self.give.value if isinstance(self.give, FixedAmount) else self.give.amount_for(mass_kg)

    @property
    def counts(self) -> str:
        """What `amount_at` is in: "mg", "mL", "g" or "tablet"."""
        return self.give.unit if isinstance(self.give, FixedAmount) else self.give.counts


@dataclass(frozen=True)
class OtherActive:
    """A second active of a combined product, in the same volume, gram or tablet as the first."""

    name: str
    strength: Strength


@dataclass(frozen=True)
class Medicine:
    """A product as labelled. `name`, `active` and `form` are always known; the rest makes a dose possible.

    basis: a rate for all weights, or weight bands in rising order; None means no dose is worked out.
    dose_stated / strength_stated: whether the dose and the printed strength mean base or salt;
    base_per_salt: mass of base in one mass of salt (pyrantel 0.3469), needed when the two differ.
    minimum_mass_kg: in the label's unit turned to whole grams, as scales show it (2 lb = 0.907).
    least_dose: the label states its dose as "at least". course_days: one dose on each of so many days
    running, dose_interval_h hours apart.
    repeat_after_days: the label's least number of days from one course (or single dose) to the next.
    tablet_parts: into how many parts a tablet may be cut (1, 2 or 4).
    Raises ValueError where parts contradict each other.
    """

    name: str
    active: str
    form: Form
    strength: Strength | None = None
    basis: Rate | tuple[Band, ...] | None = None
    dose_stated: Stated = Stated.AS_IS
    strength_stated: Stated = Stated.AS_IS
    base_per_salt: float | None = None
    least_dose: bool = False
    other_actives: tuple[OtherActive, ...] = ()
    minimum_age_days: int | None = None
    minimum_mass_kg: float | None = None
    course_days: int = 1
    dose_interval_h: float = 24.0
    repeat_after_days: float | None = None
    tablet_parts: int = 1
    supply: Supply = Supply.OPEN_SALE
    prescriber: str = ""
    pregnancy: Breeding = Breeding.NOT_STATED
    nursing: Breeding = Breeding.NOT_STATED
    label_note: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip() or not self.active.strip():
            raise ValueError("a medicine needs its name and its active ingredient")
        self._check_amounts()
        self._check_minimums()
        if not 1 <= self.course_days <= 120 or self.tablet_parts not in (1, 2, 4):
            raise ValueError("a course has 1 to 120 days; a tablet is cut in 1, 2 or 4 parts")
        positive(self.dose_interval_h, "hours between doses", 24 * 120)
        if self.repeat_after_days is not None:
            positive(self.repeat_after_days, "days until the next course", 3660)
        if (self.dose_stated is Stated.AS_IS) != (self.strength_stated is Stated.AS_IS):
            raise ValueError("say of both, dose and strength, whether they mean base or salt")

    @property
    def vet_only(self) -> bool:
        """Whether no amount may be worked out here at all."""
        return self.supply is Supply.VET_ONLY

    @property
    def bands(self) -> tuple[Band, ...]:
        """The weight bands; a single rate counts as one band without ends."""
        if isinstance(self.basis, Rate):
            return (Band(0.0, None, self.basis),)
        return self.basis or ()

    @property
    def strength_per_dose_unit(self) -> float | None:
        """mg of active in one mL, g or tablet, in the terms the dose is stated in (base or salt).

        None when the strength is not known, or when base and salt differ and their ratio is not known.
        """
        if self.strength is None:
            return None
        mg = self.strength.mg_per_part
        if self.dose_stated is self.strength_stated:
            return mg
        if self.base_per_salt is None:
            return None
        return mg * self.base_per_salt if self.dose_stated is Stated.BASE else mg / self.base_per_salt

    def _check_amounts(self) -> None:
        parts = _PARTS_OF_FORM[self.form]
        strengths = [self.strength, *(one.strength for one in self.other_actives)]
        if any(one is not None and one.per not in parts for one in strengths):
            raise ValueError(f"the strength of {self.form.value} is given for each {' or '.join(parts)}")
        if len({one.per for one in strengths if one is not None}) > 1:
            raise ValueError("all actives of a product are given for the same part of it")
        for band in self.bands:
            if band.counts != "mg" and band.counts not in parts:
                raise ValueError(f"{self.form.value} is not given by the {band.counts}")
        if isinstance(self.basis, tuple):
            self._check_bands(self.basis)
        if self.base_per_salt is not None and not 0 < self.base_per_salt <= 1:
            raise ValueError("the base is a part of the salt: its share lies above 0 and is at most 1")

    def _check_bands(self, bands: tuple[Band, ...]) -> None:
        if not bands:
            raise ValueError("a weight table needs at least one band")
        for lower, upper in pairwise(bands):
            if lower.to_kg is None or upper.from_kg < lower.to_kg:
                raise ValueError("weight bands stand in rising order and do not overlap")
        if len({band.counts for band in bands}) > 1:
            raise ValueError("all bands of a table count the same thing")

    def _check_minimums(self) -> None:
        if self.minimum_age_days is not None and not 0 <= self.minimum_age_days <= 3660:
            raise ValueError("a minimum age is 0 to 3660 days")
        if self.minimum_mass_kg is not None:
            body_mass_kg(self.minimum_mass_kg)
