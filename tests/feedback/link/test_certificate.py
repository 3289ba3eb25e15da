"""The station's certificate: made once, kept private, and the only one that a console trusts."""

from __future__ import annotations

import ssl
import stat
import sys
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization

from feedback.link.certificate import (
    client_context,
    fingerprint_of,
    grouped,
    server_context,
    station_identity,
)
from shared.problems import UserError


def der_of(path: Path) -> bytes:
    certificate = x509.load_pem_x509_certificate(path.read_bytes())
    return certificate.public_bytes(serialization.Encoding.DER)


def shake_hands(
    server: ssl.SSLContext, client: ssl.SSLContext
) -> tuple[ssl.SSLObject, ssl.SSLObject, bytes]:
    """Both ends after their handshake, in memory, and what the client sent as plain text."""
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    inside = client.wrap_bio(to_client, to_server)
    outside = server.wrap_bio(to_server, to_client, server_side=True)
    for side in (inside, outside, inside, outside):
        try:
            side.do_handshake()
        except ssl.SSLWantReadError:
            continue
    inside.write(b"hello")
    return inside, outside, outside.read()


def test_it_is_made_once_and_belongs_to_its_owner_alone(tmp_path: Path) -> None:
    folder = tmp_path / "link"
    first = station_identity(folder)
    assert station_identity(folder) == first
    assert first.fingerprint == fingerprint_of(der_of(first.path))
    assert len(first.fingerprint) == 64
    if sys.platform != "win32":
        assert stat.S_IMODE(first.path.stat().st_mode) == 0o600
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_two_stations_have_two(tmp_path: Path) -> None:
    one, two = station_identity(tmp_path / "a"), station_identity(tmp_path / "b")
    assert one.fingerprint != two.fingerprint


def test_it_says_nothing_about_the_place(tmp_path: Path) -> None:
    certificate = x509.load_pem_x509_certificate(station_identity(tmp_path).path.read_bytes())
    assert certificate.subject.rfc4514_string() == "CN=Beltside station"
    assert certificate.subject == certificate.issuer


def test_a_damaged_one_is_told_in_plain_words(tmp_path: Path) -> None:
    path = station_identity(tmp_path).path
    path.write_bytes(path.read_bytes()[:300])
    with pytest.raises(UserError) as caught:
        station_identity(tmp_path)
    assert caught.value.problem.code == "certificate_damaged"


def test_the_right_station_is_spoken_to_over_tls_1_3(tmp_path: Path) -> None:
    path = station_identity(tmp_path).path
    inside, outside, said = shake_hands(server_context(path), client_context(der_of(path)))
    assert said == b"hello"
    assert inside.version() == outside.version() == "TLSv1.3"


def test_a_swapped_certificate_ends_the_handshake(tmp_path: Path) -> None:
    right = station_identity(tmp_path / "a").path
    swapped = station_identity(tmp_path / "b").path
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(server_context(swapped), client_context(der_of(right)))


def test_a_certificate_signed_with_the_trusted_one_is_refused_too(tmp_path: Path) -> None:
    """Whoever got hold of a station's key could make more; only the very one is trusted."""
    right = station_identity(tmp_path / "a").path
    key = serialization.load_pem_private_key(right.read_bytes(), None)
    issuer = x509.load_pem_x509_certificate(right.read_bytes())
    other = station_identity(tmp_path / "b").path
    model = x509.load_pem_x509_certificate(other.read_bytes())
    from cryptography.hazmat.primitives import hashes

    signed = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "another")]))
        .issuer_name(issuer.subject)
        .public_key(model.public_key())
        .serial_number(1)
        .not_valid_before(model.not_valid_before_utc)
        .not_valid_after(model.not_valid_after_utc)
        .sign(key, hashes.SHA256())  # type: ignore[arg-type]
    )
    other_key = other.read_bytes().partition(b"-----BEGIN PRIVATE")
    pem = signed.public_bytes(serialization.Encoding.PEM)
    other.write_bytes(pem + other_key[1] + other_key[2])
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(server_context(other), client_context(der_of(right)))


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.parametrize("version", [ssl.TLSVersion.TLSv1_2])
def test_older_tls_is_not_spoken(tmp_path: Path, version: ssl.TLSVersion) -> None:
    path = station_identity(tmp_path).path
    old_client = client_context(der_of(path))
    old_client.minimum_version = version
    old_client.maximum_version = version
    with pytest.raises(ssl.SSLError):
        shake_hands(server_context(path), old_client)
    old_server = server_context(path)
    old_server.minimum_version = version
    old_server.maximum_version = version
    with pytest.raises(ssl.SSLError):
        shake_hands(old_server, client_context(der_of(path)))


def test_a_fingerprint_is_grouped_for_the_eye() -> None:
    assert grouped("0123456789abcdef" * 4) == "0123 4567 89ab cdef"
