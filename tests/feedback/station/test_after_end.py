"""Notes and ratings after the end: in the record and the report, and nothing starts again."""

from __future__ import annotations

import argparse
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from feedback.cli.common.hold_session import SessionResult
from feedback.cli.common.keep_records import finish
from feedback.journal.entries import NoteEntry, RatingEntry, StateEntry
from feedback.journal.writer import Header, Journal, add_entries, read_journal
from feedback.link.client_state import LinkState
from feedback.link.local_client import LinkClient
from feedback.records.reports import reports_folder
from feedback.records.summarise import digest
from feedback.station.station import Station
from feedback.texts.runner import words
from shared.changes import Adjust, Answered, Note
from shared.clock import anchor_now, now_ns
from shared.messages import Confirm, GoOn, Rating, Role, SessionState, Snapshot, StopReason
from shared.problems import UserError
from shared.targets import Question
from tests.feedback.records.month import short_session
from tests.feedback.station_bench import Bench, wait_until

NOTE = "left lace was open"


class OpenPanel:
    """Stands in for the panel's window: open until it is closed."""

    def __init__(self) -> None:
        self.open = True

    def poll(self) -> int | None:
        return None if self.open else 0

    def end(self, within_s: float = 0.0) -> None:
        self.open = False


class After:
    """A real session that was stopped at its panel, which stays open; its link is a real one."""

    def __init__(self, folder: Path) -> None:
        self.panel = OpenPanel()
        self.client: LinkClient
        self.bench = Bench(
            folder, late=True, record=folder / "session.jsonl", spawn_panel=self._spawn
        )
        self.station: Station = self.bench.station
        self.station.open_panel()
        self._over = threading.Event()
        threading.Thread(target=self._ping, daemon=True).start()
        stopping = threading.Thread(target=self._stop)
        stopping.start()
        anchor = anchor_now()
        header = Header(
            versions={},
            anchor=anchor,
            source="stand-in",
            view=self.bench.order.view,
            athlete=self.bench.profile.athlete,
            athlete_text="",
            limits={},
        )
        journal = Journal(self.bench.path, header)
        outcome = self.station.run(journal)
        stopping.join()
        self.held = SessionResult(
            outcome=outcome,
            track=None,
            record=self.bench.path,
            journal=journal,
            anchor=anchor,
            station=self.station,
        )

    def _spawn(self, port: int, token: str) -> OpenPanel:
        self.client = LinkClient(port, token, Role.PANEL)
        self.client.start()
        return self.panel

    def _ping(self) -> None:
        while not self._over.wait(0.3):
            self.client.ping()

    def _stop(self) -> None:
        wait_until(lambda: self.client.status().state is LinkState.JOINED)
        wait_until(lambda: self.state is SessionState.RUNNING)
        self.client.stop()

    @property
    def state(self) -> SessionState | None:
        snapshot = self.client.status().snapshot
        return None if snapshot is None else snapshot.state

    @property
    def snapshot(self) -> Snapshot:
        snapshot = self.client.status().snapshot
        assert snapshot is not None
        return snapshot

    def answered(self, asked_id: int) -> Answered:
        found: list[Answered] = []

        def came() -> bool:
            found.extend(one for one in self.client.take_answers() if one.id == asked_id)
            return bool(found)

        wait_until(came)
        return found[0]

    def close(self) -> None:
        self._over.set()
        self.client.close()
        self.station.close()


@pytest.fixture
def after(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[After]:
    for name in ("XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name))
    made = After(tmp_path)
    yield made
    made.close()


def meanwhile(do: Callable[[], None]) -> threading.Thread:
    thread = threading.Thread(target=do)
    thread.start()
    return thread


def test_a_note_and_a_rating_after_the_end_are_in_record_and_report(
    after: After, capsys: pytest.CaptureFixture[str]
) -> None:
    assert after.held.outcome.reason is StopReason.CONSOLE
    answers: list[Answered] = []

    def add() -> None:
        wait_until(lambda: bool(list(reports_folder().rglob("*.pdf"))), 60.0)
        after.client.ask(Note(id=7, text=NOTE))
        answers.append(after.answered(7))
        after.client.ask(Rating(what=Question.PAIN, value=9))
        wait_until(lambda: after.snapshot.pain == 9)
        after.panel.open = False

    adding = meanwhile(add)
    code = finish(argparse.Namespace(no_report=False), after.held, 0)
    adding.join()
    assert code == 0
    assert answers[0].done
    said = capsys.readouterr().out
    assert "You can still add notes and ratings" in said
    assert "2 notes and ratings were added." in said
    recording = read_journal(after.bench.path)
    assert recording.summary is not None, "the session still ended in order"
    note, rating = recording.entries[-2:]
    assert isinstance(note, NoteEntry)
    assert isinstance(rating, RatingEntry)
    assert (note.text, rating.value) == (NOTE, 9)
    found = digest(recording)
    assert found.run_s == recording.summary.elapsed_s
    assert found.blocks == ()
    (page,) = reports_folder().rglob("*.html")
    text = page.read_text(encoding="utf-8")
    assert NOTE in text
    assert "After the run: note by" in text
    assert "9 after the run" in text


def test_nothing_starts_again_after_the_end(after: After) -> None:
    states = [e for e in read_journal(after.bench.path).entries if isinstance(e, StateEntry)]
    assert after.bench.speaker.closed
    assert after.bench.model.closed
    heard = (len(after.bench.speaker.cues), len(after.bench.speaker.beats))
    for request in (Confirm(), GoOn(), Rating(what=Question.PAIN, value=10)):
        after.client.ask(request)
    after.client.ask(Adjust(id=3, number=0, revision=1, aim=160.0))
    refused = after.answered(3)
    assert (refused.done, refused.why) == (False, words("answer_stopped"))
    after.client.stop()
    after.client.ask(Note(id=4, text=NOTE))
    assert after.answered(4).done
    assert after.state is SessionState.STOPPED
    assert after.held.outcome.reason is StopReason.CONSOLE
    assert (len(after.bench.speaker.cues), len(after.bench.speaker.beats)) == heard
    later = [e for e in read_journal(after.bench.path).entries if isinstance(e, StateEntry)]
    assert later == states


def test_what_was_added_before_the_report_is_in_it_at_once(
    after: After, capsys: pytest.CaptureFixture[str]
) -> None:
    after.client.ask(Note(id=7, text=NOTE))
    assert after.answered(7).done
    after.panel.open = False
    assert finish(argparse.Namespace(no_report=False), after.held, 0) == 0
    assert capsys.readouterr().out.count("Report: ") == 2, "one page and its PDF, once"
    (page,) = reports_folder().rglob("*.html")
    assert NOTE in page.read_text(encoding="utf-8")


def test_what_cannot_be_written_is_not_called_done(after: After) -> None:
    after.bench.path.unlink()
    after.client.ask(Note(id=5, text=NOTE))
    answer = after.answered(5)
    assert (answer.done, answer.why) == (False, words("answer_not_recorded"))
    assert after.station.added == ()
    assert not after.bench.path.exists(), "a record that was erased is not begun anew"


def test_it_stays_for_the_panel_and_ten_minutes_for_consoles(
    after: After, monkeypatch: pytest.MonkeyPatch
) -> None:
    def may_add(panel: bool, consoles: tuple[str, ...], since_s: int) -> bool:
        after.panel.open = panel
        monkeypatch.setattr(after.station._link, "consoles", lambda: consoles)
        monkeypatch.setattr(after.station, "_ended_ns", now_ns() - since_s * 10**9)
        return after.station.may_add

    assert may_add(panel=True, consoles=(), since_s=1)
    assert may_add(panel=True, consoles=(), since_s=3600)
    assert may_add(panel=False, consoles=("hall",), since_s=590)
    assert not may_add(panel=False, consoles=("hall",), since_s=601)
    assert not may_add(panel=False, consoles=(), since_s=1)
    assert after.station.stay() is None


def test_what_is_added_comes_after_the_summary_and_ends_no_later(tmp_path: Path) -> None:
    path = short_session(tmp_path, "Heron", 1)
    before = digest(read_journal(path))
    end_ns = read_journal(path).summary.at_ns  # type: ignore[union-attr]
    add_entries(path, [NoteEntry(at_ns=end_ns + 10**12, text=NOTE, source="the panel")])
    found = digest(read_journal(path))
    assert [remark.text for remark in found.remarks] == [NOTE]
    assert (found.run_s, found.lost, found.blocks) == (before.run_s, False, before.blocks)
    with pytest.raises(UserError) as caught:
        add_entries(tmp_path / "gone.jsonl", [])
    assert caught.value.problem.code == "save_failed"
