"""What the report says and draws of treadmill and strap, and of several belt speeds (pure)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from feedback.records.page.charts import Chart, Series
from feedback.records.page.page import Figures
from feedback.records.summary import Digest, SensorTrace
from feedback.records.wording import UNKNOWN, clock, minutes, speed
from feedback.safety.sensors import is_inclined
from feedback.texts.numbers import decimal
from shared.language import _
from shared.problems import describe

MOST_STRETCHES: Final = 20
_DIFFER: Final = "belt_speeds_differ"
_HEIGHT: Final = 110.0


def sensor_cautions(digest: Digest) -> Iterator[str]:
    """An incline, speeds that contradict one another, and means at several speeds."""
    slope = _slope(digest)
    if slope is not None and was_inclined(digest):
        said = _(
            "The treadmill's incline was {incline} %. Measures at an incline are not comparable "
            "with flat ones (0 to 1 %): the program measures as if belt and camera were level."
        )
        yield said.format(incline=_range(slope))
    told = [notice.title for notice in digest.notices if notice.code == _DIFFER]
    if told:
        yield f"{told[-1]} {describe(_DIFFER, said='', seen='').action}"
    if digest.other_speeds:
        said = _(
            "The belt ran at several speeds: {speeds}. Only values at like speeds are compared: "
            "the summary and the first table are for {speed}."
        )
        yield said.format(
            speeds=", ".join(speed(one) for one in sorted(digest.speeds_kmh)),
            speed=speed(digest.belt_speed_kmh),
        )


def was_inclined(digest: Digest) -> bool:
    """Whether some of it was no flat running, by the treadmill's own word."""
    return any(is_inclined(one) for one in _slope(digest) or ())


def _slope(digest: Digest) -> tuple[float, float] | None:
    return None if digest.sensors is None else digest.sensors.incline_percent


def told_here(code: str) -> bool:
    """Whether a problem of this code is told by :func:`sensor_cautions`, and so not twice."""
    return code in (_DIFFER, "belt_inclined")


def sensor_charts(digest: Digest) -> Iterator[Chart]:
    """Heart rate and belt speed over the run; where a sensor was not heard its line is broken."""
    sensors = digest.sensors
    if sensors is None:
        return
    for trace in sensors.traces:
        if trace.name == "heart_rate":
            yield _chart(
                trace,
                title=_("Heart rate (1/min)"),
                label=_("heart rate"),
                alt=_("Heart rate over the run, with its limits."),
                limits=(
                    (_("warning at {limit}"), sensors.heart_warn_bpm, "dashed"),
                    (_("end at {limit}"), sensors.heart_end_bpm, "solid"),
                ),
            )
        else:
            yield _chart(
                trace,
                title=_("Belt speed by the treadmill (km/h)"),
                label=_("belt speed"),
                alt=_("Belt speed over the run."),
            )


def _chart(
    trace: SensorTrace,
    *,
    title: str,
    label: str,
    alt: str,
    limits: tuple[tuple[str, int | None, str], ...] = (),
) -> Chart:
    parts = [part if len(part) > 1 else (part[0], part[0]) for part in trace.parts]
    begin_s, end_s = parts[0][0][0], parts[-1][-1][0]
    series = [
        Series("" if number else label, part, "", "solid") for number, part in enumerate(parts)
    ]
    for text, limit, line in limits:
        if limit is not None:
            ends = ((begin_s, float(limit)), (end_s, float(limit)))
            series.append(Series(text.format(limit=limit), ends, "square", line))
    return Chart(
        title=title,
        x_label=_("time (min:s)"),
        timed=True,
        series=series,
        height=_HEIGHT,
        alt=alt,
    )


def stretches(digest: Digest) -> Figures | None:
    """Every belt speed of the run with its incline and the mean heart rate; None without any."""
    sensors = digest.sensors
    if sensors is None or not sensors.stretches:
        return None
    rows = [
        (
            clock(one.begin_s),
            minutes(one.end_s - one.begin_s),
            speed(one.speed_kmh),
            UNKNOWN if one.incline_percent is None else _range(one.incline_percent),
            UNKNOWN if one.heart_bpm is None else decimal(one.heart_bpm, 0),
        )
        for one in sensors.stretches[:MOST_STRETCHES]
    ]
    note = _(
        "By the treadmill's and the strap's own word. A new line begins where the belt's speed "
        "changes; while it changes, steps are in no mean."
    )
    left_out = len(sensors.stretches) - len(rows)
    if left_out:
        more = _("Later stretches, not shown: {count}.").format(count=left_out)
        note = f"{note} {more}"
    columns = (_("From"), _("Length"), _("Belt"), _("Incline (%)"), _("Heart rate (1/min)"))
    return Figures(heading=_("Treadmill and heart rate"), columns=columns, rows=rows, note=note)


def _range(values: tuple[float, float]) -> str:
    low, high = (decimal(value, 1) for value in values)
    return low if low == high else _("{low} to {high}").format(low=low, high=high)
