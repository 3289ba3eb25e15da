"""What a clinician types at a console without a screen, and the lines it prints (pure)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from feedback.link.client_state import LinkState, LinkStatus
from feedback.texts.measures import full_title
from shared.catalogue import CATALOGUE
from shared.changes import MOST_NOTE_LETTERS, Adjust, Answered, MoveBlock, Note, TargetState, Undo
from shared.language import _, mark
from shared.messages import Pause, Rating, Request, SessionState, Snapshot
from shared.plain_text import plain_line
from shared.targets import Question
from shared.units import NS_PER_S

HELP: Final = mark(
    """\
  state            show the current state
  aim N VALUE      set the aim of target N to VALUE; its band moves with it
  undo N           undo the last change of target N
  block N          end this block and begin block N of the drill
  note WORDS       add a note to the record
  pain N           the runner's pain, 0 to 10
  pause            pause; continue only at the station
  stop             stop at once; a new session starts only at the station
  quit             exit; the session continues
With several stations, start with the station's number: 2 stop"""
)
_AIM: Final = re.compile(r"aim +(\d{1,2}) +(-?\d{1,4}(?:[.,]\d{1,3})?)")
_NUMBERED: Final = re.compile(r"(undo|block|pain) +(\d{1,4})")


@dataclass(frozen=True, slots=True)
class Wrong:
    """What was typed is no command, or cannot be one now."""

    why: str


@dataclass(frozen=True, slots=True)
class StopNow:
    """Stop was typed."""


Typed = Request | StopNow | Wrong


def understood(text: str, snapshot: Snapshot | None, request_id: int) -> Typed:
    """What ``text`` asks of the station that ``snapshot`` is of; targets count from 1."""
    text = text.strip()
    word, _blank, rest = text.partition(" ")
    targets = () if snapshot is None else snapshot.targets
    if text == "stop":
        return StopNow()
    if text == "pause":
        return Pause()
    if word == "note" and (note := plain_line(rest, MOST_NOTE_LETTERS)):
        return Note(id=request_id, text=note)
    if found := _AIM.fullmatch(text):
        target = _target(targets, int(found[1]))
        aim = float(found[2].replace(",", "."))
        if isinstance(target, Wrong):
            return target
        return Adjust(id=request_id, number=target.number, revision=target.revision, aim=aim)
    if found := _NUMBERED.fullmatch(text):
        return _numbered(found[1], int(found[2]), snapshot, request_id)
    return Wrong(_("Unknown command. Type 'help' for a list."))


def _numbered(word: str, number: int, snapshot: Snapshot | None, request_id: int) -> Typed:
    if word == "pain":
        if number > 10:
            return Wrong(_("Pain is a number from 0 to 10."))
        return Rating(what=Question.PAIN, value=number)
    if word == "undo":
        target = _target(() if snapshot is None else snapshot.targets, number)
        if isinstance(target, Wrong):
            return target
        return Undo(id=request_id, number=target.number, revision=target.revision)
    block = None if snapshot is None else snapshot.block
    if block is None or not 1 <= number <= block.count:
        return Wrong(_("There is no such block."))
    return MoveBlock(id=request_id, now=block.number, to=number)


def _target(targets: tuple[TargetState, ...], number: int) -> TargetState | Wrong:
    if not 1 <= number <= len(targets):
        known = f"1 to {len(targets)}" if targets else _("none now")
        return Wrong(
            _("There is no target {number}. Available: {known}.").format(number=number, known=known)
        )
    return targets[number - 1]


def link_line(status: LinkStatus, now_ns: int) -> str:
    """How the link stands; empty while there is nothing to say about it."""
    parts = []
    if status.state is LinkState.REFUSED:
        parts.append(_("NOT LINKED. {why}").format(why=status.why))
    elif status.state is LinkState.ENDED:
        parts.append(_("The station has ended: {why}").format(why=status.why))
    elif status.lost_ns is not None and status.state is not LinkState.CONNECTING:
        seconds = (now_ns - status.lost_ns) // NS_PER_S
        parts.append(
            _("CONNECTION LOST for {seconds} s ({value}). Reconnecting.").format(
                seconds=seconds, value=status.why.rstrip(".")
            )
        )
    if status.stop_waits:
        parts.append(_("STOP HAS NOT REACHED THE STATION YET."))
    elif status.state is LinkState.JOINED and status.why:
        parts.append(status.why)
    return " ".join(parts)


def state_lines(snapshot: Snapshot) -> tuple[str, ...]:
    """The session in a few lines."""
    minutes, seconds = divmod(int(snapshot.elapsed_s), 60)
    head = f"{snapshot.code_name}: {snapshot.state}, {minutes}:{seconds:02d}"
    if snapshot.state is SessionState.STOPPED and snapshot.stop_reason is not None:
        head += f" ({snapshot.stop_reason})"
    if snapshot.block is not None:
        head += f", block {snapshot.block.number} of {snapshot.block.count}"
    head += f", step {snapshot.step_number}"
    lines = [head]
    lines += [_target_line(target) for target in snapshot.targets]
    lines += [f"  {problem.title}" for problem in snapshot.problems]
    return tuple(lines)


def answer_line(answer: Answered) -> str:
    """What came of a request."""
    if not answer.done:
        return _("Not done: {why}").format(why=answer.why)
    step = (
        ""
        if answer.from_step is None
        else _(" It applies from step {from_step}.").format(from_step=answer.from_step)
    )
    now = "" if answer.target is None else f" {_target_line(answer.target).strip()}"
    return _("Done.{step}{now}").format(step=step, now=now)


def _target_line(target: TargetState) -> str:
    spec = CATALOGUE[target.measure]
    value = _("not known") if target.value is None else f"{target.value:.{spec.decimals}f}"
    title = full_title(target.measure, target.side)
    return _(
        "  {number}  {title}: {value} {unit} ({state}); aim {aim:g}, "
        "may be {aim_least:g} to {aim_most:g}"
    ).format(
        number=target.number + 1,
        title=title,
        value=value,
        unit=target.unit,
        state=target.state,
        aim=target.aim,
        aim_least=target.aim_least,
        aim_most=target.aim_most,
    )
