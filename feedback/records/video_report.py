"""The report of a video that was measured: no session, nothing aimed at or cued (pure)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import msgspec

from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines
from feedback.records.report import MOST_CHARTS, figures
from feedback.records.report_charts import trace
from feedback.records.report_words import sides, why_nothing
from feedback.records.summarise import at_step, mean_of
from feedback.records.summary import Digest
from feedback.records.wording import SMALL_PRINT, VIEWS, minutes, speed, whole
from feedback.texts.training import standing_in_words
from feedback.training.counting import FEWEST_VALUES
from shared.catalogue import CATALOGUE
from shared.flow import Measure, Side, View
from shared.language import _, _n
from shared.problems import Problem
from shared.units import NS_PER_S

_NOWHEN: Final = "1970-01-01T00:00:00+00:00"
"""When a video was taken is not known, and nothing asks."""


class Video(msgspec.Struct, frozen=True, kw_only=True):
    """What came out of one file."""

    name: str
    """Of the file, without its folder."""
    view: View
    belt_speed_kmh: float | None
    seconds: float
    steps: int
    measures: Sequence[Measure]
    """Every value that counts, in order."""
    begin_ns: int
    """The stamp of the first picture."""
    standing: bool
    """Whether the runner was seen standing still before the run."""
    unmeasured: tuple[Problem, ...]
    """Why there is no value, the likeliest reason first."""


def video_report(video: Video) -> PrintedPage:
    """One page: means with their uncertainty, and the first measures by step."""
    digest = _digest(video)
    points = [at_step(one, (one.at_ns - video.begin_ns) / NS_PER_S) for one in video.measures]
    parts: list[TextLines | Figures | ChartPart] = [
        TextLines(_("Summary"), tuple(_in_short(video, digest)))
    ]
    keys = dict.fromkeys((one.measure, one.unit) for one in digest.means)
    charts = (trace(digest, points, measure, None, unit) for measure, unit in keys)
    drawn = [ChartPart(chart) for chart in charts if chart is not None]
    parts += drawn[:MOST_CHARTS]
    if digest.means:
        parts.append(figures(digest))
    return PrintedPage(
        title=_("{name}: measured from a video").format(name=video.name),
        subtitle=_("Camera {view}, belt {speed}.").format(
            view=_(VIEWS[video.view]), speed=speed(video.belt_speed_kmh)
        ),
        parts=tuple(parts),
        small_print=tuple(_(line) for line in SMALL_PRINT),
    )


def _in_short(video: Video, digest: Digest) -> Iterator[str]:
    said = _n("{time} measured ({steps} step).", "{time} measured ({steps} steps).", video.steps)
    yield said.format(time=minutes(video.seconds), steps=whole(video.steps))
    if video.unmeasured:
        yield from why_nothing(digest)
        return
    yield from sides(digest)
    if video.view is View.SIDE:
        yield standing_in_words(seen=video.standing)


def _digest(video: Video) -> Digest:
    """As the summary of a session in which nothing was aimed at."""
    found: dict[tuple[str, Side | None, str], list[Measure]] = {}
    for one in video.measures:
        found.setdefault((one.name, one.side, one.unit), []).append(one)
    order = list(CATALOGUE)
    means = (mean_of(own) for own in found.values() if len(own) >= FEWEST_VALUES)
    return Digest(
        uid="",
        code_name=video.name,
        started_utc=_NOWHEN,
        view=video.view,
        belt_speed_kmh=video.belt_speed_kmh,
        kind=None,
        number=None,
        planned=None,
        demo=False,
        baseline=True,
        source=video.name,
        version="",
        run_s=video.seconds,
        steps=video.steps,
        stop_reason=None,
        means=tuple(sorted(means, key=lambda m: (order.index(m.measure), m.unit, m.side or ""))),
        targets=(),
        first_targets=(),
        goals=(),
        own_cadence_spm=None,
        answers=(),
        changes=(),
        blocks=(),
        notices=(),
        cues={},
        decided_ms=None,
        sounded_ms=None,
        lost=False,
        unmeasured=video.unmeasured,
    )
