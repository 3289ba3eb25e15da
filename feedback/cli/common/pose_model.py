"""The pose model as the commands open it, with a report while it is being built."""

from __future__ import annotations

import sys
from pathlib import Path

from rich.progress import BarColumn, DownloadColumn, Progress, TaskID, TextColumn

from feedback.terminal.tables import PlainConsole
from live.pose.bundle import ensure_bundle
from live.pose.model import PoseModel
from live.pose.offline import close_the_way_out
from shared.plain_text import plain_lines
from shared.problems import UserError


def model_path(own: str | None) -> Path:
    """The user's own model file, or the built one; built first when it is not there.

    Raises UserError (``pose_library_reports``, ``model_missing``, ``bundle_download_failed``,
    ``bundle_corrupt``).
    """
    close_the_way_out()
    if own is None:
        with BuildReport() as report:
            return ensure_bundle(report.show)
    path = Path(own).expanduser()
    if not path.is_file():
        raise UserError("model_missing", path=str(path))
    return path


def open_model(own: str | None) -> PoseModel:
    """The pose model, loaded. Raises UserError when there is none or it cannot be used."""
    return PoseModel(model_path(own))


class BuildReport:
    """Shows on stderr how far the building of the model is; silent when nothing is built."""

    def __init__(self) -> None:
        console = PlainConsole(stderr=True)
        self._on_terminal = console.is_terminal
        self._progress = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            DownloadColumn(),
            console=console,
            disable=not console.is_terminal,
            transient=True,
        )
        self._tasks: dict[str, TaskID] = {}

    def __enter__(self) -> BuildReport:
        self._progress.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._progress.stop()

    def show(self, what: str, done: int, total: int) -> None:
        """``done`` of ``total`` bytes of one part are there."""
        if what not in self._tasks:
            if not self._on_terminal:
                sys.stderr.write(plain_lines(f"{what}\n"))
            self._tasks[what] = self._progress.add_task(what, total=total or None)
        self._progress.update(self._tasks[what], completed=done, total=total or None)
