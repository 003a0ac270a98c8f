"""Certificates of our own: an authority made on first use, and a short-lived certificate for this machine.

The authority can vouch for private addresses and local names only (a critical name constraint, RFC 5280 section
4.2.1.10), so that a phone that trusts it gives nobody a way into any other site.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

PRIVATE = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8")
"""The address blocks of private use (RFC 1918), of one link (RFC 3927) and of the machine itself (RFC 1122)."""

LOCAL_NAMES = ("local", "localhost")
"""The names that the authority may vouch for, with all below them (RFC 6762, RFC 6761)."""

ROOT_LIFE = timedelta(days=3650)
LIFE = timedelta(days=390)
"""Phones refuse certificates that live much longer: 825 days for an authority of one's own, 398 for others. From
memory."""

RENEW = timedelta(days=30)


@dataclass(frozen=True)
class Certificates:
    """Files for the server, and the authority's certificate for the phones. `fingerprint` is its SHA-256 in hex."""

    chain: Path
    key: Path
    root: bytes
    fingerprint: str


def certificates(folder: Path, names: Sequence[str], clock: Callable[[], datetime]) -> Certificates:
    """The certificates for `names` (addresses or names), made where missing, outdated or for other names."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    now = clock()
    root_key, root = _authority(folder, now)
    chain, key = folder / "machine.pem", folder / "machine.key"
    if not _still_good(chain, key, names, root, now):
        _issue(chain, key, names, root_key, root, now)
    digest = root.fingerprint(hashes.SHA256()).hex(":").upper()
    return Certificates(chain, key, root.public_bytes(serialization.Encoding.DER), digest)


def may_vouch(name: str) -> bool:
    """Whether the authority's own limits let it vouch for `name`."""
    try:
        address = ip_address(name)
    except ValueError:
        return any(name == local or name.endswith(f".{local}") for local in LOCAL_NAMES)
    return any(address.version == 4 and address in ip_network(block) for block in PRIVATE)


def _authority(folder: Path, now: datetime) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
    key_path, path = folder / "authority.key", folder / "authority.pem"
    if path.exists() and key_path.exists():
        root = x509.load_pem_x509_certificate(path.read_bytes())
        key = serialization.load_pem_private_key(key_path.read_bytes(), None)
        if isinstance(key, ec.EllipticCurvePrivateKey) and root.not_valid_after_utc - now > LIFE:
            return key, root
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Rodside on this crew's machine, {now:%Y-%m-%d}")])
    addresses = [x509.IPAddress(ip_network(block)) for block in PRIVATE]
    constraint = x509.NameConstraints([*map(x509.DNSName, LOCAL_NAMES), *addresses], None)
    identity = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    usage = x509.KeyUsage(False, False, False, False, False, True, True, False, False)
    root = (
        _blank(name, name, key.public_key(), now, ROOT_LIFE)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(constraint, critical=True)
        .add_extension(identity, critical=False)
        .sign(key, hashes.SHA256())
    )
    _write_key(key_path, key)
    path.write_bytes(root.public_bytes(serialization.Encoding.PEM))
    return key, root


def _issue(
    chain: Path,
    key_path: Path,
    names: Sequence[str],
    root_key: ec.EllipticCurvePrivateKey,
    root: x509.Certificate,
    now: datetime,
) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Rodside")])
    usage = x509.KeyUsage(True, False, False, False, False, False, False, False, False)
    issuer = x509.AuthorityKeyIdentifier.from_issuer_public_key(root_key.public_key())
    certificate = (
        _blank(subject, root.subject, key.public_key(), now, LIFE)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(issuer, critical=False)
        .sign(root_key, hashes.SHA256())
    )
    _write_key(key_path, key)
    pem = serialization.Encoding.PEM
    chain.write_bytes(certificate.public_bytes(pem) + root.public_bytes(pem))


def _blank(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, now: datetime, life: timedelta
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # the clock of a phone may be behind
        .not_valid_after(now + life)
    )


def _still_good(chain: Path, key: Path, names: Sequence[str], root: x509.Certificate, now: datetime) -> bool:
    if not (chain.exists() and key.exists()):
        return False
    certificate = x509.load_pem_x509_certificate(chain.read_bytes())
    told = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    ours = certificate.issuer == root.subject and root.public_bytes(serialization.Encoding.PEM) in chain.read_bytes()
    return ours and {_general(n) for n in names} <= set(told) and certificate.not_valid_after_utc - now > RENEW


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _write_key(path: Path, key: ec.EllipticCurvePrivateKey) -> None:
    path.unlink(missing_ok=True)
    kind, plain = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
        stream.write(key.private_bytes(serialization.Encoding.PEM, kind, plain))
