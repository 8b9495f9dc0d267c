"""Components of the API's description: schemas of record types, pydantic models, problems and lists."""

from typing import Any

from django.contrib.postgres.fields import ArrayField
from django.db import models
from pydantic import BaseModel

from kennel.api.problems import SLUGS
from kennel.records import types
from kennel.records.types import RecordType

Json = dict[str, Any]
UID: Json = {"type": "string", "format": "uuid"}
INSTANT: Json = {"type": "string", "format": "date-time"}
_components: dict[str, Json] = {}


def reference(name: str) -> Json:
    """$ref to a component."""
    return {"$ref": f"#/components/schemas/{name}"}


def model_reference(model: type[BaseModel]) -> Json:
    """$ref to a pydantic model, adding it (and what it refers to) to the components."""
    schema = model.model_json_schema(ref_template="#/components/schemas/{model}", mode="validation")
    for name, nested in schema.pop("$defs", {}).items():
        _components[name] = nested
    _components[model.__name__] = schema
    return reference(model.__name__)


def shown_schema(record_type: RecordType) -> Json:
    """Schema of a record as the API shows it."""
    properties: dict[str, Json] = {name: column(field) for name, field in record_type.columns.items()}
    properties |= {
        "recorded_by": {"type": ["string", "null"], "description": "Name of the carer."},
        "recorded_device": {"type": ["string", "null"], "description": "Name of the device."},
        "deleted": {"type": "boolean"},
    }
    properties |= {name: computed.schema for name, computed in record_type.computed.items()}
    return {
        "type": "object",
        "description": record_type.doc,
        "properties": properties,
        "required": sorted(properties),
        "additionalProperties": False,
    }


def column(field: "models.Field[Any, Any]") -> Json:
    """Schema of a stored column as the API shows it."""
    schema = dict(_kind(field))
    if field.choices and not isinstance(field, ArrayField):
        schema["enum"] = [value for value, _ in field.choices]
        if field.blank and field.empty_strings_allowed and field.has_default() and field.default == "":
            schema["enum"].append("")
    if field.null:
        known = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
        schema["type"] = [*known, "null"]
        if "enum" in schema:
            schema["enum"] = [*schema["enum"], None]
    return schema


def _kind(field: "models.Field[Any, Any]") -> Json:
    if isinstance(field, models.ForeignKey | models.UUIDField):
        return UID
    if isinstance(field, models.DateTimeField):
        return INSTANT
    if isinstance(field, models.DateField):
        return {"type": "string", "format": "date"}
    if isinstance(field, models.TimeField):
        return {"type": "string", "pattern": "^[0-2][0-9]:[0-5][0-9]$"}
    if isinstance(field, models.BooleanField):
        return {"type": "boolean"}
    if isinstance(field, models.IntegerField):
        return {"type": "integer"}
    if isinstance(field, models.DecimalField | models.FloatField):
        return {"type": "number"}
    if isinstance(field, ArrayField):
        return {"type": "array", "items": _kind(field.base_field)}
    if isinstance(field, models.JSONField):
        return {"type": ["array", "object"]}
    return {"type": "string"}


def _fields(model: type[BaseModel]) -> Json:
    schema = model.model_json_schema(ref_template="#/components/schemas/{model}")
    for name, nested in schema.pop("$defs", {}).items():
        _components[name] = nested
    return schema


def _input(record_type: RecordType) -> Json:
    schema = _fields(record_type.input)
    schema["properties"] = {
        "uid": {
            **UID,
            "type": ["string", "null"],
            "description": "Client-made UUIDv7 (or v4): makes sending twice harmless. Without it (or null) the server"
            " makes one, and sending twice records twice.",
        },
        **schema["properties"],
    }
    return schema


def merge_patch(model: type[BaseModel], title: str, more: str = "") -> Json:
    """Schema of a JSON Merge Patch (RFC 7396) of what a model holds: nothing is needed, null goes back to empty."""
    schema = _fields(model)
    needed = schema.pop("required", [])
    for name, field in schema["properties"].items():
        field.pop("default", None)
        if name not in needed:
            schema["properties"][name] = _or_null(field)
    return {
        **schema,
        "title": title,
        "description": "JSON Merge Patch (RFC 7396): what is not named stays; null takes a value away where there"
        f" need not be one.{more}",
    }


def patch_reference(model: type[BaseModel], title: str) -> Json:
    """$ref to the merge patch of a model, adding it to the components."""
    _components[title] = merge_patch(model, title)
    return reference(title)


def _or_null(schema: Json) -> Json:
    """The schema, or null."""
    if "anyOf" in schema:
        branches = schema["anyOf"]
        return schema if {"type": "null"} in branches else {**schema, "anyOf": [*branches, {"type": "null"}]}
    if isinstance(schema.get("type"), str) and not {"enum", "const"} & schema.keys():
        return {**schema, "type": [schema["type"], "null"]}
    title = {"title": schema.pop("title")} if "title" in schema else {}
    return {**title, "anyOf": [schema, {"type": "null"}]}


def _problem() -> Json:
    return {
        "type": "object",
        "description": "RFC 9457 problem document.",
        "required": ["type", "title", "status", "detail", "instance", "retry"],
        "properties": {
            "type": {"type": "string", "enum": [f"/problems/{slug}" for slug in SLUGS]},
            "title": {"type": "string"},
            "status": {"type": "integer"},
            "detail": {"type": "string"},
            "instance": {"type": "string"},
            "retry": {"type": "string", "enum": ["same", "never", "after_change"]},
            "errors": {
                "type": "array",
                "items": {
                    "type": "object",
                    "required": ["pointer", "code", "detail"],
                    "properties": {name: {"type": "string"} for name in ("pointer", "code", "detail")},
                },
            },
            "current": {"type": "object", "description": "With version-mismatch: the record as it is now."},
            "retry_after_s": {"type": "integer"},
        },
    }


def page_of(item: Json) -> Json:
    """Schema of a list answer."""
    return {
        "type": "object",
        "required": ["results", "next"],
        "properties": {
            "results": {"type": "array", "items": item},
            "next": {"type": ["string", "null"], "description": "Cursor of the next page."},
        },
    }


def page_like(item: Json) -> Json:
    """A list answer that has no next page."""
    return {
        "type": "object",
        "required": ["results"],
        "properties": {"results": {"type": "array", "items": item}},
    }


def history_schema() -> Json:
    """Schema of journal entries."""
    return page_like({"$ref": "#/components/schemas/JournalEntry"})


def every_component() -> dict[str, Json]:
    """All components by name: of the record types, of the models that views use, and the platform's own."""
    for record_type in types.every():
        name = record_type.model.__name__
        _components[name] = shown_schema(record_type)
        _components[f"{name}Input"] = _input(record_type)
        _components[f"{name}Patch"] = merge_patch(record_type.input, f"{name}Patch", " Facts need a reason.")
    _components["Problem"] = _problem()
    _components["JournalEntry"] = _journal_entry()
    return dict(sorted(_components.items()))


def _journal_entry() -> Json:
    nullable = {"type": ["string", "null"]}
    values = {"type": ["object", "null"]}
    return {
        "type": "object",
        "description": "Who changed what; `old` and `new` hold the changed fields.",
        "required": ["seq", "at", "by", "device", "type", "uid", "op", "version", "old", "new"],
        "properties": {
            "seq": {"type": "integer"},
            "at": INSTANT,
            "by": nullable,
            "device": nullable,
            "request": nullable,
            "type": {"type": "string"},
            "uid": UID,
            "op": {"type": "string", "enum": ["create", "update", "delete", "restore"]},
            "version": {"type": "integer"},
            "old": values,
            "new": values,
        },
    }
