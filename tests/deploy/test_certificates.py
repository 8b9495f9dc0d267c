"""The local certificate authority, checked by two independent verifiers: cryptography's and OpenSSL's."""

import datetime
import socket
import ssl
import stat
import threading
import urllib.request
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import load_pem_private_key
from cryptography.x509.oid import ExtendedKeyUsageOID
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from deploy import certificates as subject
from deploy.certificate_page import make_server
from deploy.certificates import Certificates, certificates_for
from deploy.readiness import answer_status

NAME = "nursery.local"
NOW = datetime.datetime.now(datetime.UTC)


@pytest.fixture
def made(tmp_path: Path) -> Certificates:
    """Authority and leaf for NAME."""
    return certificates_for(NAME, tmp_path, NOW)


def chain(made: Certificates) -> tuple[x509.Certificate, x509.Certificate]:
    """Leaf and authority."""
    leaf, authority = x509.load_pem_x509_certificates(made.leaf.read_bytes())
    assert authority == x509.load_pem_x509_certificate(made.authority.read_bytes())
    return leaf, authority


def verify(made: Certificates, name: str, at: datetime.datetime = NOW) -> list[x509.Certificate]:
    """Path building of cryptography (RFC 5280 and the browsers' rules)."""
    leaf, authority = chain(made)
    verifier = PolicyBuilder().store(Store([authority])).time(at).build_server_verifier(x509.DNSName(name))
    return verifier.verify(leaf, [])


def handshake(made: Certificates, name: str) -> None:
    """A real TLS handshake with OpenSSL on both sides.  Raises ssl.SSLError when there is no trust."""
    server_side = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server_side.load_cert_chain(made.leaf, made.key)
    client_side = ssl.create_default_context(cafile=made.authority)
    left, right = socket.socketpair()

    def serve() -> None:
        try:
            server_side.wrap_socket(right, server_side=True).close()
        except OSError:
            right.close()  # the client hung up: that is for the client's side to judge

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        client_side.wrap_socket(left, server_hostname=name).close()
    finally:
        left.close()
        thread.join()


def test_both_verifiers_accept_the_leaf_for_its_name(made: Certificates) -> None:
    leaf, authority = chain(made)
    assert verify(made, NAME) == [leaf, authority]
    handshake(made, NAME)
    handshake(made, "localhost")
    handshake(made, "127.0.0.1")


def test_both_verifiers_refuse_another_name(made: Certificates) -> None:
    with pytest.raises(VerificationError):
        verify(made, "kennel.example.org")
    with pytest.raises(ssl.SSLCertVerificationError):
        handshake(made, "kennel.example.org")


def test_the_authority_cannot_vouch_for_any_other_name(made: Certificates) -> None:
    """Whoever steals its key gains nothing on the rest of the web (RFC 5280, 4.2.1.10)."""
    _, authority = chain(made)
    place = made.leaf.parent
    subject._make_leaf("bank.example.org", [], place, authority, place / "authority.key", NOW)
    with pytest.raises(VerificationError):
        verify(made, "bank.example.org")
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        handshake(made, "bank.example.org")


def test_the_authority_is_one_that_phones_accept(made: Certificates) -> None:
    leaf, authority = chain(made)
    limits = authority.extensions.get_extension_for_class(x509.BasicConstraints)
    assert limits.critical
    assert limits.value.ca
    assert limits.value.path_length == 0
    # At most 825 days for a leaf below an authority the owner installed: Apple's published rule, from memory.
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc <= datetime.timedelta(days=825)
    purposes = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(purposes) == [ExtendedKeyUsageOID.SERVER_AUTH]


def test_the_keys_are_private_and_fit(made: Certificates) -> None:
    leaf, _ = chain(made)
    assert load_pem_private_key(made.key.read_bytes(), None).public_key() == leaf.public_key()
    for path in (made.key, made.authority.with_suffix(".key")):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_second_start_keeps_both_and_an_ending_leaf_is_renewed_below_the_same_authority(
    tmp_path: Path,
) -> None:
    first = certificates_for(NAME, tmp_path, NOW)
    leaf = first.leaf.read_text()
    again = certificates_for(NAME, tmp_path, NOW + datetime.timedelta(days=700))
    assert not again.renewed
    assert again.leaf.read_text() == leaf
    late = NOW + datetime.timedelta(days=subject.LEAF_DAYS - subject.RENEW_DAYS)
    renewed = certificates_for(NAME, tmp_path, late)
    assert renewed.renewed
    assert renewed.leaf.read_text() != leaf
    assert renewed.fingerprint == first.fingerprint
    assert verify(renewed, NAME, late)


def test_a_leaf_without_its_key_or_of_another_authority_is_made_anew(tmp_path: Path) -> None:
    first = certificates_for(NAME, tmp_path, NOW)
    first.key.unlink()
    assert certificates_for(NAME, tmp_path, NOW).renewed
    other = certificates_for("pantry.local", tmp_path, NOW)
    first.leaf.write_bytes(other.leaf.read_bytes())
    mended = certificates_for(NAME, tmp_path, NOW)
    assert mended.renewed
    assert verify(mended, NAME)


def test_the_page_hands_out_the_certificate_and_nothing_else(made: Certificates) -> None:
    server = make_server(made.authority, 0, NAME, f"https://{NAME}:8443", host="127.0.0.1")
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        address = f"http://127.0.0.1:{server.server_address[1]}"
        with urllib.request.urlopen(f"{address}/kennel-authority.crt") as answer:
            assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
            handed_out = x509.load_der_x509_certificate(answer.read())
        with urllib.request.urlopen(address) as answer:
            page = answer.read().decode()
        assert handed_out == chain(made)[1]
        assert made.fingerprint in page
        assert f"https://{NAME}:8443" in page
        for path in ("/authority.key", "/../authority.key", "/leaf.key", "/kennel-authority.crt/"):
            assert answer_status(f"{address}{path}", "127.0.0.1") == 404
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
