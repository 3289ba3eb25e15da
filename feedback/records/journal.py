"""Writes a session down line by line while it runs, so that a crash loses a second at most."""

from __future__ import annotations

import contextlib
import os
import platform
import queue
import re
import threading
import time
from collections.abc import Iterable
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import ClassVar, Final, Generic, TypeVar

import msgspec
import platformdirs

from feedback.records.entries import URGENT, Entry, LostEntry, RatingEntry, SummaryEntry
from shared.clock import ClockAnchor
from shared.files import private_folder
from shared.problems import Problem, UserError, describe
from shared.reading import MOST_LINES_BYTES, decode_line, read_content
from shared.records import View
from shared.targets import Athlete, Limits, Prescription, SessionKind, Voucher

FORMAT: Final = 1
SUFFIX: Final = ".jsonl"
FLUSH_EVERY_S: Final = 0.5
"""Half of the second that may be lost, so that a slow disk has the other half."""
QUEUE_LENGTH: Final = 4096
"""About a minute of entries."""
MOST_WAITING_BYTES: Final = 64_000_000
"""Kept in memory while the disk takes nothing: two hours of a session, or some 15 minutes of its
landmarks. What comes after that is left out and counted."""
CLOSE_WITHIN_S: Final = 5.0
VERSIONS_OF: Final = ("beltside", "mediapipe", "opencv-contrib-python", "numpy", "sounddevice")


class Header(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="header"):
    """First line of a journal: all that is needed to read the rest years later."""

    format: int = FORMAT
    versions: dict[str, str]
    """Version of Python, the system and the packages behind the figures."""
    anchor: ClockAnchor
    """Turns the stamps of all entries into wall time."""
    source: str
    """Where the pictures came from, in plain words."""
    view: View
    athlete: Athlete
    athlete_text: str
    """The profile as it was read."""
    limits: dict[str, float]
    """Limits in force, by name with unit, such as ``time_limit_s``."""
    kind: SessionKind | None = None
    """What the session of a plan was for; None outside a plan."""
    number: int | None = None
    """Of the session in its plan, from 1."""
    prescription: Prescription | None = None
    """The prescription that was followed: its drill, plan, goals and baseline."""
    prescription_text: str = ""
    """The prescription's file as it was read."""
    voucher: Voucher | None = None
    """Who stood behind the prescription; None without one, and in records of older versions."""
    sound: str = ""
    """The sound output, in plain words; empty where cues were only shown."""
    demo: bool = False
    """Made by the program's own drawn runner."""
    baseline: bool = False
    """The runner's own values were taken: nothing was aimed at or cued."""


Line = TypeVar("Line", bound=msgspec.Struct)


class LineWriter(Generic[Line]):
    """Appends lines to one file, from a thread of its own.

    ``write`` never blocks and never raises. Urgent lines are on the disk at once, all others
    within a second. While the file cannot be written, :meth:`problem` says so; what comes is kept
    in memory, and saved once it can be.
    """

    urgent: ClassVar[tuple[type[msgspec.Struct], ...]] = ()

    def __init__(self, path: Path, header: msgspec.Struct) -> None:
        self.path = path
        self.saved = 0
        """How many lines after the header are safe on the disk; read it from any thread."""
        self._queue: queue.Queue[msgspec.Struct | None] = queue.Queue(QUEUE_LENGTH)
        self._lost = 0
        self._problem: Problem | None = None
        self._broken = False
        self._file = -1
        self._synced = 0
        """Bytes that are safe on the disk."""
        self._closed = False
        self._queue.put_nowait(header)
        self._thread = threading.Thread(target=self._guarded, name="journal", daemon=True)
        self._thread.start()

    def write(self, line: Line) -> None:
        """Hand over one line. Lines that find the queue full are counted and left out."""
        if self._closed or self._broken:
            return
        try:
            if self._lost:
                self._queue.put_nowait(LostEntry(count=self._lost))
                self._lost = 0
            self._queue.put_nowait(line)
        except queue.Full:
            self._lost += 1

    def problem(self) -> Problem | None:
        """Why nothing is recorded now; None while all is well, and once it is again."""
        return self._problem

    def close(self, last: Line | None = None) -> None:
        """Write the last line, save and end. Waits a few seconds for the disk, never longer."""
        if self._closed:
            return
        self._closed = True
        with contextlib.suppress(queue.Full):
            for item in (last, None) if last is not None else (None,):
                if self._thread.is_alive():
                    self._queue.put(item, timeout=CLOSE_WITHIN_S / 2)
        self._thread.join(CLOSE_WITHIN_S / 2)
        if self._thread.is_alive() and self._problem is None:
            self._problem = describe("journal_failed", why="the disk does not answer")

    # the thread

    def _guarded(self) -> None:
        try:
            self._write_down()
        except Exception as error:  # noqa: BLE001 - the thread's one guard: told, never hidden
            self._broken = True
            why = "a fault in the program"
            self._problem = describe("journal_failed", details=repr(error), why=why)
        finally:
            if self._file >= 0:
                os.close(self._file)

    def _write_down(self) -> None:
        encode = msgspec.json.Encoder().encode
        waiting = bytearray()
        lines = -1  # the header is none of them
        left_out = 0
        due = time.monotonic() + FLUSH_EVERY_S
        urgent = last = False
        while not last:
            with contextlib.suppress(queue.Empty):
                item = self._queue.get(timeout=max(0.0, due - time.monotonic()))
                last = item is None
                urgent = urgent or lines < 0 or isinstance(item, self.urgent)
                full = len(waiting) > MOST_WAITING_BYTES
                left_out += full and item is not None
                found = [item] if item is not None and not full else []
                if left_out and not full:
                    found.insert(0, LostEntry(count=left_out))
                    left_out = 0
                try:
                    for one in found:
                        waiting += encode(one) + b"\n"
                        lines += 1
                except Exception:
                    self._try_to_save(waiting)  # what came before a faulty entry is not its fault
                    raise
            # What else is queued comes along: one wait for the disk serves many entries.
            if (urgent and self._queue.empty()) or last or time.monotonic() >= due:
                if self._try_to_save(waiting):
                    self.saved = max(0, lines)
                urgent = False
                due = time.monotonic() + FLUSH_EVERY_S

    def _try_to_save(self, waiting: bytearray) -> bool:
        """Save all that waits; what is safe waits no longer. False where the disk takes no more."""
        try:
            if self._file < 0:
                self._file = self._made()
            _save(self._file, waiting)
        except OSError as error:
            why = error.strerror or str(error)
            self._problem = describe("journal_failed", details=str(error), why=why)
        else:
            self._synced += len(waiting)
            waiting.clear()
            self._problem = None
            return True
        # Here, where nothing of the error holds on to the bytes any more.
        self._keep_what_fitted(waiting)
        return False

    def _made(self) -> int:
        private_folder(self.path.parent)
        # Without O_BINARY, which only Windows has, line ends would be rewritten there.
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        return os.open(self.path, flags, 0o600)

    def _keep_what_fitted(self, waiting: bytearray) -> None:
        """On a full disk a part may have been written: it counts where it is safe, else it goes.

        So nothing stands there twice when the rest follows.
        """
        if self._file < 0:
            return
        try:
            os.fsync(self._file)
            done = os.fstat(self._file).st_size - self._synced
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(self._file, self._synced)
            return
        if 0 < done <= len(waiting):
            del waiting[:done]
            self._synced += done


class Journal(LineWriter[Entry]):
    """The record of one session.

    The header, problems, changes of state, block and target, answers and the summary are on the
    disk at once. While the file cannot be written the session goes on, and says so.
    """

    urgent = URGENT


def _save(file: int, content: bytearray) -> None:
    """Write all of ``content`` and wait until the disk has it."""
    view = memoryview(content)
    done = 0
    try:
        while done < len(view):
            done += os.write(file, view[done:])
    finally:
        view.release()
    if done:
        os.fsync(file)


def sessions_folder() -> Path:
    """Where sessions are kept, in the user's own data folder."""
    return Path(platformdirs.user_data_dir("beltside", appauthor=False)) / "sessions"


def new_path(anchor: ClockAnchor, code_name: str, folder: Path | None = None) -> Path:
    """A file name that is still free, from the session's begin (UTC) and the code name."""
    begin = datetime.fromisoformat(anchor.wall_utc).astimezone(UTC)
    plain = re.sub(r"[^a-z0-9]+", "-", code_name.lower()).strip("-") or "runner"
    name = f"{begin:%Y-%m-%dT%H%M%SZ}-{plain}"
    folder = folder or sessions_folder()
    path = folder / f"{name}{SUFFIX}"
    number = 2
    while path.exists():
        path = folder / f"{name}-{number}{SUFFIX}"
        number += 1
    return path


def limits_in_force(limits: Limits, time_limit_s: float | None = None) -> dict[str, float]:
    """The athlete's limits, and the session's time limit, by name with unit."""
    found = {
        "pain_stop_over_of_10": float(limits.pain_stop_over),
        "pain_caution_from_of_10": float(limits.pain_caution_from),
        "effort_caution_from_of_10": float(limits.effort_caution_from),
        "cadence_most_percent": limits.cadence_most_percent,
        "target_step_percent": limits.target_step_percent,
        "longest_s": limits.longest_min * 60.0,
        "volume_most": limits.volume_most,
    }
    return found if time_limit_s is None else {**found, "time_limit_s": time_limit_s}


def versions() -> dict[str, str]:
    """Versions of what the figures depend on."""
    found = {"python": platform.python_version(), "system": platform.platform(terse=True)}
    for name in VERSIONS_OF:
        with contextlib.suppress(metadata.PackageNotFoundError):
            found[name] = metadata.version(name)
    return found


class Recording(msgspec.Struct, frozen=True, kw_only=True):
    """A journal as read back."""

    header: Header
    entries: tuple[Entry, ...]
    torn: bool
    """True when the last line was cut off: the program or the computer died."""

    @property
    def summary(self) -> SummaryEntry | None:
        """How a session ended that ended in order; None for one that did not.

        Only what was asked after the end may follow it.
        """
        for entry in reversed(self.entries):
            if not isinstance(entry, RatingEntry):
                return entry if isinstance(entry, SummaryEntry) else None
        return None


def add_ratings(path: Path, ratings: Iterable[RatingEntry]) -> None:
    """Put down what was answered after the journal was closed. Raises UserError ``save_failed``."""
    lines = b"".join(msgspec.json.encode(rating) + b"\n" for rating in ratings)
    try:
        with path.open("ab") as file:
            file.write(lines)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(path), why=why) from error


ENTRIES: Final[msgspec.json.Decoder[Entry]] = msgspec.json.Decoder(Entry)


def read_journal(path: Path) -> Recording:
    """Read a journal; a last line that was cut off is left out.

    Raises UserError: ``file_missing``, or ``file_unreadable`` when it is not a journal, of
    another format, or damaged before its last line.
    """
    header, entries, torn = read_lines(path, Header, ENTRIES, "the record of a session")
    if header.format != FORMAT:
        why = f"it is of format {header.format}, and this version reads format {FORMAT}"
        raise UserError("file_unreadable", path=str(path), why=why)
    return Recording(header=header, entries=entries, torn=torn)


H = TypeVar("H")
L = TypeVar("L")


def read_lines(
    path: Path, head: type[H], decoder: msgspec.json.Decoder[L], what: str
) -> tuple[H, tuple[L, ...], bool]:
    """First line, the other lines, and whether the last one was cut off and left out.

    Raises UserError: ``file_missing``, or ``file_unreadable`` when it is not ``what``.
    """
    *lines, rest = read_content(path, MOST_LINES_BYTES).split(b"\n")
    try:
        header = decode_line(lines[0] if lines else b"", msgspec.json.Decoder(head))
    except ValueError as error:
        why = f"it is not {what}"
        raise UserError("file_unreadable", str(error), path=str(path), why=why) from error
    found: list[L] = []
    for number, text in enumerate(lines[1:], start=2):
        try:
            found.append(decode_line(text, decoder))
        except ValueError as error:
            if number == len(lines) and not rest:
                return header, tuple(found), True
            why = f"line {number} is damaged"
            raise UserError("file_unreadable", str(error), path=str(path), why=why) from error
    return header, tuple(found), bool(rest)
