"""``beltside demo``: the whole loop on bundled clips, played as if they came from a camera."""

from __future__ import annotations

import argparse

from feedback.cli.common.demo_report import DemoReport
from feedback.cli.common.pose_model import model_path
from feedback.cli.common.sound_and_screens import open_sound, screen_spawner
from feedback.cli.common.tell import LineByLine, note, tell_outcome
from feedback.demo import ANSWERED_S, PARTS, answering_clip, demo_profile
from feedback.journal.writer import Journal
from feedback.sound.speaker import SilentSpeaker
from feedback.station.setup import StationSetup
from feedback.station.station import Station
from feedback.storage.preferences import read_preferences
from feedback.terminal.guard import OK, say
from feedback.terminal.output import never_wait
from feedback.texts.runner import NEXT_BEHIND, NEXT_REPORT
from live.camera.sources import FileSource
from live.pose.model import PoseModel
from shared.flow import View
from shared.language import _, mark
from shared.problems import UserError

_BETWEEN_S = 5.0
_LINGER_S = 4.0
_PARTS = {
    View.SIDE: mark("From the side: the steps are too slow, until the cues are answered."),
    View.BEHIND: mark("From behind: the hips sway too far right, until the cues are answered."),
}


def run(options: argparse.Namespace) -> int:
    """Play the parts with screen and sound, as far as there are any, and tell how it went."""
    say(_("A simulated runner on a recorded clip, measured and cued as if live."))
    report = None if options.no_report else DemoReport()
    views = PARTS if options.view is None else (View(options.view),)
    following: _Part | None = _Part(options, views, report, on_screen=not options.headless)
    code = OK
    while following is not None:
        part = following
        try:
            code = part.play() or code
            following = part.following
        except BaseException:
            if part.following is not None:
                part.following.close()
            raise
        finally:
            part.close()
    if report is not None and not part.asked_to_go:
        report.finish(show=not options.headless)
    return code


class _Part:
    """One part of the demo; it begins the next one itself, so that no screen is missed between."""

    def __init__(
        self,
        options: argparse.Namespace,
        views: tuple[View, ...],
        report: DemoReport | None,
        *,
        on_screen: bool,
    ) -> None:
        view, *self._rest = views
        self.following: _Part | None = None
        """What is to be played next, its screen open; None where nothing follows."""
        self.asked_to_go = False
        """A signal asked the program to end."""
        self._options = options
        self._report = report
        model = PoseModel(model_path(options.model))
        preferred = read_preferences()
        speaker, problem = open_sound(
            not options.no_sound,
            options.volume,
            percent=preferred.volume_percent,
            device=preferred.sound_device,
        )
        self._sound = not isinstance(speaker, SilentSpeaker)
        self._order = StationSetup(
            athlete=demo_profile(view).athlete,
            view=view,
            source=FileSource(answering_clip(view), as_live=True, loop=True),
            model=model,
            speaker=speaker,
            spawn_screen=screen_spawner(options) if on_screen else None,
            time_limit_s=ANSWERED_S[view] if options.seconds is None else options.seconds,
            demo=True,
            start_at_once=True,
            linger_s=_BETWEEN_S if self._rest else _LINGER_S,
            then=NEXT_BEHIND if self._rest else NEXT_REPORT if report is not None else "",
            hand_over=self._begin_next if self._rest else None,
            kept=False,
        )
        self._station = Station(self._order)
        self._problem = problem
        self._said = [_(_PARTS[view])]
        """What is to be said as it begins: what came before is summed up first."""
        try:
            self._on_screen = on_screen and self._screen_opened()
        except BaseException:
            self._station.close()
            raise

    def play(self) -> int:
        """To its end; returns the exit code."""
        for line in self._said:
            say(line)
        if self._problem is not None and self._on_screen:
            note(self._problem)
        never_wait()
        watch = None if self._on_screen else LineByLine()
        outcome = self._station.run(self._journal(), watch)
        if self.following is not None and self._station.stopped_late:
            self.following.close()
            self.following = None
        self.asked_to_go = outcome.signal_number is not None
        return tell_outcome(outcome, record=None)

    def close(self) -> None:
        """Everything of it, whatever happened."""
        self._station.close()

    def _journal(self) -> Journal | None:
        return None if self._report is None else self._report.journal(self._order, self._sound)

    def _begin_next(self) -> None:
        self.following = _Part(
            self._options, tuple(self._rest), self._report, on_screen=self._on_screen
        )

    def _screen_opened(self) -> bool:
        """Whether there is a screen; without one it goes on in the terminal, and says so."""
        try:
            self._station.open_screen()
        except UserError as error:
            said = _("Note: {title} The demo continues in this terminal.")
            self._said.append(said.format(title=error.problem.title))
            return False
        self._said.append(_("The screen is open. Stop: any key, or the Stop button on it."))
        return True
