"""What was measured is shown and kept where the disk is full or may not be written to."""

from __future__ import annotations

import contextlib
import errno
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import pytest

from feedback.athlete_files.baselines import read_baseline
from feedback.cli.commands import baseline as baseline_command
from feedback.cli.common import save_elsewhere as saving
from feedback.cli.common.hold_session import Plot, SessionResult
from feedback.cli.common.save_elsewhere import keep
from feedback.cli.main import main
from feedback.journal.writer import Journal, read_journal, sessions_folder
from feedback.station.setup import SessionOutcome
from feedback.station.station import Station
from feedback.station.worker import WorkCounts
from shared.clock import anchor_now
from shared.files import save_atomically
from shared.messages import StopReason
from shared.problems import Problem, UserError, describe
from tests.feedback.journal.test_writer import SUMMARY, header, step, wait_for
from tests.feedback.training.making import steps

ROOM = 256 * 1024


@contextlib.contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """A real disk of a quarter of a megabyte; only root can have one."""
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={ROOM}", "tmpfs", str(folder)]
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("only root can mount a disk")
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no disk can be mounted here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


def fill(disk: Path) -> Path:
    """Use up what room is left."""
    waste = disk / "waste"
    with contextlib.suppress(OSError), waste.open("wb", buffering=0) as file:
        while file.write(b"\0" * 512):
            pass
    return waste


def test_a_record_is_kept_in_memory_and_goes_on_once_there_is_room(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk") as disk:
        journal = Journal(disk / "session.jsonl", header())
        journal.write(step(1))
        wait_for(lambda: journal.saved == 1)
        waste = fill(disk)
        for number in range(2, 500):
            journal.write(step(number))
        wait_for(lambda: journal.problem() is not None)
        problem = journal.problem()
        assert problem is not None
        assert "No space left on device" in problem.title
        assert problem.action.startswith("Free up disk space")
        waste.unlink()
        wait_for(lambda: journal.problem() is None)
        journal.write(step(500))
        journal.close(SUMMARY)
        assert journal.problem() is None
        recording = read_journal(journal.path)
        assert recording.entries == (*(step(number) for number in range(1, 501)), SUMMARY)
        assert not recording.torn


def test_a_record_that_found_no_room_is_saved_elsewhere_whole(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk") as disk:
        journal = Journal(disk / "session.jsonl", header())
        journal.write(step(1))
        wait_for(lambda: journal.saved == 1)
        fill(disk)
        for number in range(2, 500):
            journal.write(step(number))
        journal.close(SUMMARY)
        assert journal.problem() is not None
        journal.save_elsewhere(tmp_path / "elsewhere.jsonl")
    recording = read_journal(tmp_path / "elsewhere.jsonl")
    assert recording.entries == (*(step(number) for number in range(1, 500)), SUMMARY)


def test_a_record_in_a_place_that_is_taken_is_saved_elsewhere_without_what_is_there(
    tmp_path: Path,
) -> None:
    taken = tmp_path / "session.jsonl"
    taken.write_text("somebody else's\n")
    journal = Journal(taken, header())
    journal.write(step(1))
    journal.close(SUMMARY)
    journal.save_elsewhere(tmp_path / "elsewhere.jsonl")
    assert taken.read_text() == "somebody else's\n"
    assert read_journal(tmp_path / "elsewhere.jsonl").entries == (step(1), SUMMARY)


@pytest.mark.parametrize(
    ("code", "do"),
    [
        (errno.ENOSPC, "Free up disk space"),
        (errno.EDQUOT, "Free up disk space"),
        (errno.EFBIG, "Free up disk space"),
        (errno.EACCES, "write permission"),
        (errno.EROFS, "write permission"),
        (errno.EIO, "Check that the disk is connected"),
    ],
)
def test_the_advice_is_about_what_is_the_matter(code: int, do: str) -> None:
    why = os.strerror(code)
    for problem in (
        describe("save_failed", path="x", why=why),
        describe("journal_failed", why=why),
    ):
        assert why in problem.title
        assert do in problem.action
        for other in {"Free up disk space", "write permission"} - {do}:
            assert other not in problem.action


def test_the_store_speaks_of_the_network_only_where_it_may_be_that() -> None:
    full = describe("store_unreachable", why="database or disk is full")
    assert full.action == "Free up disk space, then try again."
    locked = describe("store_unreachable", why="attempt to write a readonly database")
    assert "write permission" in locked.action
    assert "network" in describe("store_unreachable", why="no answer").action


def test_a_file_that_may_not_grow_is_told_so(tmp_path: Path) -> None:
    """With the system's own limit for the size of a file, in a process of its own."""
    lines = (
        "import resource, signal; from pathlib import Path",
        "from shared.files import save_atomically; from shared.problems import UserError",
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)",
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))",
        "try: save_atomically(Path('x.json'), b' ' * 2000)",
        "except UserError as error: print(error.problem.title, error.problem.action)",
    )
    code = "\n".join(lines)
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[3])}
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    assert "File too large" in done.stdout
    assert "Free up disk space" in done.stdout
    assert list(tmp_path.iterdir()) == []


# another place


class Saving:
    """Saves in some folders only."""

    def __init__(self, *good: Path) -> None:
        self.good = good
        self.tried: list[Path] = []

    def __call__(self, folder: Path) -> Path:
        self.tried.append(folder)
        if folder not in self.good:
            raise UserError("save_failed", path=str(folder / "x"), why=f"try {len(self.tried)}")
        save_atomically(folder / "x", b"kept")
        return folder / "x"


def test_a_person_names_another_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = iter(["\n", f"{tmp_path / 'nowhere'}\n", f"  {tmp_path / 'stick'} \n"])
    monkeypatch.setattr(saving, "can_type", lambda: True)
    monkeypatch.setattr(saving, "read_line", lambda: next(typed))
    save = Saving(tmp_path / "stick")
    assert keep(save, tmp_path / "own") == tmp_path / "stick" / "x"
    own, nowhere, stick = (tmp_path / name for name in ("own", "nowhere", "stick"))
    assert save.tried == [own, own, nowhere, stick]
    said = capsys.readouterr()
    assert said.out.count("It is kept in memory.") == 3
    assert "copy it there once" in said.out
    assert "(try 3)" in said.err


@pytest.mark.parametrize("answer", ["n\n", ""])
def test_given_up_the_first_reason_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: str
) -> None:
    typed = iter(["\n", answer])
    monkeypatch.setattr(saving, "can_type", lambda: True)
    monkeypatch.setattr(saving, "read_line", lambda: next(typed))
    with pytest.raises(UserError, match="try 1"):
        keep(Saving(), tmp_path)


def test_where_nobody_can_type_nobody_is_asked(tmp_path: Path) -> None:
    def ask(problem: Problem, folder: Path) -> Path | None:
        assert (problem.code, folder) == ("save_failed", tmp_path)
        return None

    save = Saving()
    with pytest.raises(UserError, match="try 1"):
        keep(save, tmp_path, ask)
    assert save.tried == [tmp_path]


# a whole baseline, but for the camera


def held_on(disk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The user's data on this disk, which is full before the first step is measured."""
    monkeypatch.setenv("XDG_DATA_HOME", str(disk))
    monkeypatch.setenv("XDG_STATE_HOME", str(disk.parent))

    def hold(_options: object, plot: Plot, _watch: object, _answers: object) -> SessionResult:
        path = sessions_folder() / "2026-11-30T120000Z-heron.jsonl"
        journal = Journal(path, header())
        wait_for(path.exists)
        fill(disk)
        assert plot.course is not None
        for number, update in enumerate(steps(120)):
            plot.course.on_update(update)
            journal.write(step(number))
        journal.close(SUMMARY)
        outcome = SessionOutcome(
            reason=StopReason.FINISHED,
            signal_number=None,
            problem=None,
            saved=journal.problem() is None,
            save_problem=journal.problem(),
            tally=WorkCounts(),
            dropped=0,
        )
        return SessionResult(outcome, None, path, journal, anchor_now(), cast(Station, _Ended()))

    monkeypatch.setattr(baseline_command, "hold", hold)


class _Ended:
    """A station after the session, to which nobody adds a note."""

    added: tuple[()] = ()
    may_add = False

    def stay(self) -> None:
        """Nobody is there."""

    def close(self) -> None:
        """There is nothing open."""


OPTIONS = ["baseline", "--athlete", "heron", "--clip", "side", "--headless", "--no-sound"]


def test_a_baseline_on_a_full_disk_is_shown_and_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    with small_disk(tmp_path / "disk") as disk:
        held_on(disk, monkeypatch)
        assert main(OPTIONS) == 1
    said = capfd.readouterr()
    assert "Baseline values over" in said.out
    assert "cadence" in said.out.lower()
    assert said.err.count("No space left on device") == 2  # the record and the baseline
    assert "Free up disk space" in said.err
    for word in ("database", "network"):
        assert word not in said.out + said.err


def test_a_baseline_on_a_full_disk_can_be_saved_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    stick = tmp_path / "stick"
    monkeypatch.setattr(saving, "can_type", lambda: True)
    monkeypatch.setattr(saving, "read_line", lambda: f"{stick}\n")
    with small_disk(tmp_path / "disk") as disk:
        held_on(disk, monkeypatch)
        assert main(OPTIONS) == 1  # its place is to be looked after
        assert list(disk.rglob("baselines/*.json")) == []
    said = capfd.readouterr().out
    assert said.count("copy it there once that folder is writable again") == 2
    kept = sorted(stick.iterdir())
    assert [path.suffix for path in kept] == [".jsonl", ".json"]
    assert len(read_journal(kept[0]).entries) == len(steps(120)) + 1
    assert read_baseline(kept[1]).steps >= 60
    assert all(path.stat().st_mode & 0o077 == 0 for path in kept)
