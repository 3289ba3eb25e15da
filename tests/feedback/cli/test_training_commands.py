"""Baseline, prescription, plan, home and rehearsal as a user types them, in real processes."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import platformdirs
import pytest

from feedback.athlete_files.plan_log import PlanLog, Result, read_result
from feedback.athlete_files.prescriptions import read_prescription
from feedback.athlete_files.signatures import short
from feedback.journal.writer import read_journal
from feedback.records.wording import in_words
from feedback.session.track_file import PoseLine, ShoeLine, read_track
from feedback.training.block_results import answers_of
from feedback.training.plan import Done
from shared.messages import StopReason
from shared.targets import BlockKind, Question, SessionKind, Voucher
from tests.feedback.cli.test_signing_commands import cut_off
from tests.feedback.training.making import baseline

HOUR_S = 3600


class Home:
    """A user's folders, and the program run in them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.data = folder / "data" / "beltside"
        kept = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "QT_", "DISPLAY"))}
        kept.pop("WAYLAND_DISPLAY", None)
        self.env = kept | {
            "XDG_DATA_HOME": str(folder / "data"),
            "XDG_STATE_HOME": str(folder / "state"),
            "XDG_CACHE_HOME": str(Path(platformdirs.user_cache_dir("beltside")).parent),
            "COLUMNS": "100",
        }

    def run(self, *words: str, typed: str = "") -> subprocess.CompletedProcess[str]:
        done = subprocess.run(
            [sys.executable, "-m", "feedback.cli.main", *words],
            env=self.env,
            input=typed,
            capture_output=True,
            text=True,
            timeout=240,
            check=False,
        )
        assert "Traceback" not in done.stdout + done.stderr, done.stderr
        return done

    def good(self, *words: str, typed: str = "") -> str:
        done = self.run(*words, typed=typed)
        assert (done.returncode, done.stderr) == (0, "")
        return done.stdout

    def told(self, *words: str, what: str, to_do: str) -> None:
        """Exit code 1, and exactly two lines: what happened, and what to do."""
        done = self.run(*words)
        assert done.returncode == 1, done.stdout
        first, second = done.stderr.splitlines()
        assert what in first
        assert to_do in second

    def keep_baseline(self) -> None:
        folder = self.data / "baselines"
        folder.mkdir(parents=True)
        (folder / "heron-side-1.json").write_bytes(msgspec.json.encode(baseline()))

    def prescription(self, *more: str) -> Path:
        self.keep_baseline()
        path = self.folder / "heron.toml"
        self.good("prescribe", "--athlete", "heron", "--drill", "quick_steps", "--plan",
                  "eight_sessions", "--out", str(path), *more)  # fmt: skip
        return path


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home(tmp_path)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("baseline", "--athlete", "heron"), "--camera"),
        (("baseline", "--athlete", "heron", "--clip", "front"), "front"),
        (("baseline", "--athlete", "heron", "--camera", "0", "--steps", "20"), "60 to 400"),
        (("prescribe", "--athlete", "heron"), "--drill"),
        (("prescribe", "--athlete", "h", "--drill", "d", "--change", "steps"), "aim=percent"),
        (("session", "x.toml"), "--camera"),
        (("session", "x.toml", "--camera", "0", "--answer", "joy=3"), "pain=..."),
        (("session", "x.toml", "--camera", "0", "--answer", "pain=11"), "0 to 10"),
        (("session", "x.toml", "--camera", "0", "--number", "0"), "from 1 on"),
        (("home",), "FILE"),
        (("rehearse", "x.toml", "--pain", "1,x"), "0 to 10"),
    ],
)
def test_wrong_usage_is_one_line(home: Home, words: tuple[str, ...], said: str) -> None:
    done = home.run(*words)
    assert (done.returncode, done.stdout) == (2, "")
    (line,) = done.stderr.splitlines()
    assert said in line


def test_drills_and_plans_are_listed_with_the_users_own(home: Home) -> None:
    own = home.data / "drills"
    own.mkdir(parents=True)
    (own / "broken.toml").write_text("title = 3\n")
    listed = home.good("drills")
    assert "quick_steps: Quick steps to a beat (camera side" in listed
    assert "steps: Cadence: +5 % of baseline" in listed
    assert "eight_sessions: Eight sessions" in listed
    assert "broken: not usable" in listed


def test_a_prescription_from_the_newest_baseline(home: Home) -> None:
    path = home.prescription()
    made = read_prescription(path)
    assert made.goals[0].aimed == (164.0, 168.0)
    (kept,) = (home.data / "prescriptions").iterdir()
    assert read_prescription(kept) == made
    assert kept.stat().st_mode & 0o077 == 0


def test_another_change_is_written_into_the_prescription(home: Home) -> None:
    made = read_prescription(home.prescription("--change", "steps=7.5"))
    assert made.drill.aims[0].change_percent == 7.5
    assert made.goals[0].aimed == (164.0, 168.0, 172.0)


def test_what_cannot_be_prescribed_is_told(home: Home) -> None:
    words = ("prescribe", "--athlete", "heron", "--drill", "quick_steps")
    home.told(*words, what="no baseline for Heron from side at 10.1 km/h", to_do="baseline")
    home.keep_baseline()
    home.told(*words, "--change", "steps=12", what="at most 10 % at a time", to_do="Choose")
    home.told(*words, "--change", "pace=5", what='no aim called "pace"', to_do="Known: steps")
    home.told(*words, "--belt-kmh", "12", what="at 12 km/h", to_do="Take one first")
    home.told(*words, "--view", "behind", what="needs the camera side", to_do="--view")
    home.told(*words[:-1], "quik_steps", what='mean "quick_steps"', to_do="land_under")


def test_a_plan_shows_its_sessions_and_which_is_next(home: Home) -> None:
    path = home.prescription()
    assert "The first session: session 1." in home.good("plan", str(path))
    assert "62.5" in home.good("plan", "eight_sessions")
    held = Done(
        number=1,
        started_unix_s=0,
        share_done=1.0,
        stop_reason=StopReason.FINISHED,
        pain_worst=6,
        settled_by_morning=True,
    )
    log(home, path, held)
    shown = home.good("plan", str(path))
    assert "The same session again, for the pain went over its limit: session 1." in shown


def log(home: Home, path: Path, *held: Done) -> Path:
    made = read_prescription(path)
    file = home.data / "progress" / f"heron-{made.check[:16]}.json"
    file.parent.mkdir(parents=True, exist_ok=True)
    kept = PlanLog(prescription=made.check, code_name="Heron", done=held)
    file.write_bytes(msgspec.json.encode(kept))
    return file


def test_a_rehearsal_says_that_it_is_made_up_before_and_after(home: Home) -> None:
    path = home.prescription()
    out = home.good("rehearse", str(path), "--pain", "1,6,1", "--not-settled", "1")
    lines = out.splitlines()
    assert lines[0].startswith("Simulated data: not a real person.")
    assert lines[-1] == lines[0]
    assert "Run 2 is the same session again: the pain had not settled" in out
    assert "Run 3 is the same session again: the pain went over its limit" in out
    assert " 62.5 " in out


def test_home_begins_nothing_that_it_should_not(home: Home) -> None:
    path = home.prescription()
    words = ("home", str(path), "--clip", "side", "--headless", "--no-sound")
    last = Done(
        number=1,
        started_unix_s=round(time.time()) - 3600,
        share_done=1.0,
        stop_reason=StopReason.FINISHED,
        pain_worst=1,
    )
    file = log(home, path, last)
    home.told(*words, what="An answer is missing", to_do="--morning settled")
    home.told(*words, "--morning", "settled", what="hours at the earliest", to_do="--now")
    log(home, path, last)
    home.told(*words, "--morning", "not-settled", what="the next one should wait", to_do="--agreed")
    kept = msgspec.json.decode(file.read_bytes(), type=PlanLog)
    assert kept.done[-1].settled_by_morning is False  # asked once, and kept
    home.told(*words, "--number", "12", "--agreed", what="no session 12", to_do="1 to 11")
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("pain_stop_over = 5", "pain_stop_over = 4"))
    home.told(*words, what="changed or damaged after it was signed", to_do="Ask the clinic")
    home.told("home", "none.toml", what="no file at none.toml", to_do="Check the name")


def test_a_clock_that_was_wrong_blocks_no_plan_for_a_year(home: Home) -> None:
    path = home.prescription()
    ahead = round(time.time()) + 366 * 24 * 3600
    last = Done(
        number=2,
        started_unix_s=ahead,
        share_done=1.0,
        stop_reason=StopReason.FINISHED,
        pain_worst=1,
        settled_by_morning=True,
    )
    log(home, path, last)
    words = ("session", str(path), "--clip", "side", "--headless", "--no-sound")
    both = in_words(datetime.fromtimestamp(ahead, UTC))
    home.told(*words, what=f"recorded at {both}", to_do="24 hours ago or more")
    shown = home.good("plan", str(path))
    assert "Next session in" not in shown
    assert f"recorded at {both}" in shown


@pytest.mark.model
def test_whose_prescription_was_run_is_in_the_record_and_the_report(home: Home) -> None:
    path = home.prescription()
    words = ("--clip", "side", "--headless", "--no-sound", "--shorten", "90", "--answer", "pain=2")
    unsigned = cut_off(path, pain_caution_from=9, longest_min=120.0)
    out = home.good("home", str(unsigned), "--accept-unsigned", *words)
    assert "NOT SIGNED" in out
    (record,) = (home.data / "sessions").iterdir()
    header = read_journal(record).header
    assert header.voucher is Voucher.UNSIGNED
    assert header.limits["pain_caution_from_of_10"] == 3
    assert header.limits["longest_s"] == 3600
    page = next(Path(text) for text in _after("Report: ", out) if text.endswith(".html"))
    assert "no proof of who" in page.read_text(encoding="utf-8")


@pytest.mark.model
def test_baseline_prescription_and_a_session_at_home_on_the_bundled_clip(home: Home) -> None:
    """The whole way on real pictures: own values, targets, cues by block, answers, result.

    The last part is on another computer, which has not met the clinic yet.
    """
    clip = ("--clip", "side", "--headless", "--no-sound")
    out = home.good("baseline", "--athlete", "heron", "--track", *clip)
    assert "60 of 60 steps" in out
    assert "Stored as" in out
    assert_reported_and_the_same_again(home, out)
    path = home.folder / "heron.toml"
    home.good("prescribe", "--athlete", "heron", "--drill", "quick_steps", "--plan",
              "five_short", "--out", str(path))  # fmt: skip
    made = read_prescription(path)
    assert made.goals[0].own == pytest.approx(160.0, abs=1.5)  # the clip's runner
    result_file = home.folder / "result.json"
    at_home = Home(home.folder / "at_home")
    out = at_home.good(
        *("home", str(path), "--number", "2", "--shorten", "20", "--track", *clip),
        *("--answer", "pain=2", "--answer", "effort=4", "--answer", "awkwardness=6"),
        *("--out", str(result_file)),
    )
    assert "5 of 5: Send it" in out
    assert_reported_and_the_same_again(at_home, out)
    result = read_result(result_file)
    assert_whole(result)
    assert result.prescription == made.check
    (record,) = [r for r in (at_home.data / "sessions").iterdir() if _prescribed(r)]
    journal = read_journal(record)
    assert journal.header.voucher is Voucher.FIRST
    assert f"{short(made.signed_by)}  the first one used, " in at_home.good("clinics")
    assert (at_home.data / "clinics.json").stat().st_mode & 0o077 == 0
    assert journal.header.prescription == made
    assert journal.header.kind is SessionKind.PRACTICE
    assert journal.summary is not None
    assert not (at_home.data / "progress").exists()  # a trial counts for nothing


def assert_reported_and_the_same_again(home: Home, out: str) -> None:
    """The report is where it is said to be, and the track gives the same session once more."""
    reports = [Path(text) for text in _after("Report: ", out)]
    assert [path.suffix for path in reports] == [".html", ".pdf"]
    assert reports[0].read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert reports[1].read_bytes().startswith(b"%PDF")
    assert {path.stat().st_mode & 0o077 for path in reports} == {0}
    (track,) = _after("Landmark track: ", out)
    kinds = Counter(type(line) for line in read_track(Path(track)).lines)
    assert kinds[ShoeLine] > kinds[PoseLine] // 20, "the station looks at the shoes"
    again = home.good("remeasure", track).splitlines()
    assert len(again) == 4
    assert all(line.endswith("no change") for line in again), again


def _after(mark: str, out: str) -> list[str]:
    return [line.removeprefix(mark) for line in out.splitlines() if line.startswith(mark)]


def _prescribed(record: Path) -> bool:
    return record.suffix == ".jsonl" and read_journal(record).header.prescription is not None


def assert_whole(result: Result) -> None:
    """Every block was run, cues came only where they belong, every question was answered."""
    assert result.trial
    assert result.session.stop_reason is StopReason.FINISHED
    assert result.session.share_done == pytest.approx(1.0, abs=0.05)
    kinds = [block.kind for block in result.blocks]
    cued, uncued = BlockKind.CUED, BlockKind.UNCUED
    assert kinds == [BlockKind.WARM_UP, cued, uncued, cued, uncued, BlockKind.COOL_DOWN]
    # the clip's runner never changes, so it is off target from start to end
    assert sum(b.cues.get("out_of_band", 0) for b in result.blocks if b.kind is cued) >= 2
    assert all(not b.cues for b in result.blocks if b.kind is not cued)
    assert set(answers_of(result.blocks, Question.PAIN)) == {2}
    session = result.session
    assert (session.pain_worst, session.effort, session.awkwardness) == (2, 4, 6)
