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
    "step_3": "what keeps you safe",
    "step_4": "the run",
    "step_5": "how it was",
    # who stands behind it
    "unsigned": "Nobody has signed this",
    "unsigned_means": "Nobody vouches for this prescription: its speeds, limits and cautions may "
    "be anyone's.",
    "unsigned_speed": "It would have the belt at up to {speed} km/h. The program's own upper "
    "limits hold all the same.",
    "unsigned_next": "Go on only if you know who made it, and the speed is one that you run at.",
    "first_key_heading": "Is this from your clinic?",
    "first_key": "It is the first signed prescription here. Its key: {groups}",
    "first_key_next": "Your clinic can read you these four groups. If they are others, leave, and "
    "call it. From today's run on, only what is signed with this key is run here.",
    "other_name": "This is for {name}",
    "other_name_so_far": "So far this computer has led {names}.",
    "other_name_next": "If {name} is not you, leave, and ask your clinic for your own file.",
    # the morning after
    "morning": "The morning after your last session",
    "morning_text": "Was any pain back to what it had been before it?",
    # today
    "today": "Today: session {number}",
    "today_of": "Today: session {place}",
    "today_length": "Time: {minutes} min. While you practise, set the belt to {speed} km/h.",
    "today_no_progress": "It is no harder than last time: {reasons}.",
    # the camera
    "camera": "Put the camera up",
    "camera_side": "Beside the belt, 2 to 4 metres away, as high as your hips, turned a little "
    "toward your front.",
    "camera_behind": "Behind the belt, outside the 2 m × 1 m that stay free, as high as your "  # noqa: RUF001
    "hips, in line with the belt.",
    "camera_front": "In front of the belt, as high as your hips, in line with the belt.",
    "camera_next": "The next page shows its picture and says what to do. Leave the belt standing "
    "still for now.",
    "getting": "Getting ready",
    "getting_text": "The part that sees you is fetched once: {what}.",
    "loading": "The camera check opens.",
    "run_opens": "The next page says what keeps you safe. Then you run.",
    # afterwards
    "scale_pain": "Worst pain in this session",
    "scale_pain_low": "none",
    "scale_pain_high": "the worst there can be",
    "scale_effort": "How hard was it?",
    "scale_effort_low": "not at all",
    "scale_effort_high": "extremely hard",
    "scale_awkwardness": "How strange did it feel?",
    "scale_awkwardness_low": "like your own way",
    "scale_awkwardness_high": "very strange",
    "scale_how": "Type a number or use the arrow keys, then press Enter.",
    "not_saved": "Not saved yet. Try again?",
    "not_saved_text": "{why} {do} What you did today is kept in memory until you say no.",
    "result": "Done. Send this file to your clinic",
    "result_how": "Write an e-mail to your clinic as always, and attach this one file. It holds "
    "numbers only, no picture.",
    "trial": "Done. This was a trial",
    "trial_how": "It counts for nothing, and this file need not be sent.",
    # buttons and their keys
    "next": "Go on",
    "next_keys": "Enter",
    "next_about": "Goes on to the next page. Key: Enter.",
    "close": "Close",
    "close_keys": "Enter",
    "close_about": "Closes these pages; all is saved. Key: Enter.",
    "leave": "Leave",
    "leave_keys": "Esc",
    "leave_about": "Leaves; nothing is started, and what was saved stays. Key: Esc.",
    "cancel": "Cancel",
    "cancel_keys": "Esc",
    "cancel_about": "Stops this; nothing is started. Key: Esc.",
    "yes": "Yes",
    "yes_keys": "Y",
    "yes_about": "Answers yes. Key: Y.",
    "no": "No",
    "no_keys": "N",
    "no_about": "Answers no. Key: N.",
    "skip": "Leave it out",
    "skip_keys": "Esc",
    "skip_about": "Leaves this question out. Key: Esc.",
    "leave_out": "Leave it out",
    "leave_out_keys": "L",
    "leave_out_about": "Leaves this question out. Key: L.",
    "folder": "Show the file",
    "folder_keys": "O",
    "folder_about": "Opens the folder that holds the file. Key: O.",
    "number_about": "Answers {value} of 10.",
}
"""Text by key; ``{name}`` places are filled in by :func:`tell`."""


def tell(key: str, **values: object) -> str:
    """The text ``key`` with its places filled in; KeyError for an unknown key or missing place."""
    return TEXTS[key].format(**values)


def step(number: int) -> str:
    """Where a page is on the way."""
    return tell("step", number=number, name=tell(f"step_{number}"))
