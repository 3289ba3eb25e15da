"""Sessions past their time: a week's grace, and nothing by itself while the clock is in doubt."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.cli.common.keep_records import look_at_age
from feedback.cli.main import main
from feedback.journal.writer import Header
from feedback.records.aside import all_aside
from feedback.records.store import Store
from feedback.records.sync import read_uids, sync
from feedback.records.wall_clock import (
    AHEAD_AT_LEAST_S,
    DAY_S,
    Jump,
    has_passed,
    jump,
    rest_unknown,
)
from feedback.storage.settings import data_folder
from tests.feedback.records.command_line import fresh_data_folder
from tests.feedback.records.month import short_session

NOW = datetime(2025, 6, 2, 12, 0, tzinfo=UTC)
DAY = timedelta(days=1)
MISTAKE = timedelta(days=400)


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = fresh_data_folder(tmp_path, monkeypatch)
    (folder / "records.toml").write_text("keep_days = 30\nerase_by_itself = true\n")
    return folder


def session(data: Path, begin: datetime, name: str = "Heron", newest_before: str = "") -> Path:
    """A record of that moment, with a report and a track."""
    made = short_session(data / "made", name, 1)
    first, rest = made.read_bytes().split(b"\n", 1)
    made.unlink()
    header = msgspec.json.decode(first, type=Header)
    anchor = msgspec.structs.replace(header.anchor, wall_utc=begin.isoformat())
    header = msgspec.structs.replace(header, anchor=anchor, newest_before_utc=newest_before)
    path = data / "sessions" / f"{begin:%Y-%m-%dT%H%M%SZ}-{name.lower()}.jsonl"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(msgspec.json.encode(header) + b"\n" + rest)
    path.with_suffix(".track").write_bytes(b"landmarks of " + name.encode())
    reports = data / "reports" / name.lower()
    reports.mkdir(parents=True, exist_ok=True)
    (reports / f"{path.stem}.html").write_text(f"report of {name}")
    return path


def weekly(data: Path, weeks: int, until: datetime = NOW) -> list[Path]:
    """A session a week, the newest one of the day before ``until``; the oldest first."""
    return [session(data, until - DAY - timedelta(weeks=n)) for n in reversed(range(weeks))]


def everything(data: Path) -> dict[str, bytes]:
    """All files of sessions and reports."""
    return {
        str(path.relative_to(data)): path.read_bytes()
        for room in ("sessions", "reports")
        for path in (data / room).rglob("*")
        if path.is_file()
    }


def listed() -> list[str]:
    with Store() as store:
        sync(store, data_folder() / "sessions")
        return [line.started_utc for line in store.sessions()]


def test_what_is_past_its_time_is_set_aside_for_a_week_and_then_erased(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    paths = weekly(data, 6)
    look_at_age(NOW)
    said = capsys.readouterr().out
    assert "1 session is older than the 30 days set in records.toml:" in said
    assert "Set aside, as set in records.toml: 1 session." in said
    assert "To bring back: beltside erase --bring-back" in said
    assert [path.exists() for path in paths] == [False, *[True] * 5]
    assert len(listed()) == 5  # out of lists and reports at once
    look_at_age(NOW + 6.9 * DAY)
    assert len(all_aside()[0]) == 2  # a week later the next one is past its time
    capsys.readouterr()
    look_at_age(NOW + 7 * DAY)
    assert "1 session set aside for a week" in capsys.readouterr().out
    (left,) = all_aside()[0]
    assert left.started == NOW - DAY - timedelta(weeks=4)


def test_it_can_be_brought_back_whole_for_a_week(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    weekly(data, 6)
    before, sessions = everything(data), listed()
    look_at_age(NOW)
    assert everything(data) != before
    assert main(["erase", "--bring-back"]) == 0
    assert "Brought back: 1 session." in capsys.readouterr().out
    assert everything(data) == before
    assert listed() == sessions
    assert not (data / "set_aside").exists()


def test_it_comes_back_by_itself_once_it_is_not_past_its_time(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # A clock that is ahead by less than a pause may last is believed: that is what the week is for.
    weekly(data, 6)
    before = everything(data)
    look_at_age(NOW + 20 * DAY)
    assert len(all_aside()[0]) == 4
    (data / "records.toml").write_text("keep_days = 60\nerase_by_itself = true\n")
    look_at_age(NOW)
    assert "Brought back" in capsys.readouterr().out
    assert everything(data) == before


@pytest.mark.parametrize("settings", ["keep_days = 30\n", "", "erase_by_itself = true\n"])
def test_it_comes_back_where_nothing_is_to_go_by_itself_any_more(data: Path, settings: str) -> None:
    weekly(data, 6)
    before = everything(data)
    look_at_age(NOW)
    assert everything(data) != before
    (data / "records.toml").write_text(settings)
    look_at_age(NOW + 8 * DAY)
    assert everything(data) == before


def test_a_clock_that_is_years_ahead_erases_nothing_however_often(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    weekly(data, 6)
    before = everything(data)
    look_at_age(NOW + MISTAKE)
    said = capsys.readouterr().out
    assert "The computer's clock may have jumped ahead." in said
    assert "7 July 2026" in said  # both times
    assert "1 June 2025" in said
    assert "6 sessions are older than the 30 days" in said
    assert "To erase: beltside erase --expired" in said
    assert everything(data) == before
    # The next session is recorded with the wrong time: from then on clock and records agree.
    wrong = session(data, NOW + MISTAKE)
    before = everything(data)
    for days in (1, 8, 15):
        look_at_age(NOW + MISTAKE + days * DAY)
        assert everything(data) == before
    said = capsys.readouterr().out
    assert "the computer's clock may have jumped since they were recorded" in said
    # Put right again, the newest record is ahead of the clock.
    look_at_age(NOW + 2 * DAY)
    assert "The computer's clock is behind its records." in capsys.readouterr().out
    assert everything(data) == before
    assert wrong.exists()


def test_a_session_of_1970_or_of_a_clock_set_back_never_goes_by_itself(data: Path) -> None:
    weekly(data, 4)
    begun = datetime(1970, 1, 1, 0, 10, tzinfo=UTC)
    newest = (NOW - DAY).isoformat()
    lost = session(data, begun)  # as by a version that did not note it
    back = session(data, NOW - 40 * DAY, "Plover", newest_before=newest)
    before = everything(data)
    look_at_age(NOW)
    assert everything(data) == before
    assert lost.exists()
    assert back.exists()
    assert main(["erase", "--expired", "--yes"]) == 0  # a person may
    assert (lost.exists(), back.exists()) == (False, False)


def test_a_jump_during_the_week_erases_nothing(data: Path) -> None:
    weekly(data, 6)
    look_at_age(NOW)
    (one,) = all_aside()[0]
    session(data, NOW + MISTAKE)
    look_at_age(NOW + MISTAKE + DAY)
    assert one in all_aside()[0]


def test_who_is_erased_is_erased_from_what_is_set_aside_too(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    weekly(data, 2)
    uids = {read_uids(session(data, NOW - days * DAY, "Zaunkoenig"))[0] for days in (40, 2)}
    look_at_age(NOW)
    capsys.readouterr()
    assert main(["records", "Zaunkoenig"]) == 0
    assert "set_aside" in capsys.readouterr().out
    assert main(["erase", "Zaunkoenig", "--yes"]) == 0
    left = [path for path in data.rglob("*") if path.is_file()]
    assert not any(b"Zaunkoenig" in path.read_bytes() for path in left)
    assert not any("zaunkoenig" in path.name for path in left)
    with Store() as store:
        assert uids <= store.erased()


def test_what_was_broken_off_is_gone_on_with(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    paths = weekly(data, 6)
    before, sessions = everything(data), listed()

    def broken_off(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(Store, "leave_out", broken_off)
        with pytest.raises(KeyboardInterrupt):
            look_at_age(NOW)
    assert not paths[0].exists()
    look_at_age(NOW)
    assert len(listed()) == 5
    assert main(["erase", "--bring-back"]) == 0
    assert everything(data) == before
    assert listed() == sessions


def test_a_note_that_cannot_be_read_keeps_its_files_and_is_told(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    weekly(data, 6)
    look_at_age(NOW)
    (one,) = all_aside()[0]
    (one.folder / "aside.json").write_text("{")
    look_at_age(NOW + 8 * DAY)
    assert str(one.folder) in capsys.readouterr().out
    assert any(path.suffix == ".jsonl" for path in one.folder.iterdir())


# the rule

SECONDS = st.integers(-(2**33), 2**34)


@given(SECONDS, SECONDS)
def test_a_jump_is_told_by_how_the_clock_stands_to_the_newest_record(now: int, newest: int) -> None:
    found = jump(now, newest)
    if found is Jump.BACK:
        assert newest > now
    elif found is Jump.AHEAD:
        assert now - newest >= AHEAD_AT_LEAST_S
    else:
        assert -300 < now - newest < AHEAD_AT_LEAST_S


@given(st.lists(st.integers(1, 40), min_size=1, max_size=60), st.integers(0, 59), SECONDS)
def test_a_leap_of_the_clock_anywhere_is_seen(pauses: list[int], at: int, begin: int) -> None:
    moments = [begin]
    for days in pauses:
        moments.append(moments[-1] + days * DAY_S)
    assert has_passed(begin, moments[-1] + DAY_S, moments)
    at %= len(moments)
    leap = int(MISTAKE.total_seconds())
    leapt = [*moments[: at + 1], *(one + leap for one in moments[at + 1 :])]
    assert not has_passed(begin, moments[-1] + DAY_S + leap, leapt)


def test_rest_is_not_known_where_a_session_is_of_the_future_or_before_its_prescription() -> None:
    written, last, now = 1_750_000_000, 1_750_300_000, 1_750_500_000
    assert not rest_unknown(now, last, written)
    assert not rest_unknown(now, last, None)
    assert rest_unknown(last - 3600, last, written)
    assert rest_unknown(now, 600, written)  # held in 1970
    assert rest_unknown(600, 900, written)
    assert rest_unknown(600, 500, written)
