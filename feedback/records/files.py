"""What may lie beside a session's journal: its landmarks, and replays that were saved."""

from __future__ import annotations

import glob
from pathlib import Path

from feedback.session.track_file import SUFFIX as TRACK_SUFFIX


def replay_path(journal: Path, number: int) -> Path:
    """Where the replay with this number, from 1, of a session is kept."""
    return journal.with_suffix(f".replay-{number}.mp4")


def files_beside(journal: Path) -> tuple[Path, ...]:
    """Those that are there; also a replay that was only begun when its program died."""
    pattern = f"{glob.escape(journal.stem)}.replay-*.mp4"
    track = journal.with_suffix(TRACK_SUFFIX)
    return (*((track,) if track.exists() else ()), *sorted(journal.parent.glob(pattern)))
