"""Asks the web server how it is, the way a visitor of its public name would, but over the local address."""

import http.client
import socket
import ssl
from pathlib import Path
from urllib.parse import urlsplit


class _ByAddress(http.client.HTTPSConnection):
    """Connects to one address and checks the certificate against another name."""

    def __init__(self, address: str, port: int, name: str, context: ssl.SSLContext) -> None:
        super().__init__(address, port, timeout=5, context=context)
        self._name, self._tls = name, context

    def connect(self) -> None:
        """Open the connection with the name in the TLS greeting."""
        plain = socket.create_connection((self.host, self.port), self.timeout)
        self.sock = self._tls.wrap_socket(plain, server_hostname=self._name)


def answer_status(url: str, host: str, authority: Path | None = None) -> int | None:
    """Status of GET url, or None when nothing answers.

    host: what to send as Host (and to check the certificate against).  authority: trusted certificate
    authority.
    """
    parts = urlsplit(url)
    assert parts.hostname is not None
    assert parts.port is not None
    connection: http.client.HTTPConnection
    if parts.scheme == "https":
        context = ssl.create_default_context(cafile=authority)
        connection = _ByAddress(parts.hostname, parts.port, host.rsplit(":", 1)[0], context)
    else:
        connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=5)
    try:
        connection.request("GET", parts.path, headers={"Host": host})
        return connection.getresponse().status
    except (OSError, http.client.HTTPException):
        return None
    finally:
        connection.close()
