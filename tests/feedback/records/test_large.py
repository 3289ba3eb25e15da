"""Records far larger or other than usual: still records and readable pages, or told by name."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from feedback.athlete_files.athletes import read_profile
from feedback.journal.entries import NoteEntry
from feedback.journal.writer import read_journal
from feedback.records.page.html import as_html
from feedback.records.report import session_report
from feedback.records.report_words import MOST_REMARKS
from feedback.records.store import Store
from feedback.records.summarise import read_whole
from feedback.records.sync import sync
from feedback.storage.folders import DataFolder, bundled_folder
from shared.problems import UserError
from tests.feedback.records.month import NS_PER_S, short_session, write

NOTES = 13_506


def test_a_report_of_very_many_notes_shows_the_first_and_last_and_says_so(tmp_path: Path) -> None:
    path = short_session(tmp_path, "Heron", 1)
    recording = read_journal(path)
    notes = [
        NoteEntry(at_ns=NS_PER_S + number, text=f"note {number} " + "x" * 400, source="the panel")
        for number in range(NOTES)
    ]
    write(path, recording.header, [*recording.entries[:-1], *notes, recording.entries[-1]])
    found, points = read_whole(read_journal(path))
    assert len(found.remarks) == NOTES, "all of them are kept"
    page = as_html(session_report(found, points))
    assert len(page) < 500_000
    for number in (0, MOST_REMARKS // 2 - 1, NOTES - MOST_REMARKS // 2, NOTES - 1):
        assert f"note {number} " in page
    assert f"note {MOST_REMARKS // 2} " not in page
    assert f"{NOTES - MOST_REMARKS} more notes are not shown here" in page


def test_a_record_with_a_very_long_profile_is_a_record(tmp_path: Path) -> None:
    """An older version held sessions with any profile."""
    path = short_session(tmp_path, "Heron", 1)
    recording = read_journal(path)
    header = msgspec.structs.replace(recording.header, athlete_text="# long\n" * 700_000)
    write(path, header, list(recording.entries))
    with Store(f"sqlite:///{tmp_path / 'store.sqlite'}") as store:
        result = sync(store, tmp_path)
        assert (result.stored, result.unreadable) == (1, [])


def test_a_profile_that_is_too_long_is_refused_before_the_session(tmp_path: Path) -> None:
    sound = (bundled_folder(DataFolder.DRILLS).parent / "athletes" / "heron.toml").read_text()
    path = tmp_path / "long.toml"
    path.write_text(sound + "# long\n" * 700_000)
    with pytest.raises(UserError, match="larger than 1 MB"):
        read_profile(path)


def test_a_record_of_a_measure_that_there_is_not_is_named(tmp_path: Path) -> None:
    path = short_session(tmp_path, "Heron", 1)
    header, rest = path.read_bytes().split(b"\n", 1)
    path.write_bytes(header.replace(b'"measure":"cadence"', b'"measure":"cadencee"') + b"\n" + rest)
    with Store(f"sqlite:///{tmp_path / 'store.sqlite'}") as store:
        ((_, why),) = sync(store, tmp_path).unreadable
    assert "it contains impossible values" in why
