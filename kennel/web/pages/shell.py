"""The offline shell: service worker, manifest, the page without network, the entries on this device."""

import json

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views import View
from django.views.decorators.http import require_safe

from kennel.web import shell


@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """The worker's script with the version and the files of this release, valid for the whole site."""
    files = [*shell.addresses(), reverse("web:offline"), reverse("web:outbox"), reverse("web:manifest")]
    head = f"const VERSION = {json.dumps(shell.version())};\nconst SHELL = {json.dumps(files)};\n"
    answer = HttpResponse(head + shell.WORKER.read_text(), content_type="text/javascript; charset=utf-8")
    answer["Service-Worker-Allowed"] = "/"
    answer["Cache-Control"] = "no-cache"
    return answer


@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """Web app manifest."""
    icons = [
        {"src": static("web/icons/icon-192.png"), "sizes": "192x192", "type": "image/png"},
        {"src": static("web/icons/icon-512.png"), "sizes": "512x512", "type": "image/png"},
        {
            "src": static("web/icons/icon-maskable-512.png"),
            "sizes": "512x512",
            "type": "image/png",
            "purpose": "maskable",
        },
    ]
    answer = JsonResponse(
        {
            "name": "Kennel",
            "short_name": "Kennel",
            "description": "Weights, meals and reminders of a breeding kennel.",
            "id": "/",
            "start_url": reverse("web:first"),
            "scope": "/",
            "display": "standalone",
            "background_color": "#f6f4ef",
            "theme_color": "#f6f4ef",
            "lang": "en-GB",
            "icons": icons,
        }
    )
    answer["Content-Type"] = "application/manifest+json"
    answer["Cache-Control"] = "public, max-age=3600"
    return answer


class Offline(View):
    """What opens when a page was never seen and there is no network.  Holds nothing of anybody."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """The page."""
        return render(request, "web/offline.html", {"shell": True})


class Outbox(View):
    """The entries on this device.  The page is empty; its script fills it from the device's store."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """The page."""
        return render(request, "web/outbox.html", {"shell": True})
