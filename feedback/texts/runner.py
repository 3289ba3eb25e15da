"""Every text of the screens, by key, in one place: plain words, ready for translation.

The lines of cues stand in the table of cues (``feedback.cueing.cue_table``).
"""

from __future__ import annotations

from typing import Final

from feedback.cueing.cue_table import CUES
from shared.flow import Side

TEXTS: Final[dict[str, str]] = {
    # answers to what a clinician asks for
    "answer_stopped": "The session has stopped; nothing was changed.",
    "answer_no_target": "This session has no such target.",
    "answer_changed_meanwhile": "Changed meanwhile by somebody or the drill: look, then set it "
    "again.",
    "answer_not_recorded": "The record could not be written, so this is not in it.",
    "answer_note_empty": "There is nothing to be read in the note.",
    "answer_note_lost": "The note could not be saved: the session is not recorded any more.",
    "answer_nothing_to_undo": "Nobody has changed this target by hand.",
    "answer_out_of_range": "Not now: it may be set from {least} to {most} {unit}.",
    "answer_no_block": "The drill has no such block to go on to.",
    "answer_block_meanwhile": "Another block has begun meanwhile.",
    "answer_not_kept": "Pictures are not kept in this session.",
    "answer_no_pictures": "There are no pictures yet.",
    "answer_no_record": "This session keeps no record that a replay could be kept beside.",
    "answer_other_replay": "The station does not hold this replay any more: another was asked for "
    "since. Get the last 20 s anew, then save it.",
    "answer_still_saving": "Another replay is still being saved. Try again in a few seconds.",
    "answer_not_saved": "The replay could not be saved.",
    "app_title": "Beltside: runner's screen",
    "title_one_side": "{measure}, {side}",
    "side_left": "left",
    "side_right": "right",
    "no_value": "–",  # noqa: RUF001 - an en dash, as wide as a digit
    "decimal_point": ".",
    "minus": "–",  # noqa: RUF001 - an en dash too: some fonts have no minus sign
    # the line of words
    "line_below": "Below the band",
    "line_above": "Above the band",
    "line_unknown": "Waiting for steps",
    "line_no_target": "Run easy",
    # blocks of a drill, shown while nothing is cued
    "block_warm_up": "Warm up",
    "block_cued": "Run easy",
    "block_uncued": "Run on your own",
    "block_rest": "Take it easy",
    "block_cool_down": "Cool down",
    "block_baseline": "Run as always",
    "block_belt": "Belt to {speed} km/h",
    "steps_left": "steps left",
    "minutes_left": "left",
    # time
    "time_left": "{time} left",
    "time_so_far": "{time} so far",
    "clock_steps_left": "{count} steps left",
    "screen_small": "From {distance} m this screen is too small to be read well: come nearer, or "
    "use a larger one.",
    # whole pages
    "demo": "A recorded clip, not live",
    "connecting_title": "One moment",
    "connecting_text": "Joining the station.",
    "ready_title": "Get ready",
    "ready_text": "Step into the picture and start the belt with its own controls.",
    "cautions_title": "Before you start",
    "safety_key": "Clip the safety key on.",
    "safety_space": "Keep 2 m × 1 m behind the belt free, cameras and cables outside it.",  # noqa: RUF001
    "safety_belt": "This program never drives the belt. Stop ends the cues; the belt runs on.",
    "safety_stop": "Stop: any key, the Stop button, or a hand held over your head for a second. "
    "Keys 0 to 10 rate pain (10: 1, then 0), P pauses.",
    "safety_body": "Stop for pain, dizziness or chest symptoms, or whenever you want to.",
    "safety_rules": "The clinician's rules come before anything that is shown here.",
    "safety_device": "This is not a medical device: it makes no diagnosis and foretells no injury.",
    "paused_title": "Paused",
    "paused_text": "Nothing is cued. The belt has its own controls.",
    "warn_belt_edge_text": "You are near the rear edge of the belt.",
    "ask_pain": "Pain? Key 0 to 10",
    "ask_effort": "Effort? Key 0 to 10",
    "ask_awkwardness": "Awkward? Key 0 to 10",
    "pain_rated": "Pain {value} of 10",
    "stopped_title": "Stopped",
    "stopped_belt": "The belt runs on: slow it with its own controls.",
    "stopped_unmeasured": "No step was measured. {why}",
    "stopped_saved": "The session is saved.",
    "stopped_not_saved": "The session could not be saved.",
    "stopping_title": "Stopping",
    "stopping_text": "Waiting for the station's answer.",
    "reason_runner": "Stop was pressed.",
    "reason_hand": "You held a hand up.",
    "reason_console": "Stopped on a clinician's screen.",
    "reason_pain": "The pain is over its limit.",
    "reason_time": "The planned time is over.",
    "reason_finished": "The end was reached.",
    "reason_out_of_picture": "Nobody was in the picture any more.",
    "reason_fall": "A fall or a stumble was seen.",
    "reason_belt_edge": "You came too near the rear edge of the belt.",
    "reason_screen_lost": "The screen was lost for a moment, so the session was ended.",
    "reason_fault": "A part of the program failed, so the session was ended.",
    "reason_quit": "The program was closed.",
    "reason_unknown": "The session has ended.",
    "gone_title": "The station is gone",
    "gone_text": "This screen hears nothing from it, so it shows no value.",
    "gone_action": "Slow the belt with its own controls, then start again.",
    "needs_station": "The runner's screen is opened by the station. Start a session instead.",
    "refused_title": "This screen could not join",
    "refused_action": "Close it and start the session again.",
    # buttons and their keys
    "stop": "Stop",
    "stop_keys": "Any key",
    "close": "Close",
    "close_keys": "Esc",
    "confirm": "All seen to",
    "confirm_keys": "Y",
    "go_on": "Go on",
    "go_on_keys": "C",
    # what the link says
    "refuse_protocol": "This screen speaks version {theirs} of the link and the station speaks "
    "{ours}. Start both from the same installation.",
    "refuse_token": "Its key is unknown or was already used.",
    "refuse_role": "This kind of screen is not known here.",
    "refuse_hello": "It did not introduce itself as a screen does.",
    "refuse_full": "Too many screens are knocking at once.",
} | {key: line for row in CUES.values() for key, line in row.lines.items()}
"""Text by key; ``{name}`` places are filled in by :func:`words`."""
CAUTIONS: Final = (
    "safety_key",
    "safety_space",
    "safety_belt",
    "safety_stop",
    "safety_body",
    "safety_rules",
    "safety_device",
)
"""What is confirmed before each session. Clear space: 2 m x 1 m (ukactive note citing BS EN
957-6:2010). Symptoms that end exercise: lists of the ACSM, secondary copies."""


def words(key: str, **values: object) -> str:
    """The text ``key`` with its places filled in; KeyError for an unknown key or missing place."""
    return TEXTS[key].format(**values)


def side_name(side: Side) -> str:
    """The runner's left or right."""
    return words(f"side_{side}")


def number(value: float | None, decimals: int) -> str:
    """A number as shown: rounded, with a wide minus sign and never "-0"; a dash for no value."""
    if value is None or value != value:  # NaN is the one value that differs from itself
        return words("no_value")
    text = f"{abs(value):.{decimals}f}"
    sign = words("minus") if value < 0 and float(text) != 0 else ""
    return sign + text.replace(".", words("decimal_point"))


def clock(seconds: float) -> str:
    """Minutes and seconds, as 12:05."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"
