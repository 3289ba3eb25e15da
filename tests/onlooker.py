"""A computer on a cable whose far end takes everything, answers every name and notes it all."""

from __future__ import annotations

import contextlib
import itertools
import os
import shlex
import socket
import socketserver
import ssl
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv6Address, IPv6Network, ip_address
from pathlib import Path
from typing import Any, Final

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from live.pose.offline import REPORTS_TO
from tests.feedback.link.wires import DirectWire, run, why_not

ANSWER: Final = "198.51.100.7"
"""What every name is said to be; RFC 5737 keeps it for examples."""
_ALL_PROTOCOLS: Final = 0x0003
_MARK: Final = 0x88B5
"""ETH_P_ALL of linux/if_ether.h; IEEE 802's ethertype for local experiments."""
_IPV4, _IPV6, _HOP_BY_HOP, _MLD_REPORT = 0x0800, 0x86DD, 0, 143
_OWN_GROUPS: Final = IPv6Network("ff02::1:ff00:0/104")
"""RFC 4291, section 2.7.1: the group that a computer joins for each address of its own."""
_PROTOCOLS: Final = {1: "ICMP", 6: "TCP", 17: "UDP", 58: "ICMPv6"}
_PATIENCE_S: Final = 10.0
REQUIRED: Final = "NAMESPACES"
"""Set to "required", tests fail where namespaces cannot be had, and are not skipped."""


@dataclass(frozen=True)
class Seen:
    """What came over the cable from the computer."""

    names: tuple[str, ...]
    """Asked for, in their order."""
    packets: tuple[str, ...]
    """All of them, in words; but for the kernel's own word on its groups (RFC 3810)."""
    told: bytes
    """What was said over TLS to whoever has REPORTS_TO's certificate."""

    @property
    def nothing(self) -> bool:
        return not (self.names or self.packets or self.told)


class Onlooker:
    """The computer, as a network namespace, and the one at the other end that looks on.

    There every address is at home: what is sent anywhere arrives. A name is answered with ANSWER,
    and at port 443 TLS is spoken with a certificate for REPORTS_TO, made for this test.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._wire = DirectWire()
        self._marks = itertools.count()
        self._names: list[str] = []
        self._frames: list[bytes] = []
        self._told: list[bytes] = []
        self.authority = folder / "authority.pem"
        self.address = self._wire.console.address
        self.far_end = self._wire.console
        self._lay()
        (folder / "resolv.conf").write_text(f"nameserver {self.address}\n", encoding="ascii")
        (folder / "nsswitch.conf").write_text("hosts: files dns\n", encoding="ascii")
        with self._wire.console.entered():
            self._cable = socket.socket(socket.AF_PACKET, socket.SOCK_RAW)
            self._cable.bind((self._wire.console.name, _ALL_PROTOCOLS))
            self._asked = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
            self._asked.bind((self.address, 53))
            self._server = _TlsServer(_identity(self.authority), self._told)
        with self._wire.station.entered():
            self._marker = socket.socket(socket.AF_PACKET, socket.SOCK_RAW)
            self._marker.bind((self._wire.station.name, 0))
        for work in (self._note_frames, self._answer_names, self._serve):
            threading.Thread(target=work, daemon=True).start()

    def command(self, *words: str) -> list[str]:
        """A command that runs on the computer, its names asked over the cable."""
        mounts = " && ".join(
            f"if [ -e /etc/{name} ]; then "
            f"mount --bind {shlex.quote(str(self._folder / name))} /etc/{name}; fi"
            for name in ("resolv.conf", "nsswitch.conf")
        )
        return self._wire.station.command("sh", "-c", f'{mounts} && exec "$@"', "sh", *words)

    def seen(self) -> Seen:
        """What came since the last call, to the last packet; proves that it still looks on."""
        mark = struct.pack("!6s6sHQ", b"\xff" * 6, b"\2" * 6, _MARK, next(self._marks))
        self._marker.send(mark)
        deadline = time.monotonic() + _PATIENCE_S
        while not any(frame.startswith(mark) for frame in tuple(self._frames)):
            assert time.monotonic() < deadline, "the onlooker does not see what is sent"
            time.sleep(0.005)
        frames = [f for f in self._frames if not f.startswith(mark) and not _is_own_group(f)]
        found = Seen(tuple(self._names), tuple(map(_in_words, frames)), b"".join(self._told))
        for kept in (self._names, self._frames, self._told):
            kept.clear()
        return found

    def remove(self) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._wire.remove()
        for opened in (self._cable, self._asked, self._marker):
            opened.close()

    def _lay(self) -> None:
        """Routes for everything to here; no packets of the kernel's own making."""
        near, far = self._wire.station.name, self._wire.console.name
        run("ip", "-n", far, "route", "add", "local", "0.0.0.0/0", "dev", "lo")
        # IPv6 may be switched off in this kernel: then nothing can leave that way.
        with contextlib.suppress(subprocess.CalledProcessError):
            # Without an address that it makes by itself, it asks for no routers.
            run("ip", "-n", near, "link", "set", near, "down")
            run("ip", "-n", near, "link", "set", near, "addrgenmode", "none")
            run("ip", "-n", near, "link", "set", near, "up")
            run("ip", "-n", near, "address", "add", "fd97::1/64", "dev", near, "nodad")
            run("ip", "-n", near, "route", "add", "default", "via", "fd97::2")
        run("ip", "-n", near, "link", "set", near, "up")
        run("ip", "-n", near, "route", "replace", "default", "via", self.address)

    def _serve(self) -> None:
        self._server.serve_forever(0.02)

    def _note_frames(self) -> None:
        with contextlib.suppress(OSError):  # the cable is taken away at the end
            while True:
                frame, (_, _, kind, *_) = self._cable.recvfrom(65536)
                if kind != socket.PACKET_OUTGOING:  # type: ignore[attr-defined, unused-ignore]
                    self._frames.append(frame)

    def _answer_names(self) -> None:
        """Answer as a name server does; RFC 1035, section 4."""
        with contextlib.suppress(OSError):
            while True:
                query, asker = self._asked.recvfrom(4096)
                labels, at = [], 12
                while length := query[at]:
                    labels.append(query[at + 1 : at + 1 + length].decode())
                    at += 1 + length
                self._names.append(".".join(labels))
                question = query[12 : at + 5]
                wants_ipv4 = question.endswith(b"\0\1\0\1")
                answer = b"\xc0\x0c" + struct.pack("!HHIH", 1, 1, 1, 4) + socket.inet_aton(ANSWER)
                head = query[:2] + b"\x81\x80" + struct.pack("!4H", 1, wants_ipv4, 0, 0)
                self._asked.sendto(head + question + answer * wants_ipv4, asker)


class _TlsServer(socketserver.ThreadingTCPServer):
    """Says "OK" to all that it is told, and keeps it."""

    allow_reuse_address = True
    daemon_threads = True

    def __init__(self, identity: Path, told: list[bytes]) -> None:
        self.told = told
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        self.context.load_cert_chain(identity)
        super().__init__(("", 443), _Told)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Whoever does not trust it goes away, which is no error here."""


class _Told(socketserver.BaseRequestHandler):
    server: _TlsServer

    def handle(self) -> None:
        with self.server.context.wrap_socket(self.request, server_side=True) as spoken:
            self.server.told.append(spoken.recv(65536))
            spoken.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")


def _identity(path: Path) -> Path:
    """A certificate for REPORTS_TO that is its own authority, with its key; PEM."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, REPORTS_TO)])
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder(name, name, key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(REPORTS_TO)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    form = serialization.PrivateFormat.PKCS8
    path.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, form, plain)
        + certificate.public_bytes(serialization.Encoding.PEM)
    )
    return path


def _is_own_group(frame: bytes) -> bool:
    """Whether the kernel tells here which groups its own addresses belong to, and no others.

    RFC 3810, section 5.2: a multicast listener report, behind a header of hop-by-hop options.
    """
    if frame[12:14] != struct.pack("!H", _IPV6) or frame[20] != _HOP_BY_HOP:
        return False
    report = frame[54 + 8 * (frame[55] + 1) :]
    if not report or report[0] != _MLD_REPORT:
        return False
    groups = []
    at = 8
    for _ in range(int.from_bytes(report[6:8])):
        groups.append(IPv6Address(report[at + 4 : at + 20]))
        at += 20 + 4 * report[at + 1] + 16 * int.from_bytes(report[at + 2 : at + 4])
    return all(group in _OWN_GROUPS for group in groups)


def _in_words(frame: bytes) -> str:
    """Where this Ethernet frame goes."""
    kind = int.from_bytes(frame[12:14])
    if kind == _IPV4:
        number, address, rest = frame[23], frame[30:34], frame[14 + 4 * (frame[14] & 15) :]
    elif kind == _IPV6:
        number, address, rest = frame[20], frame[38:54], frame[54:]
    else:
        return f"Ethernet, type {kind:04x}"
    port = f" port {int.from_bytes(rest[2:4])}" if number in (6, 17) else ""
    return f"{_PROTOCOLS.get(number, f'protocol {number}')} to {ip_address(address)}{port}"


@contextlib.contextmanager
def looking_on(folder: Path) -> Iterator[Onlooker]:
    """An onlooker, where there can be one; else the test is skipped, or fails if it must not be."""
    why = why_not(DirectWire)
    if why and os.environ.get(REQUIRED) == "required":
        pytest.fail(why)
    if why:
        pytest.skip(why)
    folder.mkdir(exist_ok=True)
    built = Onlooker(folder)
    try:
        yield built
    finally:
        built.remove()


def python(onlooker: Onlooker, script: str, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a script on that computer, in an environment without anybody's proxies."""
    kept = {k: v for k, v in os.environ.items() if not k.lower().endswith("_proxy")}
    done = subprocess.run(
        onlooker.command(sys.executable, "-c", script),
        env={**kept, **more},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done
