"""``beltside demo``: the whole loop on a bundled clip, played as if it came from a camera."""

from __future__ import annotations

import argparse

from feedback.cli.common.pose_model import model_path
from feedback.cli.common.sound_and_screens import open_sound, screen_spawner
from feedback.cli.common.tell import LineByLine, note, tell_outcome
from feedback.demo import answering_clip, demo_profile
from feedback.station.setup import StationSetup
from feedback.station.station import Station
from feedback.storage.preferences import read_preferences
from feedback.terminal.guard import say
from feedback.terminal.output import never_wait
from live.camera.sources import FileSource
from live.pose.model import PoseModel
from shared.flow import View
from shared.language import _
from shared.problems import UserError

_LINGER_S = 6.0


def run(options: argparse.Namespace) -> int:
    """Play the clip with screen and sound, as far as there are any, and tell how it went."""
    view = View(options.view)
    say(_("A simulated runner on a recorded clip, measured and cued as if live."))
    model = PoseModel(model_path(options.model))
    preferred = read_preferences()
    speaker, problem = open_sound(
        not options.no_sound,
        options.volume,
        percent=preferred.volume_percent,
        device=preferred.sound_device,
    )
    order = StationSetup(
        athlete=demo_profile(view).athlete,
        view=view,
        source=FileSource(answering_clip(view), as_live=True, loop=True),
        model=model,
        speaker=speaker,
        spawn_screen=None if options.headless else screen_spawner(options),
        time_limit_s=options.seconds,
        demo=True,
        start_at_once=True,
        linger_s=_LINGER_S,
    )
    never_wait()
    station = Station(order)
    try:
        on_screen = not options.headless and _screen_opened(station)
        if problem is not None and on_screen:
            note(problem)
        outcome = station.run(watch=None if on_screen else LineByLine())
    finally:
        station.close()
    return tell_outcome(outcome, record=None)


def _screen_opened(station: Station) -> bool:
    """Whether there is a screen; without one the demo goes on in the terminal, and says so."""
    try:
        station.open_screen()
    except UserError as error:
        say(
            _("Note: {title} The demo continues in this terminal.").format(
                title=error.problem.title
            )
        )
        return False
    say(_("The screen is open. Stop: any key, or the Stop button on it."))
    return True
