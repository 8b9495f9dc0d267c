"""What clients may write about dogs, litters, pups and weighings."""

from typing import Annotated, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from kennel.people.choices import MassUnit, TemperatureUnit
from kennel.records.fields import Day, FactInput, Instant, Line, Name, Note, RecordInput, number, ref, whole
from litters.choices import DepartureKind, Fate, MilestoneKind, Rearing, Sex, WeightSource

ChipCode = Annotated[str, Field(max_length=15, pattern=r"^([0-9A-Z]{9,15})?$")]


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
    lives_here: bool = True
    sire: ref("dog") | None = None
    dam: ref("dog") | None = None
    note: Note = ""


class LitterInput(RecordInput):
    """A litter, from the day it is expected."""

    name: Name
    dam: ref("dog")
    sire: ref("dog") | None = None
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
    is_birth_weight: bool = False

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
    note: Note = ""


class MilestoneInput(FactInput):
    """Something a pup does for the first time."""

    pup: ref("pup")
    kind: MilestoneKind
