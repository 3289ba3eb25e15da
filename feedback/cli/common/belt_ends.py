"""The belt's ends for a session: as typed, else as drawn when this camera was last checked."""

from __future__ import annotations

import argparse

from feedback.camera_check.remembered_place import find_place
from feedback.records.wording import moment
from feedback.safety.hazards import Edges
from feedback.terminal.guard import say
from live.camera.sources import FrameSource
from live.scene.background import Backdrop
from shared.flow import View
from shared.language import _


def belt_ends(
    options: argparse.Namespace, source: FrameSource, view: View
) -> tuple[Edges | None, Backdrop | None]:
    """The edges to watch, and the room in which they were drawn, where they are remembered."""
    if options.belt_edges is not None:
        return Edges(view, *options.belt_edges), None
    place = find_place(source.describe(), view)
    if place is None or place.belt is None:
        return None, None
    say(
        _("Ends of the belt: from the camera check of {moment}.").format(
            moment=moment(place.kept_utc)
        )
    )
    return place.belt, place.backdrop
