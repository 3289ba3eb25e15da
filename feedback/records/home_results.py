"""Takes in the result of a session held at home, after checks."""

from __future__ import annotations

import contextlib
import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Final

import msgspec
from msgspec import Meta

from feedback.athlete_files.baselines import SPEED_WITHIN_KMH
from feedback.athlete_files.plan_log import Result, is_as_held
from feedback.athlete_files.prescriptions import read_prescription
from feedback.athlete_files.signatures import short
from feedback.records.answers import uid_of_result
from feedback.records.aside import Aside
from feedback.records.result_limits import faults, started_of
from feedback.records.summary import Answer, BlockSummary, Digest, MeanValue, Origin
from feedback.storage.folders import DataFolder, files, make_private, own_folder
from feedback.texts.training import place_in_plan
from feedback.training.block_results import BlockMean, BlockResult
from feedback.training.counting import SessionPart
from shared.catalogue import CATALOGUE
from shared.change import Error, kept_error, together
from shared.files import save_atomically
from shared.flow import Side
from shared.identity import id_of, plain
from shared.language import _
from shared.problems import UserError
from shared.reading import read_json
from shared.targets import BlockKind, Goal, Prescription, Question, Target

SUFFIX: Final = ".home.json"
MOST_NAME: Final = 40
"""Letters of a name that is not known, as it is told."""


class Received(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A result as it is kept, with the prescription it belongs to."""

    format: Annotated[int, Meta(ge=1, le=1)] = 1
    result: Result
    prescription: Prescription


def prescriptions_here() -> tuple[Prescription, ...]:
    """Every prescription of this computer that is as it was written."""
    found = []
    for path in files(own_folder(DataFolder.PRESCRIPTIONS)):
        try:
            found.append(read_prescription(path))
        except UserError:  # a broken one answers nothing
            continue
    return tuple(found)


def checked(
    path: Path,
    result: Result,
    known: Sequence[Prescription],
    signers: Collection[str],
    *,
    accept_unsigned: bool = False,
) -> Received:
    """The result with its prescription. ``signers`` are the public keys of the clinic's stations.

    Raises UserError ``result_refused``: of a trial, of a prescription that was not written or
    signed here, of another athlete than that is for, with values that cannot be, or changed since
    it was signed where the session was held.
    """
    if result.trial:
        raise _refused(path, _("it is from a trial"), _("Ask for the file of a real session."))
    named = [one for one in known if one.check == result.prescription]
    same = [one for one in named if one.signature == result.signature]
    given = next(iter((*same, *named)), None)
    if given is None:
        why = _("the prescription it belongs to is not known here")
        raise _refused(path, why, _("Add that prescription with --prescription FILE."))
    check_vouched(path, given, signers, accept_unsigned=accept_unsigned)
    _check_signature(path, result, given)
    if not is_as_held(path, result):
        why = _("it has been changed since the computer wrote it")
        raise _refused(path, why, _("Ask for the file exactly as the program wrote it."))
    if given.code_name != result.code_name or result.athlete_id not in ("", given.athlete_id):
        why = _("it is {name}'s, and its prescription is {other}'s").format(
            name=result.code_name, other=given.code_name
        )
        raise _refused(path, why, _("Check whose file it is."))
    near = abs(given.belt_speed_kmh - result.belt_speed_kmh) <= SPEED_WITHIN_KMH
    if given.view is not result.view or not near:
        why = _("its view or belt speed is not the prescription's")
        raise _refused(path, why, _("Ask how the session was run."))
    wrong = next(faults(result, given.plan, datetime.now(tz=UTC)), None)
    if wrong is not None:
        raise _refused(
            path, wrong, _("Ask for the file again: this one is damaged or was changed.")
        )
    return Received(result=result, prescription=given)


def check_vouched(
    path: Path, given: Prescription, signers: Collection[str], *, accept_unsigned: bool
) -> None:
    """That one of these keys has signed it; ``path`` is the result that it comes with.

    That the signature fits the prescription is seen to where the prescription is read. Raises
    UserError ``result_refused``.
    """
    if given.signature and given.signed_by not in signers:
        why = _("its prescription was signed elsewhere, by the station {key}")
        why = why.format(key=short(given.signed_by))
        do = _(
            "If that station is the clinic's own, put its signed_by under signers in records.toml."
        )
        raise _refused(path, why, do)
    if not given.signature and not accept_unsigned:
        why = _("its prescription is not signed, so anyone may have written it")
        do = _(
            "If it is one of yours from an older version without signing, add --accept-unsigned. "
            "For the future, sign it with 'beltside sign' and send it out again."
        )
        raise _refused(path, why, do)


def _check_signature(path: Path, result: Result, given: Prescription) -> None:
    """That it carries the signature of the prescription it belongs to."""
    if given.signature and not result.signature:
        why = _("it does not carry its prescription's signature")
        raise _refused(path, why, _("Ask for the file exactly as the program wrote it."))
    if (result.signature, result.signed_by) != (given.signature, given.signed_by):
        why = _("its signature differs from that of the prescription with that name here")
        raise _refused(path, why, _("Ask for the file exactly as the program wrote it."))


def _refused(path: Path, why: str, action: str) -> UserError:
    return UserError("result_refused", path=str(path), why=why, do=action)


def save_received(received: Received, folder: Path) -> Path:
    """Keep it among the journals, readable by its owner only. Raises UserError ``save_failed``.

    No two sessions have one file: what was taken in stays.
    """
    result = received.result
    whose = f"{plain(result.code_name)}-{athlete_of_received(received)}"
    stamp = f"{started_of(result):%Y-%m-%dT%H%M%SZ}"
    path = folder / f"{stamp}-{whose}-{uid_of_result(result)[:12]}{SUFFIX}"
    make_private(folder)
    save_atomically(path, msgspec.json.encode(received))
    return path


def read_received(path: Path) -> Received:
    """Read one that was kept. Raises UserError, also where an older version kept what cannot be."""
    received = read_json(path, Received, _("a result that was taken in"))
    wrong = next(faults(received.result, None, datetime.now(tz=UTC)), None)
    for goal in received.prescription.goals:
        if unknown := {target.measure for target in goal.targets} - set(CATALOGUE):
            wrong = _('there is no measure "{name}"').format(name=min(unknown)[:MOST_NAME])
    if wrong is not None:
        raise UserError("file_unreadable", path=str(path), why=wrong)
    return received


def received_aside(aside: Sequence[Aside]) -> tuple[Digest, ...]:
    """Those sessions from home that are set aside, and can be read."""
    found = []
    for path in (path for one in aside for path in one.files if path.name.endswith(SUFFIX)):
        with contextlib.suppress(UserError):
            found.append(digest_received(read_received(path)))
    return tuple(found)


def check_whose(path: Path, received: Received, asked: str, meant: Collection[str]) -> None:
    """That it is of the athlete who was asked for; ``meant`` are the ids that this may mean.

    Raises UserError ``result_refused``.
    """
    whose, name = athlete_of_received(received), received.result.code_name
    if whose not in meant and (meant or name != asked):
        why = _("it is {name}'s, not {asked}'s").format(name=name, asked=asked)
        raise _refused(path, why, _("Check whose file it is."))


def athlete_of_received(received: Received) -> str:
    """The id of the athlete whose it is: as the prescription has it, which is signed."""
    return received.prescription.athlete_id or id_of(received.result)


def digest_received(received: Received) -> Digest:
    """What the session comes to; files of older versions hold no spread, so no uncertainty."""
    result, given = received.result, received.prescription
    return Digest(
        uid=uid_of_result(result),
        code_name=result.code_name,
        athlete_id=athlete_of_received(received),
        origin=Origin.HOME,
        prescription=result.prescription,
        started_utc=started_of(result).isoformat(),
        view=result.view,
        belt_speed_kmh=result.belt_speed_kmh,
        kind=result.kind,
        number=result.session.number,
        planned=None if given.plan is None else len(given.plan.sessions),
        place="" if given.plan is None else place_in_plan(given.plan, result.session.number),
        demo=False,
        source=f"at home, {result.source}",
        version=result.made_with,
        run_s=sum(block.seconds for block in result.blocks),
        steps=sum(block.steps for block in result.blocks),
        stop_reason=result.session.stop_reason,
        means=tuple(_means(result.blocks, {g.targets[-1].measure for g in given.goals})),
        targets=(),
        first_targets=tuple(_reached(goal, result) for goal in given.goals),
        goals=given.goals,
        own_cadence_spm=None,
        answers=tuple(_answers(result)),
        changes=(),
        blocks=tuple(_blocks(result)),
        notices=(),
        cues=_cues(result.blocks),
        decided_ms=None,
        sounded_ms=None,
        lost=False,
        unsigned=not given.signature,
        baseline_utc=given.baseline_utc,
        held_by=result.held_by,
    )


def _reached(goal: Goal, result: Result) -> Target:
    """The step of the ramp that the session ended with; a result says no more than that."""
    last = len(goal.targets) - 1
    return goal.targets[min(max(0, result.session.levels.get(goal.name, 0)), last)]


def _means(blocks: Sequence[BlockResult], aimed: set[str]) -> Iterator[MeanValue]:
    found: dict[tuple[str, Side | None, str, SessionPart], list[BlockMean]] = defaultdict(list)
    for block in blocks:
        for mean in block.means:
            part = _part(block, mean.name, aimed)
            if part is None or mean.values == 0:
                continue
            for one in {SessionPart.ALL, part}:
                found[mean.name, mean.side, mean.unit, one].append(mean)
    for (*_name, part), means in found.items():
        yield _pooled(means, part)


def _pooled(means: Sequence[BlockMean], part: SessionPart) -> MeanValue:
    """One mean over several blocks; without a spread where any block has none (older files)."""
    first = means[0]
    values = sum(one.values for one in means)
    mean = sum(one.mean * one.values for one in means) / values
    sd = stated = error = None
    if values > 1 and all(one.sd is not None for one in means if one.values > 1):
        squares = sum(
            (one.sd or 0.0) ** 2 * (one.values - 1) + (one.mean - mean) ** 2 * one.values
            for one in means
        )
        sd = math.sqrt(squares / (values - 1))
        error = _pooled_error(means, mean, sd)
    if all(one.stated is not None for one in means):
        stated = sum((one.stated or 0.0) * one.values for one in means) / values
    return MeanValue(
        measure=first.name,
        side=first.side,
        unit=first.unit,
        part=part,
        mean=mean,
        sd=sd,
        values=values,
        sem=None if error is None else error.sem,
        stated=stated,
        freedom=None if error is None else error.freedom,
    )


def _pooled_error(means: Sequence[BlockMean], mean: float, sd: float) -> Error | None:
    """From the scatter within the blocks, or of the blocks themselves where that is larger.

    Blocks differ by more than their steps do where the runner changes in the course of a session.
    None where no block has more than one value that stands alone.
    """
    values = sum(one.values for one in means)
    shares = [(one.values / values, kept_error(one.sem, one.freedom)) for one in means]
    if all(error is None for _, error in shares):
        return None
    # A single value is off by the spread of single values.
    known = [(share, Error(sd) if error is None else error) for share, error in shares]
    within = together(*(Error(share * e.sem, e.freedom) for share, e in known))
    if len(means) == 1:
        return within
    squares = sum((one.mean - mean) ** 2 * one.values for one in means) / values
    between = math.sqrt(squares / (len(means) - 1))
    return Error(max(within.sem, between), within.freedom)


def _part(block: BlockResult, name: str, aimed: set[str]) -> SessionPart | None:
    """As for a session with a journal."""
    if block.kind is BlockKind.UNCUED:
        return SessionPart.UNCUED
    if block.kind is not BlockKind.CUED:
        return None
    return SessionPart.ALL if name in aimed and block.cued not in ("", name) else SessionPart.CUED


def _answers(result: Result) -> Iterator[Answer]:
    at_s = 0.0
    for block in result.blocks:
        at_s += block.seconds
        for what, value in block.answers:
            yield Answer(at_s=at_s, what=what, value=value, asked=True, source="at home")
    for what, last in (
        (Question.PAIN, result.session.pain_worst),
        (Question.EFFORT, result.session.effort),
        (Question.AWKWARDNESS, result.session.awkwardness),
    ):
        if last is not None:
            yield Answer(at_s=at_s, what=what, value=last, asked=True, source="at home, at the end")


def _blocks(result: Result) -> Iterator[BlockSummary]:
    begin_s = 0.0
    for block in result.blocks:
        end_s = begin_s + block.seconds
        yield BlockSummary(
            begin_s=begin_s, end_s=end_s, kind=block.kind, belt_speed_kmh=None, cued=block.cued
        )
        begin_s = end_s


def _cues(blocks: Sequence[BlockResult]) -> dict[str, int]:
    total: dict[str, int] = defaultdict(int)
    for block in blocks:
        for kind, count in block.cues.items():
            total[kind] += count
    return dict(total)
