"""Every text of the replay window, by key, in one place, ready for translation."""

from __future__ import annotations

from typing import Final

from shared.language import in_table

TEXTS: Final[dict[str, str]] = {
    "title": "Beltside: replay",
    "title_of": "Beltside: replay, {name}",
    "head": "Replay of the last {seconds} s",
    "head_none": "Replay",
    # how it stands
    "asking": "Asking the station for the last {seconds} s",
    "coming": "{got} of {count} pictures received",
    "here": "{count} pictures. In memory only: lost when this window closes, unless saved.",
    "broken": "{got} of {count} pictures received; the rest is missing. Press Refresh.",
    "none": "The station has no pictures yet. Try again once someone is running.",
    "late": "No answer from the station. Try again.",
    "refused": "The station sent no replay: {why}",
    "cancelled": "Cancelled. No more pictures will be sent.",
    "saving": "The station is saving this replay",
    "saved": "Saved on the station, without the landmarks: {path}",
    "not_saved": "Not saved: {why}",
    "save_late": "The station has not confirmed the save. Check its sessions folder.",
    # what cannot be measured
    "not_measured": "Heel tilt and forefoot motion are not measured: the landmarks do not show "
    "them. Assess them here by eye.",
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
    "nobody": "No runner detected in this picture",
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
    "play_about": "Play or pause",
    "back": "< Picture",
    "back_about": "One picture back",
    "on": "Picture >",
    "on_about": "One picture forward",
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
    "both": "Side by side",
    "both_about": "The latest left contact beside the latest right one; both move together",
    "previous_left": "< Left",
    "previous_left_about": "Previous left contact",
    "next_left": "Left >",
    "next_left_about": "Next left contact",
    "previous_right": "< Right",
    "previous_right_about": "Previous right contact",
    "next_right": "Right >",
    "next_right_about": "Next right contact",
    "older": "< Pair",
    "older_about": "Previous pair of left and right contacts",
    "newer": "Pair >",
    "newer_about": "Next pair of left and right contacts",
    "anew": "Refresh",
    "anew_about": "Get the latest {seconds} s from the station; they replace these pictures",
    "cancel": "Cancel",
    "cancel_about": "Stop receiving pictures",
    "save": "Save",
    "save_about": "Save these pictures on the station as a video next to the session's record",
    "with_key": "{about}. Key: {press}",
}
"""Text by key; ``{name}`` places are filled in by :func:`say`."""


def say(key: str, **values: object) -> str:
    """The text ``key`` with its places filled in; KeyError for an unknown key or missing place."""
    return in_table(f"replay.{key}", TEXTS[key]).format(**values)
