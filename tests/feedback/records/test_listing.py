"""What is listed and counted as a session, and that a report holds to what the record holds."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from feedback.athlete_files.baselines import save_baseline
from feedback.journal.entries import PlayedEntry, SummaryEntry
from feedback.journal.writer import read_journal
from feedback.records.page.page import Figures, PrintedPage, TextLines
from feedback.records.report import session_report
from feedback.records.summarise import digest
from feedback.texts.training import place_in_plan, sessions_of
from shared.flow import CueKind, Played
from shared.targets import Plan, PlanSession, SessionKind
from tests.feedback.records import month as records
from tests.feedback.records.command_line import run
from tests.feedback.records.month import short_session
from tests.feedback.records.test_sharing import data
from tests.feedback.training.making import bundled_plan

__all__ = ["data"]


def held(folder: Path, day: int, steps: int = 24, **header: Any) -> Path:
    """A record with another header or another count of steps."""
    path = short_session(folder, "Heron", day)
    found = read_journal(path)
    *entries, last = found.entries
    assert isinstance(last, SummaryEntry)
    ended = msgspec.structs.replace(last, steps=steps)
    records.write(path, msgspec.structs.replace(found.header, **header), [*entries, ended])
    return path


@pytest.fixture
def mixed(data: Path) -> Path:
    """Two sessions, a baseline before, a shortened trial between, one without a step after."""
    folder = data / "sessions"
    held(folder, 1, baseline=True, kind=None, number=None)
    held(folder, 2)
    held(folder, 3, trial=True)
    held(folder, 4)
    held(folder, 5, steps=0)
    return data


def test_only_sessions_count_and_all_that_is_kept_is_named(
    mixed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = run(capsys, "records")
    assert out == "Heron: 2 sessions, 1 baseline, 1 trial, 1 record without steps\n"
    _, out, _ = run(capsys, "records", "heron")
    kinds = [line.split(": ", 1)[1].split(",")[0] for line in out.splitlines()[1:5]]
    assert kinds == ["baseline", "practice", "trial (does not count)", "practice"]
    assert out.splitlines()[5].startswith("Not listed, because no steps were seen: 8 March 2025")


def test_progress_takes_in_neither_baseline_nor_trial_nor_an_empty_session(
    mixed: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    page = tmp_path / "progress.html"
    assert run(capsys, "progress", "heron", "--out", str(page))[0] == 0
    text = page.read_text(encoding="utf-8")
    assert "2 sessions, from 5 March 2025 to 7 March 2025" in text
    assert "2. 7 March 2025" in text
    assert "3. " not in text.split("Sessions</h2>")[-1]


def test_an_empty_name_is_told_as_one(mixed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, said = run(capsys, "records", " ")
    assert code != 0
    assert "There is no session of somebody without a name." in said


def table(page: PrintedPage) -> dict[str, tuple[str, ...]]:
    figures = next(part for part in page.parts if isinstance(part, Figures))
    return {row[0]: tuple(row) for row in figures.rows}


def test_the_baseline_column_has_all_that_the_baseline_has(data: Path, tmp_path: Path) -> None:
    path = records.Month(tmp_path, shorten=30.0).hold(1)[0]
    recording = read_journal(path)
    own = records.baseline("Heron")
    of_record = msgspec.structs.replace(
        recording, header=msgspec.structs.replace(recording.header, own=own)
    )
    rows = table(session_report(digest(of_record), ()))
    for side in ("left", "right"):
        (row,) = [row for name, row in rows.items() if name.startswith("Foot") and side in name]
        mean = {"left": "26.1", "right": "27.9"}[side]
        assert row[1] == mean, "each side's own, not both sides' from the goal"


def test_a_record_without_the_baseline_gets_it_from_this_computer(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    records.Month(data / "sessions", shorten=30.0).hold(1)
    save_baseline(records.baseline("Heron"))
    page = tmp_path / "report.html"
    assert run(capsys, "report", "heron", "--out", str(page))[0] == 0
    text = page.read_text(encoding="utf-8")
    assert "Baseline: 1 March 2025, 64 steps." in text
    assert "26.1" in text


def test_no_time_to_sound_is_told_where_there_was_no_output(tmp_path: Path) -> None:
    found = read_journal(short_session(tmp_path, "Heron", 1))
    played = Played(kind=CueKind.OUT_OF_BAND, captured_ns=0, decided_ns=1, sounded_ns=8_000_000)
    entries = (*found.entries[:-1], PlayedEntry(played=played), found.entries[-1])
    silent = msgspec.structs.replace(found, entries=entries)
    assert digest(silent).sounded_ms is None
    loud = msgspec.structs.replace(found.header, sound="the computer's sound output")
    assert digest(msgspec.structs.replace(silent, header=loud)).sounded_ms == 8.0


def test_eight_sessions_are_counted_as_eight_and_the_checks_after_them_apart() -> None:
    plan = bundled_plan("eight_sessions")
    assert sessions_of(plan) == "8 sessions and 3 checks"
    places = [place_in_plan(plan, number) for number in (1, 8, 9, 11)]
    assert places == ["1 of 8", "8 of 8", "9 (check 1 of 3)", "11 (check 3 of 3)"]
    check = PlanSession(parts_min=(0, 5), kind=SessionKind.RETENTION)
    turns = Plan(title="x", sessions=(PlanSession(parts_min=(5,)), check, *plan.sessions[:1]))
    assert [place_in_plan(turns, n) for n in (1, 2, 3)] == [
        "1 of 2",
        "2 (check 1 of 1)",
        "3 (practice 2) of 2",
    ]


def test_a_baselines_own_report_has_no_column_for_an_earlier_one(tmp_path: Path) -> None:
    path = held(tmp_path, 1, baseline=True, kind=None, number=None)
    page = session_report(digest(read_journal(path)), ())
    figures = next(part for part in page.parts if isinstance(part, Figures))
    assert figures.columns == ("Measure", "Mean", "Spread (SD)", "Values")
    assert all(len(row) == 4 for row in figures.rows)
    assert any(isinstance(part, TextLines) for part in page.parts)


def test_an_export_tells_trials_and_baselines_from_sessions(
    mixed: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    out = tmp_path / "o.csv"
    _, said, _ = run(capsys, "export", "heron", "--out", str(out))
    assert "(2 sessions, 1 baseline, 1 trial, 1 record without steps)" in said
    rows = list(csv.DictReader(io.StringIO(out.read_text(encoding="utf-8-sig"))))
    by_day = {row["started_utc"][:10]: row["counts_as"] for row in rows}
    assert list(by_day.values()) == ["baseline", "session", "trial", "session", "nothing"]


def test_a_patients_record_gets_no_trial_and_no_drawn_runner(
    mixed: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    held(mixed / "sessions", 6, demo=True)
    out = tmp_path / "o.json"
    _, said, _ = run(capsys, "export", "heron", "--format", "fhir", "--out", str(out))
    assert "Left out: 2 records of trials and simulated runners" in said
    days = {
        entry["resource"]["effectiveDateTime"][:10]
        for entry in json.loads(out.read_text())["entry"]
        if "effectiveDateTime" in entry["resource"]
    }
    assert len(days) == 4


def test_a_trials_report_says_that_it_is_one(
    mixed: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    pages = []
    for number in ("2", "3"):
        out = tmp_path / f"{number}.html"
        assert run(capsys, "report", "heron", "--session", number, "--out", str(out))[0] == 0
        pages.append("A trial, with pictures from a file" in out.read_text(encoding="utf-8"))
    assert pages == [False, True]
