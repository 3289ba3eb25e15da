"""``beltside session``: a prescription's next session, from its questions to its result."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from rich.table import Table

from feedback.athlete_files.plan_log import (
    PlanLog,
    Result,
    read_log,
    result_path,
    save_done,
    save_result,
    signed_result,
)
from feedback.athlete_files.signatures import RESULTS, own_key
from feedback.athlete_files.todays_session import HeldSession as Summary
from feedback.athlete_files.todays_session import (
    Today,
    asks_for_the_morning,
    check_agreed,
    check_rested,
    done_of,
    result_of,
    todays_session,
    with_morning,
)
from feedback.athlete_files.trust import Admitted, admit, check_newest, keep_first
from feedback.cli.common.hold_session import (
    Plot,
    SessionResult,
    ask_rating,
    cautions_confirmed,
    hold,
    is_recorded,
    morning_of,
    source_of,
)
from feedback.cli.common.keep_records import finish, look_at_age, tell_track
from feedback.cli.common.save_elsewhere import Where, ask_where, keep, keep_record
from feedback.cli.common.tell import (
    LineByLine,
    band_words,
    note,
    tell_outcome,
    voucher_lines,
)
from feedback.cli.common.time_since_session import rest_problem
from feedback.cueing.cues import speech_of
from feedback.journal.entries import BlockEntry, Entry, MeasureEntry, RatingEntry, TargetEntry
from feedback.journal.writer import add_entries, versions
from feedback.records.wording import minutes
from feedback.session.track_file import DrillSetUp
from feedback.storage.folders import DataFolder, own_folder
from feedback.storage.settings import data_folder
from feedback.terminal.guard import OK, say, unbroken
from feedback.terminal.tables import PlainConsole
from feedback.texts.measures import full_title, unit_text
from feedback.texts.training import block_name, kind_name, place_in_plan, reasons_in_words
from feedback.training.block_results import BlockResult, BlockTally
from feedback.training.drill import DrillRun
from feedback.training.goals import as_athlete
from feedback.training.plan import Done
from shared.clock import now_ns
from shared.language import _, within
from shared.messages import StopReason
from shared.problems import UserError, describe
from shared.reading import read_toml_and_text
from shared.targets import BlockKind, Prescription, Question, SessionKind

PRACTISED = (BlockKind.CUED, BlockKind.UNCUED)


def run(options: argparse.Namespace) -> int:
    """Hold the session. Raises UserError when it cannot or may not be begun."""
    if options.on_screen:
        from feedback.cli.common.home_pages import hold_on_screen  # it leads back here

        return hold_on_screen(options)
    look_at_age()
    path = Path(options.file).expanduser()
    admitted = admit_to_run(options, path)
    prescription = admitted.prescription
    log, morning = ask_the_morning(options, prescription, read_log(prescription))
    today = session_due(options, prescription, log)
    announce(admitted, today)
    if not cautions_confirmed(options):
        say(_("Nothing was started."))
        return OK
    code, _out = hold_and_save(options, path, admitted, today, morning)
    return code


def admit_to_run(options: argparse.Namespace, path: Path) -> Admitted:
    """The prescription that is to be run. Raises UserError where it may not be run here."""
    admitted = admit(path, accept_unsigned=options.accept_unsigned)
    if not options.earlier:
        check_newest(path, admitted.prescription)
    return admitted


def session_due(
    options: argparse.Namespace, prescription: Prescription, log: PlanLog, *, alone: bool = False
) -> Today:
    """The session that is due, or that was asked for. ``alone``: no clinician is at hand.

    Raises UserError ``ask_clinic``, ``too_early`` or ``rest_unknown`` when it may not be begun.
    """
    now_s = round(time.time())
    today = todays_session(prescription, log, now_s, options.number, options.shorten)
    if alone and not options.agreed:
        check_agreed(today)
    if options.number is None and not options.now:
        problem = rest_problem(prescription, log, today.proposal, now_s)
        if problem is not None:
            raise problem
        check_rested(today)
    return today


def ask_the_morning(
    options: argparse.Namespace, prescription: Prescription, log: PlanLog
) -> tuple[PlanLog, bool | None]:
    """The log with the answer about the morning after the last session, and that answer."""
    if not asks_for_the_morning(log):
        return log, None
    morning = morning_of(options)
    answered = with_morning(log, morning)
    save_done(prescription, answered.done[-1], log.done[-1])
    return answered, morning


def announce(admitted: Admitted, today: Today) -> None:
    """Say which session this is, who stands behind it, and what it is made of."""
    prescription = admitted.prescription
    name, drill = prescription.code_name, prescription.drill.title
    plan = prescription.plan
    place = str(today.number) if plan is None else place_in_plan(plan, today.number)
    say(
        _("{name}: {drill}. Session {place}, {kind_name}.").format(
            name=name, drill=drill, place=place, kind_name=kind_name(today.kind)
        )
    )
    for line in voucher_lines(admitted.voucher, prescription):
        say(line)
    if today.reasons:
        say(
            _("No progression: {reasons_in_words}.").format(
                reasons_in_words=reasons_in_words(today.reasons)
            )
        )
    for number, block in enumerate(today.blocks, start=1):
        length = f"{block.steps} steps"
        if block.length_ns is not None:
            length = minutes(block.length_ns / 1e9)
        cued = "" if block.aim is None else f": {prescription.drill.aims[block.aim].name}"
        say(
            _("  {number}. {block_name}{cued}, {length}, {belt_speed_kmh:g} km/h").format(
                number=number,
                block_name=block_name(block.kind),
                cued=cued,
                length=length,
                belt_speed_kmh=block.belt_speed_kmh,
            )
        )


def hold_and_save(
    options: argparse.Namespace,
    path: Path,
    admitted: Admitted,
    today: Today,
    morning: bool | None,
    ask: Callable[[Question, Mapping[Question, int]], int | None] = ask_rating,
    where: Where = ask_where,
) -> tuple[int, Path]:
    """Hold it, ask what is asked at the end, save log and result; the exit code and the file.

    All is saved before the first question too: who walks away then loses nothing. ``where`` is
    asked for another place for a result that cannot be saved. Raises UserError ``save_failed``
    where there is none.
    """
    prescription = admitted.prescription
    course = today.course(prescription)
    answers = dict(options.answer)
    athlete = as_athlete(prescription)
    tally = BlockTally(athlete)
    watch = _BlockWatch(tally, printing=options.headless)
    plot = Plot(
        athlete=athlete,
        view=prescription.view,
        course=course,
        speech=speech_of(athlete.targets, reminders=today.kind is SessionKind.REMINDER),
        text=read_toml_and_text(path)[1],
        prescription=prescription,
        voucher=admitted.voucher,
        kind=today.kind,
        number=today.number,
        time_limit_s=prescription.limits.longest_min * 60,
        trial=is_recorded(options) or options.shorten > 1,
        set_up=DrillSetUp(blocks=today.blocks, levels=today.levels, shorten=today.shorten),
    )
    keep_first(admitted)
    key = _own_key()
    with hold(options, plot, watch, answers) as held:
        blocks = tally.results(now_ns())

        put_down: Done | None = None
        own = own_folder(DataFolder.RESULTS)
        folder = own if options.out is None else options.out.expanduser().parent

        def save(asked: dict[Question, int], into: Path = folder) -> Path:
            nonlocal put_down
            result, done = _result(
                options, prescription, today, morning, plot, course, held, blocks, asked
            )
            if key is not None:
                result = signed_result(result, key)
            named = into == folder and options.out is not None
            path = options.out.expanduser() if named else result_path(result, into)
            save_result(result, path)
            if not plot.trial:
                try:
                    save_done(prescription, done, put_down)
                except UserError as error:
                    if into == folder:
                        raise
                    note(error.problem)  # the result itself is safe elsewhere
                put_down = done
            return path

        with unbroken():
            code = tell_outcome(held.outcome, held.record)
            _show_blocks(blocks)
            out, failed = _tried(lambda: save({}))
        keep_record(held.outcome, held.journal)
        asked: dict[Question, int] = {}
        to_ask = prescription.drill.ask_at_end if held.outcome.signal_number is None else ()
        for question in to_ask:
            value = ask(question, answers)
            if value is not None:
                asked[question] = value
                out, failed = _tried(lambda: save(asked))
                if held.outcome.saved:
                    _put_down(held.record, question, value)
        if failed is not None:
            if held.outcome.signal_number is not None:
                raise failed
            out = keep(lambda into: save(asked, into), folder, where)
        tell_track(held.track)
        code = finish(options, held, code)
        if late := _rated_late(held.station.added, asked):
            save(late)
    say(f"Result: {out}" + (_(" (a trial: it does not count)") if plot.trial else ""))
    return code, out


def _own_key() -> Ed25519PrivateKey | None:
    """The key that results are signed with here; a session is held without it, too."""
    try:
        return own_key(data_folder(), RESULTS)
    except UserError as error:
        path = str(data_folder() / RESULTS)
        note(describe("result_unsigned", str(error), path=path))
        return None


def _rated_late(added: Sequence[Entry], asked: dict[Question, int]) -> dict[Question, int]:
    """The answers with what was rated after the end: the worst pain, else the newest; empty: none.

    It counts for the plan as an answer in the terminal does.
    """
    found = dict(asked)
    rated = [entry for entry in added if isinstance(entry, RatingEntry)]
    for entry in rated:
        before = found.get(entry.what, 0) if entry.what is Question.PAIN else 0
        found[entry.what] = max(before, entry.value)
    return found if rated else {}


def _result(
    options: argparse.Namespace,
    prescription: Prescription,
    today: Today,
    morning: bool | None,
    plot: Plot,
    course: DrillRun,
    held: SessionResult,
    blocks: tuple[BlockResult, ...],
    asked: dict[Question, int],
) -> tuple[Result, Done]:
    """The result for the clinic, and what of the plan is done by it."""
    summary = _summary(held, course, blocks, asked)
    result = result_of(
        prescription,
        today,
        summary,
        made_with=f"beltside {versions()['beltside']}",
        source=_source_words(options),
        trial=plot.trial,
        morning=morning,
    )
    return result, done_of(today, summary)


def _tried(save: Callable[[], Path]) -> tuple[Path, UserError | None]:
    """Save; why it could not be done is told later, when all is asked."""
    try:
        return save(), None
    except UserError as error:
        return Path(), error


def _put_down(record: Path, question: Question, value: int) -> None:
    """An answer after the run goes into the record too, for its report."""
    rating = RatingEntry(
        at_ns=now_ns(), what=question, value=value, asked=True, source="asked after the run"
    )
    try:
        add_entries(record, [rating])
    except UserError as error:
        note(error.problem)  # it stands in the result file all the same


def _source_words(options: argparse.Namespace) -> str:
    """Where the pictures came from; of a file its name only, for the result is sent away."""
    described = source_of(options).describe()
    return Path(described).name if is_recorded(options) else described


def _summary(
    held: SessionResult,
    course: DrillRun,
    blocks: tuple[BlockResult, ...],
    asked: dict[Question, int],
) -> Summary:
    anchor = held.anchor
    reason = held.outcome.reason
    return Summary(
        reason=StopReason.FAULT if held.outcome.problem is not None else reason,
        started_utc=anchor.wall_utc,
        started_unix_s=round(anchor.wall_of(anchor.monotonic_ns).timestamp()),
        ran_ns=round(sum(block.seconds for block in blocks) * 1e9),
        blocks=blocks,
        answers=asked,
        levels=course.levels,
        session_id=held.uid,
    )


class _BlockWatch:
    """Gathers what each block comes to; without a screen it also says what happens."""

    def __init__(self, tally: BlockTally, *, printing: bool) -> None:
        self._tally = tally
        self._lines = LineByLine() if printing else None

    def __call__(self, entry: Entry) -> None:
        self._tally.take(entry)
        if self._lines is None or isinstance(entry, MeasureEntry):
            return
        match entry:
            case BlockEntry(number=number, count=count, kind=kind, cued=cued):
                what = "" if cued is None else f": {full_title(cued.measure)}"
                self._lines.line(
                    entry.at_ns, "BLOCK", f"{number} of {count}, {block_name(kind)}{what}"
                )
            case TargetEntry(target=target):
                beat = "" if target.beat_spm is None else f", beat {target.beat_spm:g}"
                title = full_title(target.measure)
                edges = band_words(target.low, target.high)
                band = f"{title}: band {edges} {unit_text(target.unit)}{beat}"
                self._lines.line(entry.at_ns, "TARGET", band)
            case RatingEntry(what=what, value=value):
                self._lines.line(entry.at_ns, "ANSWER", f"{what}: {value}")
            case _:
                self._lines(entry)


def _show_blocks(blocks: tuple[BlockResult, ...]) -> None:
    console = PlainConsole()
    table = Table(title=_("Blocks"), box=None, title_justify="left")
    for heading in ("", "block"):
        table.add_column(heading)
    for heading in ("length", "steps"):
        table.add_column(heading, justify="right")
    table.add_column(_("cued"))
    table.add_column(_("cues"), justify="right")
    table.add_column(_("on target"))
    for block in blocks:
        cued = full_title(block.cued) if block.cued else ""
        cues = sum(block.cues.values())
        told = block.kept if block.kind in PRACTISED else ()
        kept = "; ".join(
            f"{within(full_title(one.measure, one.side))} {100 * one.inside / one.judged:.0f} %"
            for one in told
        )
        table.add_row(
            str(block.number),
            block_name(block.kind),
            minutes(block.seconds),
            str(block.steps),
            cued,
            str(cues),
            kept,
        )
    console.print(table)
