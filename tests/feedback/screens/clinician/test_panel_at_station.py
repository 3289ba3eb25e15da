"""The clinician's panel beside a real station: it may go at any time, and it can stop."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from feedback.cli.common.sound_and_screens import open_panel, panel_spawner
from feedback.screens.widgets.launch import ScreenProcess, has_display, spawn_panel
from shared.messages import Role, StopReason
from tests.feedback.station_bench import Bench, wait_until

pytestmark = pytest.mark.window


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[ScreenProcess]:
    """The panels that were started, offscreen."""
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    return []


def bench_with_panel(folder: Path, opened: list[ScreenProcess]) -> Bench:
    def spawn(port: int, token: str) -> ScreenProcess:
        opened.append(spawn_panel(port, token))
        return opened[-1]

    bench = Bench(folder, spawn_panel=spawn)
    bench.station.open_panel()
    return bench


def joined(bench: Bench) -> bool:
    return Role.PANEL in bench.station._link.screens()


def test_a_session_goes_on_when_its_panel_is_killed(
    tmp_path: Path, opened: list[ScreenProcess]
) -> None:
    bench = bench_with_panel(tmp_path, opened)
    seen: list[int] = []

    def kill() -> None:
        wait_until(lambda: joined(bench) and bench.model.seen > 20)
        opened[0].kill()
        wait_until(lambda: not joined(bench))
        seen.append(bench.model.seen)
        wait_until(lambda: bench.model.seen > seen[0] + 60)
        bench.station._stop(StopReason.QUIT, "the test")

    outcome = bench.run(kill)
    assert outcome.reason is StopReason.QUIT
    assert outcome.saved is True
    assert bench.model.seen > seen[0] + 60, "two seconds later it still measured"


def test_a_panel_closes_with_its_station(tmp_path: Path, opened: list[ScreenProcess]) -> None:
    bench = bench_with_panel(tmp_path, opened)

    def end() -> None:
        # its window is up: a panel that is still opening may be ended before it can close
        wait_until(lambda: bench.station._link.wants_pictures() > 0)
        bench.station._stop(StopReason.QUIT, "the test")

    bench.run(end)
    assert opened[0].poll() == 0
    assert opened[0].said() == ""


def test_without_a_display_the_session_goes_on_and_it_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(has_display, "__defaults__", ("linux",))
    bench = Bench(tmp_path, spawn_panel=panel_spawner(argparse.Namespace(panel=True)))
    open_panel(bench.station)
    told = "".join(capfd.readouterr())
    assert "The clinician's panel could not be opened" in " ".join(told.split())
    outcome = bench.run(lambda: bench.station._stop(StopReason.QUIT, "the test"))
    assert outcome.saved is True


def test_no_panel_is_opened_that_was_not_asked_for() -> None:
    assert panel_spawner(argparse.Namespace(panel=False)) is None
