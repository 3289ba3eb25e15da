"""Every text of the screens, by key, in one place: plain words, ready for translation.

The lines of cues stand in the table of cues (``feedback.cueing.cue_table``).
"""

from __future__ import annotations

from typing import Final

from feedback.cueing.cue_table import CUES
from feedback.texts.numbers import localised, minutes_and_seconds
from shared.flow import Side
from shared.language import Said, Text, in_table, made

NEXT_BEHIND: Final = "next_behind"
NEXT_REPORT: Final = "next_report"
"""What follows a part of the demo."""
TEXTS: Final[dict[str, str]] = {
    # answers to what a clinician asks for
    "answer_stopped": "The session has stopped; nothing was changed.",
    "answer_no_target": "This session has no such target.",
    "answer_changed_meanwhile": "Changed in the meantime by someone else or the drill: check it, "
    "then set it again.",
    "answer_not_recorded": "The record could not be written, so this is not in it.",
    "answer_note_empty": "The note is empty.",
    "answer_note_lost": "The note could not be saved: the session is no longer being recorded.",
    "answer_nothing_to_undo": "There is no manual change to undo.",
    "answer_out_of_range": "Out of range: {least} to {most} {unit} is allowed now.",
    "answer_no_block": "The drill has no such block.",
    "answer_block_meanwhile": "Another block has already begun.",
    "answer_not_kept": "Pictures are not kept in this session.",
    "answer_no_pictures": "There are no pictures yet.",
    "answer_no_record": "This session is not recorded, so the replay cannot be saved.",
    "answer_other_replay": "The station no longer has this replay: another was requested since. "
    "Refresh, then save it.",
    "answer_still_saving": "Another replay is still being saved. Try again in a few seconds.",
    "answer_not_saved": "The replay could not be saved.",
    "app_title": "Beltside: runner's screen",
    "title_one_side": "{measure}, {side}",
    "side_left": "left",
    "side_right": "right",
    "no_value": "–",  # noqa: RUF001 - an en dash, as wide as a digit
    "minus": "–",  # noqa: RUF001 - an en dash too: some fonts have no minus sign
    # the line of words
    "line_below": "Below target",
    "line_above": "Above target",
    "line_unknown": "Waiting for steps",
    "line_no_target": "Run easy",
    # blocks of a drill, shown while nothing is cued
    "block_warm_up": "Warm up",
    "block_cued": "Run easy",
    "block_uncued": "Run on your own",
    "block_rest": "Take it easy",
    "block_cool_down": "Cool down",
    "block_baseline": "Run normally",
    "block_belt": "Belt to {speed} km/h",
    "steps_left": "steps remaining",
    "minutes_left": "remaining",
    # the gauge
    "gauge_end": "{value} {unit}",
    "gauge_end_degrees": "{value}{unit}",
    "gauge_own": "usual {value}",
    # time
    "time_left": "{time} remaining",
    "time_so_far": "{time} so far",
    "clock_steps_left": "{count} steps remaining",
    "screen_small": "From {distance} m this screen is too small to read well: come nearer, or use "
    "a larger one.",
    # whole pages
    "demo": "A recorded clip, not live",
    "connecting_title": "One moment",
    "connecting_text": "Connecting to the station.",
    "ready_title": "Get ready",
    "ready_text": "Step into the picture and start the belt with its own controls.",
    "cautions_title": "Before you start",
    "safety_key": "Clip the safety key on.",
    "safety_space": "Keep 2 m × 1 m behind the belt free, cameras and cables outside it.",  # noqa: RUF001
    "safety_belt": "This program never drives the belt. Stop ends the cues; the belt keeps moving.",
    "safety_stop": "Stop: any key, the Stop button, or a hand held over your head for a second. "
    "Number keys 0 to 10 rate pain (10: 1, then 0), P pauses.",
    "safety_body": "Stop for pain, dizziness or chest symptoms, or whenever you want to.",
    "safety_rules": "The clinician's rules come before anything shown here.",
    "safety_device": "This is not a medical device: it does not diagnose and does not predict "
    "injury.",
    "paused_title": "Paused",
    "paused_text": "No cues. The belt has its own controls.",
    "warn_belt_edge_text": "You are near the rear edge of the belt.",
    "ask_pain": "Pain? Press 0 to 10",
    "ask_effort": "Effort? Press 0 to 10",
    "ask_awkwardness": "Awkward? Press 0 to 10",
    "pain_rated": "Pain {value} of 10",
    "stopped_title": "Stopped",
    "stopped_belt": "The belt is still moving: slow it with its own controls.",
    "stopped_unmeasured": "No steps were measured. {why}",
    "stopped_saved": "The session is saved.",
    "stopped_not_saved": "The session could not be saved.",
    # the demo: what comes next, on the page at a part's end
    "next_behind_title": "Next: from behind",
    "next_behind_text": "The camera now stands behind the treadmill. The hips sway too far to the "
    "right, until the cues are answered.",
    "next_keys": "It begins on its own. Any key ends the demo.",
    "next_report_title": "Next: the report",
    "next_report_text": "The demo is over. Its report tells what was measured and cued.",
    "stopping_title": "Stopping",
    "stopping_text": "Waiting for the station's answer.",
    "reason_runner": "Stop was pressed.",
    "reason_hand": "You raised a hand.",
    "reason_console": "Stopped on a clinician's screen.",
    "reason_pain": "Pain is over its limit.",
    "reason_time": "The planned time is over.",
    "reason_finished": "The session is complete.",
    "reason_out_of_picture": "You were no longer in the picture.",
    "reason_fall": "A fall or stumble was detected.",
    "reason_safety_key": "The treadmill's safety key was pulled.",
    "reason_heart_rate": "Your heart rate stayed over its limit.",
    "reason_belt_edge": "You came too near the rear edge of the belt.",
    "reason_screen_lost": "The screen was lost for a moment, so the session was ended.",
    "reason_fault": "Part of the program failed, so the session was ended.",
    "reason_quit": "The program was closed.",
    "reason_unknown": "The session has ended.",
    "gone_title": "The station has stopped",
    "gone_text": "This screen gets no data from it, so it shows no values.",
    "gone_action": "Slow the belt with its own controls, then start again.",
    "needs_station": "The runner's screen is opened by the station. Start a session instead.",
    "refused_title": "This screen could not connect",
    "refused_action": "Close it and start the session again.",
    # buttons and their keys
    "stop": "Stop",
    "stop_keys": "Any key",
    "close": "Close",
    "close_keys": "Esc",
    "confirm": "I have checked these",
    "confirm_keys": "Y",
    "go_on": "Continue",
    "go_on_keys": "C",
    # what the link says
    "refuse_protocol": "This screen uses link version {theirs} and the station uses {ours}. Start "
    "both from the same installation.",
    "refuse_token": "Its key is unknown or was already used.",
    "refuse_role": "This kind of screen is not supported.",
    "refuse_hello": "It did not identify itself correctly.",
    "refuse_full": "Too many screens are trying to connect at once.",
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
    return in_table(f"runner.{key}", TEXTS[key]).format(**values)


def answer(key: str, **values: object) -> Text:
    """The text ``key`` for who may read it in another language."""
    return made(Said(TEXTS[key], key=f"runner.{key}"), values)


def side_name(side: Side) -> str:
    """The runner's left or right."""
    return words(f"side_{side}")


def number(value: float | None, decimals: int) -> str:
    """A number as shown: rounded, with a wide minus sign and never "-0"; a dash for no value."""
    if value is None or value != value:  # NaN is the one value that differs from itself
        return words("no_value")
    text = f"{abs(value):.{decimals}f}"
    sign = words("minus") if value < 0 and float(text) != 0 else ""
    return sign + localised(text)


def clock(seconds: float) -> str:
    """Minutes and seconds, as 12:05."""
    return minutes_and_seconds(seconds)
