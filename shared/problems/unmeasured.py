"""Why nothing may be measured although somebody moves: part of shared.problems (pure).

Each row: code, what it is, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

from shared.language import mark

ROWS: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "picture_turned",
        "The runner is not upright in the picture.",
        "A rotated picture is measured wrongly, so no values and no cues are given.",
        "Turn the camera, or the video, so that the head is at the top and the feet at the bottom.",
    ),
    (
        "pictures_few",
        "Only {fps} frames per second arrive.",
        "The feet move too far between frames, so no steps are measured: {needed} are needed.",
        "Add light, close other programs, or choose a faster camera mode.",
    ),
    (
        "computer_slow",
        "Only {fps} of {come} frames per second are processed.",
        "The computer is too slow for more. The feet move too far between frames, so no steps are "
        "measured: {needed} are needed.",
        "Close other programs, or set the camera to a lower resolution.",
    ),
    (
        "feet_cut_off",
        "The feet are outside the picture.",
        "Steps are measured from the feet, so nothing is measured.",
        "Tilt the camera down or move it back, until both feet stay in view.",
    ),
    (
        "runner_lost_often",
        "The runner is found in only {percent} % of the pictures.",
        "A step needs many pictures in a row, so nothing is measured.",
        "Add light, wipe the lens, and keep the whole body in clear view.",
    ),
    (
        "runner_small",
        "The runner is small in the picture: {percent} % of its height.",
        "The feet cannot be tracked well enough, so nothing is measured.",
        "Move the camera closer, until the body fills most of the height.",
    ),
    (
        "legs_hidden",
        "Something is hiding the legs or the feet.",
        "Their position is only estimated, so no step can be trusted.",
        "Move the camera, or whatever is in the way (handrail, console, long clothes).",
    ),
    (
        "picture_poor",
        "The body is hard to see.",
        "Its joints cannot be located, so nothing is measured.",
        "Add light, wipe the lens, and wear plain clothes that contrast with the background.",
    ),
    (
        "legs_alike",
        "The two legs look alike to the camera.",
        "They are confused repeatedly, so no steps are measured.",
        "Put a bright sock on one leg, or wear shorts, and add light.",
    ),
    (
        "steps_uneven",
        "The steps are not steady yet.",
        "Steps are measured once a few in a row are similar, so there are no values yet.",
        "Keep running at one belt speed, hands off the rails.",
    ),
    (
        "unmeasured",
        "Someone is moving, but no steps can be measured.",
        "The reason is not clear from the picture.",
        "Keep the whole body in clear view. Add light, and put a bright sock on one leg.",
    ),
    # at the end of a video or a session
    (
        "run_short",
        "There was only {seconds} s of running.",
        "The first value appears after about {needed} s of steady running.",
        "Run longer, or use a longer video.",
    ),
    (
        "steps_few",
        "The run ended after {steps} steps.",
        "The first value needs a few more steps in a row.",
        "Run longer, or use a longer video.",
    ),
    (
        "nobody_runs",
        "Someone is in view, but not running.",
        "Without steps nothing can be measured.",
        "Start running, or use a video of running.",
    ),
)
STRETCHED: Final = (
    "picture_stretched",
    "The picture is stretched: the body is out of proportion.",
    "Lengths and angles are wrong, so no cues are given.",
    "Set the camera, or the video, to square pixels, so that a ball looks round. If it already "
    "does, use the side view.",
)
"""Something is measured then."""
SIDES_NOT_KNOWN: Final = (
    "sides_not_known",
    "Left and right cannot be told apart.",
    "Values for both legs together continue. There are no values and no cues for one side.",
    "Make the legs look different: a bright sock on one of them, or shorts. Add light, and keep "
    "the legs in clear view.",
)
"""Something is measured then."""

UNMEASURED: Final = frozenset(row[0] for row in ROWS) | {
    "no_runner",
    "second_person",
    "wrong_view",
    "body_cut_off",
    "not_running",
}
"""Codes of problems that can be why a whole session or video brought no value."""
OTHER_VIEW: Final = mark("Move the camera, or choose another view. It appears to look from {seen}.")
"""What to do about the wrong view, once the right one is known."""
