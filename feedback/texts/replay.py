"""Every text of the replay window, by key, in one place, ready for translation."""

from __future__ import annotations

from typing import Final

TEXTS: Final[dict[str, str]] = {
    "title": "Beltside: replay",
    "title_of": "Beltside: replay, {name}",
    "head": "Replay of the last {seconds} s",
    "head_none": "Replay",
    # how it stands
    "asking": "Asking the station for the last {seconds} s",
    "coming": "{got} of {count} pictures have come",
    "here": "{count} pictures. In memory only: gone when this window closes, unless saved.",
    "broken": "{got} of {count} pictures came; the rest is missing. Get it anew.",
    "none": "The station has no pictures yet. Try again when somebody runs.",
    "late": "No answer from the station. Try again.",
    "refused": "The station sends no replay: {why}",
    "cancelled": "Given up. No more pictures are sent.",
    "saving": "The station is saving this replay",
    "saved": "Saved at the station, without the landmarks: {path}",
    "not_saved": "Not saved: {why}",
    "save_late": "The station has not said whether it is saved. Look at its folder of sessions.",
    # what cannot be measured
    "not_measured": "The heel's tilt and the forefoot are not measured: the landmarks cannot "
    "give them. Look at them here.",
    # pictures
    "picture": "Picture of the replay",
    "picture_left": "Picture of a left contact",
    "picture_right": "Picture of a right contact",
    "where": "{ago} s before the end, picture {number} of {count}",
    "where_contact": "{side} contact, {where}",
    "contact_at": "{side} contact, {ago} s before the end",
    "picture_exact": "at contact",
    "picture_after": "{ms} ms after contact",
    "picture_before": "{ms} ms before contact",
    "no_contact": "No {side} contact was found in this replay",
    "nobody": "Nobody is found in this picture",
    "empty": "No replay yet",
    "side_left": "Left",
    "side_right": "Right",
    "side_left_small": "left",
    "side_right_small": "right",
    # the time line
    "time_line": "Time line",
    "time_line_about": "Contacts (filled) and toe-offs (open) of each side. Click or drag to go "
    "there. Keys: left and right arrow one picture, Home and End the first and last.",
    "axis": "\u2013{seconds} s",
    "axis_end": "end",
    "line_left": "Left",
    "line_right": "Right",
    # controls
    "play": "Play",
    "play_keys": "Space",
    "pause": "Pause",
    "play_about": "Play from here, or stay here",
    "back": "< Picture",
    "back_about": "One picture back",
    "on": "Picture >",
    "on_about": "One picture on",
    "speed": "Speed",
    "speed_1": "1",
    "speed_2": "1/2",
    "speed_4": "1/4",
    "speed_about_1": "Play at full speed",
    "speed_about_2": "Play at half speed",
    "speed_about_4": "Play at a quarter of the speed",
    "body": "Landmarks",
    "body_about": "Show or hide the landmarks and their lines",
    "zoom": "Zoom on feet",
    "zoom_about": "Show only the part of the picture with the feet, for what the landmarks cannot "
    "measure",
    "both": "Left beside right",
    "both_about": "The newest left contact beside the newest right one; both move together",
    "previous_left": "< Left",
    "previous_left_about": "To the left contact before",
    "next_left": "Left >",
    "next_left_about": "To the left contact after",
    "previous_right": "< Right",
    "previous_right_about": "To the right contact before",
    "next_right": "Right >",
    "next_right_about": "To the right contact after",
    "older": "< Pair",
    "older_about": "The left and right contact before these",
    "newer": "Pair >",
    "newer_about": "The left and right contact after these",
    "anew": "Get anew",
    "anew_about": "Ask the station for its newest pictures, the last {seconds} s; they take the "
    "place of these",
    "cancel": "Give up",
    "cancel_about": "Have no more pictures sent",
    "save": "Save",
    "save_about": "Have the station keep these pictures as a video beside the session's record",
    "with_key": "{about}. Key: {press}",
}
"""Text by key; ``{name}`` places are filled in by :func:`say`."""


def say(key: str, **values: object) -> str:
    """The text ``key`` with its places filled in; KeyError for an unknown key or missing place."""
    return TEXTS[key].format(**values)
