"""The journal: what is on the disk when, after which kind of end, and how it is read back."""

from __future__ import annotations

import errno
import os
import queue
import re
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.journal import writer as journal_module
from feedback.journal.entries import (
    Entry,
    LostEntry,
    MeasureEntry,
    NoteEntry,
    ProblemEntry,
    StateEntry,
    SummaryEntry,
)
from feedback.journal.writer import (
    Header,
    Journal,
    new_path,
    new_uid,
    read_journal,
    versions,
)
from shared.clock import ClockAnchor, anchor_now
from shared.flow import View
from shared.identity import derived_id, id_in
from shared.messages import SessionState, StopReason
from shared.problems import UserError, describe
from shared.targets import Athlete
from tests.feedback.making import athlete, measure, strike_target

ROOT = Path(__file__).parents[3]
STOPPED = StateEntry(at_ns=5, state=SessionState.STOPPED, reason=StopReason.RUNNER, source="test")
SUMMARY = SummaryEntry(
    at_ns=9,
    stop_reason=StopReason.RUNNER,
    elapsed_s=1.5,
    steps=4,
    cues={"out_of_band": 1},
    targets=(),
    decision_ms=12.0,
    measures=(),
)


def header() -> Header:
    return Header(
        versions=versions(),
        anchor=anchor_now(),
        source="a list of frames",
        view=View.SIDE,
        athlete=athlete(strike_target()),
        athlete_text='code_name = "Tëst"\n',
        limits={"time_limit_s": 60.0},
    )


def step(number: int) -> MeasureEntry:
    return MeasureEntry(measure=measure(number, 10.0))


def wait_for(condition: Callable[[], bool], seconds: float = 10.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.005)


def written(path: Path, *entries: Entry, summary: SummaryEntry | None = SUMMARY) -> Header:
    first = header()
    journal = Journal(path, first)
    for entry in entries:
        journal.write(entry)
    journal.close(summary)
    assert journal.problem() is None
    return first


def test_what_was_written_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "session.jsonl"
    problem = ProblemEntry(at_ns=3, problem=describe("no_runner"), over=False)
    entries = (step(1), problem, step(2), STOPPED)
    first = written(path, *entries)
    recording = read_journal(path)
    assert recording.header == first
    assert recording.entries == (*entries, SUMMARY)
    assert (recording.summary, recording.torn) == (SUMMARY, False)


def test_only_the_owner_can_read_it(tmp_path: Path) -> None:
    path = tmp_path / "sessions" / "session.jsonl"
    written(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_a_session_without_an_end_has_no_summary(tmp_path: Path) -> None:
    written(tmp_path / "a", step(1), summary=None)
    recording = read_journal(tmp_path / "a")
    assert (recording.summary, recording.torn) == (None, False)


@pytest.mark.parametrize(
    "urgent", [STOPPED, ProblemEntry(at_ns=1, problem=describe("no_runner"), over=False)]
)
def test_stops_and_problems_are_on_the_disk_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, urgent: Entry
) -> None:
    # With hours between two regular flushes only urgency can bring an entry to the file.
    monkeypatch.setattr(journal_module, "FLUSH_EVERY_S", 9999.0)
    synced: list[int] = []
    real = os.fsync

    def fsync(file: int) -> None:
        real(file)
        synced.append(os.fstat(file).st_size)

    monkeypatch.setattr(os, "fsync", fsync)
    path = tmp_path / "session.jsonl"
    journal = Journal(path, header())
    wait_for(lambda: len(synced) == 1)
    size = path.stat().st_size
    journal.write(step(1))
    journal.write(urgent)
    wait_for(lambda: len(synced) == 2)
    assert synced == [size, path.stat().st_size]
    assert read_journal(path).entries == (step(1), urgent)
    journal.close()


NOTE = NoteEntry(at_ns=4, text="lace is open", source="the panel")


def test_what_waits_for_the_disk_is_told_after_it_has_the_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    on_disk: list[bytes] = []
    slow = threading.Event()
    real = os.fsync
    path = tmp_path / "session.jsonl"

    def fsync(file: int) -> None:
        assert slow.wait(10)
        real(file)
        on_disk.append(path.read_bytes())

    monkeypatch.setattr(os, "fsync", fsync)
    journal = Journal(path, header())
    told: list[tuple[bool, bool]] = []

    def then(is_safe: bool) -> None:
        told.append((is_safe, bool(on_disk) and b"lace is open" in on_disk[-1]))

    journal.write(NOTE)
    journal.when_safe(then)
    time.sleep(0.2)
    assert told == []
    slow.set()
    wait_for(lambda: bool(told))
    assert told == [(True, True)]
    journal.close()
    journal.write(NOTE)
    journal.when_safe(then)
    assert told[1:] == [(False, True)]  # that note came too late


def test_what_waits_for_a_disk_that_is_full_is_told_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full = threading.Event()
    real = os.write

    def write(file: int, content: bytes) -> int:
        if full.is_set():
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(file, content)

    monkeypatch.setattr(os, "write", write)
    path = tmp_path / "session.jsonl"
    journal = Journal(path, header())
    wait_for(lambda: path.exists() and path.stat().st_size > 0)
    full.set()
    told: list[bool] = []
    journal.write(NOTE)
    journal.when_safe(told.append)
    wait_for(lambda: told == [False])
    journal.when_safe(told.append)  # its thread has ended
    assert told == [False, False]
    journal.close()


def test_ordinary_entries_follow_within_a_second(tmp_path: Path) -> None:
    path = tmp_path / "session.jsonl"
    journal = Journal(path, header())
    wait_for(path.exists)
    journal.write(step(1))
    begin = time.monotonic()
    wait_for(lambda: b"strike_ahead" in path.read_bytes().partition(b"\n")[2], seconds=1.0)
    assert time.monotonic() - begin < 1.0
    journal.close()


KILLED = """
import sys, time
from pathlib import Path
from feedback.journal.writer import Journal
from shared.clock import now_ns
from tests.feedback.making import measure
from tests.feedback.journal.test_writer import MeasureEntry, header
journal = Journal(Path(sys.argv[1]), header())
number = 0
while True:
    journal.write(MeasureEntry(measure=measure(number, 10.0, captured_ns=now_ns())))
    print(now_ns(), number, flush=True)
    number += 1
    time.sleep(0.01)
"""


def test_a_killed_process_loses_a_second_at_most(tmp_path: Path) -> None:
    path = tmp_path / "session.jsonl"
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(path)], stdout=subprocess.PIPE, cwd=ROOT, text=True
    )
    assert process.stdout is not None
    with process.stdout as lines:
        first = int(lines.readline().split()[0])
        for line in lines:
            # Not at a moment of the writer's own choosing.
            if int(line.split()[0]) - first > 1_730_000_000:
                process.kill()
                break
        told = [line, *lines.readlines()]
    assert process.wait(10) == -9
    last_ns, last_number = (int(part) for part in told[-1].split())
    recording = read_journal(path)
    kept = [one.measure for one in recording.entries if isinstance(one, MeasureEntry)]
    assert [one.step_number for one in kept] == list(range(len(kept)))
    assert len(kept) < last_number + 2
    assert last_ns - kept[-1].captured_ns < 1_000_000_000


def test_a_full_disk_is_told_and_the_session_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def to_full(path: str | Path, flags: int, mode: int = 0o777) -> int:
        return real("/dev/full" if str(path).endswith(".jsonl") else path, os.O_WRONLY, mode)

    monkeypatch.setattr(os, "open", to_full)
    journal = Journal(tmp_path / "session.jsonl", header())
    wait_for(lambda: journal.problem() is not None)
    problem = journal.problem()
    assert problem is not None
    assert problem.code == "journal_failed"
    assert "No space left on device" in problem.title
    begin = time.monotonic()
    for number in range(10_000):
        journal.write(step(number))
    journal.close(SUMMARY)
    assert time.monotonic() - begin < 1.0


@pytest.mark.parametrize("synced", [True, False])
def test_recording_goes_on_once_there_is_room_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, synced: bool
) -> None:
    """The disk takes a part of a line, then nothing; ``synced``: it keeps the part for sure."""
    real_write, real_fsync = os.write, os.fsync
    room = [700]

    def write(file: int, content: memoryview) -> int:
        if not room:
            return real_write(file, content)
        if not room[0]:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        room[0] -= (done := real_write(file, content[: room[0]]))
        return done

    def fsync(file: int) -> None:
        if room and not synced:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real_fsync(file)

    monkeypatch.setattr(os, "write", write)
    monkeypatch.setattr(os, "fsync", fsync)
    path = tmp_path / "session.jsonl"
    head = header()
    journal = Journal(path, head)
    for number in range(10):
        journal.write(step(number))
    wait_for(lambda: journal.problem() is not None)
    for number in range(10, 20):
        journal.write(step(number))
    room.clear()
    wait_for(lambda: journal.problem() is None)
    journal.write(step(20))
    journal.close(SUMMARY)
    assert journal.problem() is None
    kept = read_journal(path)
    assert (kept.header, kept.torn) == (head, False)
    assert kept.entries == (*(step(number) for number in range(21)), SUMMARY)


def test_what_does_not_fit_into_memory_either_is_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal_module, "MOST_KEPT_BYTES", 5000)
    folder = tmp_path / "sessions"
    folder.write_text("a file where the folder should be")
    journal = Journal(folder / "session.jsonl", header())
    wait_for(lambda: journal.problem() is not None)
    for number in range(100):
        journal.write(step(number))
    wait_for(journal._queue.empty)
    folder.unlink()
    wait_for(lambda: journal.problem() is None)
    journal.write(step(100))
    journal.close(SUMMARY)
    entries = read_journal(folder / "session.jsonl").entries
    (lost,) = [one for one in entries if isinstance(one, LostEntry)]
    assert len(entries) - 2 + lost.count == 101
    assert entries[-2:] == (step(100), SUMMARY)


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    journal = Journal(tmp_path / "file" / "session.jsonl", header())
    wait_for(lambda: journal.problem() is not None)
    journal.close(SUMMARY)
    problem = journal.problem()
    assert problem is not None
    assert problem.code == "journal_failed"


def test_an_older_record_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "session.jsonl"
    first = written(path, step(1))
    journal = Journal(path, header())
    wait_for(lambda: journal.problem() is not None)
    journal.close(SUMMARY)
    assert read_journal(path).header == first


def test_a_disk_that_hangs_never_holds_up_the_session(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal_module, "QUEUE_LENGTH", 8)
    monkeypatch.setattr(journal_module, "CLOSE_WITHIN_S", 10.0)
    hanging, released = threading.Event(), threading.Event()
    real = os.fsync

    def fsync(file: int) -> None:
        hanging.set()
        assert released.wait(10)
        real(file)

    monkeypatch.setattr(os, "fsync", fsync)
    path = tmp_path / "session.jsonl"
    journal = Journal(path, header())
    assert hanging.wait(10)
    begin = time.monotonic()
    for number in range(1000):
        journal.write(step(number))
    assert time.monotonic() - begin < 1.0
    released.set()
    wait_for(lambda: journal._queue.empty())
    journal.write(step(1000))
    journal.close(SUMMARY)
    assert journal.problem() is None
    entries = read_journal(path).entries
    lost = [one for one in entries if isinstance(one, LostEntry)]
    kept = [one for one in entries if isinstance(one, MeasureEntry)]
    assert len(lost) == 1
    assert lost[0].count + len(kept) == 1001
    assert entries.index(lost[0]) == 8
    assert entries[-1] == SUMMARY


def test_a_disk_that_never_answers_is_told_at_the_close(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal_module, "CLOSE_WITHIN_S", 0.1)
    released = threading.Event()
    monkeypatch.setattr(os, "fsync", lambda _file: released.wait(10))
    journal = Journal(tmp_path / "session.jsonl", header())
    journal.close(SUMMARY)
    problem = journal.problem()
    assert problem is not None
    assert "does not answer" in problem.title
    released.set()
    journal._thread.join(10)


def test_a_fault_in_the_thread_is_told(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "session.jsonl", header())
    journal.write(object())  # type: ignore[arg-type]
    wait_for(lambda: journal.problem() is not None)
    problem = journal.problem()
    assert problem is not None
    assert "fault in the program" in problem.title
    assert "TypeError" in problem.details
    journal.close()
    # What came before is saved all the same.
    assert read_journal(tmp_path / "session.jsonl").entries == ()


def test_closing_twice_and_writing_after_the_close_do_nothing(tmp_path: Path) -> None:
    path = tmp_path / "session.jsonl"
    journal = Journal(path, header())
    journal.close(SUMMARY)
    journal.write(step(1))
    journal.close(SUMMARY)
    assert read_journal(path).entries == (SUMMARY,)
    with pytest.raises(queue.Empty):
        journal._queue.get_nowait()


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("whole") / "session.jsonl"
    written(path, *(step(number) for number in range(5)), STOPPED)
    return path.read_bytes()


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_a_record_cut_anywhere_after_its_header_can_be_read(
    whole: bytes, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    body = whole.index(b"\n") + 1
    cut = data.draw(st.integers(body, len(whole)))
    tail = data.draw(st.sampled_from([b"", b"\x00" * 20, b"\xff\xfe", b"{}\n", b"\x00\x00\n"]))
    path = tmp_path_factory.mktemp("cut") / "session.jsonl"
    path.write_bytes(whole[:cut] + tail)
    recording = read_journal(path)
    complete = whole[body:cut].count(b"\n")
    assert len(recording.entries) == complete
    assert recording.torn == (not whole[:cut].endswith(b"\n") or tail != b"")


def test_what_is_no_record_or_damaged_in_its_middle_is_told(whole: bytes, tmp_path: Path) -> None:
    lines = whole.splitlines(keepends=True)
    damaged = b"".join([*lines[:2], b"{oops}\n", *lines[3:]])
    newer = whole.replace(b'"format":1', b'"format":2', 1)
    cases = {
        b"": "not the record",
        b"hello\n": "not the record",
        whole[:50]: "not the record",
        damaged: "line 3 is damaged",
        newer: "format 2",
    }
    for content, why in cases.items():
        path = tmp_path / "session.jsonl"
        path.write_bytes(content)
        with pytest.raises(UserError, match=why):
            read_journal(path)
    with pytest.raises(UserError) as caught:
        read_journal(tmp_path / "none")
    assert caught.value.problem.code == "file_missing"
    with pytest.raises(UserError, match="directory"):
        read_journal(tmp_path)


def named(code_name: str) -> Athlete:
    whose = derived_id(code_name)
    return msgspec.structs.replace(athlete(), code_name=code_name, athlete_id=whose)


def test_file_names_tell_when_and_who_and_are_never_taken(tmp_path: Path) -> None:
    anchor = ClockAnchor(0, "2025-03-04T05:06:07.000000+00:00")
    heron, other = named("Heron / 2"), named("走者")
    first = new_path(anchor, heron, new_uid(), tmp_path)
    begin = f"2025-03-04T050607Z-heron-2-{heron.athlete_id}-"
    assert re.fullmatch(re.escape(begin) + r"[0-9a-f]{12}\.jsonl", first.name)
    assert id_in(first.name) == heron.athlete_id
    assert len({new_path(anchor, heron, new_uid(), tmp_path) for _ in range(1000)}) == 1000
    assert new_path(anchor, named("../.."), new_uid(), tmp_path).parent == tmp_path
    # What cannot be written in plain letters is told apart by the id.
    assert f"Z-runner-{other.athlete_id}-" in new_path(anchor, other, new_uid(), tmp_path).name
    # The longest name there may be, of letters that become longer when they are made small.
    longest = named("\u0130" * 40)
    assert len(new_path(anchor, longest, new_uid(), tmp_path).name) < 200


def test_the_header_names_the_versions_behind_the_figures() -> None:
    assert {"python", "system", "numpy", "mediapipe"} <= set(versions())
