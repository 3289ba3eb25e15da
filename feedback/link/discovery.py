"""Stations are announced on the local network, where consoles find them (feedback.link.finding).

Multicast DNS and DNS service discovery (RFC 6762, RFC 6763) under ``_beltside._tcp``. What is
announced is the station's name, its port, the version of the link and the beginning of its
certificate's fingerprint: nothing about a session or a runner.
"""

from __future__ import annotations

import contextlib
import ipaddress
import threading
from typing import Final

import ifaddr
from zeroconf import IPVersion, ServiceInfo, Zeroconf

from shared.messages import PROTOCOL
from shared.plain_text import plain_line
from shared.problems import Problem, describe

SERVICE: Final = "_beltside._tcp.local."
PREFIX_DIGITS: Final = 16
"""So much of the fingerprint tells stations of one name apart; it proves nothing."""
_LOOK_AGAIN_S: Final = 5.0
MOST_NAME_BYTES: Final = 63
"""RFC 6763, section 4.1.1: one label."""


class Announcer:
    """Announces a station from :meth:`start` to :meth:`close`, also when the network changes."""

    def __init__(self, name: str, fingerprint: str, port: int) -> None:
        self._name = _label(name)
        self._fingerprint = fingerprint
        self._port = port
        self._lock = threading.Lock()
        self._problem: Problem | None = None
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="announcer", daemon=True)

    def start(self) -> None:
        """Begin; the announcement is out within about 2 s."""
        self._thread.start()

    def problem(self) -> Problem | None:
        """``announce_failed`` while nobody can find the station by itself."""
        with self._lock:
            return self._problem

    def close(self) -> None:
        """Take the announcement back; returns within about 2 s."""
        self._closing.set()
        if self._thread.ident is not None:
            self._thread.join(timeout=5.0)

    def _run(self) -> None:
        while not self._closing.is_set():
            addresses = own_addresses()
            try:
                self._announce(addresses)
                problem = None
            except Exception as error:  # noqa: BLE001 - the guard of this thread
                problem = describe("announce_failed", why=str(error) or type(error).__name__)
                self._closing.wait(_LOOK_AGAIN_S)
            with self._lock:
                self._problem = problem

    def _announce(self, addresses: tuple[str, ...]) -> None:
        """Stay announced at these addresses until they change."""
        zeroconf = Zeroconf(ip_version=IPVersion.V4Only)
        info = ServiceInfo(
            SERVICE,
            f"{self._name}.{SERVICE}",
            port=self._port,
            properties={"v": str(PROTOCOL), "fp": self._fingerprint[:PREFIX_DIGITS]},
            # A host name of its own: the computer's name may be announced by others already.
            server=f"beltside-{self._fingerprint[:PREFIX_DIGITS]}-{self._port}.local.",
            parsed_addresses=list(addresses),
        )
        try:
            zeroconf.register_service(info, allow_name_change=True)
            with self._lock:
                self._problem = None
            while not self._closing.wait(_LOOK_AGAIN_S):
                if own_addresses() != addresses:
                    break
            zeroconf.unregister_service(info)
        finally:
            zeroconf.close()


def own_addresses() -> tuple[str, ...]:
    """The computer's IPv4 addresses as others may reach them; without any, its loopback one."""
    found = []
    with contextlib.suppress(OSError):
        for adapter in ifaddr.get_adapters():
            found += [ip.ip for ip in adapter.ips if isinstance(ip.ip, str)]
    outward = [text for text in found if not ipaddress.ip_address(text).is_loopback]
    return tuple(sorted(outward)) or ("127.0.0.1",)


def _label(name: str) -> str:
    """A name that fits into one label of DNS."""
    plain = plain_line(name) or "station"
    return plain.encode()[:MOST_NAME_BYTES].decode(errors="ignore")
