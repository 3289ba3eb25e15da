"""Stations are announced on the local network, and consoles find them there.

Multicast DNS and DNS service discovery (RFC 6762, RFC 6763) under ``_beltside._tcp``. What is
announced is the station's name, its port, the version of the link and the beginning of its
certificate's fingerprint: nothing about a session or a runner. Nothing found here is trusted:
only the certificate says which station answers.
"""

from __future__ import annotations

import contextlib
import ipaddress
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import ifaddr
from zeroconf import (
    Error,
    IPVersion,
    ServiceBrowser,
    ServiceInfo,
    ServiceListener,
    Zeroconf,
)

from shared.messages import PROTOCOL
from shared.plain_text import plain_line
from shared.problems import Problem, describe

SERVICE: Final = "_beltside._tcp.local."
PREFIX_DIGITS: Final = 16
"""So much of the fingerprint tells stations of one name apart; it proves nothing."""
_LOOK_AGAIN_S: Final = 5.0
_ASK_MS: Final = 2000
_MOST_FOUND: Final = 200
"""More stations than this are not taken in: a broken network must not fill the memory."""
_MOST_NAME_BYTES: Final = 63
"""RFC 6763, section 4.1.1: one label."""


@dataclass(frozen=True, slots=True)
class FoundStation:
    """One station as it announces itself."""

    name: str
    prefix: str
    """The first digits of its certificate's fingerprint; empty where it gives none."""
    protocol: int
    hosts: tuple[str, ...]
    """Addresses, the likeliest first."""
    port: int


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


class Finder(ServiceListener):
    """Looks for stations from its making to :meth:`close`; ``on_change`` is called in a thread."""

    def __init__(self, on_change: Callable[[], None] = lambda: None) -> None:
        """Raises OSError where there is no network to look in."""
        self._on_change = on_change
        self._lock = threading.Lock()
        self._found: dict[str, FoundStation] = {}
        self._zeroconf = Zeroconf(ip_version=IPVersion.V4Only)
        self._browser = ServiceBrowser(self._zeroconf, SERVICE, self)

    def found(self) -> tuple[FoundStation, ...]:
        """All stations that are there now, by name."""
        with self._lock:
            return tuple(sorted(self._found.values(), key=lambda s: (s.name, s.prefix, s.port)))

    def close(self) -> None:
        """Look no more."""
        self._browser.cancel()
        self._zeroconf.close()

    def add_service(self, zc: Zeroconf, type_: str, name: str) -> None:
        """A station is there: called by the library."""
        self.update_service(zc, type_, name)

    def update_service(self, zc: Zeroconf, type_: str, name: str) -> None:
        """A station says something new: called by the library."""
        station = None
        with contextlib.suppress(Error, OSError, ValueError):
            station = found_in(zc.get_service_info(type_, name, _ASK_MS), name)
        with self._lock:
            if station is None:
                self._found.pop(name, None)
            elif name in self._found or len(self._found) < _MOST_FOUND:
                self._found[name] = station
        self._on_change()

    def remove_service(self, zc: Zeroconf, type_: str, name: str) -> None:  # noqa: ARG002
        """A station has gone: called by the library."""
        with self._lock:
            self._found.pop(name, None)
        self._on_change()


def found_in(info: ServiceInfo | None, name: str) -> FoundStation | None:
    """What an announcement says, made fit to be shown; None where it is of no use."""
    if info is None or not info.port:
        return None
    hosts = tuple(info.parsed_addresses(IPVersion.V4Only)[:8])
    if not hosts:
        return None
    said = {key: value or b"" for key, value in info.properties.items()}
    prefix = said.get(b"fp", b"").decode("ascii", "replace")[:PREFIX_DIGITS]
    version = said.get(b"v", b"").decode("ascii", "replace")
    return FoundStation(
        name=plain_line(name.removesuffix(f".{SERVICE}"), _MOST_NAME_BYTES) or "?",
        prefix=prefix if set(prefix) <= set("0123456789abcdef") else "",
        protocol=int(version) if version.isdecimal() and len(version) < 6 else 0,
        hosts=hosts,
        port=info.port,
    )


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
    return plain.encode()[:_MOST_NAME_BYTES].decode(errors="ignore")
