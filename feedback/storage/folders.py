"""Where drills, plans, prescriptions, baselines and results are kept, and found by name."""

from __future__ import annotations

import importlib.resources
from enum import StrEnum
from pathlib import Path
from typing import Final

import msgspec
import platformdirs

from feedback.storage.toml_fields import did_you_mean
from shared.files import private_folder, save_atomically
from shared.language import _
from shared.problems import UserError, file_error

SUFFIX: Final = ".toml"


class DataFolder(StrEnum):
    """Folders in the user's own data; the first two also come with the program."""

    DRILLS = "drills"
    PLANS = "plans"
    PRESCRIPTIONS = "prescriptions"
    BASELINES = "baselines"
    PROGRESS = "progress"
    RESULTS = "results"
    PLACES = "places"
    """Where cameras stood when they were last checked."""


def own_folder(shelf: DataFolder) -> Path:
    """The user's own folder; it may not exist."""
    return Path(platformdirs.user_data_dir("beltside", appauthor=False)) / shelf.value


def make_private(folder: Path) -> None:
    """Make the folder, open to its owner only. Raises UserError ``save_failed``."""
    try:
        private_folder(folder)
    except OSError as error:
        raise file_error("save_failed", folder, error) from error


def bundled_folder(shelf: DataFolder) -> Path:
    """The folder that comes with the program; it may not exist."""
    # The packages are installed as plain files (wheel or checkout), never inside an archive.
    return Path(str(importlib.resources.files("profiles"))) / shelf.value


def files(folder: Path) -> tuple[Path, ...]:
    """The TOML files of a folder, by name."""
    return tuple(sorted(folder.glob(f"*{SUFFIX}"))) if folder.is_dir() else ()


def find(shelf: DataFolder, name_or_path: str) -> Path:
    """The file of that name (bundled first, then the user's own), or that path.

    Raises UserError ``name_unknown`` for a name that is neither.
    """
    asked = Path(name_or_path)
    if asked.suffix == SUFFIX or len(asked.parts) != 1:
        return asked.expanduser()
    own, bundled = files(own_folder(shelf)), files(bundled_folder(shelf))
    known = {path.stem: path for path in (*own, *bundled)}
    found = known.get(name_or_path) or known.get(name_or_path.lower())
    if found is None:
        near = did_you_mean(name_or_path, known) or "."
        kind = shelf.value.removesuffix("s")
        listed = ", ".join(sorted(known)) or _("none yet")
        raise UserError("name_unknown", kind=kind, name=name_or_path, near=near, known=listed)
    return found


def save_json(path: Path, value: msgspec.Struct) -> None:
    """Save a value, readable by its owner only. Raises UserError ``save_failed``."""
    save_atomically(path, msgspec.json.format(msgspec.json.encode(value), indent=2) + b"\n")
