"""What a station needs to be reached over the network: its gateway, a process of its own.

It is made before a session, so that what is wrong is told before anybody runs, and is given to
the station's link, which then lets consoles in by it. Without it nothing listens to the network.
"""

from __future__ import annotations

import contextlib
import os
import platform
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from queue import Empty, Queue
from typing import Final

import msgspec

from feedback.link.gateway_messages import (
    Announce,
    Began,
    Begin,
    Code,
    Failed,
    FromGateway,
    OpenPairing,
    PairedWith,
    Relay,
    Status,
    ToGateway,
    from_gateway,
    line_of,
)
from feedback.link.pairing import MOST_TRIES, Attempt, PairingState
from feedback.storage.settings import data_folder
from shared.child_environment import child_environment
from shared.clock import now_ns
from shared.cores import Reserve
from shared.language import told
from shared.plain_text import plain_line
from shared.problems import Problem, UserError, describe
from shared.units import NS_PER_S

FOLDER: Final = "link"
_MOST_NAME: Final = 60
_BEGIN_S: Final = 20.0
"""A slow computer needs some seconds to start a program."""
_ANSWER_S: Final = 5.0
_END_S: Final = 3.0
_AGAIN_S: Final = 1.0
_SILENT_NS: Final = 5 * NS_PER_S
"""It says something twice a second; after so long it is started anew."""


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
        """``port`` None: the usual one, or any. ``on_paired`` is called in a thread of its own.

        Raises UserError: ``certificate_damaged``, ``save_failed``, ``file_unreadable``,
        ``network_failed``.
        """
        self.name = name
        self._folder = folder
        self._on_paired = on_paired
        self._lock = threading.Lock()
        self._status: Status | None = None
        self._heard_ns = now_ns()
        self._down = False
        self._closing = threading.Event()
        self._codes: Queue[str] = Queue()
        self._relay: Relay | None = None
        self._announced = False
        self._reserve: Reserve | None = None
        self._process = self._start(port)
        began = self._first_word(self._process)
        if not isinstance(began, Began):
            self._process.kill()
            self._process.wait()
            raise failed_with(began)
        self.port, self.fingerprint = began.port, began.fingerprint
        self._thread = threading.Thread(target=self._listen, name="gateway", daemon=True)
        self._thread.start()

    def serve(self, port: int, secret: str) -> None:
        """Let paired consoles in: the link listens for them at ``port`` of this computer."""
        self._relay = Relay(port=port, secret=secret)
        self._tell(self._relay)

    def announce(self) -> None:
        """Let it be found; call it once it listens."""
        self._announced = True
        self._tell(Announce())

    def keep_off(self, reserve: Reserve) -> None:
        """Have the gateway keep off the processor for the measuring."""
        self._reserve = reserve
        reserve.put_process_aside(self._process.pid)

    def open_pairing(self, only_from: str = "") -> str:
        """A new code, for a person to read; may be called from any thread.

        ``only_from``: the one address that may try it. Raises UserError ``network_failed``.
        """
        with contextlib.suppress(Empty):
            while True:
                self._codes.get_nowait()
        self._tell(OpenPairing(only_from=only_from))
        try:
            return self._codes.get(timeout=_ANSWER_S)
        except Empty:
            raise UserError("network_failed", why=told("its program does not answer")) from None

    def pairing(self) -> PairingState:
        """How pairing stands."""
        with self._lock:
            status = self._status
        if status is None:
            return PairingState(code="", tries_left=MOST_TRIES, locked=False)
        return PairingState(status.code, status.tries_left, status.locked, status.attempts)

    def connections(self) -> tuple[int, int]:
        """How many connections are open, and how many of them of consoles that proved their key."""
        with self._lock:
            return (0, 0) if self._status is None else (self._status.open, self._status.proved)

    def problem(self) -> Problem | None:
        """What keeps consoles from the station now."""
        with self._lock:
            status, down, heard_ns = self._status, self._down, self._heard_ns
        if self._closing.is_set():
            return None
        if now_ns() - heard_ns > _SILENT_NS:
            self._process.kill()  # it hangs; whoever reads from it starts it anew
            down = True
        if down:
            return describe("gateway_lost")
        if status is not None and status.problem is None and status.locked:
            return describe("pairing_locked", who=who_tried(status.attempts))
        return None if status is None else status.problem

    def close(self) -> None:
        """Be found no more, and listen no more. May be called again."""
        self._closing.set()
        process = self._process
        if process.stdin is not None:
            with contextlib.suppress(OSError, ValueError):
                process.stdin.close()
        try:
            process.wait(_END_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        self._thread.join(_END_S)

    # inside

    def _start(self, port: int | None) -> subprocess.Popen[bytes]:
        try:
            process = subprocess.Popen(
                [sys.executable, "-m", "feedback.link.gateway"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env=child_environment(os.environ),
                # Ctrl+C in the terminal is for the station, which then ends its gateway.
                start_new_session=sys.platform != "win32",
            )
        except OSError as error:
            raise UserError("network_failed", str(error), why=str(error)) from error
        self._send(process, Begin(folder=str(self._folder), name=self.name, port=port))
        return process

    def _first_word(self, process: subprocess.Popen[bytes]) -> FromGateway | None:
        """What it says first; None where it says nothing in time."""
        assert process.stdout is not None  # noqa: S101 - it is a pipe
        late = threading.Timer(_BEGIN_S, process.kill)
        late.start()
        try:
            return from_gateway(process.stdout.readline())
        except msgspec.MsgspecError:
            return None
        finally:
            late.cancel()

    def _tell(self, order: ToGateway) -> None:
        self._send(self._process, order)

    def _send(self, process: subprocess.Popen[bytes], order: ToGateway) -> None:
        assert process.stdin is not None  # noqa: S101 - it is a pipe
        with contextlib.suppress(OSError, ValueError):  # it has gone, and is started anew
            process.stdin.write(line_of(order))
            process.stdin.flush()

    def _listen(self) -> None:
        """Hear what the gateway says; start it anew where it ends by itself."""
        while True:
            assert self._process.stdout is not None  # noqa: S101 - it is a pipe
            with contextlib.suppress(OSError, ValueError, msgspec.MsgspecError):
                for line in self._process.stdout:
                    self._take(from_gateway(line))
            with self._lock:
                self._down = not self._closing.is_set()
            self._let_go(self._process)
            while not self._closing.wait(_AGAIN_S) and not self._start_again():
                continue
            if self._closing.is_set():
                return

    def _let_go(self, process: subprocess.Popen[bytes]) -> None:
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    def _start_again(self) -> bool:
        """Start another one, at the same port; whether it listens."""
        try:
            process = self._start(self.port)
        except UserError:
            return False
        began = self._first_word(process)
        if not isinstance(began, Began) or self._closing.is_set():
            self._let_go(process)
            return False
        self._process = process
        for order in (self._relay, Announce() if self._announced else None):
            if order is not None:
                self._tell(order)
        if self._reserve is not None:
            self._reserve.put_process_aside(process.pid)
        with self._lock:
            self._down, self._heard_ns = False, now_ns()
        return True

    def _take(self, message: FromGateway) -> None:
        match message:
            case Status():
                with self._lock:
                    self._status, self._heard_ns = message, now_ns()
            case Code(code=code):
                self._codes.put(code)
            case PairedWith(name=name):
                self._on_paired(name)


def who_tried(attempts: tuple[Attempt, ...]) -> str:
    """Who tried the code and did not know it, for a person at the station."""
    counted = Counter((attempt.name, attempt.address) for attempt in attempts)
    return "; ".join(
        f'"{name}" at {address or "an unknown address"}' + f" ({count} times)" * (count > 1)
        for (name, address), count in counted.items()
    )


def failed_with(said: FromGateway | None) -> UserError:
    """What to raise for a gateway that did not begin."""
    error = UserError("network_failed", why=told("its program did not start"))
    if isinstance(said, Failed):
        error.problem = said.problem
    return error
