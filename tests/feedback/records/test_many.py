"""Five thousand sessions in the store: the progress page is there within a second."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import insert

from feedback.records.page.html import as_html
from feedback.records.page.page import PrintedPage
from feedback.records.progress_page import progress_page
from feedback.records.store import Store, _mean_row, _session_row
from feedback.records.summary import Digest, MeanValue
from feedback.records.tables import AthleteRow, MeanRow, SessionRow, TraceRow
from feedback.records.trends import comparable
from feedback.training.counting import SessionPart
from shared.flow import Side, View
from shared.identity import derived_id
from tests.feedback.records.made_up import made_up

SESSIONS = 5000
ATHLETES = 50
TRACE_BYTES = 24_000
MEASURES: list[tuple[str, Side | None, str, float]] = [
    ("cadence", None, "steps/min", 160.0),
    ("trunk_lean", None, "deg", 8.0),
]
MEASURES += [
    (name, side, unit, value)
    for name, unit, value in (
        ("strike_ahead", "cm", 27.0),
        ("shank_angle_at_contact", "deg", 8.0),
        ("knee_flexion_at_contact", "deg", 17.0),
        ("contact_time", "ms", 260.0),
        ("step_length", "cm", 105.0),
    )
    for side in Side
]


def made(number: int, chance: random.Random) -> Digest:
    begin = datetime(2020, 1, 1, tzinfo=UTC) + timedelta(hours=9 * number)
    return made_up(
        number,
        begin,
        code_name=f"Runner {number % ATHLETES}",
        means=tuple(means(chance)),
    )


def means(chance: random.Random) -> Iterator[MeanValue]:
    for measure, side, unit, value in MEASURES:
        for part in SessionPart:
            yield MeanValue(
                measure=measure,
                side=side,
                unit=unit,
                part=part,
                mean=value * (1 + chance.gauss(0.0, 0.01)),
                sd=value * 0.02,
                values=1500,
                sem=value * 0.001,
                stated=value * 0.02,
            )


def fill(store: Store) -> None:
    chance = random.Random(2)
    with store._writing() as connection:
        for number in range(ATHLETES):
            connection.execute(
                insert(AthleteRow).values(
                    id=number + 1,
                    uuid=derived_id(f"Runner {number}"),
                    code_name=f"Runner {number}",
                )
            )
        digests = [made(number, chance) for number in range(SESSIONS)]
        rows = [
            {"id": n + 1, **_session_row(one, n % ATHLETES + 1, f"{n}.jsonl", 1)}
            for n, one in enumerate(digests)
        ]
        connection.execute(insert(SessionRow), rows)
        # As long as the trace of a half-hour session with two targets.
        connection.execute(
            insert(TraceRow),
            [
                {"session_id": n + 1, "packed": chance.randbytes(TRACE_BYTES)}
                for n in range(SESSIONS)
            ],
        )
        all_means = [_mean_row(m, n + 1) for n, one in enumerate(digests) for m in one.means]
        connection.execute(insert(MeanRow), all_means)


def test_the_progress_page_is_there_within_a_second(tmp_path: Path) -> None:
    with Store(f"sqlite:///{tmp_path / 'store.sqlite'}") as store:
        fill(store)
        assert sum(one.sessions for one in store.athletes()) == SESSIONS
        as_html(page(store))  # what has to be loaded first counts once for the program
        spent = []
        for _ in range(3):
            begin = time.process_time()
            text = as_html(page(store))
            spent.append(time.process_time() - begin)
    assert "100 sessions, from " in text
    # The program's own time, so that a busy computer does not count.
    assert min(spent) < 1.0


def page(store: Store) -> PrintedPage:
    whose = derived_id("Runner 7")
    digests = store.digests(whose)
    compared = comparable(digests, View.SIDE, 10.0)
    return progress_page("Runner 7", View.SIDE, 10.0, digests, compared)
