"""How long a rest has been is not reckoned with a clock that was wrong: both times are told."""

from __future__ import annotations

from datetime import UTC, datetime

import msgspec
import pytest

from feedback.athlete_files.plan_log import PlanLog
from feedback.cli.commands.prescribe import _tell_moment
from feedback.cli.common.time_since_session import rest_problem
from feedback.records.wording import in_words
from feedback.terminal.tables import PlainConsole
from feedback.training.plan import Done, propose
from shared.messages import StopReason
from shared.targets import Prescription
from tests.feedback.records.month import prescription

HOUR_S = 3600
NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)


def written(utc: str = "2026-11-20T09:00:00+00:00") -> Prescription:
    return msgspec.structs.replace(prescription(), written_utc=utc)


def told(given: Prescription, last: float, now: float = NOW.timestamp()) -> str:
    """What is said after one session that began then; empty where nothing is."""
    done = Done(
        number=1,
        started_unix_s=round(last),
        share_done=1.0,
        stop_reason=StopReason.FINISHED,
        pain_worst=1,
        settled_by_morning=True,
    )
    log = PlanLog(prescription=given.check, code_name="Heron", done=(done,))
    assert given.plan is not None
    proposal = propose(given.plan, log.done, given.limits, round(now))
    assert 0 <= proposal.wait_h <= 24
    error = rest_problem(given, log, proposal, round(now))
    return "" if error is None else f"{error.problem.title} {error.problem.action}"


@pytest.mark.parametrize("hours", [0, 1, 23, 48, 9 * 24])
def test_nothing_is_said_where_the_times_agree(hours: int) -> None:
    assert told(written(), NOW.timestamp() - hours * HOUR_S) == ""


@pytest.mark.parametrize(
    ("last", "now"),
    [
        (datetime(2028, 1, 4, 12, tzinfo=UTC), NOW),  # held with a clock a year ahead
        (datetime(2026, 11, 30, 12, 40, tzinfo=UTC), NOW),  # set back by an hour since
        (datetime(1970, 1, 1, 0, 10, tzinfo=UTC), NOW),  # held with an empty clock battery
        (datetime(2026, 11, 28, 12, tzinfo=UTC), datetime(1970, 1, 1, 1, tzinfo=UTC)),
        (datetime(1970, 1, 1, 0, 10, tzinfo=UTC), datetime(1970, 1, 3, tzinfo=UTC)),
    ],
)
def test_both_times_are_told_where_they_do_not(last: datetime, now: datetime) -> None:
    said = told(written(), last.timestamp(), now.timestamp())
    assert in_words(last) in said
    assert in_words(now) in said
    assert "24 hours ago or more" in said
    assert "--now" in said


def test_a_prescription_without_a_time_that_can_be_read_blocks_nobody() -> None:
    assert told(written("some day"), NOW.timestamp() - 48 * HOUR_S) == ""
    assert told(written("2026-11-20T09:00:00"), NOW.timestamp() - 48 * HOUR_S) == ""


@pytest.mark.parametrize(
    ("taken", "doubted"), [("2026-11-02", False), ("2026-06-02", False), ("2027-11-02", True)]
)
def test_a_baseline_of_the_future_is_told_where_it_is_prescribed_from(
    taken: str, doubted: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    moment = f"{taken}T09:00:00+00:00"
    _tell_moment(PlainConsole(soft_wrap=True), moment, NOW.isoformat())
    said = capsys.readouterr().out
    assert f"From the baseline taken {in_words(datetime.fromisoformat(moment))}." in said
    assert ("The computer's clock is behind its records." in said) is doubted
