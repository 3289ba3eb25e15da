"""Where programs on this computer find the feed of a session: one private file a session."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Final

import msgspec

from feedback.storage.settings import data_folder
from shared.files import save_atomically

FOLDER: Final = "feed"
SUFFIX: Final = ".json"


class Meeting(msgspec.Struct, frozen=True, kw_only=True):
    """How a feed is reached. Only the user who started the station can read it."""

    run: str
    port: int
    """On 127.0.0.1."""
    token: str
    """To be sent as ``Authorization: Bearer TOKEN``."""


def feed_folder() -> Path:
    """Where these files lie."""
    return data_folder() / FOLDER


def put_down(meeting: Meeting) -> Path:
    """Write it down for others. Raises UserError ``save_failed``."""
    path = feed_folder() / f"{meeting.run}{SUFFIX}"
    save_atomically(path, msgspec.json.encode(meeting))
    return path


def newest_first() -> list[tuple[Path, Meeting]]:
    """All that is there; one may be left over from a station that was killed."""
    found: list[tuple[float, Path, Meeting]] = []
    for path in feed_folder().glob(f"*{SUFFIX}"):
        with contextlib.suppress(OSError, msgspec.DecodeError):
            meeting = msgspec.json.decode(path.read_bytes(), type=Meeting)
            found.append((path.stat().st_mtime, path, meeting))
    return [(path, meeting) for _, path, meeting in sorted(found, key=lambda one: -one[0])]
