"""A certificate authority for one name in the local network, so that phones get https without the internet.

The authority may vouch for that one name and for addresses of local networks only (name constraints, RFC 5280
4.2.1.10): somebody who installs it on a phone does not hand over the rest of the web.  Leaves live 820 days,
below the 825 that phones accept from an authority their owner installed (Apple, "Requirements for trusted
certificates", from memory).
"""

import datetime
import ipaddress
from dataclasses import dataclass
from pathlib import Path

import psutil
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from deploy.state import write_private

AUTHORITY_DAYS, LEAF_DAYS, RENEW_DAYS = 3650, 820, 60
# Private, shared, link-local and loopback address ranges: RFC 1918, 6598, 3927, 4193, 4291.
LOCAL_RANGES = [
    "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "100.64.0.0/10", "169.254.0.0/16", "127.0.0.0/8",
    "fc00::/7", "fe80::/10", "::1/128",
]  # fmt: skip


@dataclass(frozen=True)
class Certificates:
    """Files the web server and the phones need."""

    authority: Path
    leaf: Path
    key: Path
    fingerprint: str
    renewed: bool


def certificates_for(name: str, folder: Path, at: datetime.datetime) -> Certificates:
    """Authority and leaf for a name, made when missing; the leaf is renewed before it ends.

    folder: keeps one authority per name.  at: aware; now.
    """
    place = folder / name
    place.mkdir(parents=True, exist_ok=True)
    place.chmod(0o700)
    authority_path, authority_key_path = place / "authority.pem", place / "authority.key"
    if not authority_path.exists() or not authority_key_path.exists():
        _make_authority(name, authority_path, authority_key_path, at)
    authority = x509.load_pem_x509_certificate(authority_path.read_bytes())
    addresses = local_addresses()
    renewed = not _is_good(place / "leaf.pem", place / "leaf.key", authority, addresses, at)
    if renewed:
        _make_leaf(name, addresses, place, authority, authority_key_path, at)
    digest = authority.fingerprint(hashes.SHA256()).hex(":").upper()
    return Certificates(authority_path, place / "leaf.pem", place / "leaf.key", digest, renewed)


def local_addresses() -> list[ipaddress.IPv4Address | ipaddress.IPv6Address]:
    """Addresses of this machine that the authority may vouch for, loopback included."""
    ranges = [ipaddress.ip_network(text) for text in LOCAL_RANGES]
    found = {ipaddress.ip_address("127.0.0.1")}
    for entries in psutil.net_if_addrs().values():
        for entry in entries:
            if entry.family.name in {"AF_INET", "AF_INET6"}:
                address = ipaddress.ip_address(entry.address.split("%")[0])
                if any(address in network for network in ranges if network.version == address.version):
                    found.add(address)
    return sorted(found, key=lambda address: (address.version, int(address)))


def phone_address() -> str | None:
    """The address phones of the same network most likely reach, or None without a network."""
    usable = [a for a in local_addresses() if a.version == 4 and not a.is_loopback and not a.is_link_local]
    return str(usable[0]) if usable else None


def _make_authority(name: str, path: Path, key_path: Path, at: datetime.datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Kennel server at {name}")])
    permitted: list[x509.GeneralName] = [x509.DNSName(name), x509.DNSName("localhost")]
    permitted += [x509.IPAddress(ipaddress.ip_network(text)) for text in LOCAL_RANGES]
    builder = (
        _builder(subject, subject, key.public_key(), at, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(key_cert_sign=True, crl_sign=True), critical=True)
        .add_extension(
            x509.NameConstraints(permitted_subtrees=permitted, excluded_subtrees=None), critical=True
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    write_private(key_path, _private_text(key))
    write_private(path, _text(builder.sign(key, hashes.SHA256())))


def _make_leaf(
    name: str,
    addresses: list[ipaddress.IPv4Address | ipaddress.IPv6Address],
    place: Path,
    authority: x509.Certificate,
    authority_key_path: Path,
    at: datetime.datetime,
) -> None:
    authority_key = serialization.load_pem_private_key(authority_key_path.read_bytes(), password=None)
    assert isinstance(authority_key, ec.EllipticCurvePrivateKey)
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    names: list[x509.GeneralName] = [x509.DNSName(name), x509.DNSName("localhost")]
    names += [x509.IPAddress(address) for address in addresses]
    identifier = authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    builder = (
        _builder(subject, authority.subject, key.public_key(), at, LEAF_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(digital_signature=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(identifier), critical=False
        )
    )
    write_private(place / "leaf.key", _private_text(key))
    write_private(place / "leaf.pem", _text(builder.sign(authority_key, hashes.SHA256())) + _text(authority))


def _is_good(
    path: Path,
    key_path: Path,
    authority: x509.Certificate,
    addresses: list[ipaddress.IPv4Address | ipaddress.IPv6Address],
    at: datetime.datetime,
) -> bool:
    """Whether the leaf is this authority's, fits its key, lasts a while and names every present address."""
    if not path.exists() or not key_path.exists():
        return False
    leaf = x509.load_pem_x509_certificates(path.read_bytes())[0]
    key = serialization.load_pem_private_key(key_path.read_bytes(), password=None)
    named = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return (
        leaf.issuer == authority.subject
        and key.public_key() == leaf.public_key()
        and leaf.not_valid_before_utc <= at <= leaf.not_valid_after_utc - datetime.timedelta(days=RENEW_DAYS)
        and set(addresses) <= set(named.get_values_for_type(x509.IPAddress))
    )


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, at: datetime.datetime, days: int
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        # A phone whose clock is behind would refuse a certificate that begins now.
        .not_valid_before(at - datetime.timedelta(days=1))
        .not_valid_after(at + datetime.timedelta(days=days - 1))
    )


def _usage(
    *, digital_signature: bool = False, key_cert_sign: bool = False, crl_sign: bool = False
) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=digital_signature,
        key_cert_sign=key_cert_sign,
        crl_sign=crl_sign,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _private_text(key: ec.EllipticCurvePrivateKey) -> str:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    ).decode()


def _text(certificate: x509.Certificate) -> str:
    return certificate.public_bytes(serialization.Encoding.PEM).decode()
