"""What the terminal shows once the server answers."""

import io
import os
import time
from pathlib import Path
from typing import Any

import segno

from deploy.certificates import Certificates

_LOADED = time.time()


def started_at() -> float:
    """When the command was called, as seconds since 1970: before any package was installed."""
    return float(os.environ.get("KENNEL_STARTED") or _LOADED)


def greeting(
    *, origin: str, state: Path, seconds: float, demo: dict[str, Any], mail: Path | None, sends_mail: bool
) -> str:
    """The lines to print: address, sign-ins, token, where mail goes, where things are kept."""
    lines = ["", f"  The kennel server answers at   {origin}", f"  (ready after {seconds:.1f} s)", ""]
    if sign_ins := demo.get("sign_ins"):
        lines += ["  Demo kennel: sign in as", ""]
        width = max(len(person["name"]) for person in sign_ins)
        reach = max(len(person["email"]) for person in sign_ins)
        for person in sign_ins:
            name, email = f"{person['name']:<{width}}", f"{person['email']:<{reach}}"
            lines.append(f"    {name}   {person['role']:<6}   {email}   {person['password']}")
        lines.append("")
    if token := demo.get("device_token"):
        lines += ["  Demo device token, and the kennel it belongs to", "", f"    {token}"]
        lines += [f"    {demo['kennel']}"] if "kennel" in demo else []
        lines.append("")
    lines += [f"  {heading:<15}{text}" for heading, text in _places(state, mail, sends_mail)]
    lines += ["  Stop with      Ctrl-C", ""]
    return "\n".join(lines)


def _places(state: Path, mail: Path | None, sends_mail: bool) -> list[tuple[str, str]]:
    if mail is not None:
        where = f"is not sent but kept in {mail} (EMAIL_URL sends it for real)"
    else:
        where = (
            "is sent by your mail server"
            if sends_mail
            else "is switched off: set EMAIL_URL to send reminders"
        )
    return [("Mail", where), ("Records, logs", str(state))]


def certificate_lines(certificates: Certificates, address: str, page: str | None, unicode: bool) -> str:
    """How a phone gets to trust this server, with a QR of the page that hands out the certificate.

    page: address of that page, or None when this machine is in no network.
    """
    lines = ["  For phones and tablets in this network, once each:", ""]
    if page:
        lines += [f"    open {page} and take the certificate, then open {address}", ""]
        if unicode:
            picture = io.StringIO()
            segno.make(page, error="m").terminal(picture, compact=True, border=2)
            lines += [f"    {line}" for line in picture.getvalue().splitlines()]
    lines += ["  Compare its fingerprint (SHA-256):", ""]
    lines += [f"    {certificates.fingerprint[start : start + 48]}" for start in (0, 48)]
    lines += ["", f"  The certificate as a file: {certificates.authority}", ""]
    return "\n".join(lines)
