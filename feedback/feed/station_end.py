"""The station's end of the feed: starts its process and hands it lines without ever waiting."""

from __future__ import annotations

import contextlib
import os
import queue
import subprocess
import sys
import threading
from typing import Final

from feedback.feed.lines import (
    BeginLine,
    FeedLine,
    LostLine,
    encoded,
    feed_line,
    landmarks_line,
)
from feedback.feed.lsl import library
from feedback.journal.entries import Entry
from shared.child_environment import child_environment
from shared.flow import Pose

_MOST_WAITING: Final = 4000
_END_S: Final = 3.0


class Feed:
    """The feed of one session. Nothing that fails here is the session's concern: it goes on."""

    def __init__(self, begin: BeginLine, *, lsl: bool = False, landmarks: bool = False) -> None:
        """Raises UserError ``lsl_missing``, before anything is started."""
        if lsl:
            library()
        self._landmarks = landmarks
        self._lines: queue.Queue[FeedLine | Pose | None] = queue.Queue(_MOST_WAITING)
        self._lost = 0
        self._closed = False
        words = [sys.executable, "-m", "feedback.feed.server", "--run", begin.run]
        words += ["--lsl"] * lsl + ["--landmarks"] * landmarks
        self._process = subprocess.Popen(
            words,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=child_environment(os.environ),
            start_new_session=True,  # the terminal's Ctrl+C is the station's: it ends this
        )
        self._lines.put(begin)
        self._thread = threading.Thread(target=self._write, name="feed", daemon=True)
        self._thread.start()

    @property
    def process_id(self) -> int:
        """Of the feed's process, which is to keep off the processor for the measuring."""
        return self._process.pid

    def entry(self, entry: Entry) -> None:
        """Hand on what the journal tells, where it is for others. Never waits."""
        self._offer(feed_line(entry))

    def pose(self, pose: Pose) -> None:
        """Hand on a frame's landmarks, where they were asked for. Never waits."""
        if self._landmarks:
            self._offer(pose)

    def close(self) -> None:
        """Send what is left and end the process; may be done again."""
        if self._closed:
            return
        self._closed = True
        with contextlib.suppress(queue.Full):
            self._lines.put(None, timeout=_END_S)
        self._thread.join(_END_S)
        if self._process.poll() is None:
            try:
                self._process.wait(_END_S)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()

    def _offer(self, line: FeedLine | Pose | None) -> None:
        if line is None or self._closed:
            return
        try:
            if self._lost:
                self._lines.put_nowait(LostLine(count=self._lost))
                self._lost = 0
            self._lines.put_nowait(line)
        except queue.Full:
            self._lost += 1

    def _write(self) -> None:
        pipe = self._process.stdin
        if pipe is None:
            return
        with contextlib.suppress(OSError, ValueError):  # its process has ended: nobody reads
            while (line := self._lines.get()) is not None:
                told = landmarks_line(line) if isinstance(line, Pose) else line
                if told is not None:
                    pipe.write(encoded(told) + b"\n")
                if self._lines.empty():
                    pipe.flush()
            pipe.close()
