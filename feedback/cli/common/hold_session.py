"""Holds a session: source, screens, sound, record, and scripted answers."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import MappingProxyType

from feedback.athlete_files.baselines import known_baseline
from feedback.cli.common.belt_ends import belt_ends
from feedback.cli.common.feed import open_feed
from feedback.cli.common.keep_records import open_track
from feedback.cli.common.network import open_network
from feedback.cli.common.pose_model import model_path
from feedback.cli.common.sensors import wanted_sensors
from feedback.cli.common.sound_and_screens import (
    open_panel,
    open_sound,
    panel_spawner,
    screen_spawner,
)
from feedback.cli.common.tell import note
from feedback.demo import demo_clip
from feedback.journal.entries import Entry
from feedback.journal.writer import (
    Header,
    Journal,
    limits_in_force,
    new_path,
    new_uid,
    sessions_folder,
    versions,
)
from feedback.records.moments import newest_begin
from feedback.session.interface import Confirm, Rated
from feedback.session.track_file import BaselineSetUp, DrillSetUp, Track
from feedback.sound.speaker import SilentSpeaker
from feedback.sound.tones import DEFAULT_VOLUME
from feedback.station.setup import SessionOutcome, StationSetup
from feedback.station.station import Station
from feedback.storage.folders import make_private
from feedback.storage.preferences import read_preferences
from feedback.terminal.guard import say
from feedback.terminal.output import can_type, lost_output, never_wait, read_line
from feedback.texts.runner import CAUTIONS, words
from feedback.texts.training import after_question, phrase
from feedback.training.course import Course
from live.camera.sources import CameraSource, FileSource, FrameSource, StreamSource
from live.pose.model import PoseModel
from shared.clock import ClockAnchor, anchor_now
from shared.flow import View
from shared.language import _, mark, told
from shared.own_values import Baseline
from shared.plain_text import plain_lines
from shared.problems import UserError
from shared.targets import Athlete, Prescription, Question, SessionKind, Target, Voucher

LINGER_S = 4.0
_ON_SCREEN = mark(
    "The screen is open. Stop: any key, the Stop button, or a hand held over the head."
)
_DIGITS = mark("Number keys rate pain, P pauses.")
_DIGITS_ANSWER = mark("Number keys answer questions, and rate pain at any other time; P pauses.")


@dataclass(frozen=True)
class Plot:
    """What is to be held."""

    athlete: Athlete
    view: View
    course: Course | None
    """What comes when; None for a session that goes on until it is stopped."""
    speech: frozenset[str]
    """Spoken lines that may be called for."""
    text: str = ""
    """The file behind it, for the record."""
    prescription: Prescription | None = None
    voucher: Voucher | None = None
    """Who stands behind the prescription."""
    kind: SessionKind | None = None
    number: int | None = None
    time_limit_s: float | None = None
    trial: bool = False
    """To try things out: it counts for nothing."""
    set_up: DrillSetUp | BaselineSetUp | None = None
    """How the course was made, for a track."""


@dataclass(frozen=True)
class SessionResult:
    """How it went."""

    outcome: SessionOutcome
    track: Track | None
    record: Path
    journal: Journal
    """Closed; it still holds what could not be saved."""
    anchor: ClockAnchor
    station: Station
    """Still takes notes and ratings; whoever held the session closes it."""
    uid: str = ""
    """Of the record, made as the session began."""

    def __enter__(self) -> SessionResult:
        return self

    def __exit__(self, *_: object) -> None:
        self.station.close()


def source_of(options: argparse.Namespace) -> FrameSource:
    """The source that was asked for; the first camera where none was."""
    if options.clip is not None:
        return FileSource(demo_clip(View(options.clip)), as_live=True, loop=True)
    if options.file_source is not None:
        path = Path(options.file_source).expanduser()
        return FileSource(path, as_live=True, loop=options.loop)
    if options.stream is not None:
        return StreamSource(options.stream)
    return CameraSource(options.camera or 0)


def is_recorded(options: argparse.Namespace) -> bool:
    """Whether nobody is on a belt: the pictures come from a file."""
    return is_drawn(options) or options.file_source is not None


def is_drawn(options: argparse.Namespace) -> bool:
    """Whether the pictures are a bundled clip, which shows no living runner."""
    return options.clip is not None


def cautions_confirmed(options: argparse.Namespace) -> bool:
    """Show the cautions and ask, where somebody is going to run; anything but a yes is a no.

    With a screen they are confirmed there.
    """
    if options.cautions_read or is_recorded(options) or not options.headless:
        return True
    lines = "\n".join(f"- {words(key)}" for key in CAUTIONS)
    say(_("Before you start:\n{lines}").format(lines=lines))
    return ask_yes_no(_("Have you read and checked all of these?")) is True


def ask_yes_no(question: str) -> bool | None:
    """A question in the terminal; None when nobody answers."""
    sys.stdout.write(plain_lines(f"{question} [y/n] "))
    sys.stdout.flush()
    answer = read_line().strip().lower()
    return {"y": True, "yes": True, "n": False, "no": False}.get(answer)


def hold(
    options: argparse.Namespace,
    plot: Plot,
    watch: Callable[[Entry], None] | None = None,
    answers: Mapping[Question, int] = MappingProxyType({}),
) -> SessionResult:
    """Hold the session to its end. ``answers`` are given by themselves whenever they are asked.

    What is returned is to be closed: it takes notes and ratings until then.

    Raises UserError when something that it cannot do without is missing.
    """
    source = source_of(options)
    _check_folder(sessions_folder())
    path = model_path(options.model)
    source.open()
    source.close()
    network = open_network(options)
    anchor = anchor_now()
    newest = newest_begin(sessions_folder(), datetime.fromisoformat(anchor.wall_utc))
    uid = new_uid()
    record = new_path(anchor, plot.athlete, uid)
    model = PoseModel(path)
    limits = plot.athlete.limits
    preferred = read_preferences()
    volume = min(DEFAULT_VOLUME if options.volume is None else options.volume, limits.volume_most)
    speaker, problem = open_sound(
        not options.no_sound,
        volume,
        plot.speech,
        most=limits.volume_most,
        percent=preferred.volume_percent,
        device=preferred.sound_device,
    )
    if problem is not None:
        note(problem)
    recorded = is_recorded(options)
    cautions = not options.headless and (not recorded or options.ask_cautions)
    edges, backdrop = belt_ends(options, source, plot.view)
    sound = "" if isinstance(speaker, SilentSpeaker) else _("the computer's sound output")
    baseline = known_baseline(plot.athlete, plot.view, plot.prescription)
    header = _header(plot, source, anchor, uid, newest, sound, baseline, drawn=is_drawn(options))
    track = open_track(
        options,
        record,
        header,
        time_limit_s=plot.time_limit_s,
        cautions=cautions,
        edges=edges,
        course=plot.set_up,
    )
    feed = open_feed(options, uid, plot.view, anchor)
    order = StationSetup(
        athlete=plot.athlete,
        view=plot.view,
        source=source,
        model=model,
        speaker=speaker,
        spawn_screen=None if options.headless else screen_spawner(options),
        spawn_panel=panel_spawner(options),
        time_limit_s=plot.time_limit_s,
        demo=recorded,
        cautions=cautions,
        edges=edges,
        backdrop=backdrop,
        linger_s=None if plot.course is None else LINGER_S,
        course=plot.course,
        track=track,
        record=record,
        baseline=baseline,
        network=network,
        feed=feed,
        sensors=wanted_sensors(options),
        late=True,
    )
    never_wait()
    station = Station(order)
    try:
        if not options.headless:
            station.open_screen()
            if options.cautions_read:
                station.ask(Confirm(source="the command line"))
            elif cautions:
                say(_("The cautions are on the screen: check them, then press Y there."))
            say(_(_ON_SCREEN))
            say(_(_DIGITS) if plot.course is None else _(_DIGITS_ANSWER))
        open_panel(station)
        journal = Journal(record, header)
        outcome = station.run(journal, _Watch(station, watch, answers))
    except BaseException:
        station.close()
        raise
    return SessionResult(
        outcome=outcome,
        track=track,
        record=record,
        journal=journal,
        uid=uid,
        anchor=anchor,
        station=station,
    )


class _Watch:
    """Passes entries on, and answers what is asked as it was scripted."""

    def __init__(
        self,
        station: Station,
        watch: Callable[[Entry], None] | None,
        answers: Mapping[Question, int],
    ) -> None:
        self._station = station
        self._watch = watch
        self._answers = answers
        self._answered: Question | None = None

    def __call__(self, entry: Entry) -> None:
        if self._watch is not None:
            self._watch(entry)
        asked = self._station.asked
        if asked is not None and asked is not self._answered and asked in self._answers:
            answer = Rated(what=asked, value=self._answers[asked], source="a script")
            self._station.ask(answer)
        self._answered = asked


def _header(
    plot: Plot,
    source: FrameSource,
    anchor: ClockAnchor,
    uid: str,
    newest: datetime | None,
    sound: str,
    own: Baseline | None,
    *,
    drawn: bool,
) -> Header:
    taking = isinstance(plot.set_up, BaselineSetUp)
    return Header(
        uid=uid,
        versions=versions(),
        anchor=anchor,
        source=source.describe(),
        view=plot.view,
        athlete=plot.athlete,
        athlete_text="" if plot.prescription is not None else plot.text,
        limits=limits_in_force(plot.athlete.limits, plot.time_limit_s),
        kind=plot.kind,
        number=plot.number,
        prescription=plot.prescription,
        voucher=plot.voucher,
        prescription_text=plot.text if plot.prescription is not None else "",
        sound=sound,
        demo=drawn,
        baseline=taking,
        trial=plot.trial,
        begun_with=targets_at_start(plot),
        own=None if taking else own,
        newest_before_utc="" if newest is None else newest.isoformat(),
    )


def targets_at_start(plot: Plot) -> tuple[Target, ...]:
    """The targets that are in force as it begins."""
    return plot.athlete.targets if plot.course is None else plot.course.advance(0, 0).targets


def _check_folder(folder: Path) -> None:
    """A session that cannot be recorded is not begun. Raises UserError ``save_failed``."""
    make_private(folder)
    if not os.access(folder, os.W_OK | os.X_OK):
        raise UserError("save_failed", path=str(folder), why=told("writing there is not allowed"))


def ask_rating(question: Question, answers: Mapping[Question, int]) -> int | None:
    """An answer from 0 to 10, scripted or typed standing still; None where there is none."""
    if question in answers:
        return answers[question]
    if not can_type():
        return None
    while lost_output() is None:
        sys.stdout.write(plain_lines(f"{after_question(question)} "))
        sys.stdout.flush()
        text = read_line()
        if not text.strip():
            return None
        if text.strip().isdigit() and int(text) <= 10:
            return int(text)
        say(_("A whole number from 0 to 10, or press Enter to skip."))
    return None


def morning_of(options: argparse.Namespace) -> bool:
    """Whether the pain had settled by the next morning. Raises UserError ``answer_missing``."""
    if options.morning is not None:
        return bool(options.morning == "settled")
    question = phrase("ask_morning")
    settled = ask_yes_no(question) if can_type() else None
    if settled is None:
        raise UserError("answer_missing", question=question, option="--morning settled")
    return settled
