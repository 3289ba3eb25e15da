"""What could not be saved stays in memory until a person names another place, or gives it up."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

from feedback.cli.common.tell import note
from feedback.journal.writer import Journal, sessions_folder
from feedback.station.setup import SessionOutcome
from feedback.terminal.guard import say, tell
from feedback.terminal.output import can_type, lost_output, read_line
from shared.language import _, mark
from shared.plain_text import plain_lines
from shared.problems import Problem, UserError

Where = Callable[[Problem, Path], Path | None]
"""Told why it could not be saved there, it names the folder to try next; None gives it up."""
_QUESTION = mark(
    "It is kept in memory. Another folder for it (Enter: try the same one again, n: discard it): "
)


def ask_where(problem: Problem, folder: Path) -> Path | None:
    """A folder that is typed; None where nobody can type, or gives it up."""
    if not can_type() or lost_output() is not None:
        return None
    tell(problem)
    sys.stdout.write(plain_lines(_(_QUESTION)))
    sys.stdout.flush()
    text = read_line()
    typed = text.strip()
    if not text or typed.lower() == "n":
        return None
    return Path(typed).expanduser() if typed else folder


def keep(save: Callable[[Path], Path], folder: Path, where: Where = ask_where) -> Path:
    """Save into ``folder``, or where a person says; returns the file.

    Raises UserError ``save_failed``, the first one, where it is given up.
    """
    first: UserError | None = None
    place: Path | None = folder
    while place is not None:
        try:
            path = save(place)
        except UserError as error:
            if error.problem.code != "save_failed":
                raise
            first = first or error
            place = where(error.problem, place)
        else:
            if place != folder:
                say(_("Saved elsewhere, as {path}").format(path=path))
                say(
                    _(
                        "The program looks for it in {folder}: copy it there once that folder is "
                        "writable again."
                    ).format(folder=folder)
                )
            return path
    if first is None:
        raise AssertionError
    raise first


def keep_record(outcome: SessionOutcome, journal: Journal) -> None:
    """Save the record of a session elsewhere, where it could not be saved in its place.

    Why it could not is told by :func:`tell_outcome`. Given up, it is gone.
    """
    if outcome.saved is not False or outcome.signal_number is not None:
        return

    def save(folder: Path) -> Path:
        path = folder / journal.path.name
        journal.save_elsewhere(path)
        return path

    try:
        keep(save, sessions_folder())
    except UserError as error:
        note(error.problem)
