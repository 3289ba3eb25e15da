"""Why nothing may be measured although somebody moves: part of shared.problems (pure).

Each row: code, what it is, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

ROWS: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "picture_turned",
        "The body is not upright in the picture.",
        "What is lying or upside down is read wrongly, so no value and no cue is given.",
        "Turn the camera, or the video, so that head is up and feet are down.",
    ),
    (
        "pictures_few",
        "Only {fps} pictures a second come.",
        "The feet go too far from one to the next, so no step is measured: {needed} are needed.",
        "Add light, close other programs, or choose a faster mode of the camera.",
    ),
    (
        "computer_slow",
        "Only {fps} of {come} pictures a second are looked at.",
        "The computer is too slow for more. The feet go too far from one to the next, so no step "
        "is measured: {needed} are needed.",
        "Close other programs, or have the camera give smaller pictures.",
    ),
    (
        "feet_cut_off",
        "The feet are outside the picture.",
        "Steps are read from the feet, so nothing is measured.",
        "Tilt the camera down or move it back, until both feet stay in view.",
    ),
    (
        "runner_lost_often",
        "The runner is found in only {percent} % of the pictures.",
        "A step needs many in a row, so nothing is measured.",
        "Add light, wipe the lens, and keep the whole body in free view.",
    ),
    (
        "runner_small",
        "The runner is small in the picture: {percent} % of its height.",
        "The feet cannot be followed so well, and nothing is measured.",
        "Move the camera nearer, until the body fills most of the height.",
    ),
    (
        "legs_hidden",
        "Something hides the legs or the feet.",
        "Where they are is only guessed, so no step can be trusted.",
        "Move the camera, or what is in front (handrail, console, long clothes).",
    ),
    (
        "picture_poor",
        "The body is hard to make out.",
        "Its joints cannot be placed, so nothing is measured.",
        "Add light, wipe the lens, and wear plain clothes that stand out.",
    ),
    (
        "legs_alike",
        "The two legs look alike to the camera.",
        "It takes one for the other again and again, so no step is measured.",
        "Put a bright sock on one leg, or wear shorts, and add light.",
    ),
    (
        "steps_uneven",
        "The steps are not steady yet.",
        "A step is measured once a few in a row are alike, so nothing is yet.",
        "Run on at one belt speed, hands off the rails.",
    ),
    (
        "unmeasured",
        "Somebody moves, but no step can be measured.",
        "What the reason is cannot be told from the picture.",
        "See that the whole body is in free view. Add light, and put a bright sock on one leg.",
    ),
    # at the end of a video or a session
    (
        "run_short",
        "Running was seen for only {seconds} s.",
        "The first value comes after about {needed} s of steady running.",
        "Run longer, or give a longer video.",
    ),
    (
        "steps_few",
        "The end came after {steps} steps.",
        "A first value needs a few more in a row.",
        "Run longer, or give a longer video.",
    ),
    (
        "nobody_runs",
        "Somebody is in the picture, but does not run.",
        "Without steps nothing can be measured.",
        "Start to run, or give a video of running.",
    ),
)
STRETCHED: Final = (
    "picture_stretched",
    "The picture is stretched: the body has not the proportions of a body.",
    "Lengths and angles are wrong, so nothing is cued.",
    "Have the camera, or the video, show things as wide as they are (square pixels), so that a "
    "ball looks round. If it does, look from the side.",
)
"""Something is measured then."""
SIDES_NOT_KNOWN: Final = (
    "sides_not_known",
    "Left and right cannot be told apart.",
    "Values for both legs together go on. There is none for one side, and no cue for one.",
    "Make the legs look different: a bright sock on one of them, or shorts. Add light, and keep "
    "the legs in free view.",
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
OTHER_VIEW: Final = "Move the camera, or choose another view. It seems to look from {seen}."
"""What to do about the wrong view, once the right one is known."""
