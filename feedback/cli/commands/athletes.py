"""``beltside athletes``: the profiles that come with the program, and the user's own."""

from __future__ import annotations

import argparse

from feedback.athlete_files.athletes import (
    Profile,
    bundled_athletes,
    own_athletes,
    own_folder,
    read_profile,
)
from feedback.cli.common.tell import band_words
from feedback.terminal.guard import OK
from feedback.terminal.tables import PlainConsole
from feedback.texts.measures import full_title, unit_text
from feedback.texts.numbers import general
from shared.language import _
from shared.problems import UserError
from shared.targets import Target


def run(_options: argparse.Namespace) -> int:
    """Print every profile with its targets; broken ones of the user's own with the reason."""
    console = PlainConsole(soft_wrap=True)
    console.print(_("Profiles of a fictional clinic, to try and copy:"))
    for profile in bundled_athletes():
        _show(console, profile)
    paths = own_athletes()
    if paths:
        console.print(_("\nYour own, in {own_folder}:").format(own_folder=own_folder()))
    for path in paths:
        try:
            _show(console, read_profile(path))
        except UserError as error:
            console.print(
                _("\n{stem}: not usable. {title}").format(stem=path.stem, title=error.problem.title)
            )
    console.print(_("\nStart with one: beltside run --athlete NAME --camera 0"))
    return OK


def _show(console: PlainConsole, profile: Profile) -> None:
    athlete = profile.athlete
    said = (
        _("\n{name}: {code_name}, {height_cm} cm, view {view}")
        if athlete.belt_speed_kmh is None
        else _("\n{name}: {code_name}, {height_cm} cm, view {view}, belt {belt_speed_kmh} km/h")
    )
    console.print(
        said.format(
            name=profile.name,
            code_name=athlete.code_name,
            height_cm=general(athlete.height_cm),
            view=athlete.view,
            belt_speed_kmh=general(athlete.belt_speed_kmh or 0.0),
        )
    )
    for target in athlete.targets:
        console.print(f"    {_target_words(target)}")
    for line in profile.left_out:
        console.print(f"    {line}")
    console.print(f"    {profile.path}")


def _target_words(target: Target) -> str:
    band = band_words(target.low, target.high)
    beat = (
        ""
        if target.beat_spm is None
        else _(", beat at {beat_spm:g}").format(beat_spm=target.beat_spm)
    )
    return f"{full_title(target.measure, target.side)}: {band} {unit_text(target.unit)}{beat}"
