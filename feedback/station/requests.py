"""What screens ask for, as commands of the session, with who asks (pure)."""

from __future__ import annotations

from feedback.link.protocol import Asker
from feedback.safety.rules import By, PainLevel, pain_level
from feedback.session import interface
from shared.changes import Adjust, MoveBlock, Note, SetVolume, Undo
from shared.language import mark
from shared.messages import (
    Confirm,
    GoOn,
    Pause,
    Rating,
    Request,
    Role,
    SessionRequest,
)
from shared.targets import Limits, Question

_SCREENS = {
    Role.RUNNER: mark("the runner's screen"),
    Role.PANEL: mark("the clinician's panel"),
    Role.SETUP: mark("the camera check"),
}


def screen_of(asker: Asker) -> str:
    """Who asks, in words for the record."""
    if asker.role == Role.CONSOLE:
        return f"console {asker.name}" if asker.name else "a console"
    return _SCREENS.get(Role(asker.role), "a screen")


def command_for(request: SessionRequest, asker: Asker) -> interface.Command:
    """The session's command for what a screen asks."""
    by = By.CONSOLE if asker.role == Role.CONSOLE else By.SCREEN
    source = screen_of(asker)
    match request:
        case Confirm():
            return interface.Confirm(by=by, source=source)
        case Pause():
            return interface.Pause(by=by, source=source)
        case GoOn():
            return interface.GoOn(by=by, source=source)
        case Rating(what=what, value=value):
            return interface.Rated(what=what, value=value, source=source)
        case Adjust() | Undo() | MoveBlock() | Note() | SetVolume():
            return interface.Change(asked=request, source=source, asker=asker.connection)


def is_too_painful(request: Request, limits: Limits) -> bool:
    """Whether it is a rating of pain over its limit, which is a stop."""
    return (
        isinstance(request, Rating)
        and request.what is Question.PAIN
        and pain_level(request.value, limits) is PainLevel.OVER
    )
