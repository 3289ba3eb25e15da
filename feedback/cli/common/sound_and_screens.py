"""Sound and screen as the commands open them."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from functools import partial

from feedback.cli.common.tell import note
from feedback.safety.rules import least_alert_volume
from feedback.screens.widgets.launch import ScreenProcess, spawn_panel, spawn_runner_screen
from feedback.sound.speaker import AnySpeaker, SilentSpeaker, open_speaker
from feedback.sound.tones import DEFAULT_VOLUME
from feedback.station.setup import SpawnScreen
from feedback.station.station import Station
from feedback.terminal.guard import say
from shared.language import _
from shared.problems import Problem, UserError, describe


def open_sound(
    wanted: bool,
    volume: float | None,
    speech: Iterable[str] = (),
    *,
    most: float = 1.0,
    percent: int = 100,
    device: str = "",
) -> tuple[AnySpeaker, Problem | None]:
    """The sound output, or a silent one with the problem to tell where there is none.

    ``speech`` are the spoken lines that may be called for, by sound key; ``percent`` is how much of
    ``volume`` it begins at, and ``most`` the limit that alerts are held to as well. ``device`` is
    the output preferred; where it is gone, the system's own is taken, and that is told.
    """
    if not wanted:
        silent = SilentSpeaker()
        silent.set_volume_percent(percent)
        return silent, None
    loudest = DEFAULT_VOLUME if volume is None else volume
    least = least_alert_volume(most)
    if device:
        speaker, problem = open_speaker(
            loudest, speech, alert_least=least, percent=percent, device=device
        )
        if problem is None:
            return speaker, None
        say(
            _("The sound output {name} is not there; the system's own is used.").format(name=device)
        )
    return open_speaker(loudest, speech, alert_least=least, percent=percent)


def screen_spawner(options: argparse.Namespace) -> SpawnScreen:
    """Starts the runner's screen as asked for on the command line."""

    def spawn(port: int, token: str) -> ScreenProcess:
        return spawn_runner_screen(
            port,
            token,
            distance_m=options.distance_m,
            windowed=options.windowed,
            beside=getattr(options, "panel", False),
        )

    return spawn


def panel_spawner(options: argparse.Namespace) -> SpawnScreen | None:
    """Starts the clinician's panel where it was asked for on the command line."""
    beside = not getattr(options, "headless", False)
    return partial(spawn_panel, beside=beside) if options.panel else None


def open_panel(station: Station) -> None:
    """Open the clinician's panel where one was ordered; without it the session goes on."""
    try:
        station.open_panel()
    except UserError as error:
        note(describe("panel_unavailable", details=error.problem.details, why=error.problem.title))
