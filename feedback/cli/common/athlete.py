"""Whom a command is about: a profile with an id."""

from __future__ import annotations

from feedback.athlete_files.athletes import Profile
from feedback.cli.common.enrol import enrolled
from feedback.terminal.guard import say
from shared.language import _


def athlete_asked_for(asked: str) -> Profile:
    """The profile of that name or path, with the athlete's id; says how a new id came about.

    Raises UserError as :func:`feedback.cli.common.enrol.enrolled`.
    """
    found = enrolled(asked)
    for problem in found.notes:
        say(
            _("Note: {title} {meaning} {action}").format(
                title=problem.title, meaning=problem.meaning, action=problem.action
            )
        )
    return found.profile
