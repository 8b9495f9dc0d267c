"""What clients may write about medicines, plans, treatments, health events and watches."""

from decimal import Decimal
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from health.choices import (
    AmountUnit,
    ClosedBy,
    HealthEventKind,
    LabelSays,
    MedicineForm,
    Purpose,
    StatedAs,
    Supply,
    TreatmentOutcome,
    WatchLevel,
)
from health.domain.units import RATE_UNITS, STRENGTH_UNITS
from health.domain.worming_schemes import SCHEMES, Anchor, Subject
from health.medicine_data import medicine_of
from health.plan_data import SCHEME_KEYS, is_vaccination, scheme_of
from kennel.records.fields import (
    Day,
    FactInput,
    Instant,
    Line,
    Name,
    Note,
    Part,
    RecordInput,
    WallTimeText,
    YesNo,
    listed,
    number,
    ref,
    whole,
)

AMOUNTS = ("mg", "mL", "g", "tablet")
StrengthUnit = Literal[("", *STRENGTH_UNITS)]
RateUnit = Literal[("", *RATE_UNITS)]
GivenUnit = Literal[(*RATE_UNITS, *AMOUNTS)]
SchemeKey = Literal[SCHEME_KEYS]
AnchorName = Literal[tuple(one.value for one in Anchor)]


Figure = listed(0, 1e6, above=True)
Edge = listed(0, 120)


class BandInput(Part):
    """One line of a label's weight table, from a weight up to and including another (null: no upper end)."""

    from_kg: Edge
    to_kg: Edge | None = None
    value: Figure
    unit: GivenUnit


class OtherActiveInput(Part):
    """A second active of a combined product."""

    name: Name
    strength_value: Figure
    strength_unit: Literal[STRENGTH_UNITS]


class MedicineInput(RecordInput):
    """A product as its label describes it; the dose is one rate for all weights, or bands."""

    name: Name
    purpose: Purpose = Purpose.WORMING
    active: Name
    form: MedicineForm
    strength_value: number("0.0001", 1_000_000, places=4) | None = None
    strength_unit: StrengthUnit = ""
    strength_stated: StatedAs = StatedAs.AS_IS
    dose_value: number("0.0001", 1_000_000, places=4) | None = None
    dose_unit: RateUnit = ""
    dose_stated: StatedAs = StatedAs.AS_IS
    bands: Annotated[list[BandInput], Field(max_length=40)] = Field(default_factory=list)
    base_per_salt: number("0.000001", 1, places=6) | None = None
    least_dose: YesNo = False
    other_actives: Annotated[list[OtherActiveInput], Field(max_length=6)] = Field(default_factory=list)
    minimum_age_days: whole(0, 3660) | None = None
    minimum_weight_g: number(1, 120_000, places=1) | None = None
    course_days: whole(1, 120) = 1
    dose_interval_h: number("0.5", 2880) = Decimal(24)
    repeat_after_days: number("0.5", 3660, places=1) | None = None
    tablet_parts: whole(1, 4) = 1
    supply: Supply = Supply.OPEN_SALE
    prescriber: Line = ""
    pregnancy: LabelSays = LabelSays.NOT_STATED
    nursing: LabelSays = LabelSays.NOT_STATED
    label_note: Note = ""
    source: Line = ""
    in_use: YesNo = True

    @model_validator(mode="after")
    def _is_one_product(self) -> Self:
        for value, unit, what in (
            (self.strength_value, self.strength_unit, "strength"),
            (self.dose_value, self.dose_unit, "dose"),
        ):
            if (value is None) != (unit == ""):
                raise PydanticCustomError(what, "Give value and unit of the {what} together.", {"what": what})
        try:
            medicine_of(self.model_dump(mode="json"))
        except ValueError as error:
            raise PydanticCustomError("label", "{text}", {"text": f"The label: {error}."}) from None
        return self


class EndInput(Part):
    """When a phase ends, that day included."""

    anchor: AnchorName
    days: whole(0, 4000) = 0
    months: whole(0, 240) = 0


class PhaseInput(Part):
    """Due dates of one stretch: `days` after an event, or a first day and then every so many days or months."""

    anchor: AnchorName
    days: Annotated[list[whole(0, 4000)], Field(max_length=60)] = Field(default_factory=list)
    first_days: whole(0, 4000) = 0
    first_months: whole(0, 240) = 0
    every_days: whole(1, 400) | None = None
    every_months: whole(1, 400) | None = None
    end: EndInput | None = None


class SeriesInput(Part):
    """A vaccination series: ages and gaps in days, both ends included."""

    first_age_days: whole(0, 400)
    first_age_until_days: whole(0, 400)
    gap_min_days: whole(1, 400)
    gap_max_days: whole(1, 400)
    doses: whole(1, 10) = 1
    last_age_days: whole(0, 400) = 0
    booster_years: whole(1, 10) = 1


class TreatmentPlanInput(RecordInput):
    """A worming scheme or a vaccination series for a litter or a dog; without rules of its own the published ones."""

    litter: ref("litter") | None = None
    dog: ref("dog") | None = None
    scheme: SchemeKey
    medicine: ref("medicine") | None = None
    name: Annotated[Line, Field(max_length=120)] = ""
    phases: Annotated[list[PhaseInput], Field(min_length=1, max_length=8)] | None = None
    series: SeriesInput | None = None
    starts_on: Day | None = None
    wall_time: WallTimeText = "08:00"
    weigh_first_minutes: whole(0, 720) = 120
    ended_on: Day | None = None
    note: Note = ""

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if (self.litter is None) == (self.dog is None):
            raise PydanticCustomError("subject", "A plan is for one litter or for one dog.")
        if not is_vaccination(self.scheme):
            is_for_litter = SCHEMES[self.scheme].subject is not Subject.KENNEL
            if is_for_litter != (self.litter is not None):
                text = "This scheme is for a litter." if is_for_litter else "This scheme is for a dog."
                raise PydanticCustomError("scheme", "{text}", {"text": text})
        if is_vaccination(self.scheme):
            if self.phases is not None:
                raise PydanticCustomError("phases", "Phases belong to worming schemes.")
            if self.series is not None and self.series.gap_max_days < self.series.gap_min_days:
                raise PydanticCustomError("series", "The longest gap is not shorter than the shortest.")
            return self
        if self.series is not None:
            raise PydanticCustomError("series", "A series belongs to vaccinations.")
        try:
            scheme_of(self.model_dump(mode="json"))
        except ValueError as error:
            raise PydanticCustomError("phases", "{text}", {"text": f"Phases: {error}."}) from None
        return self


def one_of(given: Any, *names: str) -> None:
    """Raises a validation error unless exactly one of these fields is set."""
    if sum(getattr(given, name) is not None for name in names) != 1:
        raise PydanticCustomError("subject", "Name one of {names}.", {"names": ", ".join(names)})


class TreatmentInput(FactInput):
    """A dose given to one animal: `dose_mg`, or what was measured out, or both."""

    pup: ref("pup") | None = None
    dog: ref("dog") | None = None
    medicine: ref("medicine")
    plan: ref("treatment-plan") | None = None
    dose_mg: number("0.0001", 1_000_000, places=4) | None = None
    amount: number("0.0001", 100_000, places=4) | None = None
    amount_unit: AmountUnit | Literal[""] = ""
    weight_g: number("0.1", 120_000) | None = None
    weighed_at: Instant | None = None
    lot: Annotated[Line, Field(max_length=80)] = ""
    expires_on: Day | None = None
    outcome: TreatmentOutcome = TreatmentOutcome.GIVEN
    prescriber: Line = ""

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        one_of(self, "pup", "dog")
        if (self.amount is None) != (self.amount_unit == ""):
            raise PydanticCustomError("amount", "Give amount and unit together.")
        return self


class HealthEventInput(FactInput):
    """Something that happened to a pup, a dog or a litter."""

    pup: ref("pup") | None = None
    dog: ref("dog") | None = None
    litter: ref("litter") | None = None
    kind: HealthEventKind
    vet: Line = ""
    result: Line = ""
    ended_on: Day | None = None

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        one_of(self, "pup", "dog", "litter")
        return self


class WatchInput(RecordInput):
    """An animal to keep an eye on; closing it needs who and why."""

    pup: ref("pup") | None = None
    dog: ref("dog") | None = None
    level: WatchLevel
    rules: Annotated[list[Line], Field(max_length=40)] = Field(default_factory=list)
    reasons: Annotated[list[Annotated[Note, Field(max_length=500)]], Field(max_length=40)] = Field(
        default_factory=list
    )
    opened_at: Instant
    closed_at: Instant | None = None
    closed_by: ClosedBy | Literal[""] = ""
    closing_reason: Annotated[Line, Field(max_length=200)] = ""
    note: Note = ""

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        one_of(self, "pup", "dog")
        if (self.closed_at is None) != (self.closed_by == ""):
            raise PydanticCustomError("closed_by", "Say together when it is closed and by whom.")
        if self.closed_at is not None and not self.closing_reason:
            raise PydanticCustomError("closing_reason", "Say why the watch is closed.")
        if self.closed_at is not None and self.closed_at < self.opened_at:
            raise PydanticCustomError("closed_at", "A watch is closed after it was opened.")
        return self
