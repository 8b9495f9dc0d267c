"""Service worker, manifest and the version all files share."""

import json
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.test import Client

from kennel.web import shell

pytestmark = pytest.mark.usefixtures("db")


def test_the_worker_may_serve_the_whole_site_and_is_always_asked_for_anew() -> None:
    answer = Client().get("/sw.js")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Service-Worker-Allowed"] == "/"
    assert answer["Cache-Control"] == "no-cache"


def test_every_file_of_the_shell_exists_and_is_served() -> None:
    text = Client().get("/sw.js").content.decode()
    files = json.loads(re.search(r"const SHELL = (\[.*?\]);", text)[1])  # type: ignore[index]
    assert "/static/web/site.css" in files
    assert "/static/litters/weigh_in.js" in files
    for address in files:
        assert Client().get(address).status_code == 200, address


def test_every_module_a_shell_script_imports_is_part_of_the_shell() -> None:
    files = set(shell.addresses())
    scripts = [name for name in files if name.endswith(".js") and "htmx" not in name]
    for address in scripts:
        path = finders.find(address.removeprefix("/static/"))
        assert isinstance(path, str)
        with open(path) as script:
            imported = re.findall(r'from "(?:\./|\.\./)([a-z_/]+\.js)"', script.read())
        for name in imported:
            folder = address.removeprefix("/static/").split("/")[0]
            wanted = f"/static/{name}" if "/" in name else f"/static/{folder}/{name}"
            assert wanted in files, f"{address} needs {wanted} without network too"


def test_the_version_changes_with_any_file(tmp_path: object, monkeypatch: pytest.MonkeyPatch) -> None:
    shell.version.cache_clear()
    before = shell.version()
    monkeypatch.setattr(shell, "_files", [*shell._files, "litters/weigh_in.js"])
    shell.version.cache_clear()
    assert shell.version() != before
    monkeypatch.undo()
    shell.version.cache_clear()
    assert shell.version() == before


def test_the_manifest_names_icons_that_exist_in_the_size_it_says() -> None:
    manifest = Client().get("/manifest.webmanifest")
    assert manifest["Content-Type"] == "application/manifest+json"
    body = manifest.json()
    assert body["display"] == "standalone"
    assert {icon["sizes"] for icon in body["icons"]} == {"192x192", "512x512"}
    for icon in body["icons"]:
        path = finders.find(icon["src"].removeprefix("/static/"))
        assert isinstance(path, str)
        png = Path(path).read_bytes()
        # PNG (ISO/IEC 15948), clause 11.2.2: width and height are the first fields of IHDR.
        width, height = int.from_bytes(png[16:20], "big"), int.from_bytes(png[20:24], "big")
        assert f"{width}x{height}" == icon["sizes"]
