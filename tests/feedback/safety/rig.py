"""A whole station with real parts: screen on an X display, real keys, and sound that is recorded.

The pose model is the real one, shared between sessions; it can be made to hang.
"""

from __future__ import annotations

import contextlib
import os
import queue
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from feedback.demo import demo_clip, demo_profile
from feedback.journal.writer import Header, Journal
from feedback.link.client_state import LinkState
from feedback.link.local_client import LinkClient
from feedback.link.network_station import Network
from feedback.screens.widgets.launch import ScreenProcess, spawn_runner_screen
from feedback.sound.speaker import Speaker
from feedback.station.setup import SessionOutcome, StationSetup
from feedback.station.station import Station
from live.camera.sources import FileSource, FrameSource
from live.pose.model import PoseModel
from shared.clock import anchor_now, now_ns
from shared.cores import Reserve
from shared.flow import Cue, CueKind, Frame, Pose, View
from shared.messages import Role
from shared.problems import Problem
from tests.pulse import RATE_HZ, Heard

PATIENCE_S = 60.0
LOUD = 1e-3
GAP_S = 0.25
"""A longer silence is the one after a stop: 400 ms pass before the stop sound."""


class SharedModel:
    """One pose model for many sessions, which each would close it; hangs when told to."""

    def __init__(self, model: PoseModel) -> None:
        self._model = model
        self.free = threading.Event()
        self.free.set()
        self.seen = 0

    def detect(self, frame: Frame) -> Pose:
        self.free.wait()
        self.seen += 1
        return self._model.detect(frame)

    def take_places(self, reserve: Reserve) -> None:
        self._model.take_places(reserve)

    def never_wait(self) -> None:
        self._model.never_wait()

    def problem(self) -> Problem | None:
        return self._model.problem()

    def settle(self) -> None:
        self._model.settle()

    def close(self) -> None:
        pass


class Hand:
    """Presses keys on the display: one xdotool that is fed line by line, so that it is quick."""

    def __init__(self) -> None:
        self._tool = subprocess.Popen(["xdotool", "-"], stdin=subprocess.PIPE, text=True)

    def press(self, key: str) -> int:
        """Press a key; returns when it was pressed."""
        assert self._tool.stdin is not None
        at_ns = now_ns()
        self._tool.stdin.write(f"key {key}\n")
        self._tool.stdin.flush()
        return at_ns

    def close(self) -> None:
        assert self._tool.stdin is not None
        self._tool.stdin.close()
        self._tool.wait(10)


class Rig:
    """One session that sounds, from its start to its end."""

    def __init__(
        self,
        folder: Path,
        model: SharedModel,
        source: FrameSource | None = None,
        network: Network | None = None,
    ) -> None:
        self.profile = demo_profile(View.SIDE)
        self.model = model
        self.speaker = Speaker()
        self.speaker.open()
        self.screens: queue.Queue[ScreenProcess] = queue.Queue()
        self.path = folder / "session.jsonl"
        self.path.unlink(missing_ok=True)
        self.station = Station(
            StationSetup(
                athlete=self.profile.athlete,
                view=View.SIDE,
                source=source or FileSource(demo_clip(View.SIDE), as_live=True, loop=True),
                model=model,  # type: ignore[arg-type]
                speaker=self.speaker,
                spawn_screen=self._spawn,
                start_at_once=True,
                linger_s=0.0,
                network=network,
            )
        )
        self._clients: list[LinkClient] = []

    def _spawn(self, port: int, token: str) -> ScreenProcess:
        screen = spawn_runner_screen(port, token, windowed=True)
        self.screens.put(screen)
        return screen

    def hold(self, meanwhile: Callable[[ScreenProcess], None]) -> SessionOutcome:
        """Hold the session, with ``meanwhile`` in a thread of its own once it is under way."""
        self.station.open_screen()
        screen = self.screens.get()
        focus_window()
        header = Header(
            versions={},
            anchor=anchor_now(),
            source="rig",
            view=View.SIDE,
            athlete=self.profile.athlete,
            athlete_text="",
            limits={},
        )
        failed: list[BaseException] = []
        seen_before = self.model.seen

        def work() -> None:
            try:
                wait_until(lambda: self.model.seen > seen_before + 5)
                meanwhile(screen)
            except BaseException as error:  # noqa: BLE001 - raised again in the main thread
                failed.append(error)
                self.speaker.stop(announce=False)
                screen.kill()

        helper = threading.Thread(target=work)
        helper.start()
        try:
            outcome = self.station.run(Journal(self.path, header))
        finally:
            helper.join()
            self.model.free.set()
            self.station.close()
            for client in self._clients:
                client.close()
        if failed:
            raise failed[0]
        return outcome

    def join_console(self) -> LinkClient:
        """A console that takes part; it must be given signs of life."""
        port = self.station.open_link()
        client = LinkClient(port, self.station.issue_token(Role.CONSOLE), Role.CONSOLE)
        client.start()
        wait_until(lambda: client.status().state is LinkState.JOINED)
        self._clients.append(client)
        return client

    def sound(self) -> None:
        """Let the longest cue begin: 0.6 s without a gap."""
        at_ns = now_ns()
        self.speaker.play(
            Cue(
                kind=CueKind.WARNING,
                measure=None,
                side=None,
                sound="warning",
                words="",
                step_number=0,
                captured_ns=at_ns,
                decided_ns=at_ns,
            )
        )


@dataclass(frozen=True)
class Silence:
    """The silence that a stop brought, in what was recorded."""

    after_ms: float
    """From the key press (or the fault) to the last sample that was not silent."""
    lasted_ms: float
    """To the next sound, the stop sound; infinite when none came."""
    sounding: bool
    """Something was sounding when it was asked for; else nothing was measured."""


def silence_after(heard: Heard, asked_ns: int, gap_s: float = GAP_S) -> Silence:
    """Find the first silence longer than ``gap_s`` that begins after ``asked_ns``."""
    bursts = heard.bursts(gap_s=gap_s, threshold=LOUD)
    asked = heard.frame_at(asked_ns)
    for number, (first, last) in enumerate(bursts):
        if last >= asked - RATE_HZ // 100:
            after = [f for f, _ in bursts[number + 1 :]]
            lasted = (after[0] - last) / RATE_HZ * 1e3 if after else np.inf
            return Silence((last - asked) / RATE_HZ * 1e3, lasted, first <= asked)
    return Silence(0.0, np.inf, sounding=False)


def wait_until(true: Callable[[], bool], within_s: float = PATIENCE_S) -> None:
    give_up = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < give_up, "it never came"
        time.sleep(0.005)


def focus_window() -> None:
    """Give the runner's screen the keyboard: without a window manager nobody else does."""
    give_up = time.monotonic() + PATIENCE_S
    while time.monotonic() < give_up:
        found = subprocess.run(
            ["xdotool", "search", "--onlyvisible", "--name", "Beltside"],
            capture_output=True,
            text=True,
            check=False,
        ).stdout.split()
        if found:
            subprocess.run(["xdotool", "windowfocus", "--sync", found[-1]], check=False)
            return
        time.sleep(0.05)
    raise AssertionError("the window did not open")


@contextlib.contextmanager
def virtual_display() -> Iterator[str]:
    """An X display of its own, 1280 x 720, for this process and those it starts; its name."""
    reading, writing = os.pipe()
    # Without -noreset it begins anew whenever its last window goes, and turns away who comes then.
    screen = ("-screen", "0", "1280x720x24", "-noreset", "-nolisten", "tcp")
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(writing), *screen],
        pass_fds=(writing,),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(writing)
    with os.fdopen(reading) as number:
        name = f":{number.readline().strip()}"
    before = dict(os.environ)
    os.environ["DISPLAY"] = name
    for variable in ("QT_QPA_PLATFORM", "WAYLAND_DISPLAY"):
        os.environ.pop(variable, None)
    try:
        yield name
    finally:
        os.environ.clear()
        os.environ.update(before)
        server.terminate()
        server.wait()
