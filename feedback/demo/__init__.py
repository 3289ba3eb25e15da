"""The bundled clips of drawn runners, each with the fictional athlete that it shows."""

from __future__ import annotations

import importlib.resources
from pathlib import Path
from typing import Final

from feedback.athlete_files.athletes import Profile, find_athlete
from shared.flow import View

PARTS: Final = (View.SIDE, View.BEHIND)
"""The demo, in its order."""
ANSWERED_S: Final = {View.SIDE: 38.0, View.BEHIND: 30.0}
"""How long :func:`answering_clip` is: by then the runner has answered all cues."""
_ATHLETES: Final = {View.SIDE: "heron", View.BEHIND: "dipper"}


def demo_clip(view: View) -> Path:
    """The clip seen from ``view``: side or behind. It loops without a seam."""
    # The package is installed as plain files (wheel or checkout), never inside an archive.
    return Path(str(importlib.resources.files("feedback.demo"))) / f"{view.value}.mp4"


def answering_clip(view: View) -> Path:
    """A clip in which the same runner answers cues, as far as they come as they should.

    The movement alone is laid down: too slow, then in the band, slow once more, in the band (side);
    the pelvis out over the right leg, then held (behind). It loops.
    """
    return demo_clip(view).with_name(f"{view.value}_answers.mp4")


def demo_profile(view: View) -> Profile:
    """The athlete in that clip, with targets that the looping clip's runner does not meet."""
    return find_athlete(_ATHLETES[view])
