"""Calls into the sound library: their errors come back, and one that hangs is left behind."""

from __future__ import annotations

import sys
import threading

import pytest

from feedback.sound.apart import run_apart


def test_work_is_done_and_its_error_is_raised_here() -> None:
    done: list[str] = []
    run_apart(lambda: done.append(threading.current_thread().name), 5.0)
    assert done == ["sound-library"] or sys.platform != "linux"

    def fail() -> None:
        raise ValueError("no such device")

    with pytest.raises(ValueError, match="no such device"):
        run_apart(fail, 5.0)


def test_elsewhere_it_runs_in_the_calling_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "win32")
    done: list[threading.Thread] = []
    run_apart(lambda: done.append(threading.current_thread()), 5.0)
    assert done == [threading.current_thread()]


@pytest.mark.skipif(sys.platform != "linux", reason="only there it has a thread of its own")
def test_work_that_hangs_is_left_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    free = threading.Event()
    with pytest.raises(TimeoutError):
        run_apart(lambda: void(free.wait(60.0)), 0.05)
    free.set()


def void(_result: object) -> None:
    """Drop a result."""
