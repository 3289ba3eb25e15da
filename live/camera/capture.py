"""The camera thread: reads a source flat out into the mailbox and brings it back when it breaks."""

from __future__ import annotations

import threading
from collections import deque
from enum import StrEnum
from typing import Final, Self

import msgspec

from live.camera.sources import FrameSource, SourceLost
from shared.clock import now_ns
from shared.closing import Closing
from shared.flow import Frame
from shared.mailbox import Latest
from shared.problems import Problem, UserError, describe
from shared.units import NS_PER_S

LOST_AFTER_S: Final = 1.0
"""With no frame for so long the picture counts as lost."""
READ_PATIENCE_S: Final = 3.0
"""A read that takes longer is given up; more than a stream's own time-out."""
OPEN_PATIENCE_S: Final = 20.0
"""The same for opening: some camera drivers are slow to start."""
SHORTEST_PAUSE_S: Final = 0.1
LONGEST_PAUSE_S: Final = 1.0
"""Between two tries to open the source: twice as long each time, up to this."""
MOST_HUNG: Final = 3
"""So many threads may hang in a driver before no further one is started."""
_WATCH_S: Final = 0.25
_RATE_OVER_S: Final = 2.0


class CaptureState(StrEnum):
    """How it stands with the picture."""

    OPENING = "opening"
    """No frame yet."""
    RUNNING = "running"
    LOST = "lost"
    """There were frames; now there are none. It is being opened again."""
    ENDED = "ended"
    """The source came to its end."""
    FAILED = "failed"
    """There will be no (more) frames; ``problem`` says why."""


class CaptureStatus(msgspec.Struct, frozen=True, kw_only=True):
    """The state of the capture at one instant."""

    state: CaptureState
    frames_per_s: float
    """Over the last two seconds."""
    frames: int
    """Frames that arrived so far."""
    problem: Problem | None


class Capture(Closing):
    """Keeps the newest frame of ``source`` in ``mailbox``.

    Nothing that the source does gets out of its thread: a failure shows in ``status``. A source
    that may return is opened again and again; one that hangs is left to its thread and opened
    anew in another.
    """

    def __init__(self, source: FrameSource, mailbox: Latest[Frame]) -> None:
        """The source may be open already, which lets the caller see a failure at once."""
        self._source = source
        self._mailbox = mailbox
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._watcher = threading.Thread(target=self._watch, name="capture-watch", daemon=True)
        self._readers: list[threading.Thread] = []
        self._started_ns = 0
        # Under the lock:
        self._turn = 0
        """Number of the reader in charge; an earlier one that wakes up has nothing to say."""
        self._heard_by_ns = 0
        """When the reader in charge must have moved on, or counts as hung."""
        self._arrivals_ns: deque[int] = deque(maxlen=512)
        self._frames = 0
        self._outcome: CaptureState | None = None
        self._problem: Problem | None = None
        self._why_lost = ""

    def start(self) -> None:
        """Begin to read."""
        self._started_ns = now_ns()
        self._start_reader()
        self._watcher.start()

    def close(self) -> None:
        """Stop reading and let go of the source; a reader that hangs is left behind."""
        self._closing.set()
        for thread in (self._watcher, *self._readers):
            if thread.is_alive():
                thread.join(timeout=LOST_AFTER_S)

    def __enter__(self) -> Self:
        self.start()
        return self

    def status(self) -> CaptureStatus:
        """How it stands now; by the clock, so that a read that hangs is seen too."""
        now = now_ns()
        with self._lock:
            arrivals_ns = self._arrivals_ns
            from_ns = now - round(_RATE_OVER_S * NS_PER_S)
            while len(arrivals_ns) > 1 and arrivals_ns[0] <= from_ns:
                arrivals_ns.popleft()
            last_ns = arrivals_ns[-1] if arrivals_ns else None
            span_ns = arrivals_ns[-1] - arrivals_ns[0] if arrivals_ns else 0
            rate = (len(arrivals_ns) - 1) * NS_PER_S / span_ns if span_ns else 0.0
            state, problem = self._judge(now, last_ns)
            frames = self._frames
        return CaptureStatus(
            state=state,
            frames_per_s=rate,
            frames=frames,
            problem=problem,
        )

    def _judge(self, now: int, last_ns: int | None) -> tuple[CaptureState, Problem | None]:
        if self._outcome is not None:
            return self._outcome, self._problem
        silent_s = (now - (last_ns or self._started_ns)) / NS_PER_S
        if last_ns is not None and silent_s < LOST_AFTER_S:
            return CaptureState.RUNNING, None
        lost = describe("picture_lost", self._why_lost, seconds=f"{silent_s:.0f}")
        if last_ns is None:
            slow = silent_s > READ_PATIENCE_S
            return CaptureState.OPENING, self._problem or (lost if slow else None)
        return CaptureState.LOST, lost

    def _watch(self) -> None:
        """Replace a reader that hangs."""
        while not self._closing.wait(_WATCH_S):
            with self._lock:
                hangs = now_ns() > self._heard_by_ns
                if self._outcome is not None:
                    return
            self._readers = [reader for reader in self._readers if reader.is_alive()]
            if hangs and self._source.may_return and len(self._readers) <= MOST_HUNG:
                self._start_reader()

    def _start_reader(self) -> None:
        with self._lock:
            self._turn += 1
            turn = self._turn
            self._heard_by_ns = now_ns() + round(OPEN_PATIENCE_S * NS_PER_S)
        reader = threading.Thread(target=self._read, args=(turn,), name="capture", daemon=True)
        self._readers.append(reader)
        reader.start()

    def _read(self, turn: int) -> None:
        if turn > 1:
            self._source.close()  # what the reader before still hangs in is its own affair
        pause_s = SHORTEST_PAUSE_S
        while self._goes_on(turn, OPEN_PATIENCE_S):
            frames_before = self._frames
            try:
                self._source.open()
                self._read_frames(turn)
            except UserError as error:
                self._note_failure(turn, error.problem, error.problem.title)
            except SourceLost as error:
                self._note_failure(turn, None, str(error))
            except Exception as error:  # noqa: BLE001  (a driver or decoder may raise anything)
                failed = describe("worker_failed", repr(error), part=self._source.describe())
                self._note_failure(turn, failed, repr(error))
            if turn == self._turn:
                self._source.close()
            if not self._goes_on(turn, OPEN_PATIENCE_S):
                return
            came = self._frames > frames_before
            pause_s = SHORTEST_PAUSE_S if came else min(pause_s * 2, LONGEST_PAUSE_S)
            self._closing.wait(pause_s)

    def _read_frames(self, turn: int) -> None:
        """Read until the source ends, breaks or this reader is no longer wanted."""
        while self._goes_on(turn, READ_PATIENCE_S):
            frame = self._source.read()
            with self._lock:
                if turn != self._turn or self._closing.is_set():
                    return
                if frame is None:
                    self._outcome, self._problem = CaptureState.ENDED, None
                    return
                self._arrivals_ns.append(now_ns())
                self._frames += 1
                self._problem, self._why_lost = None, ""
            self._mailbox.put(frame)

    def _goes_on(self, turn: int, patience_s: float) -> bool:
        """Whether this reader is still wanted; if so, it is heard of within ``patience_s``."""
        with self._lock:
            wanted = turn == self._turn and self._outcome is None and not self._closing.is_set()
            if wanted:
                self._heard_by_ns = now_ns() + round(patience_s * NS_PER_S)
            return wanted

    def _note_failure(self, turn: int, problem: Problem | None, why: str) -> None:
        with self._lock:
            if turn != self._turn:
                return
            self._problem, self._why_lost = problem, why
            if not self._source.may_return:
                self._outcome = CaptureState.FAILED
