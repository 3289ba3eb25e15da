"""What comes by itself around a session: its report after it, and the look at old sessions."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec
import pytest

from feedback.cli.common import pages
from feedback.cli.common.keep_records import look_at_age, write_report
from feedback.journal.entries import ProblemEntry
from feedback.station.setup import SessionOutcome
from feedback.station.worker import WorkCounts
from shared.identity import derived_id
from shared.messages import StopReason
from shared.problems import describe
from tests.feedback.records.command_line import fresh_data_folder
from tests.feedback.records.month import Month, short_session


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    return fresh_data_folder(tmp_path, monkeypatch)


def options(**changes: Any) -> argparse.Namespace:
    return argparse.Namespace(**{"no_report": False, **changes})


def outcome(*, saved: bool | None = True) -> SessionOutcome:
    return SessionOutcome(
        reason=StopReason.RUNNER,
        signal_number=None,
        problem=None,
        saved=saved,
        save_problem=None,
        tally=WorkCounts(),
        dropped=0,
    )


def held(data: Path) -> Path:
    (path,) = Month(data / "sessions", shorten=30.0).hold(1)
    return path


def test_the_report_of_a_session_is_written_and_its_place_told(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = held(data)
    write_report(options(), outcome(), record)
    first, *places = capsys.readouterr().out.splitlines()
    assert first == "Writing the report ..."
    stem = data / "reports" / f"heron-{derived_id('Heron')}" / record.stem
    assert places == [f"Report: {stem}.html", f"Report: {stem}.pdf"]
    assert "Heron" in Path(f"{stem}.html").read_text(encoding="utf-8")
    assert Path(f"{stem}.pdf").stat().st_mode & 0o077 == 0
    assert not (data / "store.sqlite").exists()  # no database has to answer for it


def test_no_report_where_none_is_wanted_or_nothing_is_saved(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = held(data)
    write_report(options(no_report=True), outcome(), record)
    assert "No report was written, as you asked." in capsys.readouterr().out
    write_report(options(), outcome(saved=False), record)
    assert capsys.readouterr().out == ""
    assert not (data / "reports").exists()


def test_a_session_that_never_ran_has_no_report(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = held(data)
    header = record.read_bytes().split(b"\n")[0]
    record.write_bytes(header + b"\n")
    write_report(options(), outcome(), record)
    assert capsys.readouterr().out.splitlines()[-1] == "No report: nobody ran."


def test_a_session_that_never_began_has_a_report_where_it_is_known_why(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = held(data)
    header = record.read_bytes().split(b"\n")[0]
    alike = describe("legs_alike")
    entry = ProblemEntry(at_ns=1_000_000_000, problem=alike, over=False)
    record.write_bytes(b"\n".join([header, msgspec.json.encode(entry), b""]))
    write_report(options(), outcome(), record)
    place = capsys.readouterr().out.splitlines()[1].removeprefix("Report: ")
    page = Path(place).read_text(encoding="utf-8")
    assert alike.title in page
    assert alike.action in page


@pytest.mark.parametrize("fault", [KeyboardInterrupt(), RuntimeError("on purpose")])
def test_a_report_that_fails_is_told_and_loses_nothing(
    data: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    fault: BaseException,
) -> None:
    record = held(data)
    before = record.read_bytes()

    def fail(*_: object) -> None:
        raise fault

    monkeypatch.setattr(pages, "write_page", fail)
    write_report(options(), outcome(), record)
    told = capsys.readouterr().out.splitlines()[-1]
    assert told.startswith("Note: the report could not be written.")
    assert told.endswith("The session itself is saved. Write it later with: beltside report")
    assert record.read_bytes() == before


def test_a_report_that_finds_no_room_is_told(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = held(data)
    (data / "reports").write_text("a file where the folder should be")
    write_report(options(), outcome(), record)
    assert "could not be saved" in capsys.readouterr().out
    assert record.exists()


# sessions past their time

NOW = datetime(2025, 4, 10, 12, 0, tzinfo=UTC)


def two_sessions(data: Path) -> tuple[Path, Path]:
    old = short_session(data / "sessions", "Heron", 1)
    young = data / "sessions" / "young.jsonl"
    young.write_bytes(old.read_bytes().replace(b"2025-03-04", b"2025-04-08"))
    return old, young


def test_without_a_time_that_is_set_nothing_is_said_or_erased(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, _ = two_sessions(data)
    look_at_age(NOW)
    assert capsys.readouterr() == ("", "")
    assert old.exists()
    assert not (data / "store.sqlite").exists()


def test_what_is_past_its_time_is_named_and_kept_unless_erasing_is_switched_on(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, young = two_sessions(data)
    (data / "records.toml").write_text("keep_days = 30\n")
    look_at_age(NOW)
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "1 session is older than the 30 days set in records.toml:"
    assert said[1].startswith("  Heron, 4 March 2025")
    assert said[2] == "Kept anyway. To erase: beltside erase --expired"
    assert (old.exists(), young.exists()) == (True, True)


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ("keep_days = -1\n", "keep_days"),
        ('keep_days = 30\nstore = "postgresql://127.0.0.1:9/none"\n', "store"),
    ],
)
def test_a_wrong_setting_or_a_silent_database_holds_up_no_session(
    data: Path, capsys: pytest.CaptureFixture[str], settings: str, said: str
) -> None:
    old, _ = two_sessions(data)
    (data / "records.toml").write_text(settings)
    look_at_age(NOW)
    out = capsys.readouterr().out
    assert out.startswith("Note: ")
    assert said in out
    assert old.exists()
