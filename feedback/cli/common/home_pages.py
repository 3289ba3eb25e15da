"""A session at home on the screen: pages, the camera check, the run, questions, the result."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

import msgspec

from feedback.athlete_files.plan_log import PlanLog, others_here, read_log, save_done
from feedback.athlete_files.prescriptions import read_prescription
from feedback.athlete_files.signatures import short
from feedback.athlete_files.todays_session import (
    Today,
    asks_for_the_morning,
    with_morning,
)
from feedback.athlete_files.trust import Admitted
from feedback.cli.commands.check import hold_check
from feedback.cli.commands.session import admit_to_run, announce, hold_and_save, session_due
from feedback.cli.common.hold_session import is_recorded
from feedback.cli.common.keep_records import look_at_age
from feedback.cli.common.save_elsewhere import Where
from feedback.cli.common.tell import note
from feedback.screens.home.driver import Pages
from feedback.screens.home.pages import Busy, RatingScale, Told, What, YesNo
from feedback.terminal.guard import OK, SIGNAL_BASE, say
from feedback.texts.home import step, tell
from feedback.texts.training import place_in_plan, reasons_in_words
from feedback.training.goals import speeds_of
from live.pose.bundle import bundle_path, ensure_bundle, is_sound
from shared.closing import Closing
from shared.language import _
from shared.problems import Problem, UserError
from shared.targets import Prescription, Question, Voucher
from shared.units import NS_PER_S


class _LeftError(Exception):
    """The person has left, before anything was started."""


def lead(options: argparse.Namespace) -> int:
    """Lead through one session. Raises UserError when it cannot or may not be begun."""
    look_at_age()
    path = Path(options.file).expanduser()
    read_prescription(path)  # no window for a file that is none, or was tampered with
    with Pages(windowed=options.windowed) as pages:
        try:
            return _lead(options, pages, path)
        except _LeftError:
            say(_("Nothing was started."))
            return OK
        except UserError as error:
            problem = error.problem
            if pages.open:
                texts = (problem.meaning, problem.action)
                pages.ask(Told(heading=problem.title, texts=texts, last=True, picture="warning"))
            raise


def _lead(options: argparse.Namespace, pages: Pages, path: Path) -> int:
    admitted = admit_to_run(options, path)
    prescription = admitted.prescription
    vouched = list(voucher_pages(admitted))
    _walk(pages, vouched)
    log, morning = _morning(options, pages, prescription, read_log(prescription))
    today = session_due(options, prescription, log, alone=True)
    announce(admitted, today)
    shown = [] if options.led else [_today_page(prescription, today), _camera_page(prescription)]
    _walk(pages, shown)
    while True:
        _fetch_model(options, pages)
        loading = tell("loading")
        pages.show(Busy(heading=tell("moment"), text=loading, step=step(2), picture="camera"))
        if hold_check(options, prescription.view).accepted:
            break
        # Back from the check leads to where the camera is told of.
        _walk(pages, shown or [_camera_page(prescription)], at=-1)
    pages.show(Busy(heading=tell("moment"), text=tell("run_opens"), step=step(3)))
    ask = _asker(pages)
    code, out = hold_and_save(options, path, admitted, today, morning, ask, _again(pages))
    trial = is_recorded(options) or options.shorten > 1
    key = "trial" if trial else "result"
    say(_("Send this one file to your clinic: {out}").format(out=out))
    if code >= SIGNAL_BASE or options.led:
        return code
    pages.ask(
        Told(
            heading=tell(key),
            texts=(tell(f"{key}_how"),),
            path=str(out),
            step=step(5),
            picture="check" if trial else "send",
            last=True,
        )
    )
    return code


def hold_on_screen(options: argparse.Namespace) -> int:
    """A session at the clinic whose questions before and after the run are asked in a window.

    Raises UserError when it cannot or may not be begun.
    """
    look_at_age()
    path = Path(options.file).expanduser()
    admitted = admit_to_run(options, path)
    prescription = admitted.prescription
    log, morning = read_log(prescription), None
    try:
        if asks_for_the_morning(log):
            with Pages(windowed=options.windowed) as pages:
                log, morning = _morning(options, pages, prescription, log)
    except _LeftError:
        say(_("Nothing was started."))
        return OK
    today = session_due(options, prescription, log)
    announce(admitted, today)
    with _LaterPages(windowed=options.windowed) as later:
        return hold_and_save(options, path, admitted, today, morning, later.ask, later.where)[0]


class _LaterPages(Closing):
    """Pages that open with their first question: the runner's screen has the display until then."""

    def __init__(self, *, windowed: bool) -> None:
        self._windowed = windowed
        self._pages: Pages | None = None

    def ask(self, question: Question, answers: Mapping[Question, int]) -> int | None:
        """An answer from 0 to 10; None where it is left out."""
        if question in answers:
            return answers[question]
        try:
            return _asker(self._opened())(question, answers)
        except UserError as error:  # the session itself is saved
            note(error.problem)
            return None

    def where(self, problem: Problem, folder: Path) -> Path | None:
        """What could not be saved is tried again as long as the person says so."""
        return _again(self._opened())(problem, folder)

    def close(self) -> None:
        """Close the window, if there is one."""
        if self._pages is not None:
            self._pages.close()

    def _opened(self) -> Pages:
        if self._pages is None:
            self._pages = Pages(windowed=self._windowed)
        return self._pages


def _walk(pages: Pages, shown: Sequence[Told], *, at: int = 0) -> None:
    """Show these pages one after another; Back leads to the one before. ``at``: where it begins."""
    at %= max(1, len(shown))
    while at < len(shown):
        page = msgspec.structs.replace(shown[at], back=at > 0)
        match pages.ask(page).what:
            case What.NEXT:
                at += 1
            case What.BACK if at > 0:
                at -= 1
            case _:
                raise _LeftError


def _camera_page(prescription: Prescription) -> Told:
    """Where the camera goes, with a picture of it."""
    texts = (tell(f"camera_{prescription.view}"), tell("camera_next"))
    return Told(
        heading=tell("camera"), texts=texts, step=step(2), picture=f"camera_{prescription.view}"
    )


def _morning(
    options: argparse.Namespace, pages: Pages, prescription: Prescription, log: PlanLog
) -> tuple[PlanLog, bool | None]:
    """The log with the answer about the morning after the last session, and that answer."""
    if not asks_for_the_morning(log):
        return log, None
    if options.morning is not None:
        settled = bool(options.morning == "settled")
    else:
        page = YesNo(
            heading=tell("morning"), text=tell("morning_text"), step=step(1), picture="person"
        )
        what = pages.ask(page).what
        if what not in (What.YES, What.NO):
            raise _LeftError
        settled = what is What.YES
    answered = with_morning(log, settled)
    save_done(prescription, answered.done[-1], log.done[-1])
    return answered, settled


def voucher_pages(admitted: Admitted) -> Iterator[Told]:
    """What is to be known of who stands behind the prescription, before anything is begun."""
    prescription = admitted.prescription
    if admitted.voucher is Voucher.UNSIGNED:
        speed = f"{speeds_of(prescription)[-1]:g}"
        texts = (tell("unsigned_means"), tell("unsigned_speed", speed=speed))
        yield Told(
            heading=tell("unsigned"), texts=(*texts, tell("unsigned_next")), picture="warning"
        )
    if admitted.voucher is Voucher.FIRST:
        texts = (tell("first_key", groups=short(prescription.signed_by)), tell("first_key_next"))
        yield Told(heading=tell("first_key_heading"), texts=texts, picture="page")
    others = others_here(prescription)
    if others:
        texts = (
            tell("other_name_so_far", names=", ".join(others)),
            tell("other_name_next", name=prescription.code_name),
        )
        heading = tell("other_name", name=prescription.code_name)
        yield Told(heading=heading, texts=texts, picture="person")


def _today_page(prescription: Prescription, today: Today) -> Told:
    minutes = max(1, round(today.planned_ns / (60 * NS_PER_S)))
    speed = f"{prescription.belt_speed_kmh:g}"
    texts = [tell("today_length", minutes=minutes, speed=speed)]
    if today.reasons:
        texts.append(tell("today_no_progress", reasons=reasons_in_words(today.reasons)))
    if prescription.plan is None:
        heading = tell("today", number=today.number)
    else:
        place = place_in_plan(prescription.plan, today.number)
        heading = tell("today_of", place=place)
    return Told(heading=heading, texts=tuple(texts), step=step(1), picture="runner")


def _fetch_model(options: argparse.Namespace, pages: Pages) -> None:
    """Build the pose model where it is missing, with its progress shown; it can be cancelled."""
    if options.model is not None or is_sound(bundle_path()):
        return

    def report(what: str, done: int, total: int) -> None:
        page = Busy(
            heading=tell("getting"),
            text=tell("getting_text", what=what),
            done=done,
            total=total,
            step=step(2),
            picture="fetch",
            can_cancel=True,
        )
        if pages.busy(page):
            raise _LeftError

    ensure_bundle(report)


def _again(pages: Pages) -> Where:
    """What could not be saved is tried again in its place as long as the person says so."""

    def where(problem: Problem, folder: Path) -> Path | None:
        if not pages.open:
            return None
        text = tell("not_saved_text", why=problem.title, do=problem.action)
        page = YesNo(heading=tell("not_saved"), text=text, step=step(5), picture="warning")
        return folder if pages.ask(page).what is What.YES else None

    return where


def _asker(pages: Pages) -> Callable[[Question, Mapping[Question, int]], int | None]:
    def ask(question: Question, answers: Mapping[Question, int]) -> int | None:
        """An answer from 0 to 10, scripted or given on the screen; None where it is left out."""
        if question in answers:
            return answers[question]
        if not pages.open:
            return None
        page = RatingScale(
            heading=tell(f"scale_{question}"),
            low=tell(f"scale_{question}_low"),
            high=tell(f"scale_{question}_high"),
            step=step(5),
            safety=question is Question.PAIN,
        )
        return pages.ask(page).value

    return ask
