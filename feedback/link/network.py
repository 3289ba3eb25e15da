"""What a station needs to be reached over the network: certificate, socket, list of consoles.

It is made before a session, so that what is wrong is told before anybody runs, and is given to
the station's link, which then lets consoles in by it. Without it nothing listens to the network.
"""

from __future__ import annotations

import os
import platform
import ssl
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final

from feedback.link.certificate import server_context, station_identity
from feedback.link.consoles import ConsoleList
from feedback.link.conversation import StationSide
from feedback.link.discovery import Announcer
from feedback.link.door import KeepConsole, RemoteSide
from feedback.link.listening import listen
from feedback.link.pairing import (
    PairConfirm,
    Paired,
    PairingDesk,
    PairStart,
    Standing,
    StationExchange,
)
from feedback.records.settings import data_folder
from shared.clock import now_ns
from shared.plain_text import plain_line
from shared.problems import Problem, UserError

FOLDER: Final = "link"
_NONCE_BYTES: Final = 32
_MOST_NAME: Final = 60


def link_folder() -> Path:
    """Where certificate and lists lie."""
    return data_folder() / FOLDER


def usual_name(most: int = _MOST_NAME) -> str:
    """The name of this computer, in ``most`` letters."""
    return plain_line(platform.node().split(".")[0], most) or "station"


class Network:
    """The network side of one station, from its making to :meth:`close`."""

    def __init__(
        self,
        folder: Path,
        name: str,
        port: int | None = None,
        on_paired: Callable[[str], None] = lambda _name: None,
    ) -> None:
        """``port`` None: the usual one, or any. ``on_paired`` is called in the link's thread.

        Raises UserError: ``certificate_damaged``, ``save_failed``, ``file_unreadable``,
        ``network_failed``.
        """
        identity = station_identity(folder)
        self.name = name
        self.fingerprint = identity.fingerprint
        self.tls: ssl.SSLContext = server_context(identity.path)
        self._consoles = ConsoleList(folder)
        self._consoles.all()  # a file that cannot be read is told now
        self._desk = _LockedDesk(self.fingerprint, name, os.urandom)
        self._on_paired = on_paired
        self.listening = listen(port)
        self.port = int(self.listening.getsockname()[1])
        self._announcer = Announcer(name, self.fingerprint, self.port)

    def announce(self) -> None:
        """Let it be found; call it once it listens."""
        self._announcer.start()

    def open_pairing(self) -> str:
        """A new code, for a person to read; may be called from any thread."""
        return self._desk.open(now_ns())

    def pairing(self) -> Standing:
        """How pairing stands."""
        return self._desk.standing(now_ns())

    def side(self, inside: Callable[[str, int], StationSide] | None) -> RemoteSide:
        """The station's end of a new connection."""
        nonce = os.urandom(_NONCE_BYTES)
        return RemoteSide(
            self._desk, self._key_of, self.fingerprint, nonce, inside, now_ns=now_ns()
        )

    def keep(self, console: KeepConsole) -> bytes:
        """Keep a console that was paired; returns what it is to be told. Raises UserError."""
        name = self._consoles.add(console.paired, datetime.now().astimezone().isoformat())
        self._on_paired(name)
        return console.done(name)

    def is_paired(self, name: str, public_key: bytes) -> bool:
        """Whether this console is in the list still."""
        return self._key_of(name) == public_key

    def problem(self) -> Problem | None:
        """What keeps consoles from finding the station."""
        return self._announcer.problem()

    def close(self) -> None:
        """Be found no more, and listen no more."""
        self._announcer.close()
        self.listening.close()

    def _key_of(self, name: str) -> bytes | None:
        try:
            return self._consoles.key_of(name)
        except UserError:
            return None  # a damaged list lets nobody in


class _LockedDesk(PairingDesk):
    """Codes are opened in one thread and tried in another."""

    def __init__(self, fingerprint: str, station: str, entropy: Callable[[int], bytes]) -> None:
        super().__init__(fingerprint, station, entropy)
        self._lock = threading.RLock()

    def open(self, now_ns: int) -> str:
        with self._lock:
            return super().open(now_ns)

    def close(self) -> None:
        with self._lock:
            super().close()

    def standing(self, now_ns: int) -> Standing:
        with self._lock:
            return super().standing(now_ns)

    def begin(self, start: PairStart, now_ns: int) -> StationExchange | None:
        with self._lock:
            return super().begin(start, now_ns)

    def finish(self, exchange: StationExchange, confirm: PairConfirm, now_ns: int) -> Paired | None:
        with self._lock:
            return super().finish(exchange, confirm, now_ns)
