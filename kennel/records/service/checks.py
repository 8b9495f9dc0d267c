"""Input models checked, and their errors as the refusal every client knows."""

from typing import Any

from pydantic import BaseModel, ValidationError

from kennel.records.refusals import FieldError, Refusal


def check(model: type[BaseModel], data: Any) -> Any:
    """Validate data.  Raises Refusal("validation") that names every bad field by pointer."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise refusal_of(error) from None


def refusal_of(error: ValidationError) -> Refusal:
    """The same refusal for every input model: pointer, code and text for each error."""
    errors = []
    for item in error.errors(include_url=False, include_input=False, include_context=False):
        pointer = "".join(f"/{escape(part)}" for part in item["loc"] if not _is_branch(part))
        errors.append(FieldError(f"#{pointer}", item["type"], item["msg"]))
    return Refusal("validation", "", errors)


def _is_branch(part: int | str) -> bool:
    return isinstance(part, str) and part.startswith(("function-", "constrained-", "lax-or-strict"))


def escape(part: int | str) -> str:
    """Part of a JSON pointer (RFC 6901), with ~ and / escaped."""
    return str(part).encode("utf-8", "replace").decode().replace("~", "~0").replace("/", "~1")
