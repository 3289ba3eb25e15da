"""What the terminal says around baseline, prescription, plan and home sessions, by key."""

from __future__ import annotations

from typing import Final

from shared.language import _, _n, in_table
from shared.targets import BlockKind, Plan, Question, SessionKind

PHRASES: Final[dict[str, str]] = {
    "baseline_noise": "Change: the smallest difference of a later mean, over as many steps, that "
    "counts as a measurable change (outside the 95 % interval of a difference). Setting the camera "
    "up again adds to it by an unknown amount: mark its place.",
    "standing_seen": "Ankle angles are relative to this runner's own standing angle.",
    "standing_unseen": "Ankle angles are relative to a typical standing angle: this runner was not "
    "seen standing still for two seconds before the run.",
    "view_unsure": "The camera's view could not be confirmed: the values assume a camera that "
    "looks from {view}, as you typed.",
    # questions, asked standing still
    "after_pain": "Worst pain in this session, 0 (none) to 10 (worst imaginable):",
    "after_effort": "How hard was it, 0 (nothing at all) to 10 (extremely hard):",
    "after_awkwardness": "How strange did it feel, 0 (like normal running) to 10 (very strange):",
    "ask_morning": "By the morning after your last session, was the pain back to its level before "
    "that session?",
    # why a plan does not go on
    "hold_pain_over": "the pain went over its limit",
    "hold_pain_unknown": "pain was not rated",
    "hold_not_settled": "the pain had not settled by the next morning",
    "hold_morning_unknown": "it is not known whether the pain had settled by the next morning",
    "hold_pain_rising": "the pain rose from one week to the next",
    "hold_effort": "it was very hard",
    "hold_not_completed": "the session was not completed",
    # plan and session
    "step_begin": "The first session",
    "step_go_on": "The next session",
    "step_repeat": "The same session again, for",
    "step_finished": "All sessions are complete",
    "kind_practice": "practice",
    "kind_retention": "check, no cues",
    "kind_reminder": "check, reminder",
    "block_warm_up": "warm-up",
    "block_cued": "with cues",
    "block_uncued": "without cues",
    "block_rest": "rest",
    "block_cool_down": "cool-down",
    "made_up": "Simulated data: not a real person. It shows how the plan works and predicts "
    "nothing.",
}
"""Text by key."""


def phrase(key: str) -> str:
    """The text ``key``; KeyError for an unknown key."""
    return in_table(f"training.{key}", PHRASES[key])


def reasons_in_words(reasons: tuple[str, ...]) -> str:
    """Why a plan does not go on, in one line."""
    return "; ".join(phrase(reason) for reason in reasons)


def block_name(kind: BlockKind) -> str:
    """A kind of block, within a line."""
    return phrase(f"block_{kind}")


def kind_name(kind: SessionKind) -> str:
    """A kind of session, within a line."""
    return phrase(f"kind_{kind}")


def place_in_plan(plan: Plan, number: int) -> str:
    """Which session of its plan it is: "3 of 8", or "9 (check 1 of 3)" for what comes beside."""
    practice = [n for n, one in enumerate(plan.sessions, 1) if one.kind is SessionKind.PRACTICE]
    checks = [n for n in range(1, len(plan.sessions) + 1) if n not in practice]
    if number in checks:
        nth = checks.index(number) + 1
        text = _("{number} (check {nth} of {count})")
        return text.format(number=number, nth=nth, count=len(checks))
    if number not in practice:
        return str(number)
    nth = practice.index(number) + 1
    if nth == number:
        return _("{number} of {count}").format(number=number, count=len(practice))
    text = _("{number} (practice {nth}) of {count}")
    return text.format(number=number, nth=nth, count=len(practice))


def sessions_of(plan: Plan) -> str:
    """How many sessions a plan has: "8 sessions and 3 checks"."""
    checks = sum(one.kind is not SessionKind.PRACTICE for one in plan.sessions)
    practice = len(plan.sessions) - checks
    said = _n("{count} session", "{count} sessions", practice).format(count=practice)
    if not checks:
        return said
    beside = _n("{count} check", "{count} checks", checks).format(count=checks)
    return _("{sessions} and {checks}").format(sessions=said, checks=beside)


def step_name(step: str) -> str:
    """What a plan proposes, as the start of a line."""
    return phrase(f"step_{step}")


def after_question(question: Question) -> str:
    """A question for after the run."""
    return phrase(f"after_{question}")


def standing_in_words(*, seen: bool) -> str:
    """What the ankle's zero is."""
    return phrase("standing_seen" if seen else "standing_unseen")
