"""Session means under one rule: terminal, summary, report, result and `measure` agree."""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

import msgspec
import pytest

from feedback.cli.commands.measure import FileCounts as FileTally
from feedback.journal.entries import BlockEntry, Entry, MeasureEntry, ProblemEntry, StateEntry
from feedback.journal.writer import Recording, read_journal
from feedback.records.summarise import digest
from feedback.training.block_results import BlockTally
from feedback.training.counting import SessionMeans, SessionPart
from shared.flow import Measure, Side
from shared.messages import SessionState
from shared.problems import describe
from shared.targets import BlockKind
from tests.feedback.making import S, measure, update
from tests.feedback.records.month import short_session

REFUSED = 95.0
"""No foot lands so far ahead of the hips."""


@pytest.fixture
def recording(tmp_path: Path) -> Recording:
    return read_journal(short_session(tmp_path, "Heron", 1))


def terminal(recording: Recording, entries: Sequence[Entry]) -> tuple[Measure, ...]:
    means = SessionMeans(recording.header.athlete)
    for entry in entries:
        means.take(entry)
    return means.means()


def test_an_implausible_value_is_in_no_mean(recording: Recording) -> None:
    values = (12.0, 12.0, REFUSED, 12.0, 12.0)
    measures = [measure(2 * n, value) for n, value in enumerate(values)]
    first, last = recording.entries[0], recording.entries[-1]
    entries = (first, *(MeasureEntry(measure=one) for one in measures), last)
    (one,) = terminal(recording, entries)
    assert (one.value, one.steps) == (12.0, 4)
    found = digest(msgspec.structs.replace(recording, entries=entries))
    mean = found.find("strike_ahead", Side.LEFT, SessionPart.ALL, "cm")
    assert mean is not None
    assert (mean.mean, mean.values) == (12.0, 4)
    file = FileTally()
    file.take(update(S, *measures), None)
    (row,) = file.rows()
    assert (row.mean, row.n) == (12.0, 4)


def history(chance: random.Random) -> list[Entry]:
    """Blocks of every kind at two speeds, doubts, pauses, poor and impossible values."""
    entries: list[Entry] = []
    doubt = describe("second_person")
    now, step = 0, 0
    for number in range(1, 12):
        kind = chance.choice(list(BlockKind))
        entries.append(
            BlockEntry(
                at_ns=now,
                number=number,
                count=11,
                kind=kind,
                belt_speed_kmh=chance.choice((10.0, 10.0, 12.0)),
                cued=None,
            )
        )
        if chance.random() < 0.4:
            entries.append(ProblemEntry(at_ns=now, problem=doubt, over=chance.random() < 0.5))
        if chance.random() < 0.4:
            state = chance.choice((SessionState.PAUSED, SessionState.RUNNING))
            entries.append(StateEntry(at_ns=now, state=state))
        for _ in range(chance.randrange(30)):
            step += 1
            value = chance.choice((chance.gauss(12.0, 1.0), chance.gauss(12.0, 1.0), REFUSED))
            quality = chance.choice((0.9, 0.9, 0.2))
            entries.append(MeasureEntry(measure=measure(step, value, quality=quality)))
        now += 30 * S
    return entries


def test_terminal_report_and_result_have_the_same_means(recording: Recording) -> None:
    first, last = recording.entries[0], recording.entries[-1]
    compared = 0
    for seed in range(60):
        entries = (first, *history(random.Random(seed)), last)
        found = digest(msgspec.structs.replace(recording, entries=entries))
        whole = {(m.measure, m.side, m.unit): m for m in found.means if m.part is SessionPart.ALL}
        shown = {(m.name, m.side, m.unit): m for m in terminal(recording, entries)}
        assert set(whole) == set(shown)
        for key, mean in whole.items():
            assert shown[key].value == pytest.approx(mean.mean)
            assert shown[key].steps == mean.values
            compared += 1
        tally = BlockTally(recording.header.athlete)
        for entry in entries:
            tally.take(entry)
        values = [m for block in tally.results(10**12) for m in block.means]
        assert all(abs(one.mean - 12.0) < 6.0 for one in values), "no 95 cm in any of them"
    assert compared > 30
