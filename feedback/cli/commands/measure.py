"""``beltside measure``: the live pipeline over a video file, to JSON lines or a table."""

from __future__ import annotations

import argparse
import statistics
import sys
from collections import Counter
from collections.abc import Generator
from contextlib import ExitStack, closing
from dataclasses import dataclass, field
from pathlib import Path

from msgspec import UNSET
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn
from rich.table import Table

from feedback.cli.common.archive import PAGE_ENDINGS, check_ending, write_page
from feedback.cli.common.pose_model import open_model
from feedback.cli.common.tell import plain, tell_unmeasured
from feedback.cli.common.video_page import video_page
from feedback.cli.measure_lines import (
    EventLine,
    Line,
    MeanRow,
    MeasureLine,
    Reason,
    Summary,
    SummaryLine,
    UnmeasuredLine,
    line_text,
)
from feedback.terminal.guard import NOTHING_MEASURED, OK
from feedback.terminal.tables import PlainConsole
from feedback.texts.measures import full_title
from feedback.texts.training import PHRASES, standing_in_words
from live.camera.capture import Capture
from live.camera.sources import FileSource
from live.pipeline import Pipeline, Setup
from live.pixel_watch import PictureWatch, keep_of
from live.pose.model import PoseModel
from live.scene.unmeasured import other_view
from live.whole_file import FileFrame, frames_of, models_for
from shared.catalogue import CATALOGUE
from shared.flow import Frame, GaitEvent, Measure, Side, Update, View
from shared.mailbox import Latest
from shared.plain_text import plain_line
from shared.problems import Problem, UserError, describe
from shared.units import NS_PER_S
from shared.usable import usable

_WAKE_S = 0.1


@dataclass
class FileCounts:
    """What came out of a file so far."""

    values: dict[tuple[str, Side | None, str], list[float]] = field(default_factory=dict)
    doubts: Counter[str] = field(default_factory=Counter)
    contacts: Counter[str] = field(default_factory=Counter)
    frames: int = 0
    dropped: int = 0
    standing: bool = False
    """The runner was seen standing still before the run."""
    views: Counter[View | None] = field(default_factory=Counter)
    """From where the camera was seen to look, picture by picture; None where that is not sure."""
    unmeasured: tuple[Problem, ...] = ()
    """Why there is no value, the likeliest reason first."""
    first_ns: int | None = None
    last_ns: int = 0

    def take(self, update: Update, view_seen: View | None) -> None:
        """Count one frame's outcome."""
        if "no_runner" not in update.doubts:
            self.views[view_seen] += 1
        self.frames += 1
        self.first_ns = update.captured_ns if self.first_ns is None else self.first_ns
        self.last_ns = update.captured_ns
        self.doubts.update(update.doubts)
        self.contacts.update(
            event.side or "side_not_known" for event in update.events if event.kind == "contact"
        )
        for measure in filter(usable, update.measures):
            key = (measure.name, measure.side, measure.unit)
            self.values.setdefault(key, []).append(measure.value)

    @property
    def view_seen(self) -> View | None:
        """From where the camera looks in most of the pictures; None where that is not sure."""
        (view, count), *_ = self.views.most_common(1) or [(None, 0)]
        return view if 2 * count > self.views.total() else None

    def leave_out(self, why: tuple[Problem, ...]) -> None:
        """Give no values, for these reasons."""
        self.unmeasured = why
        self.values.clear()
        self.contacts.clear()

    @property
    def duration_s(self) -> float:
        """From the first frame to the last."""
        return (self.last_ns - (self.first_ns or 0)) / NS_PER_S

    def rows(self) -> list[MeanRow]:
        """Mean, spread (standard deviation, None for one value) and count of each measure."""
        return [
            MeanRow(
                measure=name,
                side=side,
                unit=unit,
                mean=round(statistics.fmean(values), 3),
                sd=round(statistics.stdev(values), 3) if len(values) > 1 else None,
                n=len(values),
            )
            for (name, side, unit), values in sorted(
                self.values.items(), key=lambda item: _order(item[0])
            )
        ]

    def summary(self) -> Summary:
        """The last line of the JSON output."""
        return Summary(
            measures=self.rows(),
            contacts=dict(self.contacts),
            frames=self.frames,
            dropped=self.dropped,
            doubtful_frames=dict(self.doubts),
            duration_s=round(self.duration_s, 3),
            standing_seen=self.standing,
            view_seen=self.view_seen,
            unmeasured=[problem.code for problem in self.unmeasured],
        )


def _order(key: tuple[str, Side | None, str]) -> tuple[int, str, str]:
    name, side, unit = key
    return list(CATALOGUE).index(name), side or "", unit


def run(options: argparse.Namespace) -> int:
    """Measure one file; exit code 0, or 3 when nothing in it could be measured."""
    check_ending(options.out, PAGE_ENDINGS, "a page")
    view: View = options.view
    height_m = None if options.height_cm is None else options.height_cm / 100
    belt_mps = None if options.belt_kmh is None else options.belt_kmh / 3.6
    pipeline = Pipeline(Setup(view=view, height_m=height_m, belt_speed_mps=belt_mps))
    pictures = PictureWatch(pipeline)
    source = FileSource(Path(options.file), as_live=options.as_live)
    tally = FileCounts()
    with closing(source):
        source.open()
        with ExitStack() as stack:
            count = 1 if options.as_live else models_for(source.seconds)
            models = [stack.enter_context(open_model(options.model)) for _ in range(count)]
            progress = stack.enter_context(_progress(options.file))
            task = progress.add_task("measuring", total=source.frame_count or None)
            if options.as_live:
                frames = _as_live(source, models[0], view, tally)
            else:
                frames = frames_of(source.path, models, view)
            with closing(frames):
                for pose, kept in frames:
                    update = pipeline.update(pose)
                    pictures.see(kept)
                    tally.take(update, pipeline.view_seen)
                    progress.update(task, completed=pose.index + 1)
                    if options.json:
                        _write_lines(update, tally.first_ns if options.as_live else 0)
    tally.standing = pipeline.standing is not None
    seen = tally.view_seen
    if seen is not None and seen is not view:
        tally.leave_out((other_view(view, seen),))
    elif not tally.values:
        tally.leave_out(pipeline.why_unmeasured)
    _finish(tally, options)
    if options.out is not None:
        _write_page(tally, options)
    return OK if tally.values else NOTHING_MEASURED


def _as_live(
    source: FileSource, model: PoseModel, view: View, tally: FileCounts
) -> Generator[FileFrame]:
    """Of the newest frame each time, at the file's own pace, as a session would get them."""
    mailbox: Latest[Frame] = Latest()
    capture = Capture(source, mailbox)
    capture.start()
    try:
        while True:
            status = capture.status()
            frame = mailbox.take(_WAKE_S)
            tally.dropped = mailbox.replaced
            if frame is not None:
                pose = model.detect(frame)
                yield FileFrame(pose, keep_of(frame, pose, view))
            elif status.state == "ended":
                return
            elif status.state == "failed" and status.problem is not None:
                raise UserError("video_unreadable", source=source.describe())
    finally:
        capture.close()


def _write_lines(update: Update, zero_ns: int | None) -> None:
    """One JSON line for each event and measure of a frame, flushed together."""
    lines: list[Line] = [_event_line(event, zero_ns or 0) for event in update.events]
    lines += [_measure_line(measure, zero_ns or 0) for measure in update.measures]
    if lines:
        sys.stdout.write("".join(map(line_text, lines)))
        sys.stdout.flush()


def _event_line(event: GaitEvent, zero_ns: int) -> EventLine:
    return EventLine(
        event=event.kind,
        side=event.side,
        at_s=_seconds(event.at_ns - zero_ns),
        quality=round(event.quality, 3),
        uncertainty_ms=round(event.uncertainty_ms, 1),
    )


def _measure_line(measure: Measure, zero_ns: int) -> MeasureLine:
    leg = measure.percent_leg
    return MeasureLine(
        measure=measure.name,
        side=measure.side,
        value=round(measure.value, 3),
        unit=measure.unit,
        uncertainty=round(measure.uncertainty, 3),
        quality=round(measure.quality, 3),
        steps=measure.steps,
        at_s=_seconds(measure.at_ns - zero_ns),
        percent_leg=UNSET if leg is None else round(leg, 3),
    )


def _seconds(ns: int) -> float:
    return round(ns / NS_PER_S, 4)


def _for_column(name: str) -> str:
    """A file's name in a column, which fills in what stands in braces."""
    return plain_line(name).replace("{", "{{").replace("}", "}}")


def _progress(file: str) -> Progress:
    """A bar on stderr, shown on a terminal only."""
    console = PlainConsole(stderr=True)
    return Progress(
        TextColumn(_for_column(Path(file).name), markup=False),
        BarColumn(),
        TaskProgressColumn(),
        TimeRemainingColumn(),
        console=console,
        disable=not console.is_terminal,
        transient=True,
        redirect_stdout=sys.stdout.isatty(),  # else a file's lines would go to the terminal
    )


def _finish(tally: FileCounts, options: argparse.Namespace) -> None:
    """The summary, as the last JSON line or as a table for people."""
    if options.json:
        if tally.unmeasured:
            reasons = [_reason(one) for one in tally.unmeasured]
            sys.stdout.write(line_text(UnmeasuredLine(unmeasured=reasons)))
        sys.stdout.write(line_text(SummaryLine(summary=tally.summary())))
        sys.stdout.flush()
        return
    console = PlainConsole()
    if tally.values:
        console.print(_table(tally))
    else:
        tell_unmeasured(tally.unmeasured)
    for line in _account(tally, options.view):
        console.print(line, highlight=False, markup=False, soft_wrap=True)


def _account(tally: FileCounts, view: View) -> list[str]:
    """How much was seen, and what stood in the way, line by line."""
    lines = [
        f"{tally.frames} frames in {tally.duration_s:.1f} s, {tally.dropped} dropped, "
        f"{sum(tally.contacts.values())} steps."
    ]
    if view is View.SIDE and tally.values:
        lines.append(standing_in_words(seen=tally.standing))
    if tally.values and tally.view_seen is None:
        lines.append(PHRASES["view_unsure"].format(view=view.spoken))
    for code, count in tally.doubts.most_common():
        title = describe(code, **_places(code, view)).title
        lines.append(f"In {100 * count / tally.frames:.0f} % of frames: {title}")
    return lines


def _write_page(tally: FileCounts, options: argparse.Namespace) -> None:
    reasons = [f"{one.title} {one.meaning} {one.action}" for one in tally.unmeasured]
    lines = _account(tally, options.view)
    page = video_page(Path(options.file), options.view, tally.rows(), lines, reasons)
    (written,) = write_page(page, options.out, options.out)
    if not options.json:
        PlainConsole(soft_wrap=True).print(f"Written: {written}", highlight=False, markup=False)


def _places(code: str, view: View) -> dict[str, str]:
    """What the words of a doubt need filled in."""
    return {"view": view.spoken} if code == "wrong_view" else {}


def _reason(problem: Problem) -> Reason:
    return Reason(
        code=problem.code, title=problem.title, meaning=problem.meaning, action=problem.action
    )


def _table(tally: FileCounts) -> Table:
    """Mean, spread and count, one row a measure and side."""
    table = Table(title="Mean of single values; spread is their standard deviation")
    table.add_column("measure")
    table.add_column("side")
    for heading in ("mean", "spread", "values"):
        table.add_column(heading, justify="right")
    table.add_column("unit")
    for row in tally.rows():
        spec = CATALOGUE[row.measure]
        spread = "" if row.sd is None else plain(row.sd, spec.decimals)
        mean, title = plain(row.mean, spec.decimals), full_title(row.measure)
        table.add_row(title, row.side or "", mean, spread, str(row.n), row.unit)
    return table
