"""The environment in which one process of ours starts another."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from shared.language import language

LANGUAGE_VARIABLE: Final = "BELTSIDE_LANGUAGE"
"""Environment: the code of the language that a process is to speak."""
_DROPPED: Final = ("QT_QPA_PLATFORM_PLUGIN_PATH", "QT_QPA_FONTDIR")
"""OpenCV points these at its own Qt files, which do not fit the screen's Qt."""
_TOP: Final = Path(__file__).resolve().parents[1]


def child_environment(base: Mapping[str, str]) -> dict[str, str]:
    """The environment for such a process: our modules, our language, no Qt settings of OpenCV."""
    kept = outside_environment(base)
    path = kept.get("PYTHONPATH")
    kept["PYTHONPATH"] = str(_TOP) if not path else f"{_TOP}{os.pathsep}{path}"
    kept[LANGUAGE_VARIABLE] = language()
    return kept


def outside_environment(base: Mapping[str, str]) -> dict[str, str]:
    """The environment for a program that is not ours: without those Qt settings."""
    return {name: value for name, value in base.items() if name not in _DROPPED}
