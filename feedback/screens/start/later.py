"""Does what may take a while, such as reading many files, in a thread beside the window."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

from PyQt6.QtCore import QObject, pyqtSignal, pyqtSlot

from shared.problems import UserError

T = TypeVar("T")


class _Bridge(QObject):
    """Brings what came of it into the window's own thread, for as long as its page exists."""

    came = pyqtSignal(object, object)

    def __init__(self, take: Callable[[int, object], None], page: QObject | None) -> None:
        super().__init__(page)
        self._take = take
        self.came.connect(self._on_came)

    @pyqtSlot(object, object)
    def _on_came(self, number: int, answer: object) -> None:
        self._take(number, answer)


class Later(Generic[T]):
    """Asked again and again for the same kind of work; only the newest answer counts."""

    def __init__(self, done: Callable[[T], None], failed: Callable[[UserError], None]) -> None:
        """``done`` is a method of the page that asks: nothing is told once that is gone."""
        self._done, self._failed = done, failed
        self._newest = 0
        self._bridge = _Bridge(self._on_came, _page_of(done))

    def ask(self, work: Callable[[], T]) -> None:
        """Do ``work`` in a thread; ``done`` or ``failed`` is told in the window's own."""
        self._newest += 1
        number, bridge = self._newest, self._bridge

        def run() -> None:
            try:
                answer: object = work()
            except BaseException as error:  # noqa: BLE001 - raised again in the window's thread
                answer = error
            try:
                bridge.came.emit(number, answer)
            except RuntimeError:  # the window is gone
                return

        threading.Thread(target=run, name="later", daemon=True).start()

    def _on_came(self, number: int, answer: object) -> None:
        if number != self._newest:
            return
        if isinstance(answer, UserError):
            self._failed(answer)
        elif isinstance(answer, BaseException):
            raise answer
        else:
            self._done(answer)  # type: ignore[arg-type]


def _page_of(method: Callable[..., object]) -> QObject | None:
    page = getattr(method, "__self__", None)
    return page if isinstance(page, QObject) else None
