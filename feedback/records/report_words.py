"""What the report of a session says in sentences (pure)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from feedback.cueing.cue_table import CUES
from feedback.records.comparing import change_of, own_value
from feedback.records.report_sensors import sensor_cautions, told_here
from feedback.records.summary import Digest, MeanValue, NoteSummary, Origin, TargetChange
from feedback.records.wording import (
    band,
    change_words,
    figure,
    minutes,
    named,
    percent,
    unit_words,
    whole,
)
from feedback.texts.clinician import say as clinician_words
from feedback.texts.measures import full_title
from feedback.texts.training import standing_in_words
from feedback.training.counting import SessionPart
from feedback.training.side_difference import Noise, least_between_sides
from shared.catalogue import CATALOGUE, WITHDRAWN
from shared.flow import CueKind, Side, View
from shared.language import _, _n, mark
from shared.problems import DOUBTS
from shared.targets import Question, Target

MOST_BANDS: Final = 4
MOST_REMARKS: Final = 100
MOST_CAUTIONS: Final = 4
RATINGS: Final = {
    Question.PAIN: mark("Pain (0 to 10): {ratings}."),
    Question.EFFORT: mark("Effort (0 to 10): {ratings}."),
    Question.AWKWARDNESS: mark("Awkwardness (0 to 10): {ratings}."),
}


# summary


def in_short(digest: Digest) -> Iterator[str]:
    """The page's first words."""
    ran = _n("Ran {time} ({steps} step).", "Ran {time} ({steps} steps).", digest.steps)
    ran = ran.format(time=minutes(digest.run_s), steps=whole(digest.steps))
    yield f"{ran} {_ended(digest)}"
    if digest.unmeasured:
        yield from why_nothing(digest)
    else:
        for target in digest.aims:
            yield _about(digest, target)
        yield from sides(digest)
    yield _felt(digest.pain_worst, digest.effort_last)


def _ended(digest: Digest) -> str:
    if digest.stop_reason is None:
        return _("The record is incomplete.")
    return clinician_words(f"reason_{digest.stop_reason.value}")


def _felt(pain: int | None, effort: int | None) -> str:
    if pain is None and effort is None:
        return _("Pain and effort were not rated.")
    if effort is None:
        text = _("Ratings: worst pain {pain} of 10.")
    elif pain is None:
        text = _("Ratings: effort {effort} of 10.")
    else:
        text = _("Ratings: worst pain {pain} of 10, effort {effort} of 10.")
    return text.format(pain=pain, effort=effort)


def why_nothing(digest: Digest) -> Iterator[str]:
    """Why no step counts, and what to do about it next time."""
    first, *others = digest.unmeasured
    said = _("No steps were measured. {title} {meaning}")
    yield said.format(title=first.title, meaning=first.meaning)
    yield _("Next time: {action}").format(action=first.action)
    for problem in others:
        said = _("Another possible cause: {title} {action}")
        yield said.format(title=problem.title, action=problem.action)


def _about(digest: Digest, target: Target) -> str:
    """One target: label and value, one after the other, and then what has changed."""
    key = (target.measure, target.side, target.unit)
    own = own_value(digest, *key)
    said = [] if own is None else [_("baseline {value}").format(value=figure(key[0], own.value))]
    if not digest.baseline:
        said += _aims(digest, target)
    means = _means(digest, target)
    said += means or [_("too few good steps for a result")]
    text = _("{measure}: {values}.").format(
        measure=named(target.measure, None, target.unit), values="; ".join(said)
    )
    mean = digest.found(key[0], key[1], SessionPart.UNCUED, key[2]) or digest.found(
        key[0], key[1], SessionPart.CUED, key[2]
    )
    if mean is None or digest.baseline:
        return text
    if own is None:
        return f"{text} {_('No baseline to compare with.')}"
    return f"{text} {change_words(mean, own.since, change_of(mean, own))}"


def _means(digest: Digest, target: Target) -> list[str]:
    """With cues and without, else the whole session."""
    cued, uncued, mean = (
        digest.found(target.measure, target.side, part, target.unit)
        for part in (SessionPart.CUED, SessionPart.UNCUED, SessionPart.ALL)
    )
    if digest.baseline:
        texts = [(mean, _("baseline {value}"))]
    elif cued or uncued:
        texts = [(cued, _("with cues {value}")), (uncued, _("without cues {value}"))]
    else:
        texts = [(mean, _("whole session {value}, not cued"))]
    return [text.format(value=figure(one.measure, one.mean)) for one, text in texts if one]


def _aims(digest: Digest, target: Target) -> Iterator[str]:
    """What was aimed at, from when on; and where it is to lead, when that was not reached."""
    held = digest.in_force(target)
    goal = digest.goal_of(target.measure, target.side, target.unit)
    ended = digest.origin is Origin.HOME and goal is not None and target != goal.targets[0]
    first = _("target {band} at the end") if ended else _("target {band}")
    yield first.format(band=band(held[0][1]))
    shown = held[1:]
    if len(held) > MOST_BANDS:
        shown = held[-1:]
        left_out = len(held) - 2
        yield _n(
            "then {count} more target (below)", "then {count} more targets (below)", left_out
        ).format(count=left_out)
    for at_s, one in shown:
        yield _("target {band} from {time}").format(band=band(one), time=minutes(at_s))
    if goal is not None and all(one != goal.targets[-1] for _at_s, one in held):
        yield _("final target {band}").format(band=band(goal.targets[-1]))


def sides(digest: Digest) -> Iterator[str]:
    """Left against right, where the difference is more than noise and the measure's own error."""
    pairs = list(_pairs(digest))
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
            more_right = _(
                "{measure}: {amount} {unit} more on the right, more than noise and measurement "
                "error."
            )
            more_left = _(
                "{measure}: {amount} {unit} more on the left, more than noise and measurement "
                "error."
            )
            yield (more_right if difference > 0 else more_left).format(
                measure=full_title(left.measure),
                amount=figure(left.measure, abs(difference)),
                unit=unit_words(left.unit),
            )
    if pairs and not told:
        yield _("Left and right: no difference beyond noise and measurement error.")


def _pairs(digest: Digest) -> Iterator[tuple[MeanValue, MeanValue]]:
    for left in digest.means:
        if left.side is Side.LEFT and left.part is SessionPart.ALL:
            right = digest.find(left.measure, Side.RIGHT, SessionPart.ALL, left.unit)
            if right is not None:
                yield left, right


# notes


def cautions(digest: Digest) -> Iterator[str]:
    """What to bear in mind when reading the page."""
    if digest.demo:
        yield _("Demonstration with a simulated runner: it says nothing about a real person.")
    if digest.trial:
        yield _("A trial, with pictures from a file or shortened blocks: it does not count.")
    if digest.unsigned:
        yield _(
            "Its prescription was not signed: there is no proof of who set its speeds, limits and "
            "cautions."
        )
    if digest.lost:
        yield _("The record is incomplete: everything after its last line is lost.")
    for name in sorted({mean.measure for mean in digest.means} & WITHDRAWN):
        said = _("{measure}: no longer offered, so do not rely on it here. {why}")
        yield said.format(measure=full_title(name), why=_(CATALOGUE[name].not_offered))
    yield from sensor_cautions(digest)
    yield from _problems(digest)


def _problems(digest: Digest) -> Iterator[str]:
    """What came up most often."""
    seen: dict[str, int] = {}
    doubted = {notice.title for notice in digest.notices if notice.code in DOUBTS}
    for notice in digest.notices:
        if told_here(notice.code):
            continue
        seen[notice.title] = seen.get(notice.title, 0) + 1
    for title, times in sorted(seen.items(), key=lambda item: -item[1])[:MOST_CAUTIONS]:
        said = [title]
        if times > 1:
            came = _n("This came up {count} time.", "This came up {count} times.", times)
            said.append(came.format(count=times))
        if title in doubted:
            said.append(_("Steps during this time are not counted."))
        yield " ".join(said)


# ratings and events


def ratings_and_events(digest: Digest) -> Iterator[str]:
    """What was rated, changed, noted and cued."""
    for question, text in RATINGS.items():
        given = [answer for answer in digest.answers if answer.what is question]
        if given:
            said = (_rated(digest, one.value, one.at_s) for one in given)
            yield _(text).format(ratings=", ".join(said))
    for change in digest.changes:
        yield _changed(change)
    if digest.baseline:
        yield _("No targets and no cues.")
    elif not digest.changes:
        yield _("No target was changed.")
    if digest.view is View.SIDE and digest.standing is not None:
        yield standing_in_words(seen=digest.standing)
    yield from _remarks(digest)
    for kept in digest.targets:
        if kept.judged:
            yield _("{measure}: on target {share} of the time.").format(
                measure=full_title(kept.measure, kept.side),
                share=percent(kept.inside / kept.judged),
            )
    yield _cues(digest)


def _cues(digest: Digest) -> str:
    if not digest.cues:
        said = _("Cues: none.")
    else:
        counts = (
            _("{count} {cue}").format(count=count, cue=CUES[CueKind(kind)].title)
            for kind, count in digest.cues.items()
        )
        said = _("Cues: {counts}.").format(counts=", ".join(counts))
    if digest.decided_ms is None or digest.sounded_ms is None:
        return said
    delay = _("From picture to decision {decided} ms, to sound {sounded} ms (medians).")
    delay = delay.format(decided=f"{digest.decided_ms:.0f}", sounded=f"{digest.sounded_ms:.0f}")
    return f"{said} {delay}"


def _changed(change: TargetChange) -> str:
    """Which target was set to what, from what, and by whom."""
    ramp, known = change.source == "ramp", change.old is not None
    text = {
        (True, True): _(
            "{time}: {measure} set to {new} {unit} (was {old}) automatically by the drill."
        ),
        (True, False): _("{time}: {measure} set to {new} {unit} automatically by the drill."),
        (False, True): _("{time}: {measure} set to {new} {unit} (was {old}) by {who}."),
        (False, False): _("{time}: {measure} set to {new} {unit} by {who}."),
    }[ramp, known]
    return text.format(
        time=minutes(change.at_s),
        measure=full_title(change.target.measure),
        new=band(change.target),
        unit=unit_words(change.target.unit),
        old="" if change.old is None else band(change.old),
        who=_(change.source),
    )


def _remarks(digest: Digest) -> Iterator[str]:
    """The notes; of very many the first and the last, so that the page stays one to be read."""
    most = MOST_REMARKS // 2
    left_out = len(digest.remarks) - 2 * most
    for number, remark in enumerate(digest.remarks):
        if left_out > 0 and number == most:
            yield _n(
                "{count} more note is not shown here. It is in the session's record, and "
                "'beltside export' writes it to a .json file.",
                "{count} more notes are not shown here. They are in the session's record, and "
                "'beltside export' writes all of them to a .json file.",
                left_out,
            ).format(count=left_out)
        if left_out <= 0 or not most <= number < most + left_out:
            yield _remark(digest, remark)


def _remark(digest: Digest, remark: NoteSummary) -> str:
    if _late(digest, remark.at_s):
        said = _("After the run: note by {who}: {text}")
    else:
        said = _("{time}: note by {who}: {text}")
    return said.format(time=minutes(remark.at_s), who=_(remark.source), text=remark.text)


def _rated(digest: Digest, value: int, at_s: float) -> str:
    said = _("{value} after the run") if _late(digest, at_s) else _("{value} at {time}")
    return said.format(value=value, time=minutes(at_s))


def _late(digest: Digest, at_s: float) -> bool:
    """Whether it came after the run's end, and so has no time there."""
    return digest.ended_s is not None and at_s > digest.ended_s
