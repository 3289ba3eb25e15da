"""Writes a session down line by line while it runs, so that a crash loses a second at most."""

from __future__ import annotations

import contextlib
import os
import platform
import queue
import threading
import time
import uuid
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import Annotated, ClassVar, Final, Generic, TypeVar

import msgspec
import platformdirs
from msgspec import Meta

from feedback.journal.entries import (
    URGENT,
    Entry,
    LostEntry,
    NoteEntry,
    RatingEntry,
    SummaryEntry,
    in_english,
)
from shared.clock import ClockAnchor
from shared.files import private_folder, save_atomically
from shared.flow import View
from shared.identity import Named, in_file_name
from shared.language import _, told
from shared.own_values import Baseline
from shared.problems import Problem, UserError, describe, file_error, reason_of
from shared.reading import MOST_LINES_BYTES, decode_line, read_content
from shared.targets import Athlete, Limits, Prescription, SessionKind, Target, Voucher

FORMAT: Final = 1
SUFFIX: Final = ".jsonl"
FLUSH_EVERY_S: Final = 0.5
"""Half of the second that may be lost, so that a slow disk has the other half."""
QUEUE_LENGTH: Final = 4096
"""About a minute of entries."""
MOST_KEPT_BYTES: Final = 64 * 1024 * 1024
"""While nothing gets to the disk: some hours of a session, some twenty minutes of a track."""
LARGEST_WRITE_BYTES: Final = 1024 * 1024
CLOSE_WITHIN_S: Final = 5.0
VERSIONS_OF: Final = ("beltside", "mediapipe", "opencv-contrib-python", "numpy", "sounddevice")


class Header(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="header"):
    """First line of a journal: all that is needed to read the rest years later."""

    format: int = FORMAT
    uid: Annotated[str, Meta(pattern=r"^([0-9a-f]{32})?\Z")] = ""
    """Name of the session that no other has; empty in records of older versions."""
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
    trial: bool = False
    """To try things out, from a file or with blocks cut short: it counts for nothing."""
    begun_with: tuple[Target, ...] | None = None
    """The targets in force as the session began; None in records of older versions. Those of
    ``athlete`` are where a prescription leads to in the end."""
    own: Baseline | None = None
    """The runner's own values that fit, or those behind the prescription; None where they are not
    here, and in records of older versions."""
    newest_before_utc: str = ""
    """Begin of the newest record, where the clock contradicted it when this session began: then
    the session's own time is in doubt. Empty otherwise, and in records of older versions."""


Line = TypeVar("Line", bound=msgspec.Struct)
Then = Callable[[bool], None]


class LineWriter(Generic[Line]):
    """Appends lines to one file, from a thread of its own.

    ``write`` never blocks and never raises. Urgent lines are on the disk at once, all others
    within a second. While the file cannot be written, :meth:`problem` says so; what comes is kept
    in memory meanwhile, goes to the file once that can be written again, and else can be saved
    elsewhere in the end.
    """

    urgent: ClassVar[tuple[type[msgspec.Struct], ...]] = ()

    def __init__(self, path: Path, header: msgspec.Struct) -> None:
        self.path = path
        self.saved = 0
        """How many lines after the header are safe on the disk; read it from any thread."""
        self._queue: queue.Queue[msgspec.Struct | Then | None] = queue.Queue(QUEUE_LENGTH)
        self._waiting = bytearray()
        """What is not in the file yet; touched by the thread, and after its end."""
        self._then: list[Then] = []
        """Those who wait for it to be there."""
        self._left_out = 0
        """Lines that found no room in memory."""
        self._made = False
        """The file at ``path`` is ours."""
        self._synced = True
        self._lost = 0
        self._problem: Problem | None = None
        self._closed = False
        self._queue.put_nowait(header)
        self._thread = threading.Thread(target=self._guarded, name="journal", daemon=True)
        self._thread.start()

    def write(self, line: Line) -> None:
        """Hand over one line. Lines that find the queue full are counted and left out."""
        if self._closed or not self._thread.is_alive():
            return
        try:
            if self._lost:
                self._queue.put_nowait(LostEntry(count=self._lost))
                self._lost = 0
            self._queue.put_nowait(line)
        except queue.Full:
            self._lost += 1

    def when_safe(self, then: Then) -> None:
        """Have ``then`` called once all lines handed over so far are on the disk, or cannot be.

        It is told which, mostly in the writer's own thread, and must return at once. Never blocks.
        """
        # With lines left out the newest one, which is waited for, is among them.
        taken = not (self._closed or self._problem is not None or self._lost)
        try:
            if taken:
                self._queue.put_nowait(then)
        except queue.Full:
            taken = False
        if not taken:
            then(False)
        if not self._thread.is_alive():
            self._give_up()

    def problem(self) -> Problem | None:
        """Why nothing gets to the disk; None while all is well."""
        return self._problem

    def save_elsewhere(self, path: Path) -> None:
        """Save all of it as another file, after the close. Raises UserError ``save_failed``."""
        content = b""
        if self._made:
            with contextlib.suppress(OSError):
                content = self.path.read_bytes()
        save_atomically(path, content + bytes(self._waiting))

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
            self._problem = describe("journal_failed", why=told("the disk does not answer"))

    # the thread

    def _guarded(self) -> None:
        try:
            self._run()
        except Exception as error:  # noqa: BLE001 - the thread's one guard: told, never hidden
            why = _("a fault in the program")
            self._problem = describe("journal_failed", details=repr(error), why=why)
        finally:
            self._give_up()

    def _give_up(self) -> None:
        """Tell those who wait that nothing more gets to the disk."""
        while self._then:
            self._then.pop(0)(False)
        with contextlib.suppress(queue.Empty):
            while True:
                item = self._queue.get_nowait()
                if callable(item):
                    item(False)

    def _run(self) -> None:
        encode = msgspec.json.Encoder().encode
        file = -1
        lines = -1  # the header is none of them
        due = time.monotonic() + FLUSH_EVERY_S
        urgent = last = False
        try:
            while not last:
                with contextlib.suppress(queue.Empty):
                    item = self._queue.get(timeout=max(0.0, due - time.monotonic()))
                    last = item is None
                    urgent = urgent or lines < 0 or callable(item) or isinstance(item, self.urgent)
                    if callable(item):
                        self._then.append(item)
                    elif item is not None:
                        lines += self._keep(encode(in_english(item)) + b"\n")
                # What else is queued comes along: one wait for the disk serves many entries.
                at_once = urgent and self._queue.empty() and self._problem is None
                if at_once or last or time.monotonic() >= due:
                    file = self._save(file)
                    if self._problem is None:
                        self.saved = max(0, lines)
                    urgent = False
                    due = time.monotonic() + FLUSH_EVERY_S
        except Exception:
            self._save(file)  # what came before a faulty entry is not its fault
            raise
        finally:
            if file >= 0:
                os.close(file)

    def _keep(self, line: bytes) -> int:
        """Have a line wait for the disk; 1 if there was room for it, else 0."""
        if len(self._waiting) > MOST_KEPT_BYTES:
            self._left_out += 1
            return 0
        if self._left_out:
            self._waiting += msgspec.json.encode(LostEntry(count=self._left_out)) + b"\n"
            self._left_out = 0
        self._waiting += line
        return 1

    def _save(self, file: int) -> int:
        """Bring what waits to the disk, or say why not; the file, or -1 while there is none."""
        try:
            if file < 0:
                file = self._open()
            self._write_down(file)
        except OSError as error:
            why = reason_of(error)
            self._problem = describe("journal_failed", details=str(error), why=why)
        else:
            self._problem = None
        while self._then:
            self._then.pop(0)(self._problem is None)
        return file

    def _open(self) -> int:
        private_folder(self.path.parent)
        # Without O_BINARY, which only Windows has, line ends would be rewritten there.
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        file = os.open(self.path, flags, 0o600)
        self._made = True
        return file

    def _write_down(self, file: int) -> None:
        """Write all that waits and wait until the disk has it; what is written waits no more."""
        while self._waiting:
            self._synced = False
            del self._waiting[: os.write(file, self._waiting[:LARGEST_WRITE_BYTES])]
        if not self._synced:
            os.fsync(file)
            self._synced = True


class Journal(LineWriter[Entry]):
    """The record of one session.

    The header, problems, changes of state, block and target, answers and the summary are on the
    disk at once. When the file cannot be written the session goes on, and says so.
    """

    urgent = URGENT


def sessions_folder() -> Path:
    """Where sessions are kept, in the user's own data folder."""
    return Path(platformdirs.user_data_dir("beltside", appauthor=False)) / "sessions"


def new_uid() -> str:
    """A name for a session that no other has."""
    return uuid.uuid4().hex


def new_path(anchor: ClockAnchor, athlete: Named, uid: str, folder: Path | None = None) -> Path:
    """Where a session is recorded: its begin (UTC), whose it is, and what no other session has."""
    begin = datetime.fromisoformat(anchor.wall_utc).astimezone(UTC)
    name = f"{begin:%Y-%m-%dT%H%M%SZ}-{in_file_name(athlete)}-{uid[:12]}{SUFFIX}"
    return (folder or sessions_folder()) / name


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

        Only what was answered or noted after the end may follow it.
        """
        for entry in reversed(self.entries):
            if not isinstance(entry, RatingEntry | NoteEntry):
                return entry if isinstance(entry, SummaryEntry) else None
        return None


def add_entries(path: Path, entries: Iterable[Entry]) -> None:
    """Put down what came after the journal was closed: notes and ratings.

    On the disk once this returns. Raises UserError ``save_failed``.
    """
    lines = b"".join(msgspec.json.encode(in_english(entry)) + b"\n" for entry in entries)
    try:
        with path.open("r+b") as file:  # one that is gone is not made anew
            file.seek(0, os.SEEK_END)
            file.write(lines)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise file_error("save_failed", path, error) from error


ENTRIES: Final[msgspec.json.Decoder[Entry]] = msgspec.json.Decoder(Entry)


def read_journal(path: Path) -> Recording:
    """Read a journal; a last line that was cut off is left out.

    Raises UserError: ``file_missing``, or ``file_unreadable`` when it is not a journal, of
    another format, or damaged before its last line.
    """
    header, entries, torn = read_lines(path, Header, ENTRIES, _("the record of a session"))
    if header.format != FORMAT:
        why = _("it is of format {format}, and this version reads format {format_2}").format(
            format=header.format, format_2=FORMAT
        )
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
        why = _("it is not {what}").format(what=what)
        raise UserError("file_unreadable", str(error), path=str(path), why=why) from error
    found: list[L] = []
    for number, text in enumerate(lines[1:], start=2):
        try:
            found.append(decode_line(text, decoder))
        except ValueError as error:
            if number == len(lines) and not rest:
                return header, tuple(found), True
            why = _("line {number} is damaged").format(number=number)
            raise UserError("file_unreadable", str(error), path=str(path), why=why) from error
    return header, tuple(found), bool(rest)
