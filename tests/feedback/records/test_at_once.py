"""Several stations on one data folder: nothing of one takes the place of another's."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from feedback.athlete_files.athletes import own_folder
from feedback.athlete_files.plan_log import read_log
from feedback.athlete_files.trust import read_clinics
from feedback.journal.writer import read_journal, sessions_folder
from feedback.records.store import Store
from feedback.records.sync import sync
from feedback.storage.locking import turn
from feedback.storage.settings import data_folder
from shared.problems import UserError
from tests.feedback.records.month import prescription

ROOT = Path(__file__).resolve().parents[3]
STATIONS, ROUNDS = 3, 4
# What a station does with files at the begin and the end of a session, without camera and screen.
# One process loads everything once and forks the stations, which begin at one sign.
PROGRAM = f"""
import os, sys
import msgspec
from feedback.athlete_files.baselines import save_baseline
from feedback.cli.common.enrol import enrolled
from feedback.training.plan import Done
from feedback.athlete_files.prescriptions import signed
from feedback.athlete_files.plan_log import save_done
from feedback.journal.writer import Header, Journal, new_path, new_uid
from feedback.storage.settings import data_folder
from feedback.athlete_files.signatures import own_key
from feedback.athlete_files.trust import accept
from shared.clock import ClockAnchor
from shared.messages import StopReason
from shared.flow import View
from tests.feedback.records.month import baseline, prescription

made, own = prescription(), baseline("Anna")

def hold(number):
    # One second for all, as when they are started at once.
    anchor = ClockAnchor(0, f"2026-11-30T10:00:0{{number}}.000000+00:00")
    athlete = enrolled("anna").profile.athlete
    uid = new_uid()
    head = Header(versions={{}}, anchor=anchor, source="a test", view=View.SIDE, athlete=athlete,
                  athlete_text="", limits={{}}, uid=uid)
    journal = Journal(new_path(anchor, athlete, uid), head)
    journal.close()
    assert journal.problem() is None, journal.problem()
    whose = {{"athlete_id": athlete.athlete_id, "taken_utc": anchor.wall_utc}}
    save_baseline(msgspec.structs.replace(own, **whose))
    done = Done(number=1, started_unix_s=number, share_done=1.0, stop_reason=StopReason.FINISHED)
    save_done(made, done, None)
    save_done(made, msgspec.structs.replace(done, pain_worst=2), done)
    accept(signed(made, own_key(data_folder())))

waits, sign = os.pipe()
children = []
for _ in range({STATIONS}):
    pid = os.fork()
    if pid == 0:
        os.close(sign)
        os.read(waits, 1)
        for number in range({ROUNDS}):
            hold(number)
        os._exit(0)
    children.append(pid)
os.close(sign)
sys.exit(any(os.waitpid(pid, 0)[1] for pid in children))
"""


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    folder = data_folder()
    assert tmp_path in folder.parents
    return folder


def test_three_stations_started_at_once_keep_all_that_each_has_held(data: Path) -> None:
    own_folder().mkdir(parents=True)
    text = 'code_name = "Anna"\nheight_cm = 170\nview = "side"\n'
    target = '[[targets]]\nmeasure = "cadence"\nunit = "steps/min"\nlow = 160\n'
    (own_folder() / "anna.toml").write_text(text + target)
    command = [sys.executable, "-c", PROGRAM]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    records = sorted(sessions_folder().glob("*.jsonl"))
    assert len(records) == STATIONS * ROUNDS
    headers = [read_journal(path).header for path in records]
    assert len({one.athlete.athlete_id for one in headers}) == 1
    with Store() as store:
        assert sync(store, sessions_folder()).stored == STATIONS * ROUNDS
        assert len({line.uid for line in store.sessions()}) == STATIONS * ROUNDS
    assert len(list((data / "baselines").iterdir())) == STATIONS * ROUNDS
    held = read_log(prescription()).done
    assert len(held) == STATIONS * ROUNDS
    assert all(one.pain_worst == 2 for one in held)
    assert len(read_clinics().clinics) == 1


@pytest.fixture
def busy(data: Path) -> Iterator[None]:
    """Another program that has its turn and does not end it."""
    program = (
        "import sys, time\nfrom pathlib import Path\nfrom feedback.storage.locking import turn\n"
        "with turn(Path(sys.argv[1])):\n    print('mine', flush=True)\n    time.sleep(60)\n"
    )
    command = [sys.executable, "-c", program, str(data)]
    other = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert other.stdout is not None
    assert other.stdout.readline() == "mine\n"
    threading.Timer(1.0, other.kill).start()
    yield
    other.wait(30)
    other.stdout.close()


def test_who_finds_it_taken_waits_or_says_so_and_a_killed_one_is_in_nobodys_way(
    data: Path, busy: None
) -> None:
    with pytest.raises(UserError) as caught, turn(data, within_s=0.1):
        pass
    assert caught.value.problem.code == "data_in_use"
    assert str(data) in caught.value.problem.title
    begin = time.monotonic()
    with turn(data, within_s=30), turn(data):  # one's own turn is none to wait for
        assert time.monotonic() - begin < 30
