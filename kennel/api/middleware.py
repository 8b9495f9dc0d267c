"""What happens to every request before anything touches the database."""

import uuid
from collections.abc import Callable

import structlog
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.request import UnreadablePostError

from kennel.api import problems
from kennel.records.refusals import Refusal
from kennel.web import errors

Handler = Callable[[HttpRequest], HttpResponse]
log = structlog.get_logger(__name__)
API_BODY_BYTES = 1024 * 1024
DRAINED_BYTES = 8 * API_BODY_BYTES


def request_id(get_response: Handler) -> Handler:
    """Give each request an id of our own: in the answer, in problem documents, in the journal and in the log."""

    def handle(request: HttpRequest) -> HttpResponse:
        identifier = uuid.uuid4()
        request.request_id = identifier  # type: ignore[attr-defined]
        structlog.contextvars.clear_contextvars()
        structlog.contextvars.bind_contextvars(request_id=str(identifier))
        answer = get_response(request)
        answer["Request-Id"] = str(identifier)
        if answer.status_code >= 500:
            log.warning("request failed", method=request.method, status=answer.status_code)
        return answer

    return handle


def body_first(get_response: Handler) -> Handler:
    """Read the whole body first: a slow or half-sent request holds a thread, but no database connection."""

    def handle(request: HttpRequest) -> HttpResponse:
        under_api = request.path.startswith("/api/")
        most = (
            API_BODY_BYTES if under_api and not _is_upload(request) else settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        )
        try:
            length = int(request.META.get("CONTENT_LENGTH") or 0)
        except ValueError:
            length = 0
        if length > most:
            _drain(request, length)
            if under_api:
                return problems.response(Refusal("too-large", f"At most {most} bytes are accepted."), request)
            return errors.too_large(request)
        if length:
            try:
                request.body  # noqa: B018  (reading it is the point)
            except UnreadablePostError:
                return HttpResponse(status=400)
        return get_response(request)

    return handle


def _drain(request: HttpRequest, length: int) -> None:
    """Read away a body that is too large, piece by piece, unless it is far too large.

    A connection that ends while the client still sends loses our answer: the client would see a broken network
    and send the same for ever.
    """
    if length > DRAINED_BYTES:
        return
    try:
        while request.read(65536):
            pass
    except UnreadablePostError:
        return


def _is_upload(request: HttpRequest) -> bool:
    return request.path.endswith("/imports")


def problems_under_api(get_response: Handler) -> Handler:
    """Turn every error under /api that is not a problem document yet (404, 405, 400, 500 before a view) into one."""

    def handle(request: HttpRequest) -> HttpResponse:
        answer = get_response(request)
        if (
            answer.status_code >= 400
            and request.path.startswith("/api/")
            and answer.get("Content-Type") != "application/problem+json"
        ):
            return problems.for_status(answer.status_code, request)
        return answer

    return handle
