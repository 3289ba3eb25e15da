"""``beltside run``: one session of one athlete, with cautions first and a record at the end."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from feedback.commands.opening import model_path
from feedback.commands.outputs import open_sound, screen_spawner
from feedback.commands.telling import note, tell_outcome
from feedback.cues import speech_of
from feedback.guard import OK
from feedback.profiles import Profile, check_athlete, find_athlete
from feedback.records.journal import Header, Journal, new_path, sessions_folder, versions
from feedback.screens.wording import words
from feedback.station import Order, Station
from live.frames import CameraSource, FileSource, FrameSource, StreamSource
from live.pose import PoseModel
from shared.clock import anchor_now
from shared.problems import UserError
from shared.records import View

_CAUTIONS = ("safety_key", "safety_space", "safety_belt")
_MORE_CAUTIONS = """\
Stop for pain, dizziness, chest symptoms, or when the runner asks to.
This is not a medical device: it makes no diagnosis and foretells no injury."""


def run(options: argparse.Namespace) -> int:
    """Hold one session. Raises UserError when something that it cannot do without is missing."""
    profile = find_athlete(options.athlete)
    view: View = options.view or profile.athlete.view
    check_athlete(profile.athlete, profile.path, view)
    source = _source(options)
    _check_folder(sessions_folder())
    path = model_path(options.model)
    source.open()
    source.close()
    if not options.cautions_read and not _cautions_confirmed():
        sys.stdout.write("Nothing was started.\n")
        return OK
    return _hold(options, profile, view, source, path)


def _hold(
    options: argparse.Namespace, profile: Profile, view: View, source: FrameSource, path: Path
) -> int:
    model = PoseModel(path)
    speaker, problem = open_sound(
        not options.no_sound, options.volume, speech_of(profile.athlete.targets)
    )
    if problem is not None:
        note(problem)
    limit_s = None if options.minutes is None else options.minutes * 60
    order = Order(
        athlete=profile.athlete,
        view=view,
        source=source,
        model=model,
        speaker=speaker,
        spawn_screen=screen_spawner(options),
        time_limit_s=limit_s,
    )
    station = Station(order)
    try:
        station.open_screen()
        sys.stdout.write("The screen is open. Stop: space, Esc, or the Stop button on it.\n")
        sys.stdout.flush()
        journal = _journal(profile, view, source, limit_s)
        outcome = station.run(journal)
    finally:
        station.close()
    return tell_outcome(outcome, journal.path)


def _source(options: argparse.Namespace) -> FrameSource:
    if options.camera is not None:
        return CameraSource(options.camera)
    if options.stream is not None:
        return StreamSource(options.stream)
    return FileSource(Path(options.file).expanduser(), as_live=True)


def _journal(profile: Profile, view: View, source: FrameSource, limit_s: float | None) -> Journal:
    anchor = anchor_now()
    header = Header(
        versions=versions(),
        anchor=anchor,
        source=source.describe(),
        view=view,
        athlete=profile.athlete,
        athlete_text=profile.text,
        limits={} if limit_s is None else {"time_limit_s": limit_s},
    )
    return Journal(new_path(anchor, profile.athlete.code_name), header)


def _check_folder(folder: Path) -> None:
    """A session that cannot be recorded is not begun. Raises UserError ``save_failed``."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(folder), why=why) from error
    if not os.access(folder, os.W_OK | os.X_OK):
        raise UserError("save_failed", path=str(folder), why="writing there is not allowed")


def _cautions_confirmed() -> bool:
    """Show the cautions and ask; anything but a yes is a no."""
    lines = "\n".join(f"- {line}" for line in (*map(words, _CAUTIONS), *_MORE_CAUTIONS.split("\n")))
    sys.stdout.write(f"Before you start:\n{lines}\nRead, and all of it seen to? [y/N] ")
    sys.stdout.flush()
    return sys.stdin.readline().strip().lower() in {"y", "yes"}
