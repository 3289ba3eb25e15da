"""Takes notes and ratings after a session's end, and puts them into its saved record."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final

import msgspec

from feedback.journal.entries import Entry
from feedback.journal.writer import add_entries
from feedback.session.interface import Change, Command, Outputs, Rated
from feedback.session.session import Session
from feedback.texts.runner import answer as answer_text
from shared.changes import Answered
from shared.clock import now_ns
from shared.messages import Snapshot
from shared.problems import UserError

_TURN_S: Final = 0.05
_SHOW_EVERY: Final = 5
"""Turns: four times a second, as while the end stands on the screen."""


class Late:
    """Owns the stopped session in the work thread's place, from a thread of its own.

    Nothing starts again by what is asked here: the session has stopped for good, and takes no more
    than notes and ratings. ``left`` gives the commands that have come since, ``show`` publishes the
    end anew with what has changed.
    """

    def __init__(
        self,
        session: Session,
        record: Path | None,
        left: Callable[[], list[Command]],
        answer: Callable[[int, Answered], None],
        show: Callable[[Callable[[Snapshot], Snapshot]], None],
    ) -> None:
        self._session = session
        self._record = record
        self._left = left
        self._answer = answer
        self._show = show
        self._closing = threading.Event()
        self.added: tuple[Entry, ...] = ()
        """What was put into the record, oldest first; read it from any thread."""
        self._thread = threading.Thread(target=self._run, name="late", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """See to what has come, and end. May be called again."""
        self._closing.set()
        self._thread.join(2.0)

    def wait(self, timeout_s: float) -> None:
        """Let some time go by; shorter where it is closed meanwhile."""
        self._closing.wait(timeout_s)

    def _run(self) -> None:
        turn = 0
        closing = False
        while not closing:
            closing = self._closing.wait(_TURN_S)  # and once more after it is set
            commands = self._left()
            for command in commands:
                try:
                    self._see_to(command)
                except Exception:
                    # What was asked stays without an answer, which its asker is told.
                    logging.getLogger("beltside").exception("after the end: %r", command)
            turn += 1
            if commands or turn % _SHOW_EVERY == 0:
                self._show(self._with_changes)

    def _see_to(self, command: Command) -> None:
        if isinstance(command, Rated):
            outputs = self._session.rate_after_end(command, now_ns())
        else:
            outputs = self._session.on_command(command, now_ns())
        answer = outputs.answer
        if outputs.journal and not self._kept(outputs) and isinstance(command, Change):
            why = answer_text("answer_not_recorded")
            answer = (command.asker, Answered(id=command.asked.id, done=False, why=why))
        if answer is not None:
            self._answer(*answer)

    def _kept(self, outputs: Outputs) -> bool:
        """Whether it is in the record, on the disk."""
        if self._record is None:
            return False
        try:
            add_entries(self._record, outputs.journal)
        except UserError as error:
            logging.getLogger("beltside").warning("%s", error.problem.title)
            return False
        self.added += outputs.journal
        return True

    def _with_changes(self, shown: Snapshot) -> Snapshot:
        now = self._session.snapshot(now_ns())
        return msgspec.structs.replace(shown, pain=now.pain, remarks=now.remarks)
