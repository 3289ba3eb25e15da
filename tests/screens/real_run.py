"""Pictures of panel, console and replay for the documents, out of a real session; a script.

``python -m tests.screens.real_run OUT_DIR``: a station measures and cues the bundled clip; the
windows join it as they do in any session. Nothing in them is made up.
"""

from __future__ import annotations

import os
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PyQt6.QtTest import QTest as _QTest

from feedback.cli.common.sound_and_screens import open_sound
from feedback.demo import demo_clip, demo_profile
from feedback.link.local_client import LinkClient
from feedback.screens.clinician.console import ConsoleWindow
from feedback.screens.clinician.panel import PanelWindow
from feedback.screens.widgets.application import make_app
from feedback.screens.widgets.launch import ScreenProcess
from feedback.screens.widgets.runner_options import TOKEN_VARIABLE
from feedback.station.setup import StationSetup
from feedback.station.station import Station
from live.camera.sources import FileSource
from live.pose.bundle import bundle_path
from live.pose.model import PoseModel
from shared.flow import BandState, View
from shared.messages import Role
from tests.screens.shots import settle

HAND: Any = _QTest
PANEL_PX: Final = (1366, 768)
CONSOLE_PX: Final = (1600, 900)
REPLAY_PX: Final = (1180, 860)
MEASURED_S: Final = 65.0
PATIENCE_S: Final = 180.0


class Seen(ScreenProcess):
    """The process that opens the windows and takes their pictures."""


def station(folder: Path) -> None:
    """Hold the session; the windows' process stops it when it has its pictures."""

    opened: list[Seen] = []

    def spawn(port: int, token: str) -> ScreenProcess:
        command = [sys.executable, "-m", "tests.screens.real_run", str(folder), str(port)]
        opened.append(Seen(command, {**os.environ, TOKEN_VARIABLE: token}))
        return opened[-1]

    held = Station(
        StationSetup(
            athlete=demo_profile(View.SIDE).athlete,
            view=View.SIDE,
            source=FileSource(demo_clip(View.SIDE), as_live=True, loop=True),
            model=PoseModel(bundle_path()),
            speaker=open_sound(False, 0.35)[0],
            spawn_screen=None,
            spawn_panel=spawn,
            keep_pictures=True,
            demo=True,
            start_at_once=True,
            time_limit_s=240.0,
            linger_s=0.0,
        )
    )
    try:
        held.open_panel()
        held.run()
    finally:
        held.close()
    print(opened[0].standing(), opened[0].said())


def windows(folder: Path, port: int) -> None:
    """Join, wait until the runner is off target after a while, and take the pictures."""
    app = make_app()
    link = LinkClient(port, os.environ.pop(TOKEN_VARIABLE), Role.PANEL)
    link.start()
    panel = PanelWindow(link)
    panel.resize(*PANEL_PX)
    panel.show()

    def told() -> bool:
        snapshot = link.status().snapshot
        return (
            snapshot is not None
            and snapshot.elapsed_s > MEASURED_S
            and snapshot.focus is not None
            and snapshot.focus.state is not BandState.UNKNOWN
        )

    until(told)
    panel.view.head.stop.clearFocus()
    settle()
    panel.grab().save(str(folder / "panel.png"))
    panel.resize(1920, 1080)
    settle()
    panel.grab().save(str(folder / "panel_wide.png"))
    panel.view.replay_button.click()
    replay = panel.view.replay
    assert replay is not None
    replay.resize(*REPLAY_PX)
    HAND.qWait(9_000)
    replay.grab().save(str(folder / "replay.png"))
    replay.close()
    panel.hide()
    console = ConsoleWindow()
    console.add_station("Treadmill 1", link)
    console.resize(*CONSOLE_PX)
    console.show()
    HAND.qWait(4_000)
    console.grab().save(str(folder / "console.png"))
    link.stop()
    HAND.qWait(500)
    app.quit()


def until(told: Callable[[], bool]) -> None:
    """Let the windows live until it is so."""
    deadline = time.monotonic() + PATIENCE_S
    while not told():
        assert time.monotonic() < deadline, "it was never measured"
        HAND.qWait(50)


def main() -> None:
    """Either of the two processes."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    if len(sys.argv) > 2:
        try:
            windows(folder, int(sys.argv[2]))
        except BaseException:
            (folder / "error.txt").write_text(traceback.format_exc())
            raise
        return
    station(folder)


if __name__ == "__main__":
    main()
