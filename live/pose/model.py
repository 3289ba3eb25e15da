"""The pose model: one frame in, the 33 body landmarks of one runner out."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from live.pose.bundle import ensure_bundle
from live.pose.landmarker import open_landmarker, to_model_image
from live.pose.landmarker_c import Follower
from live.pose.people import PeopleCounter
from live.pose.quiet import quiet_stderr
from shared.closing import Closing
from shared.cores import Reserve
from shared.flow import Frame, Pose
from shared.landmarks import LANDMARK_COUNT
from shared.problems import Problem, describe

FAR_APART_MS: Final = 100_000
"""Told to the model between two frames, whatever time really passed.

The model smooths its landmarks over time, and where it exchanges the legs for a few frames it
so leaves both of them half-way at the moment of contact. Its filter lets everything through
when frames lie far apart; the body is still followed from one frame to the next. What smoothing
is needed is done on the stride as a whole (live.stride.model).
"""
_NOTHING: Final = np.zeros((256, 256, 3), np.uint8)


class PoseModel(Closing):
    """Finds one runner and follows it from frame to frame. For one thread at a time.

    Close it before the program ends: its own threads must not outlive the interpreter.
    """

    def __init__(self, path: Path | None = None) -> None:
        """Load the ``.task`` file, or the built bundle (building it first) where none is given.

        Raises UserError (``model_missing``, ``model_unusable``, those of ensure_bundle).
        """
        path = path or ensure_bundle()
        with quiet_stderr():
            _let_it_talk(path)
            self._follower = Follower(path)
            self._last_ms = 0
            self._follower.find(_NOTHING, self._last_ms)
        self._counter = PeopleCounter(path)

    def detect(self, frame: Frame) -> Pose:
        """The landmarks in pixels; all NaN with ``people`` 0 when nobody was found.

        ``people`` is 2 while a second person is in the picture as well. Frames must come in the
        order of their stamps.
        """
        height, width = frame.image.shape[:2]
        self._last_ms += FAR_APART_MS
        found = self._follower.find(frame.image, self._last_ms)
        if found is None:
            xy_px, visibility = np.full((LANDMARK_COUNT, 2), np.nan), np.zeros(LANDMARK_COUNT)
        else:
            xy_px, visibility = found
        return Pose(
            captured_ns=frame.captured_ns,
            index=frame.index,
            width_px=width,
            height_px=height,
            xy_px=xy_px,
            visibility=visibility,
            people=0 if found is None else 1 + self._counter.several(frame),
        )

    def never_wait(self) -> None:
        """From now on the search for a second person holds up no frame, however long it takes."""
        self._counter.waits = False

    def problem(self) -> Problem | None:
        """``people_late`` while the search for a second person does not come to an end."""
        return describe("people_late") if self._counter.late else None

    def take_places(self, reserve: Reserve) -> None:
        """Have the threads that follow the runner measure, and those that search keep off."""
        reserve.put_first(self._follower.threads)
        reserve.put_aside(self._counter.threads)

    def settle(self) -> None:
        """Begin what can wait until the last frame's cues are out; the next frame does it too."""
        self._counter.settle()

    def start_anew(self) -> None:
        """Forget whom it follows: what it finds next depends on the frames to come alone."""
        self._last_ms += FAR_APART_MS
        self._follower.find(_NOTHING, self._last_ms)
        self._counter.start_anew()

    def close(self) -> None:
        """Let go of the model; no more calls after it."""
        self._counter.close()
        with quiet_stderr():
            self._follower.close()


def _let_it_talk(path: Path) -> None:
    """Run both networks once, on nothing, to have their messages out of the way.

    What the library has to say it says once in a process, when a network first runs; the
    second one only runs when somebody is found, which may be at any time. At a confidence of
    0 somebody is found in any picture.
    """
    model = open_landmarker(path, min_pose_detection_confidence=0.0)
    model.detect(to_model_image(_NOTHING))
    model.close()
