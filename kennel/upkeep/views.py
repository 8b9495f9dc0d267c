"""/livez, /readyz, /healthz and /problems/<slug>."""

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone

from kennel.api.problems import SLUGS
from kennel.upkeep import probes

_RETRY = {
    "same": "Send the same again later; nothing is stored twice.",
    "never": "Sending it again changes nothing.",
    "after_change": "Send it again after changing what is named.",
}


def livez(request: HttpRequest) -> HttpResponse:
    """This process runs."""
    return HttpResponse("alive\n", content_type="text/plain")


def readyz(request: HttpRequest) -> HttpResponse:
    """This process can answer."""
    found = probes.ready()
    return HttpResponse(f"{found.seen}\n", status=200 if found.is_well else 503, content_type="text/plain")


def healthz(request: HttpRequest) -> HttpResponse:
    """The whole server is well: for monitors."""
    found = probes.findings(timezone.now())
    body = {f.name: {"well": f.is_well, "seen": f.seen} for f in found}
    return JsonResponse(body, status=200 if all(f.is_well for f in found) else 503)


def problem(request: HttpRequest, slug: str) -> HttpResponse:
    """What a problem type means (the `type` of problem documents leads here)."""
    if slug not in SLUGS:
        raise Http404
    known = SLUGS[slug]
    text = f"{slug} (status {known.status})\n\n{known.title}.\n{_RETRY[known.retry]}\n"
    return HttpResponse(text, content_type="text/plain; charset=utf-8")
