"""A whole station on the network: what consoles change there, and what is kept of it."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import pytest

from feedback.journal.entries import NoteEntry, ProblemEntry, StateEntry, TargetEntry
from feedback.link.address import Address
from feedback.link.client_state import LinkState
from feedback.link.connect import pair_with
from feedback.link.network_station import Network
from feedback.link.remote_client import RemoteClient
from shared.changes import Adjust, Answered, Note, TargetState, Undo
from shared.messages import SessionState, StopReason
from tests.feedback.link.netting import HOST, Cable, quiet_network, remote, sign_of_life, until
from tests.feedback.station_bench import Bench

__all__ = ["quiet_network"]
pytestmark = pytest.mark.usefixtures("quiet_network")


class Consoles:
    """Two clinicians' consoles, one of them behind a cable that can be cut."""

    def __init__(self, folder: Path) -> None:
        self.network = Network(folder / "station", "room 1", 0)
        self.bench = Bench(folder, network=self.network)
        self.place = Address(HOST, self.network.port)
        self.cable = Cable(self.place)

    def pair(self, name: str, place: Address) -> RemoteClient:
        return remote(pair_with(place, self.network.open_pairing(), name), place)


def target(client: RemoteClient) -> TargetState | None:
    """The first target, once the session shows it; gives a sign of life."""
    sign_of_life(client)
    snapshot = client.status().snapshot
    return snapshot.targets[0] if snapshot is not None and snapshot.targets else None


def answered(client: RemoteClient) -> Answered:
    def answer() -> Answered | None:
        sign_of_life(client)
        return next(iter(client.take_answers()), None)

    found = until(answer)
    assert isinstance(found, Answered)
    return found


@pytest.fixture
def consoles(tmp_path: Path) -> Iterator[Consoles]:
    built = Consoles(tmp_path)
    yield built
    built.cable.close()


def test_two_clinicians_cannot_overwrite_each_other_unseen(
    consoles: Consoles, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: dict[str, object] = {}
    safe = [b""]
    real = os.fsync

    def slow_disk(file: int) -> None:
        real(file)
        time.sleep(0.05)
        safe.append(consoles.bench.path.read_bytes())

    monkeypatch.setattr(os, "fsync", slow_disk)

    def meanwhile() -> None:
        one = consoles.pair("office", consoles.place)
        two = consoles.pair("hall", consoles.place)
        try:
            before = until(lambda: target(one))
            until(lambda: target(two))
            one.ask(Adjust(id=1, number=0, revision=before.revision, aim=before.aim - 2))
            seen["first"] = answered(one)
            two.ask(Adjust(id=1, number=0, revision=before.revision, aim=before.aim + 4))
            seen["stale"] = stale = answered(two)
            assert stale.target is not None
            two.ask(Undo(id=2, number=0, revision=stale.target.revision))
            seen["undone"] = answered(two)
            two.ask(Note(id=3, text="lace is open"))
            seen["note"] = answered(two)
            seen["on the disk then"] = safe[-1]
            two.ask(Adjust(id=4, number=0, revision=99, aim=before.aim + 60))
            answered(two)
            seen["before"] = before
        finally:
            one.stop()
            until(lambda: one.status().state is not LinkState.JOINED or not one.status().stop_waits)
            one.close()
            two.close()

    outcome = consoles.bench.run(meanwhile)
    assert outcome.reason is StopReason.CONSOLE
    before, first, stale = seen["before"], seen["first"], seen["stale"]
    assert isinstance(before, TargetState)
    assert isinstance(first, Answered)
    assert isinstance(stale, Answered)
    assert first.done
    assert first.target is not None
    assert first.target.aim == before.aim - 2
    assert first.from_step is not None
    assert not stale.done
    assert stale.target is not None
    assert stale.target.aim == before.aim - 2  # it is shown what holds now
    entries = consoles.bench.record().entries
    changes = [entry for entry in entries if isinstance(entry, TargetEntry)]
    assert [entry.source for entry in changes] == ["console office", "console hall"]
    assert changes[0].old is not None
    assert changes[0].old.beat_spm == changes[1].target.beat_spm
    (note,) = [entry for entry in entries if isinstance(entry, NoteEntry)]
    assert (note.text, note.source) == ("lace is open", "console hall")
    assert b"lace is open" in cast("bytes", seen["on the disk then"])  # before it was answered
    stopped = [entry for entry in entries if isinstance(entry, StateEntry)][-1]
    assert (stopped.state, stopped.source) == (SessionState.STOPPED, "console office")


def test_a_session_goes_on_while_its_console_is_lost_and_the_record_says_so(
    consoles: Consoles,
) -> None:
    points: list[int] = []

    def meanwhile() -> None:
        client = consoles.pair("office", consoles.cable.place)
        until(lambda: target(client))
        consoles.cable.cut()
        until(lambda: client.status().state is LinkState.LOST)
        client.stop()
        time.sleep(1.5)  # the station notices by itself, and goes on
        consoles.cable.mend()
        until(lambda: client.status().stop_asked and not client.status().stop_waits)
        points.extend(point.number for point in client.take_points())
        client.close()

    outcome = consoles.bench.run(meanwhile)
    assert outcome.reason is StopReason.CONSOLE  # as soon as the cable was mended
    problems = [e for e in consoles.bench.record().entries if isinstance(e, ProblemEntry)]
    told = [e for e in problems if e.problem.code == "console_lost"]
    assert [e.over for e in told][:1] == [False]
    assert "office" in told[0].problem.title
    assert points == list(range(1, len(points) + 1))
    assert len(points) > 20
