"""What is put down while a demo plays, and the report made of it; none of it is a record."""

from __future__ import annotations

import logging
import shutil
from pathlib import Path
from typing import Final

from feedback.cli.common.viewer import open_page
from feedback.journal.writer import (
    Header,
    Journal,
    limits_in_force,
    new_uid,
    read_journal,
    versions,
)
from feedback.station.setup import StationSetup
from feedback.storage.folders import make_private
from feedback.storage.settings import data_folder
from feedback.terminal.guard import say
from shared.clock import anchor_now
from shared.language import _
from shared.problems import UserError

FOLDER: Final = "demo"
PAGE: Final = "demo.html"


def demo_folder() -> Path:
    """Where the newest demo's report is: apart from all that is recorded."""
    return data_folder() / FOLDER


class DemoReport:
    """The report of one demo. It takes the place of the one before."""

    def __init__(self) -> None:
        self._folder = demo_folder()
        self._journals: list[Path] = []
        shutil.rmtree(self._folder, ignore_errors=True)

    def journal(self, order: StationSetup, sound: bool) -> Journal:
        """Where a part is put down while it plays. A disk that takes nothing stops no demo."""
        anchor = anchor_now()
        uid = new_uid()
        header = Header(
            uid=uid,
            versions=versions(),
            anchor=anchor,
            source=order.source.describe(),
            view=order.view,
            athlete=order.athlete,
            athlete_text="",
            limits=limits_in_force(order.athlete.limits, order.time_limit_s),
            sound=_("the computer's sound output") if sound else "",
            demo=True,
            begun_with=order.athlete.targets,
        )
        path = self._folder / f"{order.view.value}-{uid[:12]}.jsonl"
        self._journals.append(path)
        return Journal(path, header)

    def finish(self, *, show: bool) -> None:
        """Make the page of what was played, say where it is, and open it if ``show``."""
        try:
            page = self._write()
        except UserError as error:
            _not_written(error.problem.title)
        except Exception as error:
            # The demo was played: a fault in its report must not look like the loss of it.
            logging.getLogger("beltside").exception("no report of the demo")
            _not_written(
                _("The program failed unexpectedly ({name__}).").format(name__=type(error).__name__)
            )
        else:
            opened = show and open_page(page)
            said = _("Report, now opening: {path}") if opened else _("Report: {path}")
            say(said.format(path=page))

    def _write(self) -> Path:
        # Loaded here: a demo begins sooner without them.
        from feedback.cli.common.pages import write_page
        from feedback.records.demo_report import demo_report

        page = demo_report([read_journal(path) for path in self._journals])
        make_private(self._folder)
        (written,) = write_page(page, self._folder / PAGE, self._folder / PAGE)
        return written


def _not_written(why: str) -> None:
    say(_("Note: the demo's report could not be written. {why}").format(why=why))
