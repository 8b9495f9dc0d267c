"""What clients may write about dogs, litters, pups and weighings."""

from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator
from pydantic_core import PydanticCustomError

from kennel.people.choices import MassUnit, TemperatureUnit
from kennel.records.fields import (
    Day,
    FactInput,
    Instant,
    Line,
    Name,
    Note,
    Part,
    RecordInput,
    YesNo,
    listed,
    number,
    ref,
    whole,
)
from litters.choices import (
    DepartureKind,
    DischargeColour,
    Fate,
    FigureArea,
    MatingKind,
    MilestoneKind,
    ProgesteroneUnit,
    Rearing,
    ScanMethod,
    ScanStructure,
    ScanUnit,
    Sex,
    StrainingStrength,
    WeightSource,
    WhelpingKind,
)
from litters.domain.centiles import FIRST_STANDARD_DAY, LmsTable
from litters.domain.identification import normalised


def _chip_digits(value: Any) -> Any:
    """Readers and papers print codes in groups; the blanks and hyphens are no part of the code."""
    return normalised(value) if isinstance(value, str) else value


ChipCode = Annotated[str, BeforeValidator(_chip_digits), Field(max_length=15, pattern=r"^([0-9A-Z]{9,15})?$")]
ScanReading = listed(0, 300, above=True)
Points = whole(0, 2)
Progesterone = Annotated[
    number(0, 636), WithJsonSchema({"type": "number", "minimum": 0, "maximum": 636, "example": 6.1})
]
# Invented: a table needs two ages at least.
EXAMPLE_ROWS = [
    {"age_days": 84, "power": 0.5, "median_kg": 6, "spread": 0.12},
    {"age_days": 168, "power": 0.3, "median_kg": 14, "spread": 0.1},
]
FigureKey = Annotated[
    str,
    Field(min_length=1, max_length=60, pattern=r"^[a-z0-9_.]+$", json_schema_extra={"example": "loss_pct"}),
]
RuleKey = Annotated[
    str,
    Field(
        min_length=1, max_length=60, pattern=r"^[a-z_.]+$", json_schema_extra={"example": "england.dam_age"}
    ),
]


class DogInput(RecordInput):
    """A dam, a sire, or a dog behind them."""

    name: Name
    registered_name: Line = ""
    sex: Sex
    breed: Annotated[Line, Field(max_length=80)] = ""
    colour: Annotated[Line, Field(max_length=80)] = ""
    born_on: Day | None = None
    died_on: Day | None = None
    chip_code: ChipCode = ""
    adult_weight_kg: number("0.3", 120) | None = None
    lives_here: YesNo = True
    sire: ref("dog") | None = None
    dam: ref("dog") | None = None
    note: Note = ""


class LitterInput(RecordInput):
    """A litter, from the day it is expected."""

    name: Name
    dam: ref("dog")
    sire: ref("dog") | None = None
    season: ref("season") | None = None
    mated_on: Day | None = None
    whelped_at: Instant | None = None
    weaned_on: Day | None = None
    expected_adult_kg: number("0.3", 120) | None = None
    expected_pups: whole(1, 30) | None = None
    closed_on: Day | None = None
    note: Note = ""


class PupInput(RecordInput):
    """A pup of a litter."""

    litter: ref("litter")
    band: Annotated[Line, Field(max_length=40)] = ""
    name: Annotated[Line, Field(max_length=80)] = ""
    sex: Sex = Sex.UNKNOWN
    colour: Annotated[Line, Field(max_length=80)] = ""
    marks: Line = ""
    born_at: Instant
    birth_order: whole(1, 30) | None = None
    fate: Fate = Fate.LIVING
    died_at: Instant | None = None
    rearing: Rearing = Rearing.SUCKING
    chip_code: ChipCode = ""
    chipped_on: Day | None = None
    registered_on: Day | None = None
    kept_back: Line = ""
    grown_as: ref("dog") | None = None
    note: Note = ""


class WeighingInput(FactInput):
    """A weight of one pup or one grown dog: `weight_g`, or what was typed with its unit, or both."""

    pup: ref("pup") | None = None
    dog: ref("dog") | None = None
    weight_g: number("0.1", 120_000) | None = None
    entered_value: number("0.001", 120_000, places=3) | None = None
    entered_unit: MassUnit = MassUnit.GRAM
    source: WeightSource = WeightSource.TYPED
    is_birth_weight: YesNo = False

    @model_validator(mode="after")
    def _one_animal_one_weight(self) -> Self:
        if (self.pup is None) == (self.dog is None):
            raise PydanticCustomError("one_animal", "A weighing belongs to one pup or to one dog.")
        if self.weight_g is None and self.entered_value is None:
            raise PydanticCustomError("weight", "Give weight_g, or entered_value with entered_unit.")
        return self


class TemperatureInput(FactInput):
    """A body temperature of one pup or one grown dog: `temp_c`, or what was typed with its unit."""

    pup: ref("pup") | None = None
    dog: ref("dog") | None = None
    temp_c: number(25, 45) | None = None
    entered_value: number(25, 113) | None = None
    entered_unit: TemperatureUnit = TemperatureUnit.CELSIUS

    @model_validator(mode="after")
    def _one_animal_one_reading(self) -> Self:
        if (self.pup is None) == (self.dog is None):
            raise PydanticCustomError("one_animal", "A temperature belongs to one pup or to one dog.")
        if self.temp_c is None and self.entered_value is None:
            raise PydanticCustomError("temperature", "Give temp_c, or entered_value with entered_unit.")
        return self


class BoxClimateInput(FactInput):
    """Whelping-box climate."""

    litter: ref("litter")
    surface_c: number(-10, 60, places=1) | None = None
    area_c: number(-10, 60, places=1) | None = None
    humidity_pct: number(0, 100, places=1) | None = None


class DepartureInput(FactInput):
    """A pup that left."""

    pup: ref("pup")
    kind: DepartureKind
    contact: ref("contact") | None = None


class ReturnInput(FactInput):
    """A pup that came back."""

    pup: ref("pup")


class BookingInput(RecordInput):
    """A pup promised to somebody, or a place on the waiting list."""

    litter: ref("litter")
    pup: ref("pup") | None = None
    contact: ref("contact") | None = None
    leaves_on: Day | None = None
    ended_on: Day | None = None
    travels_to: Annotated[Line, Field(max_length=80)] = ""
    note: Note = ""


class MilestoneInput(FactInput):
    """Something a pup does for the first time."""

    pup: ref("pup")
    kind: MilestoneKind


class SeasonInput(RecordInput):
    """A season (heat) of a dam, with the days a vet read from it."""

    dam: ref("dog")
    began_on: Day
    ended_on: Day | None = None
    lh_surge_on: Day | None = None
    ovulated_on: Day | None = None
    diestrus_on: Day | None = None
    note: Note = ""


class ProgesteroneTestInput(FactInput):
    """A blood sample: the value in the unit the analyser printed; `known_on` is the day the answer came."""

    dam: ref("dog")
    season: ref("season") | None = None
    value: Progesterone
    unit: ProgesteroneUnit
    analyser: Annotated[Line, Field(max_length=80)] = ""
    known_on: Day | None = None


class MatingInput(FactInput):
    """A mating or insemination."""

    dam: ref("dog")
    sire: ref("dog") | None = None
    season: ref("season") | None = None
    kind: MatingKind = MatingKind.NATURAL


class ScanInput(FactInput):
    """One structure measured (a reading per fetus, in `unit`), or pups counted, or both."""

    dam: ref("dog")
    season: ref("season") | None = None
    method: ScanMethod = ScanMethod.ULTRASOUND
    structure: ScanStructure | Literal[""] = ""
    readings: Annotated[list[ScanReading], Field(max_length=30)] = Field(default_factory=list)
    unit: ScanUnit = ScanUnit.MM
    pups_counted: whole(0, 30) | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if bool(self.structure) != bool(self.readings):
            raise PydanticCustomError("scan", "Readings and the structure they measure go together.")
        if not self.readings and self.pups_counted is None:
            raise PydanticCustomError("scan", "Give readings of a structure, or the pups counted.")
        return self


class WhelpingEntryInput(FactInput):
    """A line of the whelping log."""

    litter: ref("litter")
    kind: WhelpingKind
    pup: ref("pup") | None = None
    strength: StrainingStrength | Literal[""] = ""
    discharge: DischargeColour | Literal[""] = ""
    is_alive: YesNo = True
    apgar_heart_rate: Points | None = None
    apgar_breathing: Points | None = None
    apgar_reflex: Points | None = None
    apgar_motility: Points | None = None
    apgar_colour: Points | None = None
    vet_name: Annotated[Line, Field(max_length=80)] = ""


class AgreedFigureInput(RecordInput):
    """A figure agreed with a vet in place of a published one."""

    area: FigureArea
    key: FigureKey
    value: number(-10_000, 1_000_000, places=4)
    agreed_with: Name
    agreed_on: Day
    note: Note = ""


class GrowthTableRow(Part):
    """One age of a growth table: power L, median M, spread S."""

    age_days: listed(FIRST_STANDARD_DAY, 1100)
    power: listed(-10, 10)
    median_kg: listed("0.05", 120)
    spread: listed("0.001", 1)


def _readable(rows: list[GrowthTableRow]) -> list[GrowthTableRow]:
    """The rows, when a table can be made of them."""
    try:
        LmsTable.of("the table", (row.model_dump() for row in rows))
    except ValueError as error:
        raise PydanticCustomError("growth_table", "{why}.", {"why": str(error).capitalize()}) from None
    return rows


class GrowthTableInput(RecordInput):
    """Centile values (L, M and S by age) that a vet supplied, for dogs of one sex and adult weight or for all."""

    name: Name
    sex: Literal["", "female", "male"] = ""
    adult_from_kg: number("0.3", 120) | None = None
    adult_below_kg: number("0.3", 120) | None = None
    rows: Annotated[
        list[GrowthTableRow],
        Field(min_length=2, max_length=400, json_schema_extra={"example": EXAMPLE_ROWS}),
        AfterValidator(_readable),
    ]
    supplied_by: Name
    supplied_on: Day
    source: Annotated[Line, Field(min_length=1)]
    note: Note = ""

    @model_validator(mode="after")
    def _adult_weights_rise(self) -> Self:
        low, high = self.adult_from_kg, self.adult_below_kg
        if low is not None and high is not None and low >= high:
            raise PydanticCustomError("adult_weight", "adult_below_kg lies above adult_from_kg.")
        return self


class RuleSettingInput(RecordInput):
    """A rule of the place switched off, or with the value the kennel read itself and where."""

    rule_key: RuleKey
    is_enabled: YesNo = True
    value: whole(0, 10_000) | None = None
    source: Line = ""
    read_on: Day | None = None

    @model_validator(mode="after")
    def _value_has_source(self) -> Self:
        if self.value is not None and (not self.source.strip() or self.read_on is None):
            raise PydanticCustomError(
                "source", "A value of your own needs its source and the day it was read."
            )
        return self


class WaiverInput(RecordInput):
    """Something that keeps a pup from leaving, set aside: why, and who said so."""

    pup: ref("pup")
    hold_key: Annotated[Line, Field(min_length=1, max_length=120)]
    why: Annotated[Line, Field(min_length=1)]
    said_by: Name
