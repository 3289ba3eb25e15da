"""Whom a command is about: a profile with an id, and how words are typed again."""

from __future__ import annotations

import os
import shlex

from feedback.enrolling import enrolled
from feedback.guard import say
from feedback.profiles import Profile


def athlete_asked_for(asked: str) -> Profile:
    """The profile of that name or path, with the athlete's id; says how a new id came about.

    Raises UserError as :func:`feedback.enrolling.enrolled`.
    """
    found = enrolled(asked)
    for problem in found.notes:
        say(f"Note: {problem.title} {problem.meaning} {problem.action}")
    return found.profile


def as_typed(word: object) -> str:
    """A name or path as it must stand on a command line to be one word there."""
    text = str(word)
    if os.name != "nt":
        return shlex.quote(text)
    return text if shlex.quote(text.replace("\\", "/")) == text.replace("\\", "/") else f'"{text}"'
