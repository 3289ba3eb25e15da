"""The pose model: one frame in, the 33 body landmarks of one runner out."""

from __future__ import annotations

import zipfile
from io import BytesIO
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self

import numpy as np
from mediapipe import Image, ImageFormat
from mediapipe.tasks.python import BaseOptions
from mediapipe.tasks.python.vision import PoseLandmarker, PoseLandmarkerOptions, RunningMode
from numpy.typing import NDArray

from live.bundle import ensure_bundle
from live.opencv import cv2
from live.quiet import quiet_stderr
from shared.clock_units import NS_PER_MS
from shared.landmarks import LANDMARK_COUNT
from shared.problems import UserError
from shared.records import Frame, Pose

_NOTHING: Final = np.zeros((256, 256, 3), np.uint8)


class PoseModel:
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
            self._model = open_landmarker(path, running_mode=RunningMode.VIDEO)
            self._last_ms = 0
            self._model.detect_for_video(to_model_image(_NOTHING), self._last_ms)

    def detect(self, frame: Frame) -> Pose:
        """The landmarks in pixels; all NaN with ``people`` 0 when nobody was found.

        Frames must come in the order of their stamps.
        """
        height, width = frame.image.shape[:2]
        # The model wants whole milliseconds that grow with every frame.
        self._last_ms = max(self._last_ms + 1, frame.captured_ns // NS_PER_MS)
        result = self._model.detect_for_video(to_model_image(frame.image), self._last_ms)
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


def open_landmarker(path: Path, **options: Any) -> PoseLandmarker:
    """Load a pose landmarker with the library's own ``options``.

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
    base = BaseOptions(model_asset_buffer=content)
    try:
        with quiet_stderr():
            return PoseLandmarker.create_from_options(
                PoseLandmarkerOptions(base_options=base, **options)
            )
    except Exception as error:  # the library turns its many kinds of status into many exceptions
        why = "it holds no pose landmarker that this program can run"
        raise UserError("model_unusable", str(error), path=str(path), why=why) from error


def to_model_image(image: NDArray[np.uint8]) -> Image:
    """A picture as the landmarker takes it: red, green, blue."""
    return Image(image_format=ImageFormat.SRGB, data=cv2.cvtColor(image, cv2.COLOR_BGR2RGB))


def _let_it_talk(path: Path) -> None:
    """Run both networks once, on nothing, to have their messages out of the way.

    What the library has to say it says once in a process, when a network first runs; the
    second one only runs when somebody is found, which may be at any time. At a confidence of
    0 somebody is found in any picture.
    """
    model = open_landmarker(path, min_pose_detection_confidence=0.0)
    model.detect(to_model_image(_NOTHING))
    model.close()
