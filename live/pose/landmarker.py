"""Load the library's pose landmarker and hand it pictures."""

from __future__ import annotations

import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any, Final

import numpy as np
from mediapipe import Image, ImageFormat
from mediapipe.tasks.python.vision import PoseLandmarker, PoseLandmarkerOptions
from numpy.typing import NDArray

from live.camera.opencv import cv2
from live.pose.offline import TrustNobody, close_the_way_out
from live.pose.quiet import quiet_stderr
from shared.language import told
from shared.problems import UserError
from shared.reading import read_content

MOST_BYTES: Final = 500_000_000
"""The largest pose models have 30,000,000."""


def open_landmarker(path: Path, **options: Any) -> PoseLandmarker:
    """Load a pose landmarker with the library's own ``options``.

    Raises UserError (``model_missing``, ``model_unusable``, ``pose_library_reports``).
    """
    if not path.is_file():
        raise UserError("model_missing", path=str(path))
    try:
        content = read_content(path, MOST_BYTES)
    except UserError as error:
        why = told("it cannot be read, or is far too large")
        raise UserError("model_unusable", str(error), path=str(path), why=why) from error
    if not zipfile.is_zipfile(BytesIO(content)):
        raise UserError(
            "model_unusable", path=str(path), why=told("it is not a .task file, or damaged")
        )
    base = TrustNobody(model_asset_buffer=content)
    close_the_way_out()
    try:
        with quiet_stderr():
            return PoseLandmarker.create_from_options(
                PoseLandmarkerOptions(base_options=base, **options)
            )
    except Exception as error:  # the library turns its many kinds of status into many exceptions
        why = told("it contains no pose landmarker that this program can run")
        raise UserError("model_unusable", str(error), path=str(path), why=why) from error


def to_model_image(image: NDArray[np.uint8]) -> Image:
    """A picture as the landmarker takes it: red, green, blue."""
    return Image(image_format=ImageFormat.SRGB, data=cv2.cvtColor(image, cv2.COLOR_BGR2RGB))
