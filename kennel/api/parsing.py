"""A strict JSON parser: what is ambiguous, unbounded or not JSON is refused before it reaches a field."""

import json
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, NoReturn

from rest_framework.parsers import BaseParser

from kennel.records.refusals import Refusal

DEEPEST = 32
LONGEST_ARRAY = 1000


def loads(body: bytes) -> Any:
    """Parse a request body.  Raises Refusal("malformed") for anything but clean JSON (RFC 8259, I-JSON habits)."""
    try:
        text = body.decode("utf-8")
        value = json.loads(
            text,
            object_pairs_hook=_once,
            parse_float=Decimal,
            parse_constant=_no_constant,
            parse_int=_integer,
        )
    except UnicodeDecodeError:
        raise Refusal("malformed", "The body is not UTF-8.") from None
    except RecursionError:
        raise Refusal("malformed", f"JSON deeper than {DEEPEST} levels is not accepted.") from None
    except ValueError:
        raise Refusal("malformed", "The body is not JSON.") from None
    _measure(value, 1)
    return value


def load_object(body: bytes) -> dict[str, Any]:
    """Parse a body that must be a JSON object."""
    value = loads(body)
    if not isinstance(value, dict):
        raise Refusal("malformed", "A JSON object is expected.")
    return value


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result = dict(pairs)
    if len(result) != len(pairs):
        raise Refusal("malformed", "A key stands twice in one object.")
    return result


def _no_constant(word: str) -> NoReturn:
    raise Refusal("malformed", f"{word} is not JSON.")


def _integer(digits: str) -> int:
    if len(digits) > 40:
        raise Refusal("malformed", "A number has too many digits.")
    return int(digits)


def _measure(value: Any, depth: int) -> None:
    if depth > DEEPEST:
        raise Refusal("malformed", f"JSON deeper than {DEEPEST} levels is not accepted.")
    children: Iterable[Any]
    if value.__class__ is dict:
        children = value.values()
    elif value.__class__ is list:
        if len(value) > LONGEST_ARRAY:
            raise Refusal("malformed", f"An array longer than {LONGEST_ARRAY} is not accepted.")
        children = value
    else:
        return
    for child in children:
        if child.__class__ is dict or child.__class__ is list:
            _measure(child, depth + 1)


class StrictJsonParser(BaseParser):
    """REST framework's way in; the views read the parsed object from `request.data`."""

    media_type = "application/json"

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> dict[str, Any]:
        """The body as a JSON object."""
        return load_object(stream.read())


class MergePatchParser(StrictJsonParser):
    """The same under the media type of RFC 7396."""

    media_type = "application/merge-patch+json"
