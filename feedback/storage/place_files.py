"""Where the place of a camera is kept that has passed its check, by source and view."""

from __future__ import annotations

import hashlib
from pathlib import Path

from feedback.storage.folders import DataFolder, own_folder
from shared.flow import View


def place_path(source: str, view: View) -> Path:
    """The file of a source, as it describes itself, in a view; there once its check was passed."""
    # A digest, since an address or a path is not for a file's name.
    digest = hashlib.sha256(source.encode()).hexdigest()[:16]
    return own_folder(DataFolder.PLACES) / f"{digest}-{view}.json"
