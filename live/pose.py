"""The pose model: one frame in, the 33 body landmarks of one runner out."""

from __future__ import annotations

import zipfile
from io import BytesIO
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from mediapipe import Image, ImageFormat
from mediapipe.tasks.python import BaseOptions
from mediapipe.tasks.python.vision import PoseLandmarker, PoseLandmarkerOptions, RunningMode

from live.bundle import ensure_bundle
from live.opencv import cv2
from live.quiet import quiet_stderr
from shared.landmarks import LANDMARK_COUNT
from shared.problems import UserError
from shared.records import Frame, Pose

FAR_APART_MS = 100_000
"""Told to the model between two frames, whatever really passed.

The model smooths its landmarks over time, and where it exchanges the legs for a few frames it
so leaves both of them half-way at the moment of contact. Its filter lets everything through
when frames lie far apart; the body is still followed from one frame to the next. What smoothing
is needed is done on the stride as a whole (live.stride).
"""


class PoseModel:
    """Finds one runner and follows it from frame to frame. For one thread at a time.

    Close it before the program ends: its own threads must not outlive the interpreter.
    """

    def __init__(self, path: Path | None = None) -> None:
        """Load the ``.task`` file, or the built bundle (building it first) where none is given.

        Raises UserError (``model_missing``, ``model_unusable``, those of ensure_bundle).
        """
        path = path or ensure_bundle()
        self._model = open_landmarker(path, RunningMode.VIDEO, people=1)
        self._last_ms = 0
        self._warm = False

    def detect(self, frame: Frame) -> Pose:
        """The landmarks in pixels; all NaN with ``people`` 0 when nobody was found.

        Frames must come in the order of their stamps.
        """
        height, width = frame.image.shape[:2]
        self._last_ms += FAR_APART_MS
        image = to_model_image(frame)
        if self._warm:
            result = self._model.detect_for_video(image, self._last_ms)
        else:
            with quiet_stderr():  # the networks are set up, with much to say, at the first frame
                result = self._model.detect_for_video(image, self._last_ms)
            self._warm = True
        xy_px = np.full((LANDMARK_COUNT, 2), np.nan)
        visibility = np.zeros(LANDMARK_COUNT)
        found = bool(result.pose_landmarks)
        if found:
            landmarks = result.pose_landmarks[0]
            xy_px[:] = [(landmark.x * width, landmark.y * height) for landmark in landmarks]
            visibility[:] = [landmark.visibility for landmark in landmarks]
        return Pose(
            captured_ns=frame.captured_ns,
            index=frame.index,
            width_px=width,
            height_px=height,
            xy_px=xy_px,
            visibility=visibility,
            people=int(found),
        )

    def close(self) -> None:
        """Let go of the model; no more calls after it."""
        with quiet_stderr():
            self._model.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def open_landmarker(path: Path, mode: RunningMode, people: int) -> PoseLandmarker:
    """Load a pose landmarker that reports up to ``people`` bodies.

    Raises UserError (``model_missing``, ``model_unusable``).
    """
    if not path.is_file():
        raise UserError("model_missing", path=str(path))
    try:
        content = path.read_bytes()
    except OSError as error:
        raise UserError("model_unusable", path=str(path), why=error.strerror) from error
    if not zipfile.is_zipfile(BytesIO(content)):
        raise UserError("model_unusable", path=str(path), why="it is not a .task file, or damaged")
    options = PoseLandmarkerOptions(
        base_options=BaseOptions(model_asset_buffer=content), running_mode=mode, num_poses=people
    )
    try:
        with quiet_stderr():
            return PoseLandmarker.create_from_options(options)
    except Exception as error:  # the library turns its many kinds of status into many exceptions
        why = "it holds no pose landmarker that this program can run"
        raise UserError("model_unusable", str(error), path=str(path), why=why) from error


def to_model_image(frame: Frame) -> Image:
    """The frame as the landmarker takes it: red, green, blue."""
    rgb = cv2.cvtColor(frame.image, cv2.COLOR_BGR2RGB)
    return Image(image_format=ImageFormat.SRGB, data=rgb)
