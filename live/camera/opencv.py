"""OpenCV as the rest of live/ uses it: silent, on few threads, without its Qt settings."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

# Read by OpenCV when it first needs them, so set before the import.
_SETTINGS: Final = {
    "OPENCV_LOG_LEVEL": "SILENT",
    "OPENCV_FFMPEG_LOGLEVEL": "-8",  # FFmpeg's AV_LOG_QUIET
    "OPENCV_VIDEOIO_V4L_SELECT_TIMEOUT": "2",  # s; a camera that hangs is given up after it
}
for _name, _value in _SETTINGS.items():
    os.environ.setdefault(_name, _value)

import cv2 as cv2  # noqa: E402  (passed on under its own name)


def _drop_qt_settings() -> None:
    """Undo OpenCV's settings for its own Qt, which would break the Qt of our screens."""
    package = Path(cv2.__file__).parent
    for name in ("QT_QPA_PLATFORM_PLUGIN_PATH", "QT_QPA_FONTDIR"):
        if Path(os.environ.get(name, "")).is_relative_to(package):
            del os.environ[name]


_drop_qt_settings()
cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
# Pictures this small gain nothing from more threads, which would only be in the model's way.
cv2.setNumThreads(1)
