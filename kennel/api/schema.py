"""Operations of the API's OpenAPI 3.1 description, made from the same registrations as the views."""

from collections.abc import Iterable
from typing import Any

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse
from pydantic import BaseModel

from kennel.api import filters
from kennel.api.components import (
    INSTANT,
    UID,
    Json,
    column,
    every_component,
    history_schema,
    model_reference,
    page_of,
    reference,
)
from kennel.api.problems import SLUGS
from kennel.records.types import RecordType

ALWAYS = (
    "malformed",
    "unauthenticated",
    "forbidden",
    "not-found",
    "quota-exceeded",
    "unavailable",
    "internal",
)
WRITES = ("validation", "too-large", "unsupported-media")


class KennelSchema(AutoSchema):
    """Describes an operation from its view's `record_type`, or from the attributes a plain view declares."""

    def get_operation_id(self) -> str:
        """Path words and method, stable over releases."""
        words = [w for w in self.path.removeprefix("/api/v1/").split("/") if not w.startswith("{")]
        one = "one" if self.path.endswith("}") else ""
        return "_".join(filter(None, [self.method.lower(), *words, one])).replace("-", "_")

    def get_tags(self) -> list[str]:
        """The resource's name."""
        words = self.path.removeprefix("/api/v1/").split("/")
        return [words[2] if len(words) > 2 else "kennels"]

    def get_summary(self) -> str:
        """First line of the method's docstring."""
        doc = getattr(self.view, self.method.lower()).__doc__ or ""
        return str(doc.strip().splitlines()[0].rstrip(".")) if doc.strip() else ""

    def get_description(self) -> str:  # type: ignore[override]  # drf-spectacular calls it without arguments
        """What the resource is, then which problems this operation may answer."""
        about = self._type.doc if self._type else (type(self.view).__doc__ or "").strip()
        return f"{about} Problems: {', '.join(self._slugs())}."

    @property
    def _type(self) -> RecordType | None:
        return getattr(self.view, "record_type", None)

    @property
    def _is(self) -> str:
        return type(self.view).__name__

    def _slugs(self) -> list[str]:
        slugs = list(ALWAYS)
        if self.method in ("POST", "PATCH"):
            slugs += WRITES
        if self._is == "RecordList" and self.method == "POST":
            slugs += ["uid-conflict", "parent-missing", "erased"]
        if (self._type and self.method in ("PATCH", "DELETE")) or self._is == "RecordRestore":
            slugs += ["version-mismatch", "precondition-required", "parent-missing", "validation"]
        slugs += getattr(self.view, "slugs", ())
        return sorted(set(slugs), key=lambda s: (SLUGS[s].status, s))

    def get_auth(self) -> list[Json]:
        """A device token or a session; public operations say so with `authentication_classes = []`."""
        if not self.view.authentication_classes:
            return [{}]
        return [{"deviceToken": []}, {"session": []}]

    def get_request_serializer(self) -> Any:
        """Body of the operation as a ready schema, by media type."""
        body = self._body() if self.method in ("POST", "PATCH") else None
        if body is None:
            return None
        types_of_body = ["application/json"] + ["application/merge-patch+json"] * (self.method == "PATCH")
        return dict.fromkeys(types_of_body, body)

    def _body(self) -> Any:
        if self._type:
            if self._is == "RecordRestore":
                return None
            name = self._type.model.__name__
            return reference(f"{name}Input" if self.method == "POST" else f"{name}Patch")
        body = getattr(self.view, "body_input", None)
        if isinstance(body, dict) and self.method in body:
            body = body[self.method]
        if isinstance(body, type) and issubclass(body, BaseModel):
            return model_reference(body)
        return body

    def get_response_serializers(self) -> Any:
        """Answers: the good ones of this operation, and problem documents by status."""
        answers: dict[Any, Any] = dict(self._good())
        by_status: dict[int, list[str]] = {}
        for slug in self._slugs():
            by_status.setdefault(SLUGS[slug].status, []).append(slug)
        for status, slugs in by_status.items():
            answers[str(status), "application/problem+json"] = OpenApiResponse(
                reference("Problem"), description=", ".join(slugs)
            )
        return answers

    def _good(self) -> Iterable[tuple[Any, Any]]:
        declared = getattr(self.view, "answer_schema", None)
        if declared is not None:
            chosen = (
                declared.get(self.method, declared)
                if "type" not in declared and "$ref" not in declared
                else declared
            )
            status = getattr(self.view, "answer_status", {}).get(self.method, 200)
            yield str(status), OpenApiResponse(chosen or None, description="Done.")
            for other in getattr(self.view, "also_status", {}).get(self.method, ()):
                yield (
                    str(other),
                    OpenApiResponse(chosen if other in (200, 201) else None, description="Done."),
                )
            return
        if self._type is None:
            yield "200", OpenApiResponse({"type": "object"}, description="Done.")
            return
        shown = reference(self._type.model.__name__)
        if self._is == "RecordHistory":
            yield "200", OpenApiResponse(history_schema(), description="Every version, oldest first.")
        elif self._is == "RecordList" and self.method == "GET":
            yield "200", OpenApiResponse(page_of(shown), description="A page, newest first.")
            yield "304", OpenApiResponse(None, description="Nothing changed in this kennel.")
        elif self._is == "RecordList":
            yield "201", OpenApiResponse(shown, description="Recorded.")
            yield "200", OpenApiResponse(shown, description="Was recorded already (Replayed: true).")
        elif self.method == "DELETE":
            yield "204", OpenApiResponse(None, description="Deleted; restorable for 30 days.")
        else:
            yield "200", OpenApiResponse(shown, description="The record as it is now.")
            if self.method == "GET":
                yield "304", OpenApiResponse(None, description="You have this version.")

    def get_override_parameters(self) -> list[Any]:
        """Path, query and header parameters."""
        found = [
            OpenApiParameter(
                name, UID if name in ("kennel", "uid") else {"type": "string"}, OpenApiParameter.PATH
            )
            for name in _path_names(self.path)
        ]
        if self._is == "RecordList" and self.method == "GET" and self._type:
            found += [_query("cursor", {"type": "string"}), _query("limit", _LIMIT)]
            found += [_query(name, _filter_schema(self._type, name)) for name in filters.names(self._type)]
        query = getattr(self.view, "query_input", None)
        if query is not None and self.method == "GET":
            schema = query if isinstance(query, dict) else query.model_json_schema()
            needed = schema.get("required", [])
            for name, nested in schema["properties"].items():
                found.append(OpenApiParameter(name, nested, OpenApiParameter.QUERY, required=name in needed))
        needs_version = self._type is not None and (
            self.method in ("PATCH", "DELETE") or self._is == "RecordRestore"
        )
        if needs_version or self.method in getattr(self.view, "needs_if_match", ()):
            found.append(
                OpenApiParameter("If-Match", {"type": "string"}, OpenApiParameter.HEADER, required=True)
            )
        return found


_LIMIT: Json = {"type": "integer", "minimum": 1, "maximum": 200, "default": 50}


def _query(name: str, schema: Json) -> OpenApiParameter:
    return OpenApiParameter(name, schema, OpenApiParameter.QUERY)


def _filter_schema(record_type: RecordType, name: str) -> Json:
    if name == "deleted":
        return {"type": "string", "enum": ["no", "yes", "all"], "default": "no"}
    if name in ("since", "until"):
        return INSTANT
    if name in record_type.refs:
        return UID
    schema = column(record_type.columns[name])
    if isinstance(schema.get("type"), list):
        schema["type"] = schema["type"][0]
    return schema


def _path_names(path: str) -> list[str]:
    return [part[1:-1] for part in path.split("/") if part.startswith("{")]


def only_api(endpoints: list[Any], **_: Any) -> list[Any]:
    """Leave out everything that is not under /api/."""
    return [endpoint for endpoint in endpoints if endpoint[0].startswith("/api/")]


def finish(result: Json, generator: Any, request: Any, public: bool) -> Json:
    """Add the components that record types and pydantic models make."""
    result.setdefault("components", {}).setdefault("schemas", {}).update(every_component())
    return result
