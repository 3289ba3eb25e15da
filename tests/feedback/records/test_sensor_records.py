"""Treadmill and strap in the record: stretches, like speeds compared, incline, charts, cautions."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from feedback.journal.entries import Entry, MeasureEntry, ProblemEntry, SensorEntry, StateEntry
from feedback.journal.writer import read_journal
from feedback.records.comparing import own_value
from feedback.records.history import conditions, measure_series
from feedback.records.page.charts import Chart
from feedback.records.page.page import ChartPart, Figures, PrintedPage, texts_of
from feedback.records.progress_page import progress_page
from feedback.records.report import session_report
from feedback.records.rows import check, digest_of
from feedback.records.sensor_summary import sensor_summary
from feedback.records.summarise import read_whole
from feedback.records.summary import Digest, SensorSummary, SpeedMeans
from feedback.training.counting import SessionPart
from shared.flow import View
from shared.messages import SessionState
from shared.problems import describe
from shared.sensor_values import BeltReading, HeartReading, LinkReading, SensorKind, SensorReading
from shared.targets import Limits
from tests.feedback.making import S, cadence
from tests.feedback.records.made_up import cadence as mean_cadence
from tests.feedback.records.made_up import made_up
from tests.feedback.records.month import short_session
from tests.feedback.training.making import baseline

LIMITS = Limits(heart_rate_warn_bpm=160, heart_rate_end_bpm=175)


def _readings() -> list[SensorReading]:
    """Two minutes at 10 km/h, then two at 12 and 3 %; the strap is lost for half a minute."""
    found: list[SensorReading] = []
    for at_s in range(0, 240, 5):
        fast = at_s >= 120
        found.append(
            BeltReading(
                at_ns=at_s * S,
                speed_kmh=12.0 if fast else 10.0,
                incline_percent=3.0 if fast else 0.5,
            )
        )
        if at_s == 60:
            found.append(LinkReading(at_ns=at_s * S, sensor=SensorKind.HEART_STRAP, reached=False))
        if not 60 <= at_s < 90:
            found.append(HeartReading(at_ns=at_s * S, rate_bpm=140 + at_s // 10))
    return found


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> Digest:
    """A session whose cadence is 160 at 10 km/h and 168 at 12, most of it at 10."""
    recording = read_journal(short_session(Path(tmp_path_factory.mktemp("one")), "Heron", 1))
    athlete = msgspec.structs.replace(
        recording.header.athlete, belt_speed_kmh=10.0, limits=LIMITS, targets=()
    )
    steps: list[tuple[int, Entry]] = [(one.at_ns, SensorEntry(reading=one)) for one in _readings()]
    for number in range(640):
        at_ns = number * 375_000_000
        if number > 600:  # fewer at 12 than at 10
            continue
        value = 160.0 if at_ns < 120 * S else 168.0
        steps.append((at_ns, MeasureEntry(measure=cadence(number, value + number % 2))))
    differ = describe("belt_speeds_differ", said="12.0", seen="10.5")
    steps.append((130 * S, ProblemEntry(at_ns=130 * S, problem=differ, over=False)))
    begin = StateEntry(at_ns=0, state=SessionState.RUNNING, source="test")
    end = StateEntry(at_ns=240 * S, state=SessionState.STOPPED, source="test")
    entries = (begin, *(entry for _at, entry in sorted(steps, key=lambda one: one[0])), end)
    header = msgspec.structs.replace(recording.header, athlete=athlete)
    whole = msgspec.structs.replace(recording, header=header, entries=entries)
    return read_whole(whole)[0]


@pytest.fixture(scope="module")
def page(held: Digest) -> PrintedPage:
    return session_report(held, ())


def test_each_speed_has_its_own_means(held: Digest) -> None:
    """Neither is mixed with the other, nor with the steps while the belt gets faster."""
    assert held.speeds_kmh == (10.0, 12.0)
    for kmh, expected in ((10.0, 160.5), (12.0, 168.5)):
        at_speed = held.at_speed(kmh)
        assert at_speed is not None
        mean = at_speed.find("cadence", None, SessionPart.ALL, "steps/min")
        assert mean is not None
        assert mean.mean == pytest.approx(expected, abs=0.01)
    assert held.at_speed(11.0) is None


def test_stretches_and_incline(held: Digest) -> None:
    """Begin, length, incline and heart rate of each."""
    assert held.sensors is not None
    slow, fast = held.sensors.stretches
    assert (slow.begin_s, slow.end_s, slow.speed_kmh) == (0.0, 120.0, 10.0)
    assert (fast.begin_s, fast.end_s, fast.speed_kmh) == (120.0, 240.0, 12.0)
    assert slow.incline_percent == (0.5, 0.5)
    assert fast.incline_percent == (3.0, 3.0)
    assert held.sensors.incline_percent == (0.5, 3.0)


def test_what_was_not_heard_is_a_gap(held: Digest) -> None:
    """The strap's line is broken where it was lost; the belt's is whole and has steps."""
    assert held.sensors is not None
    traces = {trace.name: trace.parts for trace in held.sensors.traces}
    before, after = traces["heart_rate"]
    assert (before[-1][0], after[0][0]) == (55.0, 90.0)
    (belt,) = traces["belt_speed"]
    assert (120.0, 10.0) in belt
    assert (120.0, 12.0) in belt


def test_a_short_loss_is_a_gap_too() -> None:
    """Lost for three seconds: less than between two lines of the record, but told as a loss."""
    lost = LinkReading(at_ns=11 * S, sensor=SensorKind.HEART_STRAP, reached=False)
    first, second, third = (HeartReading(at_ns=at_s * S, rate_bpm=150) for at_s in (5, 10, 14))
    heard: list[SensorReading] = [first, second, third]
    broken: list[SensorReading] = [first, second, lost, third]
    for readings, parts in ((heard, 1), (broken, 2)):
        entries = [SensorEntry(reading=one) for one in readings]
        found = sensor_summary(entries, (), LIMITS, 0, 20 * S)
        assert found is not None
        assert len(found.traces[0].parts) == parts


def test_it_is_kept_and_read_back(held: Digest) -> None:
    """As the store keeps it; a number beyond all limits is refused."""
    assert digest_of(msgspec.json.encode(held)) == held
    assert held.sensors is not None
    (trace, *_others) = held.sensors.traces
    wrong = msgspec.structs.replace(trace, parts=(((0.0, 1e12),),))
    broken = msgspec.structs.replace(held, sensors=SensorSummary(traces=(wrong,)))
    with pytest.raises(ValueError, match="beyond all limits"):
        check(broken)


def test_the_report_draws_both_with_the_limits(page: PrintedPage) -> None:
    """One chart each; the limits are lines with their numbers."""
    charts = [part.chart for part in page.parts if isinstance(part, ChartPart)]
    belt, heart = (
        next(one for one in charts if isinstance(one, Chart) and one.alt.startswith(begin))
        for begin in ("Belt speed", "Heart rate")
    )
    assert [one.label for one in belt.series] == ["belt speed"]
    assert [one.label for one in heart.series] == [
        "heart rate",
        "",
        "warning at 160",
        "end at 175",
    ]
    assert heart.drawing().contents


def test_the_report_tells_incline_speeds_and_contradiction(page: PrintedPage) -> None:
    """The cautions say each once, with what to check."""
    text = "\n".join(texts_of(page))
    assert "incline was 0.5 to 3.0 %" in text
    assert text.count("The treadmill says 12.0 km/h, the picture shows 10.5.") == 1
    assert "Check the runner's height" in text
    assert "several speeds: 10 km/h, 12 km/h" in text
    tables = {part.heading: part for part in page.parts if isinstance(part, Figures)}
    assert "Figures at 12 km/h" in tables
    first, second = tables["Treadmill and heart rate"].rows
    assert first[:3] == ("0:00", "2:00 min", "10 km/h")
    assert second[3] == "3.0"


def test_without_sensors_nothing_is_said() -> None:
    """No table, no chart, no caution."""
    page = session_report(made_up(1, means=(mean_cadence(160.0),)), ())
    text = "\n".join(texts_of(page))
    assert "incline" not in text.lower()
    assert not any(isinstance(part, ChartPart) for part in page.parts)


def test_sessions_are_compared_at_like_speeds_only() -> None:
    """Of a session at two speeds the part at the speed asked for is compared."""
    days = [made_up(day, means=(mean_cadence(160.0 + day),)) for day in range(3)]
    other = SpeedMeans(belt_speed_kmh=10.1, means=(mean_cadence(165.0),))
    mixed = made_up(3, belt_speed_kmh=12.0, means=(mean_cadence(175.0),), other_speeds=(other,))
    digests = [*days, mixed]
    assert [one.belt_speed_kmh for one in conditions(digests)] == [12.0, 10.1, 10.0]
    (trend,) = measure_series(digests, conditions(digests)[1])
    found = [level.uncued.mean for level in trend.levels if level.uncued is not None]
    assert found == [160.0, 161.0, 162.0, 165.0]
    (fast,) = measure_series(digests, conditions(digests)[0])
    assert len(fast.levels) == 1


def test_the_progress_page_tells_of_inclines(held: Digest) -> None:
    """One session of three was partly at 3 %."""
    days = [made_up(day, means=(mean_cadence(160.0),)) for day in range(2)]
    sloped = made_up(2, means=(mean_cadence(160.0),), sensors=held.sensors)
    for digests, told in ((days, False), ([*days, sloped], True)):
        page = progress_page("Heron", View.SIDE, 10.0, digests, digests)
        assert any("1 of them was run at an incline" in text for text in texts_of(page)) is told


def test_a_baseline_at_another_speed_is_no_reference() -> None:
    """The runner's own cadence at 10 km/h says nothing about one at 12."""
    own = baseline(view=View.SIDE)
    like = made_up(1, own=own, belt_speed_kmh=own.belt_speed_kmh + 0.2)
    unlike = made_up(1, own=own, belt_speed_kmh=own.belt_speed_kmh + 1.0)
    assert own_value(like, "cadence", None, "steps/min") is not None
    assert own_value(unlike, "cadence", None, "steps/min") is None
