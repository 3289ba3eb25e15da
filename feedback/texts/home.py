"""Every text of the pages that lead through a session at home, by key: no clinician's words."""

from __future__ import annotations

from typing import Final

TEXTS: Final[dict[str, str]] = {
    "title": "Beltside: session at home",
    "title_page": "Beltside: {heading}",
    "needs_program": "These pages are opened by the program. Type: beltside home FILE",
    "moment": "One moment",
    "step": "Step {number} of 5: {name}",
    "step_1": "how it went",
    "step_2": "the camera",
    "step_3": "safety",
    "step_4": "the run",
    "step_5": "how it felt",
    # who stands behind it
    "unsigned": "This is not signed",
    "unsigned_means": "There is no proof of who wrote this prescription with its speeds, limits "
    "and cautions.",
    "unsigned_speed": "It sets the belt to up to {speed} km/h. The program's own upper limits "
    "still apply.",
    "unsigned_next": "Continue only if you know who wrote it and you are used to running at this "
    "speed.",
    "first_key_heading": "Is this from your clinic?",
    "first_key": "This is the first signed prescription on this computer. Its key: {groups}",
    "first_key_next": "Ask your clinic to read you its four groups. If they differ, exit and call "
    "your clinic. After today's run, only prescriptions signed with this key run here.",
    "other_name": "This is for {name}",
    "other_name_so_far": "So far this computer has been used by {names}.",
    "other_name_next": "If {name} is not you, exit and ask your clinic for your own file.",
    # the morning after
    "morning": "The morning after your last session",
    "morning_text": "Was any pain back to its level before that session?",
    # today
    "today": "Today: session {number}",
    "today_of": "Today: session {place}",
    "today_length": "Time: {minutes} min. While you practise, set the belt to {speed} km/h.",
    "today_no_progress": "It is no harder than last time: {reasons}.",
    # the camera
    "camera": "Set up the camera",
    "camera_side": "Beside the belt, 2 to 4 metres away, at hip height, turned slightly towards "
    "your front.",
    "camera_behind": "Behind the belt, outside the 2 m × 1 m safety space, at hip height, in "  # noqa: RUF001
    "line with the belt.",
    "camera_front": "In front of the belt, at hip height, in line with the belt.",
    "camera_next": "The next page shows the camera's picture and what to do. Keep the belt stopped "
    "for now.",
    "getting": "Getting ready",
    "getting_text": "Downloading (first time only). {what}.",
    "loading": "Opening the camera check.",
    "run_opens": "Next: safety, then your run.",
    # afterwards
    "scale_pain": "Worst pain in this session",
    "scale_pain_low": "none",
    "scale_pain_high": "worst imaginable",
    "scale_effort": "How hard was it?",
    "scale_effort_low": "not at all",
    "scale_effort_high": "extremely hard",
    "scale_awkwardness": "How strange did it feel?",
    "scale_awkwardness_low": "like normal running",
    "scale_awkwardness_high": "very strange",
    "scale_end": "{value}: {meaning}",
    "scale_how": "Type a number or use the arrow keys, then press Enter.",
    "not_saved": "Not saved yet. Try again?",
    "not_saved_text": "{why} {do} Today's session stays in memory until you choose No.",
    "result": "Done. Send this file to your clinic",
    "result_how": "Email your clinic and attach this one file. It contains numbers only, no "
    "pictures.",
    "trial": "Done. This was a trial",
    "trial_how": "It does not count, and you do not need to send this file.",
    # buttons and their keys
    "with_keys": "{name}  ({keys})",
    "next": "Continue",
    "next_keys": "Enter",
    "next_about": "Goes to the next page. Key: Enter.",
    "close": "Close",
    "close_keys": "Enter",
    "close_about": "Closes these pages; everything is saved. Key: Enter.",
    "back": "Back",
    "back_keys": "Backspace",
    "back_about": "Goes to the page before. Key: Backspace.",
    "leave": "Exit",
    "leave_keys": "Esc",
    "leave_about": "Exits; nothing is started, and what was saved is kept. Key: Esc.",
    "cancel": "Cancel",
    "cancel_keys": "Esc",
    "cancel_about": "Cancels this; nothing is started. Key: Esc.",
    "yes": "Yes",
    "yes_keys": "Y",
    "yes_about": "Answers yes. Key: Y.",
    "no": "No",
    "no_keys": "N",
    "no_about": "Answers no. Key: N.",
    "skip": "Skip",
    "skip_keys": "Esc",
    "skip_about": "Skips this question. Key: Esc.",
    "leave_out": "Skip",
    "leave_out_keys": "L",
    "leave_out_about": "Skips this question. Key: L.",
    "folder": "Show the file",
    "folder_keys": "O",
    "folder_about": "Opens the folder with the file. Key: O.",
    "number_about": "Answers {value} of 10.",
}
"""Text by key; ``{name}`` places are filled in by :func:`tell`."""


def tell(key: str, **values: object) -> str:
    """The text ``key`` with its places filled in; KeyError for an unknown key or missing place."""
    return TEXTS[key].format(**values)


def step(number: int) -> str:
    """Where a page is on the way."""
    return tell("step", number=number, name=tell(f"step_{number}"))
