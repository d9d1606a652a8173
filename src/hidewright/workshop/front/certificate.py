"""The shop's own certificate, made at the first start on a network and kept in the data folder.

Nobody vouches for it: each device is shown its fingerprint once and asked to trust it. Behind a proxy that has a certificate of its
own, the shop serves on this computer only and needs none.
"""

import hashlib
import ipaddress
import os
import ssl
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from hidewright.refusals import Refusal

if TYPE_CHECKING:
    from cryptography.x509 import GeneralName

LASTS = timedelta(days=397)
"""Some phones refuse a longer life."""
RENEW = timedelta(days=30)
CERTIFICATE, KEY = "certificate.pem", "certificate.key"


def context(home: Path, names: Iterable[str]) -> tuple[ssl.SSLContext, str]:
    """What the gate needs to serve TLS, and the certificate's SHA-256 fingerprint; makes or renews the certificate where that is due."""
    certificate, key = home / CERTIFICATE, home / KEY
    wanted = sorted({"localhost", "127.0.0.1", *names})
    if not (certificate.exists() and key.exists() and _fits(certificate, wanted)):
        _make(certificate, key, wanted)
    made = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    made.minimum_version = ssl.TLSVersion.TLSv1_2
    made.load_cert_chain(certificate, key)
    return made, fingerprint(certificate)


def fingerprint(certificate: Path) -> str:
    """SHA-256 of the certificate, in pairs as browsers show it."""
    held = ssl.PEM_cert_to_DER_cert(certificate.read_text(encoding="ascii"))
    digits = hashlib.sha256(held).hexdigest()
    return ":".join(digits[n : n + 2] for n in range(0, len(digits), 2)).upper()


def _library() -> None:
    try:
        import cryptography
    except ImportError as error:
        raise Refusal(
            "The shop's own certificate cannot be made: the library cryptography is not installed.",
            where="--network",
            remedy="Install it (pip install cryptography), then start again.",
        ) from error
    assert cryptography.__version__


def _fits(path: Path, names: list[str]) -> bool:
    """Whether the certificate lasts for a while and holds all names."""
    _library()
    from cryptography import x509

    try:
        known = x509.load_pem_x509_certificate(path.read_bytes())
        listed = known.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (ValueError, x509.ExtensionNotFound):
        return False
    held = {*listed.get_values_for_type(x509.DNSName), *map(str, listed.get_values_for_type(x509.IPAddress))}
    return known.not_valid_after_utc - datetime.now(UTC) > RENEW and set(names) <= held


def _make(certificate: Path, key: Path, names: list[str]) -> None:
    _library()
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID

    private = ec.generate_private_key(ec.SECP256R1())
    who = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Hidewright, this shop")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + LASTS)
        .add_extension(x509.SubjectAlternativeName([_name(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(private, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    kind = serialization.PrivateFormat.PKCS8
    _write(key, private.private_bytes(serialization.Encoding.PEM, kind, plain))
    _write(certificate, made.public_bytes(serialization.Encoding.PEM))


def _name(name: str) -> "GeneralName":
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _write(path: Path, data: bytes) -> None:
    """Readable by its owner only; whole or not at all."""
    part = path.with_name(f"{path.name}.part")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(data)
    part.replace(path)
