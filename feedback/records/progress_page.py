"""The page on an athlete's progress: all sessions at like speed and view (pure)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from feedback.records.page.charts import Band, Chart, Series
from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines
from feedback.records.store import SessionLine
from feedback.records.trends import FEWEST_SESSIONS, Level, Trend
from feedback.records.wording import (
    KINDS,
    SMALL_PRINT,
    UNKNOWN,
    VIEWS,
    day,
    figure,
    mean_figure,
    minutes,
    signed,
    speed,
)
from feedback.texts.measures import full_title
from feedback.training.counting import SessionPart
from shared.flow import View
from shared.plain_text import number_of
from shared.targets import Goal, SessionKind

MOST_CHARTS = 2
MOST_ROWS = 14
LETTERS = {SessionKind.RETENTION: "R", SessionKind.REMINDER: "M"}


def progress_page(
    code_name: str,
    view: View,
    belt_speed_kmh: float,
    lines: Sequence[SessionLine],
    found: Sequence[Trend],
    goals: Sequence[Goal],
) -> PrintedPage:
    """One page on all sessions of an athlete that can be compared; ``lines`` are all records."""
    uids = {level.uid for trend in found for level in trend.levels}
    counted = [line for line in lines if line.counts]
    compared = [line for line in counted if line.uid in uids]
    parts: list[TextLines | Figures | ChartPart] = [
        TextLines("Summary", tuple(_in_short(compared, counted, found)))
    ]
    parts += [ChartPart(_chart(trend, goals)) for trend in found[:MOST_CHARTS]]
    parts += [_changes(found), _sessions(compared)]
    return PrintedPage(
        title=f"{code_name}: progress",
        subtitle=f"Camera {VIEWS[view]}, belt {speed(belt_speed_kmh)}; sessions at another view "
        "or speed are not compared.",
        parts=tuple(parts),
        small_print=(
            "R: retention test, without any cue. M: reminder test, one reminder and then no cues. "
            f"From {FEWEST_SESSIONS} sessions on, noise also includes the variation between "
            "sessions, which setting up the camera again adds to.",
            *SMALL_PRINT,
        ),
    )


def _in_short(
    compared: Sequence[SessionLine], counted: Sequence[SessionLine], found: Sequence[Trend]
) -> Iterator[str]:
    if not compared:
        yield "There are no sessions yet that can be compared."
        return
    begin, end = day(compared[0].started_utc), day(compared[-1].started_utc)
    yield (
        f"{how_many(compared)}, from {begin} to {end}, "
        f"{minutes(sum(line.run_s for line in compared))} of running in all."
    )
    if others := len(counted) - len(compared):
        yield (
            f"{others} more at another view or belt speed, or without a valid mean: not compared."
        )
    for trend in found[:MOST_CHARTS]:
        yield _said(trend)
    pains = [line.pain_worst for line in compared if line.pain_worst is not None]
    if pains:
        yield f"Worst pain of a session: {max(pains)} of 10; in the last one {pains[-1]}."


def how_many(lines: Sequence[SessionLine]) -> str:
    """One session, several sessions."""
    return number_of(len(lines), "session")


def _said(trend: Trend) -> str:
    title = full_title(trend.measure, trend.side)
    verdict, reference = trend.verdict, trend.reference
    if verdict is None or reference is None:
        return f"{title}: nothing to compare with yet."
    which = "without cues" if verdict.part is SessionPart.UNCUED else "with cues"
    test = {
        SessionKind.RETENTION: " in the retention test",
        SessionKind.REMINDER: " in the reminder test",
    }.get(trend.levels[-1].kind or SessionKind.PRACTICE, "")
    amount = f"{signed(trend.measure, verdict.change)} {trend.unit}"
    now = f"{title}: {figure(trend.measure, verdict.newest.mean)} {trend.unit} {which}{test}"
    since = f"since {reference.words}"
    if verdict.noise is None:
        return f"{now}, {amount} {since}; how much of this is noise is not known."
    noise = figure(trend.measure, verdict.noise)
    if verdict.real and not verdict.between:
        return (
            f"{now}, {amount} {since}: more than step-to-step noise (up to {noise}); "
            f"session-to-session noise is known from {FEWEST_SESSIONS} sessions on."
        )
    if verdict.real:
        return f"{now}, {amount} {since}: a measurable change (noise up to {noise})."
    return f"{now}, {amount} {since}: no measurable change (noise up to {noise})."


def _chart(trend: Trend, goals: Sequence[Goal]) -> Chart:
    cued: list[tuple[float, float]] = []
    uncued: list[tuple[float, float]] = []
    tests: list[tuple[float, float]] = []
    halves: dict[str, list[float | None]] = {"cued": [], "uncued": [], "tests": []}
    for number, level in enumerate(trend.levels, start=1):
        if level.cued is not None:
            cued.append((number, level.cued.mean))
            halves["cued"].append(level.cued.half_width)
        if level.uncued is not None:
            test = level.kind in LETTERS
            (tests if test else uncued).append((number, level.uncued.mean))
            halves["tests" if test else "uncued"].append(level.uncued.half_width)
    series = [
        Series("with cues", tuple(cued), "disc", half=tuple(halves["cued"])),
        Series("without cues", tuple(uncued), "circle", half=tuple(halves["uncued"])),
        Series("test", tuple(tests), "square", half=tuple(halves["tests"])),
    ]
    reference = trend.reference
    return Chart(
        title=f"{full_title(trend.measure, trend.side)} ({trend.unit})",
        x_label="session, in order",
        series=[one for one in series if one.points],
        bands=_band(trend, goals),
        band_label="final target band",
        line_at=None if reference is None else reference.value,
        line_label="" if reference is None else reference.words,
        x_ticks=[(n, _tick(n, level)) for n, level in enumerate(trend.levels, start=1)],
        height=132.0,
        alt=_said(trend),
    )


def _band(trend: Trend, goals: Sequence[Goal]) -> list[Band]:
    for goal in goals:
        target = goal.targets[-1]
        if (target.measure, target.unit) == (trend.measure, trend.unit) and target.side in (
            None,
            trend.side,
        ):
            return [Band(None, None, target.low, target.high)]
    return []


def _tick(number: int, level: Level) -> str:
    return f"{number}{LETTERS.get(level.kind or SessionKind.PRACTICE, '')}"


def _changes(found: Sequence[Trend]) -> Figures:
    rows = []
    for trend in found[:MOST_ROWS]:
        verdict, reference = trend.verdict, trend.reference
        if verdict is None or reference is None:
            continue
        change = signed(trend.measure, verdict.change)
        noise = UNKNOWN if verdict.noise is None else figure(trend.measure, verdict.noise)
        real = "measurable change" if verdict.between else "more than step noise"
        said = real if verdict.real else "no measurable change"
        rows.append(
            (
                f"{full_title(trend.measure, trend.side)} ({trend.unit})",
                figure(trend.measure, reference.value),
                mean_figure(verdict.newest),
                change,
                noise,
                said if verdict.noise is not None else "not known",
            )
        )
    return Figures(
        heading="Change",
        columns=("Measure", "Before", "Latest", "Change", "Noise", "Result"),
        rows=rows,
        note="Before: the baseline if there is one, otherwise the first session. Latest: steps "
        "without cues if there are any; the first session is then the first with such steps.",
    )


def _sessions(compared: Sequence[SessionLine]) -> Figures:
    shown = compared[-MOST_ROWS:]
    first = len(compared) - len(shown)
    rows = [
        (
            f"{number}. {day(line.started_utc)}, {KINDS[line.kind].split(' (')[0]}",
            minutes(line.run_s),
            f"{line.steps:,}",
            UNKNOWN if line.pain_worst is None else str(line.pain_worst),
            UNKNOWN if line.effort_last is None else str(line.effort_last),
        )
        for number, line in enumerate(shown, start=first + 1)
    ]
    earlier = f"The {first} earlier sessions are not shown here." if first else ""
    return Figures(
        heading="Sessions",
        columns=("Session", "Ran", "Steps", "Worst pain", "Effort"),
        rows=rows,
        note=earlier,
    )
