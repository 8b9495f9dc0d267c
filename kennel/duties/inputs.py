"""What clients may write about routines, duties, taps and shifts."""

from datetime import time
from typing import Annotated, Any, Literal, Self

import orjson
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    WithJsonSchema,
    model_serializer,
    model_validator,
)
from pydantic_core import PydanticCustomError

from kennel.clock.recurrence import Rule
from kennel.clock.recurrence_text import rule_from_json
from kennel.duties import kinds
from kennel.duties.choices import ActionKind, Level
from kennel.records.fields import Day, FactInput, Instant, Line, Note, RecordInput, Ref, Uid, YesNo

WEEK_S = 7 * 24 * 3600
MONTH_S = 31 * 24 * 3600
SETTINGS_BYTES = 8000


def _wall_time(value: Any) -> Any:
    if isinstance(value, time):
        return value
    if not isinstance(value, str) or len(value) not in (5, 8) or not value.isascii():
        raise PydanticCustomError("wall_time", "A wall time as HH:MM is expected.")
    try:
        parsed = time.fromisoformat(value)
    except ValueError:
        raise PydanticCustomError("wall_time", "A wall time as HH:MM is expected.") from None
    if parsed.second or parsed.tzinfo:
        raise PydanticCustomError("wall_time", "A wall time is given in whole minutes.")
    return parsed


WallTime = Annotated[
    time,
    BeforeValidator(_wall_time),
    WithJsonSchema({"type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$", "example": "07:30"}),
]
Weekday = Annotated[int, Field(ge=0, le=6, strict=True)]
Interval = Annotated[int, Field(ge=300, le=3653 * 24 * 3600, strict=True)]
Count = Annotated[int, Field(ge=1, le=100_000, strict=True)]
AgeDays = Annotated[int, Field(ge=0, le=9000, strict=True)]
UpToAWeek = Annotated[int, Field(ge=60, le=WEEK_S, strict=True)]
UpToAMonth = Annotated[int, Field(ge=60, le=MONTH_S, strict=True)]
Rank = Annotated[int, Field(ge=1, le=9, strict=True)]
Weekdays = Annotated[list[Weekday], Field(max_length=7)]


class EveryRule(BaseModel):
    """Elapsed time: `anchor_at`, then after each interval; from completion: so long after it was done."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    kind: Literal["every"]
    interval_s: Interval
    anchor_at: Instant
    start_from: Annotated[Literal["anchor", "completion"], Field(alias="from")] = "anchor"
    until_at: Instant | None = None
    count: Count | None = None

    @model_serializer
    def as_json(self) -> dict[str, Any]:
        """The rule as it is stored and as `kennel.clock` reads it."""
        return {
            "kind": "every",
            "interval_s": self.interval_s,
            "anchor_at": self.anchor_at.isoformat(),
            "from": self.start_from,
            "until_at": self.until_at.isoformat() if self.until_at else None,
            "count": self.count,
        }


class AtRule(BaseModel):
    """Wall times on rule days.  The rule is an RRULE of RFC 5545 with FREQ DAILY, WEEKLY or MONTHLY."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    kind: Literal["at"]
    rrule: Annotated[str, Field(max_length=200)] = "FREQ=DAILY"
    wall_times: Annotated[list[WallTime], Field(min_length=1, max_length=48)]
    first_on: Day

    @model_serializer
    def as_json(self) -> dict[str, Any]:
        """The rule as it is stored and as `kennel.clock` reads it."""
        return {
            "kind": "at",
            "rrule": self.rrule,
            "wall_times": [one.isoformat("minutes") for one in self.wall_times],
            "first_on": self.first_on.isoformat(),
        }


RuleInput = Annotated[EveryRule | AtRule, Field(discriminator="kind")]


def rule_of(given: "EveryRule | AtRule") -> Rule:
    """The rule of a checked input.  Raises ValueError for one that cannot be kept."""
    return rule_from_json(given.as_json())


class RoutineInput(RecordInput):
    """What recurs.  Empty level, useful_for_s and escalate_after_s mean those of the duty kind."""

    kind: Line
    title: Annotated[Line, Field(max_length=120)] = ""
    rule: RuleInput
    subject_type: Annotated[Line, Field(max_length=40)] = ""
    subject_uid: Uid | None = None
    settings: dict[str, Any] = Field(default_factory=dict)
    level: Level | Literal[""] = ""
    useful_for_s: UpToAMonth | None = None
    escalate_after_s: UpToAWeek | None = None
    starts_at: Instant | None = None
    ends_at: Instant | None = None
    day_zero_on: Day | None = None
    from_age_days: AgeDays | None = None
    until_age_days: AgeDays | None = None
    is_active: YesNo = True
    instructions: Note = ""
    source_type: Annotated[Line, Field(max_length=40)] = ""
    source_uid: Uid | None = None
    source_key: Annotated[Line, Field(max_length=80)] = ""

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        kind = kinds.by_name(self.kind)
        if kind is None:
            known = ", ".join(one.name for one in kinds.every())
            raise PydanticCustomError("kind", f"No duty kind of that name; there are: {known}.")
        try:
            rule_of(self.rule)
        except ValueError as error:
            raise PydanticCustomError(
                "rule", "{text}", {"text": f"This rule cannot be kept: {error}."}
            ) from None
        if bool(self.subject_type) != (self.subject_uid is not None):
            raise PydanticCustomError("subject", "Give subject_type and subject_uid together.")
        if self.subject_type and kinds.subject_type(self.subject_type) is None:
            raise PydanticCustomError("subject_type", "Duties are not about records of that type.")
        ages = self.from_age_days is not None or self.until_age_days is not None
        if ages and self.day_zero_on is None:
            raise PydanticCustomError("ages", "Ages need day_zero_on, the day they are counted from.")
        if ages and (self.until_age_days or 9000) < (self.from_age_days or 0):
            raise PydanticCustomError("ages", "until_age_days is not before from_age_days.")
        if bool(self.source_type) != (self.source_uid is not None):
            raise PydanticCustomError("source", "Give source_type and source_uid together.")
        _check_settings(kind, self.settings)
        return self


def _check_settings(kind: kinds.DutyKind, settings: dict[str, Any]) -> None:
    try:
        size = len(orjson.dumps(settings, default=str))
    except orjson.JSONEncodeError:
        raise PydanticCustomError("settings", "The settings hold something that is not plain JSON.") from None
    if size > SETTINGS_BYTES:
        raise PydanticCustomError("settings", "The settings are too large.")
    if kind.settings is None:
        if settings:
            raise PydanticCustomError("settings", "This kind of duty takes no settings.")
        return
    try:
        kind.settings.model_validate(settings)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False, include_context=False)[0]
        place = ".".join(map(str, first["loc"]))
        raise PydanticCustomError(
            "settings", "{text}", {"text": f"settings {place}: {first['msg']}"}
        ) from None


class SubjectInput(BaseModel):
    """An animal, as record type and uid."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    type: Annotated[Line, Field(max_length=40)]
    uid: Uid


class DutyInput(RecordInput):
    """A duty made by hand: once, at `due_at`, for the subjects named (none: the kennel)."""

    kind: Line = "task"
    title: Annotated[Line, Field(min_length=1, max_length=120)]
    due_at: Instant
    level: Level = Level.DUE
    useful_until: Instant | None = None
    escalate_after_s: UpToAWeek | None = None
    text: Note = ""
    subjects: Annotated[list[SubjectInput], Field(max_length=60)] = Field(default_factory=list)

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if kinds.by_name(self.kind) is None:
            raise PydanticCustomError("kind", "No duty kind of that name.")
        if self.useful_until is not None and self.useful_until <= self.due_at:
            raise PydanticCustomError("useful_until", "A duty is useful for some time after it is due.")
        for one in self.subjects:
            if kinds.subject_type(one.type) is None:
                raise PydanticCustomError("subject_type", "Duties are not about records of that type.")
        if len({(one.type, one.uid) for one in self.subjects}) != len(self.subjects):
            raise PydanticCustomError("subjects", "An animal is named twice.")
        return self


class DutyActionInput(FactInput):
    """A tap on a duty.

    animals: uids it is about; none = all that are outstanding.  until: own date of a deferral.  undoes: uid
    of the action taken back.  take_over: take it although somebody else is on it.  note: the reason of a
    skip.
    """

    duty: Annotated[Uid, Ref("duty")]
    action: ActionKind
    animals: Annotated[list[Uid], Field(max_length=60)] = Field(default_factory=list)
    until: Instant | None = None
    undoes: Uid | None = None
    take_over: YesNo = False

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if (self.action == ActionKind.DEFER) != (self.until is not None):
            raise PydanticCustomError("until", "A deferral, and nothing else, says until when.")
        if (self.action == ActionKind.UNDO) != (self.undoes is not None):
            raise PydanticCustomError("undoes", "An undo, and nothing else, names the action it undoes.")
        if self.action == ActionKind.SKIP and not self.note:
            raise PydanticCustomError("note", "Say in the note why it is skipped.")
        settles = self.action in (ActionKind.SKIP, ActionKind.DEFER, ActionKind.DONE)
        if self.animals and not settles:
            raise PydanticCustomError(
                "animals", "Only skipping, deferring and doing are about single animals."
            )
        if self.take_over and self.action != ActionKind.TAKE:
            raise PydanticCustomError("take_over", "Only taking can take over.")
        return self


class ShiftInput(RecordInput):
    """When a member is on duty; equal times mean the whole day."""

    member: Annotated[Uid, Ref("membership")]
    first_on: Day
    last_on: Day | None = None
    from_time: WallTime
    until_time: WallTime
    weekdays: Weekdays = Field(default_factory=list)
    rank: Rank = 1
    note: Line = ""

    @model_validator(mode="after")
    def _days_in_order(self) -> Self:
        if self.last_on is not None and self.last_on < self.first_on:
            raise PydanticCustomError("last_on", "The last day is not before the first.")
        if len(set(self.weekdays)) != len(self.weekdays):
            raise PydanticCustomError("weekdays", "A weekday is named twice.")
        return self
