"""The page on an athlete's progress: all sessions at like speed and view (pure)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from feedback.records.history import date_ticks, days_since_first
from feedback.records.page.charts import Band, Chart, Series
from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines
from feedback.records.report_sensors import was_inclined
from feedback.records.summary import Digest
from feedback.records.trends import FEWEST_SESSIONS, Trend, trends
from feedback.records.wording import (
    SHORT_KINDS,
    SINCE,
    SMALL_PRINT,
    UNKNOWN,
    VIEWS,
    change_words,
    day,
    figure,
    mean_figure,
    minutes,
    named,
    sessions,
    short_day,
    signed,
    speed,
    unit_words,
    whole,
)
from feedback.texts.measures import full_title
from feedback.training.counting import SessionPart
from shared.flow import View
from shared.language import _, _n, mark
from shared.targets import SessionKind

MOST_CHARTS: Final = 2
MOST_ROWS: Final = 14
TESTS: Final = frozenset({SessionKind.RETENTION, SessionKind.REMINDER})
NEWEST: Final = {
    (SessionPart.CUED, None): mark("{measure}: {value} {unit} with cues."),
    (SessionPart.UNCUED, None): mark("{measure}: {value} {unit} without cues."),
    (SessionPart.UNCUED, SessionKind.RETENTION): mark(
        "{measure}: {value} {unit} without cues in the retention test."
    ),
    (SessionPart.UNCUED, SessionKind.REMINDER): mark(
        "{measure}: {value} {unit} without cues in the reminder test."
    ),
}


def progress_page(
    code_name: str,
    view: View,
    belt_speed_kmh: float,
    digests: Sequence[Digest],
    compared: Sequence[Digest],
) -> PrintedPage:
    """One page on the sessions of an athlete that can be compared.

    ``digests`` are all of the athlete's, ``compared`` those of like view and speed
    (:func:`feedback.records.trends.comparable`); the oldest comes first.
    """
    found = trends(compared)
    others = sum(one.counts for one in digests) - len(compared)
    parts: list[TextLines | Figures | ChartPart] = [
        TextLines(_("Summary"), tuple(_in_short(compared, others, found)))
    ]
    parts += [ChartPart(_chart(trend)) for trend in found[:MOST_CHARTS]]
    parts += [_changes(found), _sessions(compared)]
    return PrintedPage(
        title=_("{name}: progress").format(name=code_name),
        subtitle=_(
            "Camera {view}, belt {speed}; sessions at another view or speed are not compared."
        ).format(view=_(VIEWS[view]), speed=speed(belt_speed_kmh)),
        parts=tuple(parts),
        small_print=(
            _(
                "Retention test: without any cue. Reminder test: one reminder and then no cues. "
                "From {count} sessions on, noise also includes the variation between sessions, "
                "which setting up the camera again adds to."
            ).format(count=FEWEST_SESSIONS),
            *(_(line) for line in SMALL_PRINT),
        ),
    )


def _in_short(compared: Sequence[Digest], others: int, found: Sequence[Trend]) -> Iterator[str]:
    if not compared:
        yield _("There are no sessions yet that can be compared.")
        return
    yield _("{sessions}, from {begin} to {end}, {time} of running in all.").format(
        sessions=sessions(len(compared)),
        begin=day(compared[0].started_utc),
        end=day(compared[-1].started_utc),
        time=minutes(sum(one.run_s for one in compared)),
    )
    if others:
        yield _n(
            "{count} more at another view or belt speed, or without a valid mean: not compared.",
            "{count} more at another view or belt speed, or without a valid mean: not compared.",
            others,
        ).format(count=others)
    if inclined := sum(was_inclined(one) for one in compared):
        yield _n(
            "{count} of them was run at an incline of more than 1 %, at least in part: measures at "
            "an incline are not comparable with flat ones.",
            "{count} of them were run at an incline of more than 1 %, at least in part: measures "
            "at an incline are not comparable with flat ones.",
            inclined,
        ).format(count=inclined)
    for trend in found[:MOST_CHARTS]:
        yield _said(trend)
    pains = [one.pain_worst for one in compared if one.pain_worst is not None]
    if pains:
        yield _("Worst pain of a session: {worst} of 10; in the last one {last}.").format(
            worst=max(pains), last=pains[-1]
        )


def _said(trend: Trend) -> str:
    title = full_title(trend.measure, trend.side)
    verdict, reference = trend.verdict, trend.reference
    if verdict is None or reference is None:
        return _("{measure}: nothing to compare with yet.").format(measure=title)
    kind = trend.levels[-1].kind
    text = NEWEST.get((verdict.part, kind)) or NEWEST[verdict.part, None]
    value = figure(trend.measure, verdict.newest.mean)
    now = _(text).format(measure=title, value=value, unit=unit_words(trend.unit))
    change = change_words(
        verdict.newest, reference.since, verdict.compared, between=verdict.between
    )
    return f"{now} {change}"


def _chart(trend: Trend) -> Chart:
    """Every session at its date."""
    begun = [level.started_utc for level in trend.levels]
    points: dict[str, list[tuple[float, float, float | None]]] = {
        "disc": [],
        "circle": [],
        "square": [],
    }
    for at, level in zip(days_since_first(begun), trend.levels, strict=True):
        if level.cued is not None:
            points["disc"].append((at, level.cued.mean, level.cued.half_width))
        if level.uncued is not None:
            shape = "square" if level.kind in TESTS else "circle"
            points[shape].append((at, level.uncued.mean, level.uncued.half_width))
    labels = {"disc": _("with cues"), "circle": _("without cues"), "square": _("test")}
    reference, band = trend.reference, trend.band
    return Chart(
        title=named(trend.measure, trend.side, trend.unit),
        x_label=_("date"),
        series=[
            Series(
                labels[shape],
                tuple((at, value) for at, value, _half in found),
                shape,
                half=tuple(half for _at, _value, half in found),
            )
            for shape, found in points.items()
            if found
        ],
        bands=[] if band is None else [Band(None, None, band.low, band.high)],
        band_label=_("final target band"),
        line_at=None if reference is None else reference.value,
        line_label="" if reference is None else _(SINCE[reference.since]),
        x_ticks=[(at, short_day(when)) for at, when in date_ticks(begun)],
        height=132.0,
        alt=_said(trend),
    )


def _changes(found: Sequence[Trend]) -> Figures:
    rows = []
    for trend in found[:MOST_ROWS]:
        verdict, reference = trend.verdict, trend.reference
        if verdict is None or reference is None:
            continue
        if verdict.noise is None:
            said = _("not known")
        elif not verdict.real:
            said = _("no measurable change")
        else:
            said = _("measurable change") if verdict.between else _("more than step noise")
        rows.append(
            (
                named(trend.measure, trend.side, trend.unit),
                figure(trend.measure, reference.value),
                mean_figure(verdict.newest),
                signed(trend.measure, verdict.change),
                UNKNOWN if verdict.noise is None else figure(trend.measure, verdict.noise),
                said,
            )
        )
    return Figures(
        heading=_("Change"),
        columns=(
            _("Measure"),
            _("Before"),
            _("Latest"),
            _("Change"),
            _("Noise"),
            _("Result"),
        ),
        rows=rows,
        note=_(
            "Before: the baseline if there is one, otherwise the first session. Latest: steps "
            "without cues if there are any; the first session is then the first with such steps."
        ),
    )


def _sessions(compared: Sequence[Digest]) -> Figures:
    shown = compared[-MOST_ROWS:]
    first = len(compared) - len(shown)
    rows = [
        (
            _("{number}. {day}, {kind}").format(
                number=number, day=day(one.started_utc), kind=_(SHORT_KINDS[one.kind])
            ),
            minutes(one.run_s),
            whole(one.steps),
            UNKNOWN if one.pain_worst is None else str(one.pain_worst),
            UNKNOWN if one.effort_last is None else str(one.effort_last),
        )
        for number, one in enumerate(shown, start=first + 1)
    ]
    earlier = _n(
        "The {count} earlier session is not shown here.",
        "The {count} earlier sessions are not shown here.",
        first,
    )
    return Figures(
        heading=_("Sessions"),
        columns=(_("Session"), _("Ran"), _("Steps"), _("Worst pain"), _("Effort")),
        rows=rows,
        note=earlier.format(count=first) if first else "",
    )
