"""The feed of a session for other programs, as the commands open it."""

from __future__ import annotations

import argparse

from feedback.feed.lines import begin_line
from feedback.feed.station_end import Feed
from shared.clock import ClockAnchor
from shared.flow import View


def open_feed(
    options: argparse.Namespace, run: str, view: View, anchor: ClockAnchor
) -> Feed | None:
    """The feed, where it was asked for. Raises UserError ``lsl_missing``."""
    if not (options.feed or options.lsl):
        return None
    begin = begin_line(run, view, anchor)
    return Feed(begin, lsl=options.lsl, landmarks=options.feed_landmarks)
