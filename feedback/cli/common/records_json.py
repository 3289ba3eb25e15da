"""The records as JSON, for the start window, which opens no store itself.

Printed by ``beltside records --json``; the names of its fields are read in
``feedback.screens.start``, and nowhere outside the program.
"""

from __future__ import annotations

from typing import Any

from feedback.cli.common.archive import listed, newest, with_own
from feedback.records.people import People, Person
from feedback.records.store import SessionLine, Store
from feedback.records.summary import MeanValue
from feedback.records.trends import Trend, comparable, trends
from feedback.records.wording import SINCE
from feedback.texts.measures import full_title
from shared.catalogue import CATALOGUE
from shared.change import Error, widened
from shared.language import _
from shared.statistics import Z90


def everybody(store: Store, people: People) -> dict[str, Any]:
    """Everyone of whom anything is kept, with the last session that counts."""
    lines: dict[str, list[SessionLine]] = {}
    for line in store.sessions():
        if line.steps:
            lines.setdefault(line.athlete_id, []).append(line)
    return {
        "people": [
            {
                "id": one.athlete_id,
                "code_name": one.code_name,
                "sessions": sum(line.counts for line in lines.get(one.athlete_id, ())),
                "last_utc": _last(lines.get(one.athlete_id, [])),
            }
            for one in people.recorded
        ]
    }


def of_one(store: Store, people: People, person: Person) -> dict[str, Any]:
    """Sessions and trends of one person; the trends at the newest session's view and speed."""
    lines = store.sessions(person.athlete_id)
    view = speed = None
    found: tuple[Trend, ...] = ()
    counted = tuple(line for line in lines if line.counts and line.belt_speed_kmh is not None)
    if counted:
        last = newest(counted, None, "")
        view, speed = last.view, last.belt_speed_kmh
        assert speed is not None  # noqa: S101 - lines without one are left out
        digests = comparable(store.digests(person.athlete_id), view, speed)
        if digests:
            found = trends((*digests[:-1], with_own(digests[-1])))
    return {
        "id": person.athlete_id,
        "code_name": person.code_name,
        "files": len(people.files(person)),
        "sessions": [_session(number, line) for number, line in enumerate(listed(lines), 1)],
        "view": view,
        "belt_speed_kmh": speed,
        "trends": [_trend(one) for one in found],
    }


def _last(lines: list[SessionLine]) -> str:
    counted = [line.started_utc for line in lines if line.counts]
    return max(counted, default="")


def _session(number: int, line: SessionLine) -> dict[str, Any]:
    return {
        "number": number,
        "utc": line.started_utc,
        "what": "baseline" if line.baseline else "trial" if line.trial else line.kind or "session",
        "view": line.view,
        "belt_speed_kmh": line.belt_speed_kmh,
        "run_s": line.run_s,
        "steps": line.steps,
        "pain": line.pain_worst,
        "effort": line.effort_last,
    }


def _trend(trend: Trend) -> dict[str, Any]:
    reference = trend.reference
    return {
        "title": full_title(trend.measure, trend.side),
        "unit": trend.unit,
        "decimals": max(1, CATALOGUE[trend.measure].decimals),
        "own": None
        if reference is None
        else {
            "value": reference.value,
            "half": _half(reference.error),
            "words": _(SINCE[reference.since]),
        },
        "points": [
            {
                "utc": level.started_utc,
                "cued": _mean(level.cued),
                "uncued": _mean(level.uncued),
            }
            for level in trend.levels
        ],
    }


def _mean(mean: MeanValue | None) -> dict[str, Any] | None:
    return None if mean is None else {"value": mean.mean, "half": mean.half_width}


def _half(error: Error | None) -> float | None:
    """Half width of the 90 % interval, as of the means."""
    return None if error is None else widened(Z90, error.freedom) * error.sem
