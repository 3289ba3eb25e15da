"""A console looks for stations on the network: what is announced there, taken in with caps.

One thread with an event loop of its own. What an announcement says is read from what came with it;
only where that is not enough is it asked for, a few at a time, so that a name that nobody answers
for holds no other up. A spell of listening ends when too much comes in, so that neither the memory
nor the processor fills up; the next one asks all stations anew. Nothing found here is trusted.
"""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import logging
import math
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from typing import Final

import ifaddr
from zeroconf import Error, IPVersion, ServiceInfo, ServiceStateChange, Zeroconf
from zeroconf.asyncio import AsyncServiceBrowser, AsyncServiceInfo, AsyncZeroconf

from feedback.link.discovery import MOST_NAME_BYTES, PREFIX_DIGITS, SERVICE, own_addresses
from feedback.link.sightings import FoundStation, Sightings
from shared.clock import now_ns
from shared.plain_text import plain_line
from shared.units import NS_PER_S

_TURN_S: Final = 0.25
_LOOK_AGAIN_NS: Final = 5 * NS_PER_S
"""How often it is looked whether this computer's addresses are others, or whether there is one."""
_MOST_NEWS: Final = 2000
"""Announcements and changes in one turn; what comes beyond that is let go, and the spell ends."""
_MOST_NAMES: Final = 3000
"""In one spell: the library keeps each name until it expires, which may be hours."""
_PAUSE_S: Final = 1.0
"""Nothing is listened to for so long after too much came in."""
_SETTLED_NS: Final = 15 * NS_PER_S
"""After so long in a spell all stations have answered; RFC 6762, section 5.2: asked after 0, 1, 3
and 7 s (the library's four first questions: 0, 1, 5 and 14 s)."""
_SEARCH_NS: Final = 4 * NS_PER_S
_LONG_SEARCH_NS: Final = 15 * NS_PER_S
"""While a station is looked for a spell is so long: what was announced while the cable was broken
is known by asking alone, and nobody answers with what the asker says that it knows already (RFC
6762, section 7.1), so it has to be a new one. The library asks after 0 and 1 s, then rarely."""
_SEARCH_IS_LONG_NS: Final = 120 * NS_PER_S
_ASK_MS: Final = 1000
_MOST_ASKED_AT_ONCE: Final = 4
_MOST_WAITING: Final = 64
_MOST_HOSTS: Final = 8
"""Addresses of one station."""

_THIS_NETWORK: Final = ipaddress.IPv4Network("0.0.0.0/8")

# What is malformed on the network is nothing that the library should tell people at the terminal.
logging.getLogger("zeroconf").addHandler(logging.NullHandler())
logging.getLogger("zeroconf").propagate = False


class Finder:
    """Looks for stations from its making to :meth:`close`; ``on_change`` is called in a thread."""

    def __init__(
        self,
        on_change: Callable[[], None] = lambda: None,
        homes: Mapping[str, frozenset[str]] | None = None,
    ) -> None:
        """``homes``: as for :meth:`want`. Without a network it waits until there is one."""
        self._on_change = on_change
        self._lock = threading.Lock()
        self._sightings = Sightings()
        self._sightings.want(homes or {})
        self._names: set[str] = set()
        """All that were heard of in this spell."""
        self._searched_ns = self._search_began_ns = -_SEARCH_IS_LONG_NS
        self._own: tuple[ipaddress.IPv4Network, ...] = ()
        self._news = 0
        self._changed = False
        self._waiting: OrderedDict[str, None] = OrderedDict()
        """Names of which not enough is known, newest last."""
        self._asking: set[asyncio.Task[None]] = set()
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="finder", daemon=True)
        self._thread.start()

    def want(self, homes: Mapping[str, frozenset[str]]) -> None:
        """Keep before all others what may be a paired station.

        The addresses where each was last met, by the beginning of its fingerprint.
        """
        with self._lock:
            self._sightings.want(homes)

    def search(self) -> None:
        """A station is looked for just now: ask more often; to be called again and again."""
        at_ns = now_ns()
        with self._lock:
            if at_ns - self._searched_ns > _SEARCH_NS:
                self._search_began_ns = at_ns
            self._searched_ns = at_ns

    def found(self) -> tuple[FoundStation, ...]:
        """The stations that are there now, by name, as many as are kept."""
        with self._lock:
            return self._sightings.found()

    def more(self) -> int:
        """How many more are announced, as far as they are counted."""
        with self._lock:
            return self._sightings.let_go

    def close(self) -> None:
        """Look no more; returns within about 1 s."""
        self._closing.set()
        self._thread.join(timeout=5.0)

    def _run(self) -> None:
        while not self._closing.is_set():
            wait_s = _LOOK_AGAIN_NS / NS_PER_S
            # No network to look in, or the guard of this thread: what is found stays.
            with contextlib.suppress(Exception):
                wait_s = asyncio.run(self._listen())
            self._closing.wait(wait_s)

    async def _listen(self) -> float:
        """One spell; how long to pause after it, in s."""
        addresses, began_ns = own_addresses(), now_ns()
        self._own = _own_networks()
        looked_ns, settled = began_ns, False
        network = AsyncZeroconf(ip_version=IPVersion.V4Only)
        self._names.clear()
        self._waiting.clear()
        browser = AsyncServiceBrowser(network.zeroconf, SERVICE, handlers=[self._on_news])
        try:
            while not self._closing.is_set():
                self._news = 0
                await asyncio.sleep(_TURN_S)
                if self._changed:
                    self._changed = False
                    self._on_change()
                at_ns = now_ns()
                if self._news > _MOST_NEWS or len(self._names) > _MOST_NAMES:
                    return _PAUSE_S
                if not settled and at_ns - began_ns > _SETTLED_NS:
                    settled = True
                    with self._lock:
                        self._sightings.keep_only(frozenset(self._names))
                if at_ns - began_ns > self._longest_ns(at_ns):
                    return 0.0
                if at_ns - looked_ns > _LOOK_AGAIN_NS:
                    looked_ns = at_ns
                    if own_addresses() != addresses:
                        return 0.0
            return 0.0
        finally:
            for task in tuple(self._asking):
                task.cancel()
            await asyncio.gather(*self._asking, return_exceptions=True)
            await browser.async_cancel()
            await network.async_close()

    def _longest_ns(self, at_ns: int) -> float:
        """How long a spell may be."""
        with self._lock:
            if at_ns - self._searched_ns > NS_PER_S:
                return math.inf
            is_long = at_ns - self._search_began_ns > _SEARCH_IS_LONG_NS
        return _LONG_SEARCH_NS if is_long else _SEARCH_NS

    def _on_news(
        self, zeroconf: Zeroconf, service_type: str, name: str, state_change: ServiceStateChange
    ) -> None:
        """Called by the library, in the loop: must not wait."""
        self._news += 1
        if self._news > _MOST_NEWS:
            return
        self._changed = True
        if state_change is ServiceStateChange.Removed:
            self._names.discard(name)
            self._waiting.pop(name, None)
            with self._lock:
                self._sightings.lose(name)
            return
        first = name not in self._names
        self._names.add(name)
        with contextlib.suppress(Error, ValueError):
            info = AsyncServiceInfo(service_type, name)
            if info.load_from_cache(zeroconf):
                self._take(info, name)
            elif first:
                self._ask(zeroconf, name)

    def _take(self, info: ServiceInfo, name: str) -> None:
        station = found_in(info, name, self._own) if name in self._names else None
        with self._lock:
            if station is None:
                self._sightings.lose(name)
            else:
                self._sightings.see(name, station)
        self._changed = True

    def _ask(self, zeroconf: Zeroconf, name: str) -> None:
        """Have a name asked for, the newest first: old ones had time to be answered."""
        self._waiting[name] = None
        if len(self._waiting) > _MOST_WAITING:
            self._waiting.popitem(last=False)
        if len(self._asking) < _MOST_ASKED_AT_ONCE:
            task = asyncio.get_running_loop().create_task(self._ask_for_all(zeroconf))
            self._asking.add(task)
            task.add_done_callback(self._asking.discard)

    async def _ask_for_all(self, zeroconf: Zeroconf) -> None:
        while self._waiting:
            name, _ = self._waiting.popitem()
            with contextlib.suppress(Error, OSError, ValueError):
                info = AsyncServiceInfo(SERVICE, name)
                if await info.async_request(zeroconf, _ASK_MS):
                    self._take(info, name)


def found_in(
    info: ServiceInfo | None, name: str, own: tuple[ipaddress.IPv4Network, ...] = ()
) -> FoundStation | None:
    """What an announcement says, made fit to be shown; None where it is of no use.

    ``own``: the networks that this computer is in. Addresses elsewhere in the world are left out:
    an announcement must not make a console call there.
    """
    if info is None or not info.port:
        return None
    said_hosts = info.parsed_addresses(IPVersion.V4Only)
    hosts = tuple(host for host in dict.fromkeys(said_hosts) if _is_at_hand(host, own))
    hosts = tuple(sorted(hosts, key=lambda host: not _is_in(host, own)))[:_MOST_HOSTS]
    if not hosts:
        return None
    said = {key: value or b"" for key, value in info.properties.items()}
    prefix = said.get(b"fp", b"").decode("ascii", "replace")[:PREFIX_DIGITS]
    version = said.get(b"v", b"").decode("ascii", "replace")
    return FoundStation(
        name=plain_line(name.removesuffix(f".{SERVICE}"), MOST_NAME_BYTES) or "?",
        prefix=prefix if set(prefix) <= set("0123456789abcdef") else "",
        protocol=int(version) if version.isdecimal() and len(version) < 6 else 0,
        hosts=hosts,
        port=info.port,
    )


def _is_at_hand(host: str, own: tuple[ipaddress.IPv4Network, ...]) -> bool:
    """Whether it is in one of these networks, or is no address of the world outside (RFC 6890)."""
    address = ipaddress.IPv4Address(host)
    if address in _THIS_NETWORK or address.is_multicast or address.is_reserved:
        return False
    return address.is_private or _is_in(host, own)


def _is_in(host: str, own: tuple[ipaddress.IPv4Network, ...]) -> bool:
    return any(ipaddress.IPv4Address(host) in network for network in own)


def _own_networks() -> tuple[ipaddress.IPv4Network, ...]:
    found = []
    with contextlib.suppress(OSError):
        for adapter in ifaddr.get_adapters():
            for ip in adapter.ips:
                if isinstance(ip.ip, str):
                    with contextlib.suppress(ValueError):
                        found.append(
                            ipaddress.IPv4Network((ip.ip, ip.network_prefix), strict=False)
                        )
    return tuple(found)
