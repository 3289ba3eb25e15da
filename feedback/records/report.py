"""The report of one session: plain words first, figures below (pure)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from feedback.cueing.cue_table import CUES
from feedback.records.comparing import Reference, change_of, own_value
from feedback.records.page.charts import Band, Chart, Series, Strip
from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines
from feedback.records.summary import Digest, MeanValue, Origin, ValueAtStep, both
from feedback.records.wording import (
    KINDS,
    SMALL_PRINT,
    UNKNOWN,
    VIEWS,
    band,
    day,
    figure,
    mean_figure,
    minutes,
    moment,
    session_name,
    signed,
    speed,
)
from feedback.texts.clinician import say as clinician_words
from feedback.texts.measures import full_title
from feedback.texts.training import standing_in_words
from feedback.training.counting import SessionPart
from feedback.training.side_difference import Noise, least_between_sides
from shared.catalogue import CATALOGUE, WITHDRAWN
from shared.flow import CueKind, Side, View
from shared.problems import DOUBTS
from shared.targets import BlockKind, Goal, Question, Target

RUNNING_MEAN: Final = 16
"""Steps behind the line of a trace."""
MOST_DOTS: Final = 1500
MOST_CHARTS: Final = 2
MOST_BANDS: Final = 4
MOST_REMARKS: Final = 100
QUESTIONS: Final = {
    Question.PAIN: "Pain",
    Question.EFFORT: "Effort",
    Question.AWKWARDNESS: "Awkwardness",
}


def session_report(digest: Digest, points: Sequence[ValueAtStep]) -> PrintedPage:
    """One page on one session; ``points`` are its single values, empty where not at hand."""
    parts: list[TextLines | Figures | ChartPart] = [TextLines("Summary", tuple(_in_short(digest)))]
    cautions = tuple(_cautions(digest))
    if cautions:
        parts.append(TextLines("Notes", cautions))
    targets = _targets(digest)
    charts = [_trace(digest, points, target) for target in targets[:MOST_CHARTS]]
    parts += [ChartPart(chart) for chart in charts if chart is not None]
    if targets and not any(charts):
        parts.append(TextLines("Step by step", (_no_chart(digest, points),)))
    parts.append(_table(digest))
    parts.append(TextLines("Ratings and events", tuple(_felt_and_done(digest))))
    return PrintedPage(
        title=f"{digest.code_name}: {session_name(digest)}",
        subtitle=f"{moment(digest.started_utc)}. Camera {VIEWS[digest.view]}, "
        f"belt {speed(digest.belt_speed_kmh)}, {digest.source}.",
        parts=tuple(parts),
        small_print=SMALL_PRINT,
    )


def _targets(digest: Digest) -> tuple[Target, ...]:
    """As they stood at the end: the session's first ones, with every change done."""
    return tuple(_in_force(digest, target)[-1][1] for target in digest.first_targets)


def _in_force(digest: Digest, target: Target) -> list[tuple[float, Target]]:
    """Every target of this measure and side with the second from which it held, in order."""
    own = (target.measure, target.side)
    begun = [(0.0, one) for one in digest.first_targets if (one.measure, one.side) == own]
    changed = [
        (max(0.0, change.at_s), change.target)
        for change in digest.changes
        if (change.target.measure, change.target.side) == own
    ]
    return [*begun, *changed]


# in short


def _in_short(digest: Digest) -> Iterator[str]:
    kind = "" if digest.kind is None else f" as {KINDS[digest.kind]}"
    yield f"Ran {minutes(digest.run_s)} ({digest.steps:,} steps){kind}; {_ended(digest)}"
    if digest.unmeasured:
        yield from _why_nothing(digest)
    else:
        for target in _targets(digest):
            yield from _about(digest, target)
        yield from _sides(digest)
    pains = [answer.value for answer in digest.answers if answer.what is Question.PAIN]
    efforts = [answer.value for answer in digest.answers if answer.what is Question.EFFORT]
    felt = []
    if pains:
        felt.append(f"worst pain {max(pains)} of 10")
    if efforts:
        felt.append(f"effort {efforts[-1]} of 10")
    yield f"Ratings: {', '.join(felt)}." if felt else "Pain and effort were not rated."


def _why_nothing(digest: Digest) -> Iterator[str]:
    """Why no step counts, and what to do about it next time."""
    first, *others = digest.unmeasured
    yield f"No steps were measured. {first.title} {first.meaning}"
    yield f"Next time: {first.action}"
    for problem in others:
        yield f"Another possible cause: {problem.title} {problem.action}"


def _ended(digest: Digest) -> str:
    if digest.stop_reason is None:
        return "the record is incomplete."
    line = clinician_words(f"reason_{digest.stop_reason.value}")
    return line[0].lower() + line[1:]


def _about(digest: Digest, target: Target) -> Iterator[str]:
    title = full_title(target.measure)
    said = [
        f"{words_for} {figure(target.measure, mean.mean)}"
        for words_for, mean in (
            ("with cues", _of(digest, target, SessionPart.CUED)),
            ("without cues", _of(digest, target, SessionPart.UNCUED)),
        )
        if mean is not None
    ]
    whole = _of(digest, target, SessionPart.ALL)
    if not said and whole is not None:
        said = [f"whole session {figure(target.measure, whole.mean)}, not cued"]
    if not said:
        yield f"{title}: too few good steps for a result."
        return
    if digest.baseline:
        yield f"{title}: baseline {said[0].removeprefix('without cues ')} {target.unit}."
        return
    own = _before(digest, target.measure, target.side, target.unit)
    start = "" if own is None else f"baseline {figure(target.measure, own.value)}, "
    aim = _aim(digest, target, _goal(digest, target))
    yield f"{title}: {start}{aim}; {', '.join(said)}.{_change(digest, target)}"


def _aim(digest: Digest, target: Target, goal: Goal | None) -> str:
    """What was aimed at, from when on; and where it is to lead, when that was not reached."""
    held = _in_force(digest, target)
    bands = [f"{band(held[0][1])} {target.unit}"]
    bands += [f"{band(one)} from {minutes(at_s)}" for at_s, one in held[1:]]
    if len(bands) > MOST_BANDS:
        between = f"then {len(bands) - 2} more (below)"
        bands = [bands[0], between, bands[-1]]
    if digest.origin is Origin.HOME and goal is not None and target != goal.targets[0]:
        bands[0] += " at the end"
    aim = f"target {', '.join(bands)}"
    if goal is None or any(one == goal.targets[-1] for _, one in held):
        return aim
    return f"{aim} (final target {band(goal.targets[-1])})"


def _change(digest: Digest, target: Target) -> str:
    """The steps without cues against baseline, else those with cues."""
    mean = _of(digest, target, SessionPart.UNCUED) or _of(digest, target, SessionPart.CUED)
    if mean is None:
        return ""
    before = _before(digest, target.measure, target.side, target.unit)
    if before is None:
        return " No baseline to compare with."
    which = "without cues" if mean.part is SessionPart.UNCUED else "with cues"
    change = change_of(mean, before)
    said = f" {signed(target.measure, change.amount)} {target.unit} {which} since {before.words}"
    if change.noise is None:
        return f"{said}; how much of this is noise is not known."
    noise = figure(target.measure, change.noise)
    if change.real:
        return f"{said}: more than step-to-step noise (up to {noise})."
    return f"{said}: no measurable change (noise up to {noise})."


def _before(digest: Digest, measure: str, side: Side | None, unit: str) -> Reference | None:
    return own_value(digest.own, digest.baseline_utc, digest.goals, measure, side, unit)


def _goal(digest: Digest, target: Target) -> Goal | None:
    for goal in digest.goals:
        last = goal.targets[-1]
        if (last.measure, last.side, last.unit) == (target.measure, target.side, target.unit):
            return goal
    return None


def _of(digest: Digest, target: Target, part: SessionPart) -> MeanValue | None:
    """The target's mean; both sides taken together where it is for both."""
    mean = digest.find(target.measure, target.side, part, target.unit)
    if mean is not None or target.side is not None:
        return mean
    left = digest.find(target.measure, Side.LEFT, part, target.unit)
    right = digest.find(target.measure, Side.RIGHT, part, target.unit)
    return None if left is None or right is None else both(left, right)


def _sides(digest: Digest) -> Iterator[str]:
    """Left against right, where the difference is more than noise and the measure's own error."""
    pairs = list(_pairs(digest, SessionPart.ALL))
    told = 0
    for left, right in pairs:
        if left.error is None or right.error is None or left.stated is None or right.stated is None:
            continue
        difference = right.mean - left.mean
        least = least_between_sides(
            left.measure, Noise(*left.error, left.stated), Noise(*right.error, right.stated)
        )
        if abs(difference) > least:
            told += 1
            side = "right" if difference > 0 else "left"
            amount = f"{figure(left.measure, abs(difference))} {left.unit}"
            yield (
                f"{full_title(left.measure)}: {amount} more on the {side}, more than noise "
                "and measurement error."
            )
    if pairs and not told:
        yield "Left and right: no difference beyond noise and measurement error."


def _pairs(digest: Digest, part: SessionPart) -> Iterator[tuple[MeanValue, MeanValue]]:
    for left in digest.means:
        if left.side is Side.LEFT and left.part is part:
            right = digest.find(left.measure, Side.RIGHT, part, left.unit)
            if right is not None:
                yield left, right


# below


def _cautions(digest: Digest) -> Iterator[str]:
    if digest.demo:
        yield "Demonstration with a simulated runner: it says nothing about a real person."
    if digest.trial:
        yield "A trial, with pictures from a file or shortened blocks: it does not count."
    if digest.unsigned:
        yield (
            "Its prescription was not signed: there is no proof of who set its speeds, limits and "
            "cautions."
        )
    if digest.lost:
        yield "The record is incomplete: everything after its last line is lost."
    for name in sorted({mean.measure for mean in digest.means} & WITHDRAWN):
        why = CATALOGUE[name].not_offered
        yield f"{full_title(name)}: no longer offered, so do not rely on it here. {why}"
    seen: dict[str, int] = {}
    doubted = {notice.title for notice in digest.notices if notice.code in DOUBTS}
    for notice in digest.notices:
        seen[notice.title] = seen.get(notice.title, 0) + 1
    for title, times in sorted(seen.items(), key=lambda item: -item[1])[:4]:
        count = "" if times == 1 else f" ({times} times)"
        after = ": steps during this time are not counted." if title in doubted else "."
        yield f"{title.rstrip('.')}{count}{after}"


def _table(digest: Digest) -> Figures:
    columns = ["Measure", "Baseline", "With cues", "Without cues", "Whole", "Spread (SD)", "Values"]
    rows: list[tuple[str, ...]] = []
    names = dict.fromkeys((mean.measure, mean.side, mean.unit) for mean in digest.means)
    for measure, side, unit in names:
        cued = digest.find(measure, side, SessionPart.CUED, unit)
        uncued = digest.find(measure, side, SessionPart.UNCUED, unit)
        whole = digest.find(measure, side, SessionPart.ALL, unit)
        own = _before(digest, measure, side, unit)
        if own is None and side is not None:  # a prescription may hold both sides' own value alone
            own = _before(digest, measure, None, unit)
        spread = UNKNOWN if whole is None or whole.sd is None else figure(measure, whole.sd)
        values = UNKNOWN if whole is None else f"{whole.values:,}"
        row = (
            f"{full_title(measure, side)} ({unit})",
            UNKNOWN if own is None else figure(measure, own.value),
            mean_figure(cued),
            mean_figure(uncued),
        )
        rows.append((*row, mean_figure(whole), spread, values))
    if digest.baseline:  # nothing came before it, and nothing was cued
        rows = [(row[0], *row[4:]) for row in rows]
        columns = ["Measure", "Mean", *columns[5:]]
        note = "Spread: of single steps."
    else:
        note = (
            f"{_whose(digest)} With cues: while the measure itself was cued. Spread: of single "
            "steps. Warm-up, rest and cool-down are left out."
        )
    return Figures(heading="Figures", columns=tuple(columns), rows=rows, note=note)


def _whose(digest: Digest) -> str:
    if digest.own is None:
        return "Baseline: from the prescription, for both sides where the target is for both."
    return f"Baseline: {day(digest.own.taken_utc)}, {digest.own.steps} steps."


def _felt_and_done(digest: Digest) -> Iterator[str]:
    for question, name in QUESTIONS.items():
        given = [a for a in digest.answers if a.what is question]
        if given:
            said = ", ".join(f"{one.value} {_when(digest, one.at_s, 'at ')}" for one in given)
            yield f"{name} (0 to 10): {said}."
    for change in digest.changes:
        title = full_title(change.target.measure)
        by = "automatically by the drill" if change.source == "ramp" else f"by {change.source}"
        aim = f"{band(change.target)} {change.target.unit}"
        old = "" if change.old is None else f" (was {band(change.old)})"
        yield f"{minutes(change.at_s)}: {title} set to {aim}{old} {by}."
    if digest.baseline:
        yield "No targets and no cues."
    elif not digest.changes:
        yield "No target was changed."
    if digest.view is View.SIDE and digest.standing is not None:
        yield standing_in_words(seen=digest.standing)
    yield from _remarks(digest)
    for kept in digest.targets:
        if kept.judged:
            share = 100 * kept.inside / kept.judged
            title = full_title(kept.measure, kept.side)
            yield f"{title}: on target {share:.0f} % of the time."
    cues = ", ".join(f"{count} {CUES[CueKind(kind)].title}" for kind, count in digest.cues.items())
    delay = ""
    if digest.decided_ms is not None and digest.sounded_ms is not None:
        delay = (
            f"; from picture to decision {digest.decided_ms:.0f} ms, to sound "
            f"{digest.sounded_ms:.0f} ms (medians)"
        )
    yield f"Cues: {cues or 'none'}{delay}."


def _remarks(digest: Digest) -> Iterator[str]:
    """The notes; of very many the first and the last, so that the page stays one to be read."""
    most = MOST_REMARKS // 2
    left_out = len(digest.remarks) - 2 * most
    for number, remark in enumerate(digest.remarks):
        if left_out > 0 and number == most:
            yield (
                f"{left_out} more notes are not shown here. They are in the session's record, and "
                "'beltside export' writes all of them to a .json file."
            )
        if left_out <= 0 or not most <= number < most + left_out:
            when = _when(digest, remark.at_s).capitalize()
            yield f"{when}: note by {remark.source}: {remark.text}"


def _when(digest: Digest, at_s: float, word: str = "") -> str:
    """A time of the run; what came after its end has none there."""
    late = digest.ended_s is not None and at_s > digest.ended_s
    return "after the run" if late else f"{word}{minutes(at_s)}"


# the trace


def _trace(digest: Digest, points: Sequence[ValueAtStep], target: Target) -> Chart | None:
    mine = [p for p in points if (p.measure, p.unit) == (target.measure, target.unit)]
    if len(mine) < RUNNING_MEAN:
        return None
    sides: list[Side | None] = [side for side in Side if any(p.side is side for p in mine)]
    series = [Series("single steps", _thinned(mine), "dot")]
    for side in sides or [None]:
        own = [p for p in mine if p.side is side]
        label = "mean of 16 steps" if side is None else f"{side.value}, mean of 16"
        line = "dashed" if side is Side.RIGHT else "solid"
        series.append(Series(label, _running_mean(own), "", line))
    before = _before(digest, target.measure, target.side, target.unit)
    return Chart(
        title=f"{full_title(target.measure)} by step ({target.unit})",
        x_label="minutes",
        series=series,
        bands=_bands(digest, target, mine[-1].at_s / 60),
        strips=[
            Strip(block.begin_s / 60, block.end_s / 60, block.cued == target.measure)
            for block in digest.blocks
            if block.kind in (BlockKind.CUED, BlockKind.UNCUED) and not digest.baseline
        ],
        strip_label="cued",
        line_at=None if before is None else before.value,
        line_label="baseline",
        height=138.0,
        alt=f"{full_title(target.measure)} by step over the session, with the target band.",
    )


def _bands(digest: Digest, target: Target, end_min: float) -> list[Band]:
    """The band at each time, as the changes moved it; none in a baseline."""
    if digest.baseline:
        return []
    begins = [(at_s / 60, held) for at_s, held in _in_force(digest, target)]
    ends = [*(begin for begin, _ in begins), end_min][1:]
    return [
        Band(begin, end, held.low, held.high)
        for (begin, held), end in zip(begins, ends, strict=True)
        if end > begin
    ]


def _no_chart(digest: Digest, points: Sequence[ValueAtStep]) -> str:
    if digest.origin is Origin.HOME:
        return "No chart: a result from home contains means per block, not single steps."
    if not points:
        return "No chart: single values were not stored here, or none was good enough."
    return f"No chart: fewer than {RUNNING_MEAN} good values of the target measure."


def _thinned(points: Sequence[ValueAtStep]) -> tuple[tuple[float, float], ...]:
    every = max(1, len(points) // MOST_DOTS)
    return tuple((point.at_s / 60, point.value) for point in points[::every])


def _running_mean(points: Sequence[ValueAtStep]) -> tuple[tuple[float, float], ...]:
    found = []
    for end in range(RUNNING_MEAN, len(points) + 1, RUNNING_MEAN // 2):
        window = points[end - RUNNING_MEAN : end]
        mean = sum(point.value for point in window) / RUNNING_MEAN
        found.append((window[RUNNING_MEAN // 2].at_s / 60, mean))
    return tuple(found)
