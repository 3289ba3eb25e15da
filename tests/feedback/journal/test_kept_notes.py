"""A station killed the moment after it has answered a note: the note is in the record."""

from __future__ import annotations

from pathlib import Path

from tests.bench.bench_kept_notes import killed_after

DISK_MS = 150
"""Longer than it takes to be killed."""


def test_no_note_that_was_answered_is_lost(tmp_path: Path) -> None:
    """By the hundred: python -m tests.bench.bench_kept_notes."""
    for notes in (1, 3, 9):
        folder = tmp_path / f"{notes}"
        folder.mkdir()
        answered, lost = killed_after(folder, notes, DISK_MS)
        assert answered >= notes
        assert lost == []
