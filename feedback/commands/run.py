"""``beltside run``: one session of one athlete, with cautions first and a record at the end."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from feedback.baselines import known_baseline
from feedback.commands.belt import belt_ends
from feedback.commands.holding import is_drawn, is_recorded, source_of
from feedback.commands.keeping import look_at_age, open_track, tell_track, write_report
from feedback.commands.networking import open_network
from feedback.commands.opening import model_path
from feedback.commands.outputs import open_panel, open_sound, panel_spawner, screen_spawner
from feedback.commands.telling import note, tell_outcome
from feedback.cues import speech_of
from feedback.exchange import Confirm
from feedback.guard import say
from feedback.order import Order
from feedback.profiles import Profile, check_athlete, find_athlete
from feedback.records.journal import (
    Header,
    Journal,
    limits_in_force,
    new_path,
    sessions_folder,
    versions,
)
from feedback.sound.speaker import SilentSpeaker
from feedback.sound.tones import DEFAULT_VOLUME
from feedback.station import Station
from live.frames import FrameSource
from live.pose import PoseModel
from shared.clock import anchor_now
from shared.problems import UserError
from shared.records import View

_ON_SCREEN = """\
The screen is open. Stop: any key, the Stop button on it, or a hand held over the head.
Digits rate pain, P pauses."""


def run(options: argparse.Namespace) -> int:
    """Hold one session. Raises UserError when something that it cannot do without is missing."""
    look_at_age()
    profile = find_athlete(options.athlete)
    view: View = options.view or profile.athlete.view
    check_athlete(profile.athlete, profile.path, view)
    source = source_of(options)
    _check_folder(sessions_folder())
    path = model_path(options.model)
    source.open()
    source.close()
    return _hold(options, profile, view, source, path)


def _hold(
    options: argparse.Namespace, profile: Profile, view: View, source: FrameSource, path: Path
) -> int:
    network = open_network(options)
    model = PoseModel(path)
    limits = profile.athlete.limits
    volume = min(DEFAULT_VOLUME if options.volume is None else options.volume, limits.volume_most)
    speaker, problem = open_sound(not options.no_sound, volume, speech_of(profile.athlete.targets))
    if problem is not None:
        note(problem)
    limit_s = 60 * min(options.minutes or limits.longest_min, limits.longest_min)
    edges, backdrop = belt_ends(options, source, view)
    recorded = is_recorded(options)
    sound = "" if isinstance(speaker, SilentSpeaker) else "the computer's sound output"
    header = _header(profile, view, source, limit_s, sound, drawn=is_drawn(options))
    path_of_record = new_path(header.anchor, profile.athlete.code_name)
    track = open_track(
        options,
        path_of_record,
        header,
        time_limit_s=limit_s,
        cautions=not recorded,
        edges=edges,
    )
    order = Order(
        athlete=profile.athlete,
        view=view,
        source=source,
        model=model,
        speaker=speaker,
        spawn_screen=screen_spawner(options),
        spawn_panel=panel_spawner(options),
        time_limit_s=limit_s,
        demo=recorded,
        cautions=not recorded,
        edges=edges,
        backdrop=backdrop,
        track=track,
        record=path_of_record,
        baseline=known_baseline(profile.athlete, view),
        network=network,
    )
    station = Station(order)
    try:
        station.open_screen()
        open_panel(station)
        if options.cautions_read:
            station.ask(Confirm(source="the command line"))
        elif not recorded:
            say("The cautions are on the screen: see to them, then press Y there.")
        say(_ON_SCREEN)
        outcome = station.run(Journal(path_of_record, header))
    finally:
        station.close()
    code = tell_outcome(outcome, path_of_record)
    tell_track(track)
    write_report(options, outcome, path_of_record)
    return code


def _header(
    profile: Profile,
    view: View,
    source: FrameSource,
    limit_s: float,
    sound: str,
    *,
    drawn: bool,
) -> Header:
    return Header(
        versions=versions(),
        anchor=anchor_now(),
        source=source.describe(),
        view=view,
        athlete=profile.athlete,
        athlete_text=profile.text,
        limits=limits_in_force(profile.athlete.limits, limit_s),
        sound=sound,
        demo=drawn,
    )


def _check_folder(folder: Path) -> None:
    """A session that cannot be recorded is not begun. Raises UserError ``save_failed``."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(folder), why=why) from error
    if not os.access(folder, os.W_OK | os.X_OK):
        raise UserError("save_failed", path=str(folder), why="writing there is not allowed")
