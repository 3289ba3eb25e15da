"""``beltside run``: one session of one athlete, with cautions first and a record at the end."""

from __future__ import annotations

import argparse

from feedback.athlete_files.athletes import check_athlete
from feedback.cli.common.athlete import athlete_asked_for
from feedback.cli.common.hold_session import Plot, hold
from feedback.cli.common.keep_records import finish, look_at_age, tell_track
from feedback.cli.common.save_elsewhere import keep_record
from feedback.cli.common.tell import tell_outcome
from feedback.cueing.cues import speech_of
from feedback.terminal.guard import say
from shared.flow import View


def run(options: argparse.Namespace) -> int:
    """Hold one session. Raises UserError when something that it cannot do without is missing."""
    look_at_age()
    profile = athlete_asked_for(options.athlete)
    athlete = profile.athlete
    view: View = options.view or athlete.view
    check_athlete(athlete, profile.path, view, to_be_cued=True)
    for line in profile.left_out:
        say(line)
    longest_min = athlete.limits.longest_min
    plot = Plot(
        athlete=athlete,
        view=view,
        course=None,
        speech=speech_of(athlete.targets),
        text=profile.text,
        time_limit_s=60 * min(options.minutes or longest_min, longest_min),
    )
    with hold(options, plot) as held:
        code = tell_outcome(held.outcome, held.record)
        keep_record(held.outcome, held.journal)
        tell_track(held.track)
        return finish(options, held, code)
