"""Keeps the last pictures in memory, for previews and for the replay, in a thread of its own."""

from __future__ import annotations

import threading
import traceback
from collections import deque
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty, Full, Queue
from typing import Final

import numpy as np

from feedback.screens.wording import words
from live.pictures import jpeg_of, write_video
from shared.changes import Answered
from shared.clock_units import NS_PER_S
from shared.pictures import AskReplay, Mark, Picture, ReplayEnd, ReplayPicture, SaveReplay
from shared.problems import UserError
from shared.records import Frame, GaitEvent, Pose

KEPT_NS: Final = 20 * NS_PER_S
MARKED_NS: Final = 2 * NS_PER_S
QUEUE_LENGTH: Final = 8
MOST_WIDE_PX: Final = 960
"""Wider pictures are made smaller before they are kept: 20 s are then some 30 to 60 MB."""

_Job = tuple[Frame, Pose] | Callable[[], None]


class Gallery:
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
        self._marks: deque[Mark] = deque()
        self._queue: Queue[_Job | None] = Queue(QUEUE_LENGTH)
        self.missed = 0
        """Frames that came while the thread was busy."""
        self.failure = ""
        """What went wrong in the thread, for the record; empty while all is well."""
        self._thread = threading.Thread(target=self._run, name="gallery", daemon=True)
        self._thread.start()

    def add(self, frame: Frame, pose: Pose, events: tuple[GaitEvent, ...]) -> None:
        """Take in a frame with what was found in it; returns at once."""
        if events:
            marks = [Mark(event.kind, event.side, event.at_ns) for event in events]
            with self._lock:
                self._marks.extend(marks)
        try:
            self._queue.put_nowait((frame, pose))
        except Full:
            self.missed += 1

    def ask(
        self,
        request: AskReplay | SaveReplay,
        answer: Callable[[Answered | Iterator[ReplayPicture | ReplayEnd]], None],
    ) -> None:
        """Do what a screen asks for; returns at once."""
        if isinstance(request, AskReplay):
            answer(self.replay(request.id, request.seconds))
        else:
            self.save(request.id, request.seconds, answer)

    def replay(self, asked_id: int, seconds: float) -> Iterator[ReplayPicture | ReplayEnd]:
        """The pictures of the last seconds, oldest first, and an end with all marks among them."""
        pictures, marks = self._last(seconds)
        count = len(pictures)
        for number, picture in enumerate(pictures):
            yield ReplayPicture(id=asked_id, number=number, count=count, picture=picture)
        yield ReplayEnd(id=asked_id, count=count, marks=marks)

    def save(self, asked_id: int, seconds: float, answer: Callable[[Answered], None]) -> None:
        """Write the last seconds as a video beside the record; answers when it is there."""
        pictures, _ = self._last(seconds)

        def job() -> None:
            answer(self._write(asked_id, pictures))

        try:
            self._queue.put_nowait(job)
        except Full:
            answer(Answered(id=asked_id, done=False, why=words("answer_no_pictures")))

    def close(self) -> None:
        """End the thread; what is kept in memory is gone."""
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
        with self._lock:
            self._kept.clear()

    # the thread

    def _run(self) -> None:
        while (job := self._queue.get()) is not None:
            try:
                if callable(job):
                    job()
                else:
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
            while picture.captured_ns - self._kept[0].captured_ns > KEPT_NS:
                self._kept.popleft()
        if self._wanted() > 0:
            self._show(picture)

    def _recent_marks(self, at_ns: int) -> tuple[Mark, ...]:
        with self._lock:
            while self._marks and at_ns - self._marks[0].at_ns > KEPT_NS:
                self._marks.popleft()
            return tuple(mark for mark in self._marks if at_ns - mark.at_ns <= MARKED_NS)

    def _last(self, seconds: float) -> tuple[list[Picture], tuple[Mark, ...]]:
        with self._lock:
            if not self._kept:
                return [], ()
            from_ns = self._kept[-1].captured_ns - round(seconds * NS_PER_S)
            pictures = [one for one in self._kept if one.captured_ns >= from_ns]
            return pictures, tuple(mark for mark in self._marks if mark.at_ns >= from_ns)

    def _write(self, asked_id: int, pictures: list[Picture]) -> Answered:
        if self._record is None or len(pictures) < 2:
            return Answered(id=asked_id, done=False, why=words("answer_no_pictures"))
        self._saved += 1
        path = self._record.with_suffix(f".replay-{self._saved}.mp4")
        try:
            write_video(path, [(one.captured_ns, one.jpeg) for one in pictures])
        except UserError as error:
            return Answered(id=asked_id, done=False, why=error.problem.meaning)
        return Answered(id=asked_id, done=True, why=str(path))


def _shares(pose: Pose) -> tuple[float, ...]:
    """The landmarks as shares of the picture, x and y in turn; empty where nobody was found."""
    if pose.people == 0:
        return ()
    shares = pose.xy_px / np.array([pose.width_px, pose.height_px], dtype=np.float64)
    rounded = np.where(np.isfinite(shares), np.round(shares, 4), -1.0)
    return tuple(float(value) for value in rounded.ravel())
