"""People who are signed in, for tests: JSON below a kennel, or pages."""

import re
from typing import Any

from django.test import Client

from kennel.api.rendering import dumps
from kennel.people.models import Carer
from kennel.records.ids import new_uid
from tests.factories.people import CarerFactory, Place

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


class CarerClient:
    """Speaks JSON to the API with the session of a carer; `None` is somebody who is not signed in."""

    def __init__(self, place: Place, carer: Carer | None) -> None:
        self.base = f"/api/v1/kennels/{place.here.uid}/"
        self.http = Client(raise_request_exception=False)
        if carer is not None:
            self.http.force_login(carer, backend=BACKEND)

    def send(
        self, method: str, path: str, data: Any = None, version: int | None = None, **headers: str
    ) -> Any:
        """Any request; header names with underscores."""
        if version is not None:
            headers["If_Match"] = f'"v{version}"'
        return self.http.generic(
            method,
            path if path.startswith("/") else self.base + path,
            data=b"" if data is None else dumps(data),
            content_type="application/json",
            headers={key.replace("_", "-"): value for key, value in headers.items()},
        )

    def get(self, path: str, **headers: str) -> Any:
        """GET."""
        return self.send("GET", path, None, None, **headers)

    def post(self, path: str, data: Any = None, **headers: str) -> Any:
        """POST."""
        return self.send("POST", path, data, None, **headers)


def make_carer(**columns: Any) -> Carer:
    """Somebody with an account."""
    carer: Carer = CarerFactory.create(**columns)
    return carer


def browser(carer: Carer | None = None) -> Client:
    """A browser, in which somebody may be signed in."""
    http = Client()
    if carer is not None:
        http.force_login(carer, backend=BACKEND)
    return http


def below(place: Place, path: str) -> str:
    """Path of a page of the kennel."""
    return f"/kennels/{place.here.uid}/{path}"


def make_device_by_form(place: Place, keeper: Client, **values: Any) -> tuple[str, str]:
    """(path of the device's page, pairing code)."""
    form = {
        "uid": new_uid(),
        "name": "Scale at the box",
        "kind": "scale",
        "member": "",
        "may": "write",
        "days": 400,
    }
    made = keeper.post(below(place, "devices/new"), {**form, **values})
    assert made.status_code == 302, made.content.decode()
    code = re.search(r'<p class="code">(\S+)</p>', keeper.get(made["Location"]).content.decode())
    assert code is not None
    return made["Location"], code[1]


def slug(answer: Any) -> str:
    """Problem slug of an answer."""
    assert answer["Content-Type"] == "application/problem+json", answer.content
    return str(answer.json()["type"]).removeprefix("/problems/")


def codes(answer: Any) -> list[str]:
    """Codes of the errors of a problem document."""
    return [error["code"] for error in answer.json().get("errors", [])]
