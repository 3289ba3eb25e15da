"""A station killed the moment after it has answered a note: the note is in the record."""

from __future__ import annotations

from pathlib import Path

from tests.bench.bench_kept_notes import killed_after


def test_no_note_that_was_answered_is_lost(tmp_path: Path) -> None:
    """By the hundred: python -m tests.bench.bench_kept_notes."""
    for notes in (1, 7, 20):
        folder = tmp_path / f"{notes}"
        folder.mkdir()
        answered, lost = killed_after(folder, notes)
        assert answered >= notes
        assert lost == []
