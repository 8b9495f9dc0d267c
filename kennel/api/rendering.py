"""JSON out, by orjson."""

from decimal import Decimal
from typing import Any

import orjson
from django.http import HttpResponse
from rest_framework.renderers import BaseRenderer


class JsonRenderer(BaseRenderer):
    """The only renderer of the API."""

    media_type = "application/json"
    format = "json"
    charset = None

    def render(
        self, data: Any, accepted_media_type: str | None = None, renderer_context: Any = None
    ) -> bytes:
        """Bytes of a JSON document."""
        return b"" if data is None else dumps(data)


def dumps(data: Any) -> bytes:
    """JSON bytes: instants in UTC with Z, decimals as plain numbers."""
    return orjson.dumps(data, default=_plain, option=orjson.OPT_UTC_Z)


def _plain(value: Any) -> int | float | str:
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    return str(value)


def json_response(
    body: bytes | str, *, status: int = 200, etag: str | None = None, store: bool = True
) -> HttpResponse:
    """Answer with ready JSON.  `store=False` for contact data that no cache may keep."""
    content = body.encode() if isinstance(body, str) else body
    answer = HttpResponse(content, status=status, content_type="application/json")
    answer["Content-Length"] = str(len(content))
    answer["Cache-Control"] = "private, no-cache" if store else "no-store"
    answer["Vary"] = "Authorization, Cookie"
    if etag:
        answer["ETag"] = etag
    return answer
