"""Sound and screen as the commands open them."""

from __future__ import annotations

import argparse

from feedback.screens.launch import ScreenProcess, spawn_runner_screen
from feedback.sound.speaker import AnySpeaker, SilentSpeaker, open_speaker
from feedback.station import SpawnScreen
from shared.problems import Problem


def open_sound(wanted: bool, volume: float | None) -> tuple[AnySpeaker, Problem | None]:
    """The sound output, or a silent one with the problem to tell where there is none."""
    if not wanted:
        return SilentSpeaker(), None
    return open_speaker() if volume is None else open_speaker(volume)


def screen_spawner(options: argparse.Namespace) -> SpawnScreen:
    """Starts the runner's screen as asked for on the command line."""

    def spawn(port: int, token: str) -> ScreenProcess:
        return spawn_runner_screen(
            port, token, distance_m=options.distance_m, windowed=options.windowed
        )

    return spawn
