"""Follow one body from picture to picture: the pose landmarker, straight through its C interface.

The library's own Python layer passes every call to a thread of its own and back, and makes 66
objects of each answer. Alone that costs little; beside the threads of camera, sound and screens
every passing on waits its turn, and each frame has four of them.
"""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import Any, Final

import numpy as np
from mediapipe import ImageFormat
from mediapipe.tasks.python.components.containers.landmark_c import MpNormalizedLandmarkC
from mediapipe.tasks.python.core.mediapipe_c_bindings import load_raw_library
from mediapipe.tasks.python.core.mediapipe_c_utils import CFunction, CStatusFunction, handle_status
from mediapipe.tasks.python.vision import RunningMode
from mediapipe.tasks.python.vision.pose_landmarker import MpPoseLandmarkerResultC
from numpy.typing import NDArray

from live.camera.opencv import cv2
from live.pose.landmarker import open_landmarker
from shared.cores import threads
from shared.flow import FloatArray
from shared.landmarks import LANDMARK_COUNT

_SIGNATURES: Final = (
    CStatusFunction(
        "MpImageCreateFromUint8Data",
        (
            ctypes.c_int,
            ctypes.c_int,
            ctypes.c_int,
            ctypes.POINTER(ctypes.c_uint8),
            ctypes.c_int,
            ctypes.POINTER(ctypes.c_void_p),
        ),
    ),
    CFunction("MpImageFree", [ctypes.c_void_p], None),
)
"""Of functions that the library declares only once it uses them, and alike."""
_TAKEN: Final = ("x", "y", "visibility")
_ANSWER: Final = np.dtype(
    {
        "names": _TAKEN,
        "formats": [np.float32] * len(_TAKEN),
        "offsets": [getattr(MpNormalizedLandmarkC, name).offset for name in _TAKEN],
        "itemsize": ctypes.sizeof(MpNormalizedLandmarkC),
    }
)


class Follower:
    """Finds a body in a picture, and again in the next ones. For one thread at a time."""

    def __init__(self, path: Path) -> None:
        """Load the ``.task`` file. Raises UserError (``model_missing``, ``model_unusable``)."""
        before = threads()
        self._landmarker = open_landmarker(path, running_mode=RunningMode.VIDEO)
        self.threads = threads() - before
        """The library's own, by the system's numbers; they do the work while a call waits."""
        self._library = load_raw_library(_SIGNATURES)
        self._rgb = np.zeros((0, 0, 3), np.uint8)

    def find(self, image: NDArray[np.uint8], at_ms: int) -> tuple[FloatArray, FloatArray] | None:
        """Landmarks (33, 2) in the picture's pixels and their visibility (33,); None: nobody.

        ``at_ms`` must grow from call to call. Raises RuntimeError and the like, as the library
        does, when the network cannot be run.
        """
        picture = self._picture(image)
        found = MpPoseLandmarkerResultC()
        try:
            self._call(
                self._library.MpPoseLandmarkerDetectForVideo,
                self._landmarker._handle,
                picture,
                None,
                at_ms,
                ctypes.byref(found),
            )
        finally:
            self._library.MpImageFree(picture)
        try:
            return _read(found, image.shape[1], image.shape[0])
        finally:
            self._library.MpPoseLandmarkerCloseResult(ctypes.byref(found))

    def close(self) -> None:
        """Let go of the networks; no more calls after it."""
        self._landmarker.close()

    def _picture(self, image: NDArray[np.uint8]) -> ctypes.c_void_p:
        """The library's own copy of the picture; to be freed."""
        if self._rgb.shape != image.shape:
            self._rgb = np.empty_like(image, order="C")
        cv2.cvtColor(image, cv2.COLOR_BGR2RGB, dst=self._rgb)
        picture = ctypes.c_void_p()
        self._call(
            self._library.MpImageCreateFromUint8Data,
            ImageFormat.SRGB,
            image.shape[1],
            image.shape[0],
            self._rgb.ctypes.data_as(ctypes.POINTER(ctypes.c_uint8)),
            self._rgb.size,
            ctypes.byref(picture),
        )
        return picture

    def _call(self, function: Any, *arguments: Any) -> None:
        message = ctypes.c_char_p()
        status = function(*arguments, ctypes.byref(message))
        try:
            handle_status(status, message)
        finally:
            if message.value is not None:
                self._library.MpErrorFree(message)


def _read(
    found: MpPoseLandmarkerResultC, width_px: int, height_px: int
) -> tuple[FloatArray, FloatArray] | None:
    if found.pose_landmarks_count == 0:
        return None
    landmarks = found.pose_landmarks[0].landmarks
    copied = ctypes.string_at(landmarks, LANDMARK_COUNT * _ANSWER.itemsize)
    rows = np.frombuffer(copied, _ANSWER)
    xy_px = np.stack([rows["x"], rows["y"]], axis=1) * np.array([width_px, height_px], np.float64)
    return xy_px, rows["visibility"].astype(np.float64)
