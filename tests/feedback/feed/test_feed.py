"""The feed of a session: what other programs may read, who may, and that nobody can write."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from feedback.feed.lines import (
    BeginLine,
    FeedLine,
    MeasureLine,
    begin_line,
    decoded,
    feed_line,
    schema,
)
from feedback.feed.lsl import CUES, EVENTS, MEASURES, channels, library
from feedback.feed.meeting import Meeting, newest_first
from feedback.feed.reader import join, lines_of
from feedback.feed.station_end import Feed
from feedback.journal.entries import (
    CueEntry,
    Entry,
    EventEntry,
    MeasureEntry,
    NoteEntry,
    PlayedEntry,
    RatingEntry,
)
from shared.clock import anchor_now, now_ns
from shared.flow import Cue, CueKind, EventKind, GaitEvent, Measure, Played, Side, View
from shared.problems import UserError
from shared.targets import Question
from shared.units import NS_PER_S

SCHEMA = Path(__file__).parents[3] / "feedback" / "feed" / "feed_lines.schema.json"


def _measure(value: float, at_ns: int) -> MeasureEntry:
    return MeasureEntry(
        measure=Measure(
            name="strike_ahead",
            side=Side.LEFT,
            value=value,
            unit="cm",
            uncertainty=1.4,
            quality=0.9,
            steps=1,
            step_number=7,
            at_ns=at_ns,
            captured_ns=at_ns + 40_000_000,
        )
    )


def _contact(at_ns: int) -> EventEntry:
    return EventEntry(
        event=GaitEvent(
            kind=EventKind.CONTACT,
            side=Side.LEFT,
            at_ns=at_ns,
            captured_ns=at_ns + 40_000_000,
            quality=0.9,
            uncertainty_ms=9.0,
        )
    )


def _cue(at_ns: int) -> CueEntry:
    return CueEntry(
        cue=Cue(
            kind=CueKind.OUT_OF_BAND,
            measure="strike_ahead",
            side=Side.LEFT,
            sound="",
            words="",
            step_number=7,
            captured_ns=at_ns,
            decided_ns=at_ns + 12_000_000,
        )
    )


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))


@pytest.fixture
def feed() -> Iterator[Feed]:
    """A feed with its real process, found by its file."""
    running = Feed(begin_line("run-1", View.SIDE, anchor_now()))
    _wait_for_it()
    yield running
    running.close()


def _wait_for_it() -> Meeting:
    for _ in range(400):
        if found := newest_first():
            return found[0][1]
        time.sleep(0.05)
    pytest.fail("the feed's process has not begun")


def test_schema_file_is_that_of_the_lines() -> None:
    """Who reads the file reads what is sent."""
    assert SCHEMA.read_bytes() == schema()


def test_a_line_holds_all_of_its_value_and_no_name() -> None:
    """Times are whole nanoseconds; notes and ratings are not for others."""
    line = feed_line(_measure(12.5, 2**60 + 1))
    assert isinstance(line, MeasureLine)
    assert (line.value, line.at_ns, line.side) == (12.5, 2**60 + 1, Side.LEFT)
    note = NoteEntry(at_ns=1, text="said by the runner", source="panel")
    rating = RatingEntry(at_ns=1, what=Question.PAIN, value=3, asked=True, source="panel")
    private: tuple[Entry, ...] = (note, rating)
    assert [feed_line(entry) for entry in private] == [None, None]


def test_a_program_reads_what_the_station_tells(feed: Feed) -> None:
    """From joining on: the begin, then each line as sent, then the end with the session."""
    with join() as connection:
        first = decoded(str(connection.recv(timeout=5)).encode())
        assert isinstance(first, BeginLine)
        assert (first.run, first.version) == ("run-1", 1)
        told: list[Entry] = [_contact(1_000), _measure(20.0, 1_000), _cue(2_000)]
        for entry in told:
            feed.entry(entry)
        read = [decoded(str(connection.recv(timeout=5)).encode()) for _ in told]
        assert read == [feed_line(entry) for entry in told]
        feed.close()
        assert list(lines_of(connection)) == []
    with pytest.raises(UserError, match="No session"):
        join()


def test_only_who_has_the_token_and_no_page_of_a_browser(feed: Feed) -> None:
    """Without the token, with another, or from a web page: refused before anything is said."""
    meeting = _wait_for_it()
    address = f"ws://127.0.0.1:{meeting.port}/"
    right = {"Authorization": f"Bearer {meeting.token}"}
    refused: tuple[dict[str, str], ...] = (
        {},
        {"Authorization": "Bearer guessed"},
        {**right, "Origin": "http://127.0.0.1"},
    )
    for headers in refused:
        with pytest.raises(InvalidStatus) as error:
            connect(address, additional_headers=headers, proxy=None)
        assert error.value.response.status_code == 401
    file = newest_first()[0][0]
    assert file.stat().st_mode & 0o077 == 0
    feed.entry(_contact(1))


def test_whoever_writes_is_let_go(feed: Feed) -> None:
    """The feed has no way in: any message closes that connection, and the others read on."""
    with join() as other, join() as writer:
        other.recv(timeout=5)
        writer.recv(timeout=5)
        writer.send('{"stop": true}')
        with pytest.raises(ConnectionClosed) as closed:
            writer.recv(timeout=5)
        assert closed.value.rcvd is not None
        assert closed.value.rcvd.reason == "read only"
        feed.entry(_contact(5))
        assert json.loads(other.recv(timeout=5))["at_ns"] == 5


def test_a_reader_that_does_not_read_costs_the_others_nothing(feed: Feed) -> None:
    """The slow one is told how many lines it has lost; the quick one has them all."""
    with join() as slow, join() as quick:
        slow.recv(timeout=5)
        quick.recv(timeout=5)
        read = 0
        for count in range(3_000):
            feed.entry(_measure(float(count), count))
            if count % 500 == 499:
                while read < count + 1:
                    assert json.loads(quick.recv(timeout=5))["at_ns"] == read
                    read += 1
        assert read == 3_000


def test_tail_prints_lines_and_says_where_there_is_none(feed: Feed) -> None:
    """The command, as another program would use it."""
    words = [sys.executable, "-m", "feedback.cli", "tail"]
    tail = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert tail.stdout is not None
    assert json.loads(tail.stdout.readline())["line"] == "begin"
    feed.entry(_measure(18.25, 77))
    assert json.loads(tail.stdout.readline())["value"] == 18.25
    feed.close()
    assert tail.wait(10) == 0
    tail.stdout.close()
    alone = subprocess.run(words, capture_output=True, text=True, env=dict(os.environ), check=False)
    assert alone.returncode == 1
    assert "No session on this computer has a feed." in alone.stderr


def test_laboratory_streams_carry_values_units_and_times() -> None:
    """Another process's streams, received here: times to 1 ms, units and labels described."""
    lsl = library()
    begin_ns = now_ns()
    feed = Feed(begin_line("run-lsl", View.SIDE, anchor_now()), lsl=True)
    try:
        inlets = {}
        for name in (MEASURES, EVENTS, CUES):
            found = lsl.resolve_byprop("name", name, 1, 15)
            assert found, f"no stream {name}"
            inlets[name] = lsl.StreamInlet(found[0])
            inlets[name].open_stream(10)
        _wait_for_it()
        feed.entry(_measure(21.5, begin_ns + 1_234_567_891))
        feed.entry(_contact(begin_ns + 2_000_000_000))
        feed.entry(_cue(begin_ns + 3_000_000_000))
        feed.entry(
            PlayedEntry(
                played=Played(
                    kind=CueKind.OUT_OF_BAND,
                    captured_ns=begin_ns,
                    decided_ns=begin_ns,
                    sounded_ns=begin_ns + 4_000_000_000,
                )
            )
        )
        values, at_s = inlets[MEASURES].pull_sample(10)
        index = [(name, side) for name, side, _ in channels()].index(("strike_ahead", Side.LEFT))
        assert values[index] == 21.5
        assert sum(value == value for value in values) == 1
        # The layer's clock and ours are one clock here, so the stamps must be the same.
        assert at_s == pytest.approx((begin_ns + 1_234_567_891) / NS_PER_S, abs=1e-3)
        marker, at_s = inlets[EVENTS].pull_sample(10)
        assert marker == ["contact left"]
        assert at_s == pytest.approx(begin_ns / NS_PER_S + 2, abs=1e-3)
        decided, at_s = inlets[CUES].pull_sample(10)
        assert decided == ["decided out_of_band strike_ahead left"]
        assert at_s == pytest.approx(begin_ns / NS_PER_S + 3.012, abs=1e-3)
        sounded, at_s = inlets[CUES].pull_sample(10)
        assert sounded == ["sounded out_of_band"]
        described = inlets[MEASURES].info(5).desc()
        assert abs(float(described.child_value("clock_offset_s"))) < 1e-3
        channel = described.child("channels").child("channel")
        assert channel.child_value("label") == "cadence"
        assert channel.child_value("unit") == "steps/min"
    finally:
        feed.close()


def test_lines_read_back_are_the_lines() -> None:
    """What is sent is what the schema's structs read, for every kind."""
    line: FeedLine = begin_line("run-2", View.BEHIND, anchor_now())
    assert decoded(msgspec.json.encode(line)) == line
