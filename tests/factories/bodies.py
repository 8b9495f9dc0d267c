"""A valid body for any record type, made from its input model alone, and the parents it needs.

Nothing here names a record type, apart from `_WORDS`: a type that is registered
tomorrow is made in the same way.
"""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import combinations, islice
from typing import Any

from pydantic import BaseModel, ValidationError

from kennel.records import types
from kennel.records.ids import new_uid
from kennel.records.types import RecordType

Json = dict[str, Any]
# A word of another registry, and a rule that is not due every five minutes three days ahead.
_WORDS = {
    ("routine", "kind"): "task",
    ("routine", "rule"): {"kind": "every", "interval_s": 1200, "anchor_at": "2026-03-01T07:30:00Z"},
}
_BANDS = ("moss", "rust", "teal", "plum", "sand", "slate", "fern", "coral")


@cache
def _schema(model: type[BaseModel]) -> Json:
    """JSON schema of an input model, made once; only read."""
    return model.model_json_schema()


def resolve(schema: Json, root: Json) -> Json:
    """The schema itself: references followed, `null` branches left out."""
    while True:
        if "$ref" in schema:
            schema = root["$defs"][schema["$ref"].rsplit("/", 1)[1]]
        elif "anyOf" in schema or "oneOf" in schema:
            branches = schema.get("anyOf") or schema["oneOf"]
            schema = next(b for b in branches if b.get("type") != "null")
        elif "allOf" in schema:
            schema = schema["allOf"][0]
        else:
            return schema


def _number(schema: Json, turn: int) -> float | int:
    # 300 lies inside most ranges of the trade; elsewhere the nearest end does.
    wanted = 300 + turn
    least = schema.get("minimum", schema.get("exclusiveMinimum", wanted))
    return int(max(least, min(wanted, schema.get("maximum", wanted))) // 1) or least


def sample(schema: Json, root: Json, turn: int) -> Any:
    """A value the schema allows; `turn` makes the next one differ where it can."""
    schema = resolve(schema, root)
    if "const" in schema:
        return schema["const"]
    if "enum" in schema:
        return schema["enum"][0]
    if schema.get("examples"):
        return schema["examples"][0]
    if "example" in schema:
        return schema["example"]
    kind = schema.get("type")
    if kind == "object":
        properties = schema.get("properties", {})
        return {name: sample(properties[name], root, turn) for name in schema.get("required", [])}
    if kind == "array":
        return [sample(schema["items"], root, turn) for _ in range(schema.get("minItems", 0))]
    if kind in ("number", "integer"):
        return _number(schema, turn)
    if kind == "boolean":
        return True
    return _text(schema, turn)


def _text(schema: Json, turn: int) -> str:
    now = datetime.now(UTC).replace(microsecond=0)
    if schema.get("format") == "date-time":
        return (now - timedelta(hours=6) + timedelta(seconds=turn)).isoformat().replace("+00:00", "Z")
    if schema.get("format") == "date":
        return (now.date() + timedelta(days=turn % 300)).isoformat()
    if schema.get("format") == "uuid":
        return str(new_uid())
    text = _BANDS[turn % len(_BANDS)] + (f" {turn}" if turn >= len(_BANDS) else "")
    return text[: schema.get("maxLength", 80)]


def bodies_for(record_type: RecordType, parent_of: Callable[[str], str], turn: int = 0) -> Iterator[Json]:
    """Bodies that the input model takes, the smallest first.

    parent_of(type name): uid of a record of that type.  When the required fields are not enough (one of two
    references, one of two ways to say a weight), optional ones are added, as few as will do.
    """
    root = _schema(record_type.input)
    required = list(root.get("required", []))
    optional = [name for name in root["properties"] if name not in required and name != "reason"]
    optional.sort(key=lambda name: name not in record_type.refs)
    for more in _few(optional):
        body = {name: _value(record_type, name, root, parent_of, turn) for name in [*required, *more]}
        try:
            record_type.input.model_validate(body)
        except ValidationError:
            continue
        yield body


def _few(names: list[str]) -> Iterator[tuple[str, ...]]:
    for count in range(4):
        yield from combinations(names, count)


def _value(record_type: RecordType, name: str, root: Json, parent_of: Callable[[str], str], turn: int) -> Any:
    if name in record_type.refs:
        return parent_of(record_type.refs[name])
    if (record_type.name, name) in _WORDS:
        return _WORDS[record_type.name, name]
    return sample(root["properties"][name], root, turn)


def body_of(model: type[BaseModel], turn: int = 0) -> Json:
    """A body of a plain input model: its required fields."""
    root = _schema(model)
    made: Json = sample(root, root, turn)
    return made


def other_words(record_type: RecordType, body: Json) -> Iterator[Json]:
    """The body, then the same with each other word of its fields that choose from a list: what a record may be
    about can depend on such a word."""
    yield body
    root = _schema(record_type.input)
    for name, value in body.items():
        words = resolve(root["properties"][name], root).get("enum", [])
        yield from (body | {name: word} for word in words if word != value)


def text_field(record_type: RecordType) -> str | None:
    """A field of free text that a correction may change; None when the type has none."""
    root = _schema(record_type.input)
    free = [name for name, schema in root["properties"].items() if _is_free_text(name, resolve(schema, root))]
    return next(
        (name for name in ("note", "instructions", "text") if name in free), free[0] if free else None
    )


def _is_free_text(name: str, schema: Json) -> bool:
    fixed = {"enum", "const", "pattern", "format"} & schema.keys()
    told_apart = name in ("reason", "kind") or name.endswith("_type")
    return (
        schema.get("type") == "string" and not fixed and not told_apart and schema.get("maxLength", 0) >= 30
    )


def patch_for(record_type: RecordType, turn: int = 0) -> Json:
    """A correction of any record: a text changed, with the reason that facts need."""
    name = text_field(record_type)
    assert name is not None, f"{record_type.name} has no text to correct"
    return {name: f"said again {turn}", "reason": "misheard"}


class Stock:
    """Records of one kennel, made when they are first asked for, through a client that may write.

    member(): uid of a membership of the kennel, for the types that refer to one.
    """

    def __init__(self, client: Any, member: Callable[[], str]) -> None:
        self.client = client
        self.made: dict[str, str] = {}
        self.turn = 0
        self._member = member
        self._fields: dict[str, tuple[str, ...]] = {}
        self._one_per_parent: dict[str, bool] = {}

    def parent(self, type_name: str) -> str:
        """Uid of a record of that type, the same each time."""
        if type_name == "membership":
            return self._member()
        if type_name not in self.made:
            self.made[type_name] = self._first(_type(type_name))
        return self.made[type_name]

    def _first(self, record_type: RecordType) -> str:
        """The first one: rules and database may want more than the input model does; what they take is kept."""
        refusal = b"no body fits the input model"
        for body in islice(bodies_for(record_type, self.parent), 60):
            answer = self.client.post(record_type.plural, body)
            if answer.status_code == 201:
                self._fields[record_type.name] = tuple(body)
                return str(answer.json()["uid"])
            refusal = answer.content
        raise AssertionError(f"no {record_type.name} could be made: {refusal!r}")

    def body(self, type_name: str) -> Json:
        """A body that no earlier one is like; below parents of its own where a parent has one such record only."""
        record_type = _type(type_name)
        self.parent(type_name)
        if type_name not in self._one_per_parent:
            probe = self.client.post(record_type.plural, self._next(record_type, self.parent))
            self._one_per_parent[type_name] = probe.status_code != 201
        if not self._one_per_parent[type_name]:
            return self._next(record_type, self.parent)
        apart = Stock(self.client, self._member)
        apart.turn = self.turn + 100
        return self._next(record_type, apart.parent)

    def _next(self, record_type: RecordType, parent_of: Callable[[str], str]) -> Json:
        self.turn += 1
        root = _schema(record_type.input)
        names = self._fields[record_type.name]
        return {name: _value(record_type, name, root, parent_of, self.turn) for name in names}

    def fresh(self, type_name: str) -> str:
        """Uid of a new record of that type."""
        answer = self.client.post(_type(type_name).plural, self.body(type_name))
        assert answer.status_code == 201, (type_name, answer.content)
        return str(answer.json()["uid"])


def _type(name: str) -> RecordType:
    found = types.by_name(name)
    assert found is not None, f"no record type {name}"
    return found
