"""A page over plain http from which a phone takes the local certificate authority, before it can trust https.

    python -m deploy.certificate_page --certificate FILE --port N --name NAME --origin URL

It serves one public file and nothing else.  Plain http can be tampered with, so the page and the terminal
show the same fingerprint to compare.
"""

import argparse
import html
import ssl
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes

PAGE = """<!doctype html><html lang="en-GB"><meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>Certificate of this kennel</title>
<style>body{{font:1.1rem/1.5 system-ui;max-width:38rem;
margin:1.5rem auto;padding:0 1rem;color-scheme:light dark}}
a.take{{display:block;padding:1rem;border:2px solid;border-radius:.5rem;text-align:center}}
code{{overflow-wrap:anywhere}}</style>
<h1>Certificate of this kennel</h1>
<p>With it this phone recognises <b>{name}</b> in your own network. It can vouch for that name and for local
addresses only.</p>
<p><a class="take" href="/kennel-authority.crt">Take the certificate</a></p>
<ol><li>Compare the fingerprint with the one in the server's terminal; when they differ, stop here.<br>
<code>{fingerprint}</code></li>
<li>iPhone, iPad: Settings, General, VPN &amp; Device Management, install; then Settings, General, About,
Certificate Trust Settings, switch it on.</li>
<li>Android: Settings, search for &ldquo;CA certificate&rdquo;, install from storage.</li>
<li>Open <a href="{origin}">{origin}</a>.</li></ol></html>
"""


def make_server(
    certificate: Path, port: int, name: str, origin: str, host: str = "0.0.0.0"
) -> ThreadingHTTPServer:
    """The page's server, not yet serving.  port 0 takes any free one."""
    text = certificate.read_text()
    body = ssl.PEM_cert_to_DER_cert(text)
    fingerprint = x509.load_der_x509_certificate(body).fingerprint(hashes.SHA256()).hex(":").upper()
    page = PAGE.format(name=html.escape(name), origin=html.escape(origin), fingerprint=fingerprint).encode()
    answers = {
        "/": ("text/html; charset=utf-8", page),
        "/kennel-authority.crt": ("application/x-x509-ca-cert", body),
    }

    class Page(BaseHTTPRequestHandler):
        timeout = 15  # a silent caller holds a thread no longer
        server_version, sys_version = "kennel", ""

        def do_GET(self) -> None:
            """Answer the page or the certificate, nothing else."""
            kind, content = answers.get(self.path, ("", b""))
            self.send_response(200 if kind else 404)
            if kind:
                self.send_header("Content-Type", kind)
                self.send_header("Cache-Control", "no-store")
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, format: str, *args: object) -> None:
            """Say nothing: addresses of callers belong in no log."""

    return ThreadingHTTPServer((host, port), Page)


def main() -> None:
    """Serve until told to leave."""
    parser = argparse.ArgumentParser(prog="deploy.certificate_page")
    parser.add_argument("--certificate", type=Path, required=True)
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--name", required=True)
    parser.add_argument("--origin", required=True)
    chosen = parser.parse_args()
    make_server(chosen.certificate, chosen.port, chosen.name, chosen.origin).serve_forever()


if __name__ == "__main__":
    main()
