"""Certificates of our own: an authority made on first use, and a short-lived certificate for this machine.

The authority can vouch for servers only (RFC 5280 section 4.2.1.12), of private addresses and local names only (a
critical name constraint, section 4.2.1.10), and for two years: a phone that trusts it gives nobody a way into any other
site, and its key makes no certificate of a person. One of an older program that lacks any of these is made anew.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import suppress
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

EARLIER = timedelta(days=1)
"""The clock of a phone may be behind."""

ROOT_LIFE = timedelta(days=730)
"""Then every phone must trust a new one."""

LIFE = timedelta(days=90)
"""Of this machine's own: long enough for one without a clock that lay in a truck over a winter."""

RENEW = timedelta(days=30)
"""What must be left of either, or a new one is made."""

SERVERS = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH])


@dataclass(frozen=True)
class Certificates:
    """Files for the server, and the authority's certificate for the phones. `fingerprint` is its SHA-256 in hex.

    `serial` is that of the server's certificate. `replaced` names the authority that phones trusted before, where this
    is a new one in its place.
    """

    chain: Path
    key: Path
    root: bytes
    fingerprint: str
    serial: int
    replaced: str = ""


def certificates(
    folder: Path, names: Sequence[str], clock: Callable[[], datetime], *, serving: bool = False
) -> Certificates:
    """The certificates for `names` (addresses or names), made where missing, outdated or for other names.

    While `serving`, an authority is kept to its very end: phones that work would have to trust another at once.
    """
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    folder.chmod(0o700)
    now = clock()
    root_key, root, replaced = _authority(folder, now, timedelta(0) if serving else RENEW)
    chain, key = folder / "machine.pem", folder / "machine.key"
    own = _own(chain, key, names, root, now) or _issue(chain, key, names, root_key, root, now)
    digest = root.fingerprint(hashes.SHA256()).hex(":").upper()
    der = root.public_bytes(serialization.Encoding.DER)
    return Certificates(chain, key, der, digest, own.serial_number, replaced)


def may_vouch(name: str) -> bool:
    """Whether the authority's own limits let it vouch for `name`."""
    try:
        address = ip_address(name)
    except ValueError:
        return any(name == local or name.endswith(f".{local}") for local in LOCAL_NAMES)
    return any(address.version == 4 and address in ip_network(block) for block in PRIVATE)


def _authority(
    folder: Path, now: datetime, least: timedelta
) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate, str]:
    """The authority's key and certificate, and the name of the one in whose place they were made."""
    key_path, path = folder / "authority.key", folder / "authority.pem"
    before, key = _certificate(path), _key(key_path)
    if before is not None and key is not None and _is_limited(before) and _is_of(before, key, now, least):
        key_path.chmod(0o600)
        return key, before, ""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Rodside on this crew's machine, {now:%Y-%m-%d}")])
    addresses = [x509.IPAddress(ip_network(block)) for block in PRIVATE]
    constraint = x509.NameConstraints([*map(x509.DNSName, LOCAL_NAMES), *addresses], None)
    identity = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    usage = x509.KeyUsage(False, False, False, False, False, True, True, False, False)
    root = (
        _blank(name, name, key.public_key(), now, now + ROOT_LIFE)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(SERVERS, critical=False)
        .add_extension(constraint, critical=True)
        .add_extension(identity, critical=False)
        .sign(key, hashes.SHA256())
    )
    _write_key(key_path, key)
    path.write_bytes(root.public_bytes(serialization.Encoding.PEM))
    return key, root, "" if before is None else before.subject.rfc4514_string().removeprefix("CN=").replace("\\,", ",")


def _issue(
    chain: Path,
    key_path: Path,
    names: Sequence[str],
    root_key: ec.EllipticCurvePrivateKey,
    root: x509.Certificate,
    now: datetime,
) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Rodside")])
    usage = x509.KeyUsage(True, False, False, False, False, False, False, False, False)
    issuer = x509.AuthorityKeyIdentifier.from_issuer_public_key(root_key.public_key())
    certificate = (
        _blank(subject, root.subject, key.public_key(), now, min(now + LIFE, root.not_valid_after_utc))
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(SERVERS, critical=False)
        .add_extension(issuer, critical=False)
        .sign(root_key, hashes.SHA256())
    )
    _write_key(key_path, key)
    pem = serialization.Encoding.PEM
    chain.write_bytes(certificate.public_bytes(pem) + root.public_bytes(pem))
    return certificate


def _blank(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, now: datetime, end: datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - EARLIER)
        .not_valid_after(end)
    )


def _own(
    chain: Path, key_path: Path, names: Sequence[str], root: x509.Certificate, now: datetime
) -> x509.Certificate | None:
    """This machine's certificate, where it is good for all names and of this authority."""
    certificate, key = _certificate(chain), _key(key_path)
    if certificate is None or key is None or certificate.issuer != root.subject:
        return None
    told = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    ours = root.public_bytes(serialization.Encoding.PEM) in chain.read_bytes()
    least = timedelta(0) if certificate.not_valid_after_utc == root.not_valid_after_utc else RENEW
    good = ours and {_general(name) for name in names} <= set(told) and _is_of(certificate, key, now, least)
    return certificate if good else None


def _is_limited(root: x509.Certificate) -> bool:
    """Whether an authority has all the limits that we give it now; those of older programs had not."""
    life = root.not_valid_after_utc - root.not_valid_before_utc
    with suppress(x509.ExtensionNotFound):
        usage = root.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
        root.extensions.get_extension_for_class(x509.NameConstraints)
        return usage == SERVERS and life <= ROOT_LIFE + EARLIER
    return False


def _is_of(certificate: x509.Certificate, key: ec.EllipticCurvePrivateKey, now: datetime, least: timedelta) -> bool:
    """Whether a certificate is that of a key, and more than `least` is left of its life."""
    return certificate.public_key() == key.public_key() and certificate.not_valid_after_utc - now > least


def _certificate(path: Path) -> x509.Certificate | None:
    """The first certificate of a file; none where there is none, or a write was cut off."""
    with suppress(FileNotFoundError, ValueError):
        return x509.load_pem_x509_certificate(path.read_bytes())
    return None


def _key(path: Path) -> ec.EllipticCurvePrivateKey | None:
    with suppress(FileNotFoundError, ValueError):
        key = serialization.load_pem_private_key(path.read_bytes(), None)
        return key if isinstance(key, ec.EllipticCurvePrivateKey) else None
    return None


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
