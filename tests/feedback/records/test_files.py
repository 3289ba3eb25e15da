"""Replays that were saved are shown with an athlete's files, and go when they are erased."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

from feedback.cli.main import build_parser
from feedback.records import privacy
from feedback.records.files import files_beside, replay_path
from feedback.records.people import People
from feedback.records.store import Store
from feedback.records.sync import sync
from feedback.storage.settings import data_folder
from shared.identity import derived_id
from tests.feedback.records.month import short_session


@pytest.fixture
def sessions(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    folder = data_folder() / "sessions"
    folder.mkdir(parents=True)
    return folder


def with_replays(journal: Path) -> list[Path]:
    """Two saved replays, and one that was never finished."""
    begun = replay_path(journal, 3).with_suffix(".part.mp4")
    files = [replay_path(journal, 1), replay_path(journal, 2), begun]
    for path in files:
        path.write_bytes(b"video")
    return files


def test_they_are_named_after_their_session_and_found_by_it(tmp_path: Path) -> None:
    journal = tmp_path / "2026-11-25T093000Z-heron.jsonl"
    again = tmp_path / "2026-11-25T093000Z-heron-2.jsonl"
    odd = tmp_path / "odd [name]*.jsonl"
    assert replay_path(journal, 1).name == "2026-11-25T093000Z-heron.replay-1.mp4"
    for one in (journal, again, odd):
        assert sorted(with_replays(one)) == list(files_beside(one))
    track = journal.with_suffix(".track")
    track.write_bytes(b"")
    assert files_beside(journal)[0] == track
    assert len(files_beside(journal)) == 4


def test_they_are_shown_and_erased_with_their_athlete(
    sessions: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    heron, plover = short_session(sessions, "Heron", 1), short_session(sessions, "Plover", 2)
    gone, kept = with_replays(heron), with_replays(plover)
    records = importlib.import_module("feedback.cli.commands.records")
    assert records.run(build_parser().parse_args(["records", "heron"])) == 0
    told = capsys.readouterr().out.replace("\n", "")
    assert all(path.name in told for path in gone)
    assert not any(path.name in told for path in kept)
    erase = importlib.import_module("feedback.cli.commands.erase")
    assert erase.run(build_parser().parse_args(["erase", "heron", "--yes"])) == 0
    assert "1 session and 4 files" in capsys.readouterr().out
    assert not any(path.exists() for path in (heron, *gone))
    assert all(path.exists() for path in (plover, *kept))


def test_they_go_with_sessions_past_their_time(sessions: Path) -> None:
    heron = short_session(sessions, "Heron", 1)
    gone = with_replays(heron)
    with Store() as store:
        sync(store, sessions)
        assert privacy.erase_sessions(store, sessions, store.sessions()) == 4
    assert not any(path.exists() for path in (heron, *gone))


def test_they_go_where_the_session_was_erased_elsewhere(sessions: Path) -> None:
    heron = short_session(sessions, "Heron", 1)
    gone = with_replays(heron)
    with Store() as store:
        sync(store, sessions)
        store.erase_athlete(derived_id("Heron"))
        assert sync(store, sessions).erased == 1
    assert not any(path.exists() for path in (heron, *gone))


@pytest.mark.parametrize("fails_at", [0, 1, 2, 3])
def test_an_erasure_that_is_broken_off_leaves_no_video_that_nobody_finds(
    sessions: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    heron = short_session(sessions, "Heron", 1)
    with_replays(heron)
    real, count = Path.unlink, 0

    def breaks(path: Path, missing_ok: bool = False) -> None:
        nonlocal count
        count += 1
        if count > fails_at:
            raise KeyboardInterrupt
        real(path, missing_ok=missing_ok)

    with Store() as store:
        sync(store, sessions)
        people = People(store)
        with monkeypatch.context() as patched:
            patched.setattr(Path, "unlink", breaks)
            with pytest.raises(KeyboardInterrupt):
                people.erase(people.find("Heron"))
        sync(store, sessions)
    assert [path.name for path in sessions.iterdir()] == []
