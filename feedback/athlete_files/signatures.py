"""The station's own signature, by which it knows again what it wrote (Ed25519, RFC 8032).

The private keys are made at first use and stay in the user's data folder: one for prescriptions,
one for results, since whoever has signed a prescription is a clinic. Key and signature travel as
hexadecimal digits.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import tempfile
from pathlib import Path
from typing import Final

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from feedback.storage.folders import make_private
from shared.problems import UserError, file_error
from shared.reading import read_content

FILE: Final = "signing.pem"
RESULTS: Final = "results.pem"
_KEY: Final = re.compile("[0-9a-f]{64}")
_SIGNATURE: Final = re.compile("[0-9a-f]{128}")


def own_key(folder: Path, file: str = FILE) -> Ed25519PrivateKey:
    """A private key in ``folder``, made there at first use and readable by its owner only.

    Raises UserError: ``signing_key_damaged``, or ``save_failed``.
    """
    path = folder / file
    if not path.exists():
        make_private(folder)
        _make(path)
    return _read(path)


def own_public(folder: Path) -> str:
    """The public key that belongs to it; empty while nothing has been signed here.

    Raises UserError ``signing_key_damaged``.
    """
    path = folder / FILE
    return public_of(_read(path)) if path.exists() else ""


def public_of(key: Ed25519PrivateKey) -> str:
    """The public key, 64 hexadecimal digits."""
    return key.public_key().public_bytes_raw().hex()


def sign(key: Ed25519PrivateKey, content: bytes) -> str:
    """The signature, 128 hexadecimal digits."""
    return key.sign(content).hex()


def is_signed(content: bytes, signature: str, signed_by: str) -> bool:
    """Whether the owner of that public key has signed this content."""
    # Blanks and capitals would read as the same bytes: one signature has one way to be written.
    if not (_KEY.fullmatch(signed_by) and _SIGNATURE.fullmatch(signature)):
        return False
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(signed_by))
        key.verify(bytes.fromhex(signature), content)
    except (InvalidSignature, ValueError):
        return False
    return True


def short(signed_by: str) -> str:
    """A public key as people compare it: four groups of four digits of its SHA-256."""
    digits = hashlib.sha256(signed_by.lower().encode()).hexdigest()
    return " ".join(digits[at : at + 4] for at in range(0, 16, 4))


def _make(path: Path) -> None:
    content = Ed25519PrivateKey.generate().private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    try:
        handle, spare = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(content)
                out.flush()
                os.fsync(out.fileno())
            with contextlib.suppress(FileExistsError):
                os.link(spare, path)  # never over a key that another process has just made
        finally:
            os.unlink(spare)
    except OSError as error:
        raise file_error("save_failed", path, error) from error


def _read(path: Path) -> Ed25519PrivateKey:
    try:
        key = serialization.load_pem_private_key(read_content(path), password=None)
    except (ValueError, TypeError, UserError) as error:
        raise UserError("signing_key_damaged", str(error), path=str(path)) from error
    if not isinstance(key, Ed25519PrivateKey):
        raise UserError("signing_key_damaged", type(key).__name__, path=str(path))
    return key
