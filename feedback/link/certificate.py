"""The station's certificate on the network, and TLS as both ends use it.

The station signs its own certificate, once; a console trusts exactly the one it was paired with
and no authority. TLS 1.3 (RFC 8446) is the only version spoken.
"""

from __future__ import annotations

import hashlib
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from feedback.storage.folders import make_private
from shared.files import save_atomically
from shared.problems import UserError
from shared.reading import read_content

FILE: Final = "station.pem"
_COMMON_NAME: Final = "Beltside station"
"""Tells nothing about the place: the certificate is sent before anybody has proved anything."""
_FROM: Final = datetime(2000, 1, 1, tzinfo=UTC)
"""Long past, so that a clock that is wrong at either end does no harm."""
_UNTIL: Final = datetime(9999, 12, 31, 23, 59, 59, tzinfo=UTC)
"""RFC 5280, section 4.1.2.5: a certificate without a well-defined end."""


@dataclass(frozen=True, slots=True)
class Identity:
    """What a station shows of itself, and where it is kept."""

    path: Path
    """Certificate and private key, PEM, readable by its owner only."""
    fingerprint: str
    """SHA-256 of the certificate, 64 hexadecimal digits."""


def station_identity(folder: Path) -> Identity:
    """The station's certificate in ``folder``, made at its first start.

    Raises UserError: ``certificate_damaged``, or ``save_failed``.
    """
    path = folder / FILE
    if not path.exists():
        make_private(folder)
        save_atomically(path, _make())
    try:
        certificate = x509.load_pem_x509_certificate(read_content(path))
        server_context(path)
    except (OSError, ValueError, UserError) as error:  # ssl's errors are of the first kind
        raise UserError("certificate_damaged", str(error), path=str(path)) from error
    return Identity(path, fingerprint_of(certificate.public_bytes(serialization.Encoding.DER)))


def fingerprint_of(der: bytes) -> str:
    """SHA-256 of a certificate in DER, as 64 hexadecimal digits."""
    return hashlib.sha256(der).hexdigest()


def grouped(fingerprint: str) -> str:
    """The beginning of a fingerprint as people compare it: four groups of four digits."""
    return " ".join(fingerprint[at : at + 4] for at in range(0, 16, 4))


def server_context(path: Path) -> ssl.SSLContext:
    """TLS as the station speaks it. Raises OSError where the file is not what it should be."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_3
    context.load_cert_chain(path)
    return context


def client_context(trusted: bytes | None) -> ssl.SSLContext:
    """TLS as a console speaks it: with the station that has the certificate ``trusted`` (DER).

    With any other the handshake fails before a byte of ours is sent. None, for pairing alone:
    whoever answers is spoken to, and the pairing itself shows whether it was the station.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.minimum_version = ssl.TLSVersion.TLSv1_3
    context.check_hostname = False  # an address says nothing; the certificate says it all
    if trusted is None:
        context.verify_mode = ssl.CERT_NONE
    else:
        context.verify_mode = ssl.CERT_REQUIRED
        context.load_verify_locations(cadata=trusted)
    return context


def _make() -> bytes:
    """A new key and the certificate that it signs, as PEM."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, _COMMON_NAME)])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(_FROM)
        .not_valid_after(_UNTIL)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    return certificate.public_bytes(pem) + key.private_bytes(
        pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
