"""Keeps the last pictures in memory, for previews and for the replay, in a thread of its own."""

from __future__ import annotations

import threading
import traceback
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, Full, Queue
from typing import Final

import numpy as np

from feedback.records.files import replay_path
from feedback.texts.runner import answer as answer_text
from live.camera.jpeg import jpeg_of, write_video
from shared.changes import Answered
from shared.flow import Frame, GaitEvent, Pose
from shared.pictures import AskReplay, Mark, Picture, ReplayEnd, ReplayPicture, SaveReplay
from shared.problems import UserError
from shared.threads import step_aside
from shared.units import NS_PER_S

KEPT_NS: Final = 20 * NS_PER_S
MARKED_NS: Final = 2 * NS_PER_S
QUEUE_LENGTH: Final = 8
MOST_WIDE_PX: Final = 960
"""Wider pictures are made smaller before they are kept: 20 s are then some 20 to 60 MB."""
MOST_BYTES: Final = 128 * 1024 * 1024
"""Should pictures be larger or come faster than that, fewer seconds of them are kept."""
_SAVE_END_S: Final = 10.0
_POLITE: Final = 5
"""Steps of niceness: a third of the processor's time where others want it too."""

Replay = Iterator[ReplayPicture | ReplayEnd]


@dataclass(frozen=True, slots=True)
class _Held:
    """The replay that was asked for last: still there to be saved as it was seen."""

    id: int
    pictures: tuple[Picture, ...]


class ReplayBuffer:
    """The work thread gives frames; screens get pictures. Nothing goes to a disk unasked.

    ``show`` is called in the gallery's thread, for pictures that somebody wants to see now:
    ``wanted`` says how many a second that are. A frame that finds the queue full is left out.
    """

    def __init__(
        self,
        show: Callable[[Picture], None],
        wanted: Callable[[], float],
        record: Path | None = None,
    ) -> None:
        self._show = show
        self._wanted = wanted
        self._record = record
        self._saved = 0
        self._lock = threading.Lock()
        self._kept: deque[Picture] = deque()
        self._kept_bytes = 0
        self._marks: deque[Mark] = deque()
        self._held: _Held | None = None
        self._queue: Queue[tuple[Frame, Pose] | None] = Queue(QUEUE_LENGTH)
        self.missed = 0
        """Frames that came while the thread was busy."""
        self.failure = ""
        """What went wrong in the thread, for the record; empty while all is well."""
        self._saver: threading.Thread | None = None
        self._thread = threading.Thread(target=self._run, name="gallery", daemon=True)
        self._thread.start()

    def add(self, frame: Frame, pose: Pose, events: tuple[GaitEvent, ...]) -> None:
        """Take in a frame with what was found in it; returns at once."""
        if events:
            marks = [Mark(one.kind, one.side, one.at_ns) for one in events if one.side is not None]
            with self._lock:
                self._marks.extend(marks)
        try:
            self._queue.put_nowait((frame, pose))
        except Full:
            self.missed += 1

    def ask(
        self, request: AskReplay | SaveReplay, answer: Callable[[Answered | Replay], None]
    ) -> None:
        """Do what a screen asks for; returns at once."""
        if isinstance(request, SaveReplay):
            self.save(request.id, request.replay, answer)
        elif request.seconds > 0:
            answer(self.replay(request.id, request.seconds))
        else:
            self.let_go(request.id)
            answer(iter(()))  # in place of one that is under way

    def replay(self, asked_id: int, seconds: float) -> Replay:
        """The pictures of the last seconds, oldest first, and an end with all marks among them.

        They are held, so that they can be saved, until another replay is asked for.
        """
        with self._lock:
            from_ns = self._kept[-1].captured_ns - round(seconds * NS_PER_S) if self._kept else 0
            pictures = tuple(one for one in self._kept if one.captured_ns >= from_ns)
            marks = tuple(mark for mark in self._marks if mark.at_ns >= from_ns)
            self._held = _Held(asked_id, pictures)
        return _parts(asked_id, pictures, marks)

    def let_go(self, asked_id: int) -> None:
        """The replay that was asked for with this number is not looked at any more."""
        with self._lock:
            if self._held is not None and self._held.id == asked_id:
                self._held = None

    def save(self, asked_id: int, replay: int, answer: Callable[[Answered], None]) -> None:
        """Write a held replay as a video beside the record; answers when it is there.

        It is written in a thread of its own, since the pictures of the camera come on meanwhile.
        """
        with self._lock:
            held = self._held
        why = ""
        if self._record is None:
            why = answer_text("answer_no_record")
        elif held is None or held.id != replay:
            why = answer_text("answer_other_replay")
        elif len(held.pictures) < 2:
            why = answer_text("answer_no_pictures")
        elif self._saver is not None and self._saver.is_alive():
            why = answer_text("answer_still_saving")
        if why or held is None or self._record is None:
            answer(Answered(id=asked_id, done=False, why=why))
            return
        self._saved += 1
        path = replay_path(self._record, self._saved)
        pictures = held.pictures
        self._saver = threading.Thread(
            target=lambda: answer(self._write(asked_id, path, pictures)),
            name="saving a replay",  # the program does not end before it is done
        )
        self._saver.start()

    def close(self) -> None:
        """End the thread, after a video that is being written; all that was kept is gone."""
        while self._thread.is_alive():
            try:
                self._queue.put_nowait(None)
                break
            except Full:
                try:
                    self._queue.get_nowait()
                except Empty:
                    continue
        self._thread.join(5.0)
        if self._saver is not None:
            self._saver.join(_SAVE_END_S)
        with self._lock:
            self._kept.clear()
            self._kept_bytes = 0
            self._marks.clear()
            self._held = None

    # the threads

    def _run(self) -> None:
        while (job := self._queue.get()) is not None:
            try:
                self._keep(*job)
            except Exception:  # noqa: BLE001 - a picture that fails must not end all others
                self.failure = traceback.format_exc()

    def _keep(self, frame: Frame, pose: Pose) -> None:
        jpeg, width, height = jpeg_of(frame.image, MOST_WIDE_PX)
        picture = Picture(
            captured_ns=frame.captured_ns,
            width_px=width,
            height_px=height,
            jpeg=jpeg,
            xy=_shares(pose),
            marks=self._recent_marks(frame.captured_ns),
        )
        with self._lock:
            self._kept.append(picture)
            self._kept_bytes += len(jpeg)
            while self._too_much():
                self._kept_bytes -= len(self._kept.popleft().jpeg)
        if self._wanted() > 0:
            self._show(picture)

    def _too_much(self) -> bool:
        oldest_ns, newest_ns = self._kept[0].captured_ns, self._kept[-1].captured_ns
        return newest_ns - oldest_ns > KEPT_NS or self._kept_bytes > MOST_BYTES

    def _recent_marks(self, at_ns: int) -> tuple[Mark, ...]:
        with self._lock:
            while self._marks and at_ns - self._marks[0].at_ns > KEPT_NS:
                self._marks.popleft()
            return tuple(mark for mark in self._marks if at_ns - mark.at_ns <= MARKED_NS)

    def _write(self, asked_id: int, path: Path, pictures: tuple[Picture, ...]) -> Answered:
        step_aside(_POLITE)
        try:
            write_video(path, [(one.captured_ns, one.jpeg) for one in pictures])
        except UserError as error:
            why = f"{error.problem.title} {error.problem.action}"
            return Answered(id=asked_id, done=False, why=why)
        except Exception:  # noqa: BLE001 - the guard of this thread; whoever asked waits
            self.failure = traceback.format_exc()
            return Answered(id=asked_id, done=False, why=answer_text("answer_not_saved"))
        return Answered(id=asked_id, done=True, why=str(path))


def _parts(asked_id: int, pictures: tuple[Picture, ...], marks: tuple[Mark, ...]) -> Replay:
    for number, picture in enumerate(pictures):
        yield ReplayPicture(id=asked_id, number=number, count=len(pictures), picture=picture)
    yield ReplayEnd(id=asked_id, count=len(pictures), marks=marks)


def _shares(pose: Pose) -> tuple[float, ...]:
    """The landmarks as shares of the picture, x and y in turn; empty where nobody was found."""
    if pose.people == 0:
        return ()
    shares = pose.xy_px / np.array([pose.width_px, pose.height_px], dtype=np.float64)
    rounded = np.where(np.isfinite(shares), np.round(shares, 4), -1.0)
    return tuple(float(value) for value in rounded.ravel())
