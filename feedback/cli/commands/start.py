"""``beltside start``, and ``beltside`` alone: opens the start window, a process of its own."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.screens.widgets.launch import spawn_start
from feedback.terminal.guard import OK
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Open it and wait until it is closed.

    Raises UserError ``start_unavailable`` where no window can be opened, with what to type instead.
    """
    file = None if options.file is None else Path(options.file).expanduser().absolute()
    if file is not None and not file.is_file():
        raise UserError("file_missing", path=str(file))
    try:
        window = spawn_start(file)
    except UserError as error:
        raise UserError("start_unavailable", why=error.problem.title) from error
    try:
        window.wait()
    finally:
        window.end()
    problem = window.problem()
    if problem is not None:
        raise UserError("start_unavailable", problem.details, why=problem.title)
    return OK
