"""What the report of a session shows in pictures (pure)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from feedback.records.comparing import change_of, own_value
from feedback.records.page.changes import ChangePicture, Lane, Scale
from feedback.records.page.charts import Band, Chart, Series, Strip
from feedback.records.summary import Digest, Origin, ValueAtStep
from feedback.records.wording import change_words, mean_figure, named, unit_words, with_half
from feedback.texts.measures import full_title
from feedback.training.counting import SessionPart
from shared.flow import Side
from shared.language import _
from shared.targets import BlockKind, Target

RUNNING_MEAN: Final = 16
"""Steps behind the line of a trace."""
MOST_DOTS: Final = 1500
MOST_CHANGES: Final = 3


def change_picture(digest: Digest) -> ChangePicture | None:
    """Before against after for what was aimed at; None in a baseline and with nothing to show."""
    if digest.baseline:
        return None
    found = [_scale(digest, target) for target in digest.aims[:MOST_CHANGES]]
    scales = [scale for scale in found if scale is not None]
    if not scales:
        return None
    return ChangePicture(scales=scales, band_label=_("Grey: target band at the end."))


def _scale(digest: Digest, target: Target) -> Scale | None:
    """The baseline, and the steps without and with cues; None without any mean."""
    measure, side, unit = target.measure, target.side, target.unit
    own = own_value(digest, measure, side, unit)
    uncued, cued, whole = (
        digest.found(measure, side, part, unit)
        for part in (SessionPart.UNCUED, SessionPart.CUED, SessionPart.ALL)
    )
    after = [(_("without cues"), "disc", uncued), (_("with cues"), "triangle", cued)]
    if not uncued and not cued:
        after = [(_("whole session"), "disc", whole)]
    lanes = [
        Lane(label, mean.mean, mean.half_width, mean_figure(mean), mark)
        for label, mark, mean in after
        if mean is not None
    ]
    if not lanes:
        return None
    title = named(measure, side, unit)
    said = title
    if own is not None:
        text = with_half(measure, own.value, own.half_width)
        lanes.insert(0, Lane(_("baseline"), own.value, own.half_width, text, "circle"))
        mean = uncued or cued
        if mean is not None:
            said = change_words(mean, own.since, change_of(mean, own))
    return Scale(title=title, lanes=tuple(lanes), low=target.low, high=target.high, said=said)


def trace(
    digest: Digest,
    points: Sequence[ValueAtStep],
    measure: str,
    side: Side | None,
    unit: str,
    target: Target | None = None,
) -> Chart | None:
    """The single values of a measure over the run; None with too few of them."""
    mine = [p for p in points if (p.measure, p.unit) == (measure, unit)]
    if len(mine) < RUNNING_MEAN:
        return None
    sides: list[Side | None] = [side for side in Side if any(p.side is side for p in mine)]
    labels = {
        None: _("mean of 16 steps"),
        Side.LEFT: _("left, mean of 16"),
        Side.RIGHT: _("right, mean of 16"),
    }
    series = [Series(_("single steps"), _thinned(mine), "dot")]
    for one in sides or [None]:
        own = [p for p in mine if p.side is one]
        line = "dashed" if one is Side.RIGHT else "solid"
        series.append(Series(labels[one], _running_mean(own), "", line))
    before = own_value(digest, measure, side, unit)
    title = full_title(measure)
    return Chart(
        title=_("{measure} by step ({unit})").format(measure=title, unit=unit_words(unit)),
        x_label=_("time (min:s)"),
        timed=True,
        series=series,
        bands=[] if target is None else _bands(digest, target, mine[-1].at_s),
        band_label=_("target band"),
        strips=[
            Strip(block.begin_s, block.end_s, block.cued == measure)
            for block in digest.blocks
            if block.kind in (BlockKind.CUED, BlockKind.UNCUED) and not digest.baseline
        ],
        strip_label=_("cued"),
        line_at=None if before is None else before.value,
        line_label=_("baseline"),
        height=138.0,
        alt=(
            _("{measure} by step over the run.")
            if target is None
            else _("{measure} by step over the session, with the target band.")
        ).format(measure=title),
    )


def _bands(digest: Digest, target: Target, end_s: float) -> list[Band]:
    """The band at each time, as the changes moved it; none in a baseline."""
    if digest.baseline:
        return []
    begins = digest.in_force(target)
    ends = [*(begin for begin, _held in begins), end_s][1:]
    return [
        Band(begin, end, held.low, held.high)
        for (begin, held), end in zip(begins, ends, strict=True)
        if end > begin
    ]


def no_chart(digest: Digest, points: Sequence[ValueAtStep]) -> str:
    """Why there is none."""
    if digest.origin is Origin.HOME:
        return _("No chart: a result from home contains means per block, not single steps.")
    if not points:
        return _("No chart: single values were not stored here, or none was good enough.")
    return _("No chart: fewer than {count} good values of the target measure.").format(
        count=RUNNING_MEAN
    )


def _thinned(points: Sequence[ValueAtStep]) -> tuple[tuple[float, float], ...]:
    every = max(1, len(points) // MOST_DOTS)
    return tuple((point.at_s, point.value) for point in points[::every])


def _running_mean(points: Sequence[ValueAtStep]) -> tuple[tuple[float, float], ...]:
    found = []
    for end in range(RUNNING_MEAN, len(points) + 1, RUNNING_MEAN // 2):
        window = points[end - RUNNING_MEAN : end]
        mean = sum(point.value for point in window) / RUNNING_MEAN
        found.append((window[RUNNING_MEAN // 2].at_s, mean))
    return tuple(found)
