"""Killed fifty times at random: nothing that was acknowledged is lost, nothing is there twice."""

from __future__ import annotations

import json
import random
import subprocess
import sys
from pathlib import Path

from feedback.journal.entries import MeasureEntry
from feedback.journal.writer import read_journal
from feedback.records.store import Store
from feedback.records.sync import sync

ROOT = Path(__file__).resolve().parents[3]
ROUNDS = 50
# One process loads everything once and forks a child for each round: the child records a session
# and syncs earlier ones at the same time, and tells through a pipe what is safe by now.
PROGRAM = """
import json, os, select, signal, sys, threading, time
from pathlib import Path
from feedback.journal.writer import Journal
from feedback.records.store import Store
from feedback.records.sync import sync
from tests.feedback.making import measure
from tests.feedback.journal.test_writer import MeasureEntry, header

folder, url, waits = Path(sys.argv[1]), sys.argv[2], json.loads(sys.argv[3])

def child(number, pipe):
    journal = Journal(folder / f"{number:03}.jsonl", header())
    def writing():
        step = 0
        while True:
            journal.write(MeasureEntry(measure=measure(step, 10.0)))
            step += 1
            time.sleep(0.002)
    threading.Thread(target=writing, daemon=True).start()
    def syncing():
        with Store(url) as store:
            while True:
                sync(store, folder, lambda uid: os.write(pipe, f"uid {uid}\\n".encode()))
    threading.Thread(target=syncing, daemon=True).start()
    while True:
        os.write(pipe, f"saved {journal.saved}\\n".encode())
        time.sleep(0.003)

for number, wait in enumerate(waits):
    reading, pipe = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        child(number, pipe)
    os.close(pipe)
    text, end = b"", time.monotonic() + wait
    while (left := end - time.monotonic()) > 0:
        if select.select([reading], [], [], left)[0]:
            text += os.read(reading, 65536)
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    while more := os.read(reading, 65536):
        text += more
    os.close(reading)
    print(json.dumps([number, text.decode()]), flush=True)
"""


def test_fifty_kills_lose_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    folder, url = tmp_path / "sessions", f"sqlite:///{tmp_path / 'store.sqlite'}"
    folder.mkdir()
    with Store(url):
        pass
    chance = random.Random()
    waits = json.dumps([chance.uniform(0.02, 0.9) for _ in range(ROUNDS)])
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(folder), url, waits],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=280,
    )
    assert done.returncode == 0, done.stderr
    rounds = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(rounds) == ROUNDS
    told: set[str] = set()
    saved_in_all = 0
    for number, text in rounds:
        lines = text.rpartition("\n")[0].split("\n")  # the last one may be cut off
        told |= {line.removeprefix("uid ") for line in lines if line.startswith("uid ")}
        saved = max((int(line[6:]) for line in lines if line.startswith("saved ")), default=0)
        path = folder / f"{number:03}.jsonl"
        if not path.exists() or not path.read_bytes().count(b"\n"):
            assert saved == 0
            path.unlink(missing_ok=True)
            continue
        kept = [one for one in read_journal(path).entries if isinstance(one, MeasureEntry)]
        assert len(kept) >= saved
        steps = [one.measure.step_number for one in kept]
        assert steps == list(range(len(steps)))
        saved_in_all += saved
    assert saved_in_all > 0
    assert told
    with Store(url) as store:
        assert told <= {line.uid for line in store.sessions()}
        sync(store, folder)
        journals = sorted(path.name for path in folder.glob("*.jsonl"))
        assert sorted(line.journal for line in store.sessions()) == journals
