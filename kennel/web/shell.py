"""The files that make the pages work without network, and the one version all of them share."""

import hashlib
from functools import lru_cache
from pathlib import Path

from django.contrib.staticfiles import finders
from django.templatetags.static import static

_files: list[str] = [
    "web/site.css",
    "web/htmx.min.js",
    "web/app.js",
    "web/clock.js",
    "web/entries.js",
    "web/entry_form.js",
    "web/install.js",
    "web/outbox.js",
    "web/sending.js",
    "web/status.js",
    "web/store.js",
    "web/uid.js",
    "web/icons/icon.svg",
    "web/icons/icon-192.png",
]
WORKER = Path(__file__).parent / "service_worker.js"


def add_files(*names: str) -> None:
    """Add static files an entry page needs; apps call this in `apps.py`."""
    _files.extend(names)


@lru_cache(maxsize=1)
def version() -> str:
    """Short hash over the content of all shell files: it changes exactly when one of them does."""
    digest = hashlib.sha256(WORKER.read_bytes())
    for name in _files:
        digest.update(_path_of(name).read_bytes())
    return digest.hexdigest()[:12]


def _path_of(name: str) -> Path:
    found = finders.find(name)
    if not isinstance(found, str):
        raise FileNotFoundError(f"static file {name} of the offline shell is missing")
    return Path(found)


def addresses() -> list[str]:
    """Addresses of the shell files, without the version: modules import each other by plain names."""
    return [static(name) for name in _files]
