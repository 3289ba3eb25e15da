"""What screens ask for, as commands of the session, with who asks (pure)."""

from __future__ import annotations

from feedback import exchange
from feedback.safety import By, PainLevel, pain_level
from shared.messages import Confirm, GoOn, Pause, Rating, Request, Role
from shared.targets import Limits, Question


def screen_of(role: str) -> str:
    """Who asks, in words for the record."""
    return f"the {role}'s screen" if role == Role.RUNNER else f"a {role}"


def command_for(request: Request, role: str) -> exchange.Command:
    """The session's command for what a screen of this role asks."""
    by, source = By.CONSOLE if role == Role.CONSOLE else By.SCREEN, screen_of(role)
    match request:
        case Confirm():
            return exchange.Confirm(by=by, source=source)
        case Pause():
            return exchange.Pause(by=by, source=source)
        case GoOn():
            return exchange.GoOn(by=by, source=source)
        case Rating(what=what, value=value):
            return exchange.Rated(what=what, value=value, source=source)


def is_too_painful(request: Request, limits: Limits) -> bool:
    """Whether it is a rating of pain over its limit, which is a stop."""
    return (
        isinstance(request, Rating)
        and request.what is Question.PAIN
        and pain_level(request.value, limits) is PainLevel.OVER
    )
