"""The program on a real terminal or pipe, which may be closed, paused or left unread (Linux)."""

from __future__ import annotations

import contextlib
import os
import select
import shutil
import signal
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import platformdirs
import pytest

from feedback.journal.entries import StateEntry
from feedback.journal.writer import Recording, read_journal

ROOT = Path(__file__).resolve().parents[3]
PATIENCE_S = 60.0
needs_a_terminal = pytest.mark.skipif(
    sys.platform != "linux" or not shutil.which("setsid"), reason="needs /proc and setsid"
)
MARK = "BELTSIDE_TEST_MARK"


class Program:
    """``beltside`` as the first process of a session of its own, and all that it started.

    ``terminal``: it is on a terminal, which is its controlling one; else it writes into a pipe,
    which may be ``full``. ``line``: a command line for ``bash`` with ``{beltside}`` in it.
    """

    def __init__(
        self,
        folder: Path,
        *words: str,
        terminal: bool = True,
        before: tuple[str, ...] = (),
        line: str = "",
        full: bool = False,
        **more: str,
    ) -> None:
        self.mark = uuid.uuid4().hex
        self.folder = folder
        self.environment = _environment(folder) | {MARK: self.mark} | more
        self.said = ""
        self._reader: threading.Thread | None = None
        self._closing = threading.Event()
        command = [*before, sys.executable, "-m", "feedback.cli.main", *words]
        if line:
            command = ["bash", "-c", line.format(beltside=" ".join(command))]
        if terminal:
            self.here, there = os.openpty()
            self.process = subprocess.Popen(
                ["setsid", "--ctty", *command],
                cwd=ROOT,
                env=self.environment,
                stdin=there,
                stdout=there,
                stderr=there,
            )
        else:
            self.here, there = os.pipe()
            if full:
                _fill(there)
            self.process = subprocess.Popen(
                ["setsid", *command],
                cwd=ROOT,
                env=self.environment,
                stdin=subprocess.DEVNULL,
                stdout=there,
                stderr=subprocess.STDOUT,
            )
        os.close(there)

    # ---- what a person does

    def read_on(self) -> None:
        """Take what it says from now on, as a terminal does."""
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        with contextlib.suppress(OSError):  # a terminal whose last process has gone says so
            while not self._closing.is_set():
                if select.select([self.here], [], [], 0.02)[0]:
                    if not (data := os.read(self.here, 4096)):
                        return
                    self.said += data.decode(errors="replace")

    def close_terminal(self) -> None:
        """Close the terminal's window, or the reading end of the pipe."""
        self._closing.set()
        if self._reader is not None:
            self._reader.join(PATIENCE_S)
        os.close(self.here)
        self.here = -1

    def type(self, text: str) -> None:
        os.write(self.here, text.encode())

    def send(self, number: int, *, to_group: bool = False) -> None:
        (os.killpg if to_group else os.kill)(self.process.pid, number)

    def send_to_all(self, number: int) -> None:
        """To the program and all that it started, the program first."""
        for pid, _ in sorted(_marked(self.mark)):
            os.kill(pid, number)

    # ---- what is looked at

    def waits_for(self, text: str) -> None:
        wait_until(lambda: text in self.said or self.process.poll() is not None)
        assert text in self.said, self.said

    def waits_for_a_run(self) -> None:
        """Until the session runs, as its record tells."""
        wait_until(lambda: self.process.poll() is not None or "running" in self._journal_text())
        assert self.process.poll() is None, self.said

    def _journal_text(self) -> str:
        return "".join(path.read_text() for path in self.folder.rglob("*-heron-*.jsonl"))

    def ends(self, within_s: float = PATIENCE_S) -> tuple[int, float]:
        """Its exit code, and how long it took until nothing was left of it and its screens."""
        began = time.monotonic()
        wait_until(lambda: self.process.poll() is not None and not self.living(), within_s)
        return self.process.wait(), time.monotonic() - began

    def living(self) -> list[str]:
        """Command lines of all living processes that come from it, whatever group they are in."""
        return [line for _, line in _marked(self.mark)]

    def record(self) -> Recording:
        (path,) = self.folder.rglob("*-heron-*.jsonl")
        return read_journal(path)

    def last_state(self) -> StateEntry:
        return [e for e in self.record().entries if isinstance(e, StateEntry)][-1]

    def close(self) -> None:
        for pid, _ in _marked(self.mark):
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self.process.wait(PATIENCE_S)
        if self.here >= 0:
            self.close_terminal()


def _environment(folder: Path) -> dict[str, str]:
    dropped = ("XDG_", "QT_", "DISPLAY", "WAYLAND_DISPLAY")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(dropped)}
    return kept | {
        "XDG_DATA_HOME": str(folder / "data"),
        "XDG_STATE_HOME": str(folder / "state"),
        "XDG_CACHE_HOME": str(Path(platformdirs.user_cache_dir("beltside")).parent),
        "COLUMNS": "100",
    }


def _fill(end: int) -> None:
    """Write until a pipe takes no more."""
    os.set_blocking(end, False)
    with contextlib.suppress(BlockingIOError):
        while True:
            os.write(end, b"x" * 4096)
    os.set_blocking(end, True)


def _marked(mark: str) -> Iterator[tuple[int, str]]:
    """Living processes with this mark in their environment."""
    wanted = f"{MARK}={mark}".encode()
    for folder in Path("/proc").iterdir():
        if not folder.name.isdigit():
            continue
        with contextlib.suppress(OSError):  # it has just ended
            if wanted in (folder / "environ").read_bytes().split(b"\0"):
                line = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode()
                if line:  # a dead one that nobody has waited for has none
                    yield int(folder.name), line


def wait_until(true: Callable[[], bool], within_s: float = PATIENCE_S) -> None:
    until = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < until, "it never came"
        time.sleep(0.01)
