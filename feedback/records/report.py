"""The report of one session: plain words first, figures below (pure)."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from feedback.records.comparing import Reference, at_baseline_speed, own_value
from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines
from feedback.records.report_charts import change_picture, no_chart, trace
from feedback.records.report_sensors import sensor_charts, stretches
from feedback.records.report_words import cautions, in_short, ratings_and_events
from feedback.records.summary import Digest, ValueAtStep
from feedback.records.wording import (
    SMALL_PRINT,
    UNKNOWN,
    VIEWS,
    day,
    figure,
    mean_figure,
    moment,
    named,
    session_name,
    speed,
    whole,
)
from feedback.training.counting import SessionPart
from shared.flow import Side
from shared.language import _

MOST_CHARTS: Final = 2
MOST_OTHERS: Final = 3
"""Tables of other belt speeds: those with the most values."""
_FOLDERS: Final = re.compile(r"^(?:[A-Za-z]:)?[^:]*[/\\](?=[^/\\]+$)")
"""All before a file's name; an address on the network is no path."""


def session_report(digest: Digest, points: Sequence[ValueAtStep]) -> PrintedPage:
    """One page on one session; ``points`` are its single values, empty where not at hand."""
    parts: list[TextLines | Figures | ChartPart] = [
        TextLines(_("Summary"), tuple(in_short(digest)))
    ]
    if told := tuple(cautions(digest)):
        parts.append(TextLines(_("Notes"), told))
    if (picture := change_picture(digest)) is not None:
        parts.append(ChartPart(picture))
    aims = digest.aims
    charts = [
        trace(digest, points, target.measure, target.side, target.unit, target)
        for target in aims[:MOST_CHARTS]
    ]
    parts += [ChartPart(chart) for chart in charts if chart is not None]
    if aims and not any(charts):
        parts.append(TextLines(_("Step by step"), (no_chart(digest, points),)))
    parts += [ChartPart(chart) for chart in sensor_charts(digest)]
    parts.append(figures(digest))
    parts += [figures(other, _others_heading(other)) for other in _at_other_speeds(digest)]
    if (ran := stretches(digest)) is not None:
        parts.append(ran)
    parts.append(TextLines(_("Ratings and events"), tuple(ratings_and_events(digest))))
    return PrintedPage(
        title=_("{name}: {session}").format(name=digest.code_name, session=session_name(digest)),
        subtitle=_("{moment}. Camera {view}, belt {speed}, {source}.").format(
            moment=moment(digest.started_utc),
            view=_(VIEWS[digest.view]),
            speed=speed(digest.belt_speed_kmh),
            source=_FOLDERS.sub("", digest.source),
        ),
        parts=tuple(parts),
        small_print=tuple(_(line) for line in SMALL_PRINT),
    )


def _at_other_speeds(digest: Digest) -> list[Digest]:
    """The session at each of the other speeds that it was run at."""
    found = (digest.at_speed(one.belt_speed_kmh) for one in digest.other_speeds[:MOST_OTHERS])
    return [one for one in found if one is not None]


def _others_heading(digest: Digest) -> str:
    return _("Figures at {speed}").format(speed=speed(digest.belt_speed_kmh))


def figures(digest: Digest, heading: str = "") -> Figures:
    """Every mean in a table."""
    columns: tuple[str, ...] = (
        _("Measure"),
        _("Baseline"),
        _("With cues"),
        _("Without cues"),
        _("Whole"),
        _("Spread (SD)"),
        _("Values"),
    )
    rows = [_row(digest, *key) for key in _measures(digest)]
    if not digest.baseline:
        note = _(
            "{whose} With cues: while the measure itself was cued. Spread: of single steps. "
            "Warm-up, rest and cool-down are left out."
        ).format(whose=_whose(digest))
    else:  # nothing came before it, and nothing was cued
        rows = [(row[0], *row[4:]) for row in rows]
        columns = (columns[0], _("Mean"), *columns[5:])
        note = _("Spread: of single steps.")
    return Figures(heading=heading or _("Figures"), columns=columns, rows=rows, note=note)


def _measures(digest: Digest) -> list[tuple[str, Side | None, str]]:
    """What has a mean or a baseline, what was aimed at first."""
    found = dict.fromkeys((mean.measure, mean.side, mean.unit) for mean in digest.means)
    measured = {(measure, unit) for measure, _side, unit in found}
    if digest.own is not None and not digest.baseline and at_baseline_speed(digest):
        for own in digest.own.measures:
            if (own.name, own.unit) not in measured:
                found[own.name, own.side, own.unit] = None
    aimed = [(target.measure, target.unit) for target in digest.aims]
    return sorted(
        found, key=lambda key: aimed.index(pair) if (pair := (key[0], key[2])) in aimed else 99
    )


def _row(digest: Digest, measure: str, side: Side | None, unit: str) -> tuple[str, ...]:
    cued = digest.find(measure, side, SessionPart.CUED, unit)
    uncued = digest.find(measure, side, SessionPart.UNCUED, unit)
    mean = digest.find(measure, side, SessionPart.ALL, unit)
    own = own_value(digest, measure, side, unit)
    if own is None and side is not None:  # a prescription may hold both sides' own value alone
        own = own_value(digest, measure, None, unit)
    return (
        named(measure, side, unit),
        _own_figure(measure, own),
        mean_figure(cued),
        mean_figure(uncued),
        mean_figure(mean),
        UNKNOWN if mean is None or mean.sd is None else figure(measure, mean.sd),
        UNKNOWN if mean is None else whole(mean.values),
    )


def _own_figure(measure: str, own: Reference | None) -> str:
    return UNKNOWN if own is None else figure(measure, own.value)


def _whose(digest: Digest) -> str:
    if digest.own is not None and not at_baseline_speed(digest):
        return _("Baseline: none at this belt speed.")
    if digest.own is None:
        return _("Baseline: from the prescription, for both sides where the target is for both.")
    return _("Baseline: {day}, {steps} steps.").format(
        day=day(digest.own.taken_utc), steps=whole(digest.own.steps)
    )
