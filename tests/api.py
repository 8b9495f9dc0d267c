"""A small client for tests: speaks as a device of one kennel through Django's whole stack."""

from typing import Any

from django.test import Client

from kennel.people.models import Carer
from tests.factories.people import Place, make_device


class DeviceClient:
    """Sends JSON below /api/v1/kennels/{kennel}/ with a device token."""

    def __init__(
        self,
        place: Place,
        token: str | None = None,
        scopes: tuple[str, ...] = ("read", "write"),
        carer: Carer | None = None,
    ) -> None:
        self.place = place
        self.token = token or make_device(place, scopes, carer)[1]
        self.base = f"/api/v1/kennels/{place.here.uid}/"
        self.http = Client(raise_request_exception=False)

    def send(self, method: str, path: str, data: Any = None, **headers: str) -> Any:
        """Any request; header names with underscores."""
        return self.http.generic(
            method,
            path if path.startswith("/") else self.base + path,
            data=b"" if data is None else (data if isinstance(data, bytes) else _dumps(data)),
            content_type="application/json",
            headers={
                "Authorization": f"Bearer {self.token}",
                **{k.replace("_", "-"): v for k, v in headers.items()},
            },
        )

    def get(self, path: str, **headers: str) -> Any:
        """GET."""
        return self.send("GET", path, **headers)

    def post(self, path: str, data: Any, **headers: str) -> Any:
        """POST."""
        return self.send("POST", path, data, **headers)

    def patch(self, path: str, data: Any, version: int | None = None, **headers: str) -> Any:
        """PATCH, with If-Match when a version is given."""
        if version is not None:
            headers["If_Match"] = f'"v{version}"'
        return self.send("PATCH", path, data, **headers)

    def delete(self, path: str, version: int | None = None, **headers: str) -> Any:
        """DELETE, with If-Match when a version is given."""
        if version is not None:
            headers["If_Match"] = f'"v{version}"'
        return self.send("DELETE", path, **headers)


def _dumps(data: Any) -> bytes:
    from kennel.api.rendering import dumps

    return dumps(data)
