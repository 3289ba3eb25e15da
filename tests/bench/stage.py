"""What the benches play on: a recorded sound output, a display, and a station that plays a clip."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from types import TracebackType
from typing import Self

from feedback.journal.entries import Entry
from feedback.journal.writer import Header, Journal, read_journal, versions
from feedback.screens.widgets.launch import ScreenProcess, spawn_runner_screen
from feedback.screens.widgets.runner_options import TOKEN_VARIABLE
from feedback.sound.speaker import AnySpeaker, SilentSpeaker, Speaker
from feedback.station.setup import SessionOutcome, StationSetup
from feedback.station.station import Station
from live.camera.sources import FileSource
from live.pose.model import PoseModel
from shared.child_environment import child_environment
from shared.clock import anchor_now, now_ns
from shared.cores import Reserve
from shared.flow import Cue, Frame, Pose, View
from shared.messages import Role
from shared.problems import Problem
from shared.targets import Athlete, CueStyle, Target
from tests.bench.hearing import finish
from tests.feedback.safety.rig import virtual_display
from tests.pulse import Heard, PulseServer, _restart_portaudio

PANEL = "feedback.screens.clinician.panel"
GAP_STEPS = 5
"""Steps between two cues: an odd number, so that both feet get their turn."""
JOIN_S = 30.0
NEVER_REACHED_CM = 60.0
"""No foot lands so far ahead: a target that is out of its band at every step."""


@dataclass
class Stage:
    """Opens a sound server and a display once, for all benches."""

    quick: bool = False
    endurance_min: float = 120.0
    _closing: contextlib.ExitStack = field(default_factory=contextlib.ExitStack)
    _server: PulseServer | None = None
    _display: bool = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._closing.close()

    @property
    def folder(self) -> Path:
        """A new folder, gone at the end."""
        folder = tempfile.mkdtemp(prefix="bench-")
        self._closing.callback(shutil.rmtree, folder, ignore_errors=True)
        return Path(folder)

    @property
    def sound(self) -> PulseServer:
        """The recorded output, which is this process's (and its children's) only one."""
        if self._server is None:
            before = dict(os.environ)
            self._server = PulseServer()
            for name in ("PULSE_SERVER", "PULSE_COOKIE", "PULSE_RUNTIME_PATH"):
                os.environ[name] = self._server.environment[name]
            _restart_portaudio()
            self._closing.callback(self._close_sound, before)
        return self._server

    def _close_sound(self, before: dict[str, str]) -> None:
        assert self._server is not None
        self._server.close()
        for name in ("PULSE_SERVER", "PULSE_COOKIE", "PULSE_RUNTIME_PATH"):
            os.environ.pop(name, None)
            if name in before:
                os.environ[name] = before[name]
        _restart_portaudio()

    def display(self) -> None:
        """Have a display from here on."""
        if not self._display and "DISPLAY" not in os.environ:
            self._display = True
            self._closing.enter_context(virtual_display())


class Film(FileSource):
    """A clip played as if live, which notes when each of its frames arrived."""

    def __init__(
        self,
        path: Path,
        loop: bool = False,
        seconds: float | None = None,
        until_ns: int | None = None,
    ) -> None:
        super().__init__(path, as_live=True, loop=loop)
        self._seconds = seconds
        self._until_ns = until_ns
        self.arrived_ns: list[int] = []
        """By the frame's index."""

    def read(self, from_ns: int = 0) -> Frame | None:
        frame = super().read(from_ns)
        if frame is None:
            return None
        began_ns = self.arrived_ns[0] if self.arrived_ns else frame.captured_ns
        if self._until_ns is None and self._seconds is not None:
            self._until_ns = began_ns + round(self._seconds * 1e9)
        if self._until_ns is not None and frame.captured_ns > self._until_ns:
            return None
        self.arrived_ns.append(frame.captured_ns)
        return frame


class TimedModel:
    """The pose model, or one that is kept for several sessions, with its times noted."""

    def __init__(self, model: PoseModel | None = None) -> None:
        self._kept = model is not None
        self._model = model or PoseModel()
        self.seen: list[tuple[int, int, int]] = []
        """(captured_ns, index, time of the model ns) of every frame that was measured."""

    def detect(self, frame: Frame) -> Pose:
        before_ns = now_ns()
        pose = self._model.detect(frame)
        self.seen.append((frame.captured_ns, frame.index, now_ns() - before_ns))
        return pose

    def take_places(self, reserve: Reserve) -> None:
        self._model.take_places(reserve)

    def never_wait(self) -> None:
        self._model.never_wait()

    def problem(self) -> Problem | None:
        return self._model.problem()

    def settle(self) -> None:
        self._model.settle()

    def close(self) -> None:
        if not self._kept:
            self._model.close()


class TimedSpeaker(Speaker):
    """Notes when each cue was handed over."""

    def __init__(self) -> None:
        super().__init__()
        self.handed: list[tuple[Cue, int]] = []

    def play(self, cue: Cue) -> None:
        super().play(cue)
        self.handed.append((cue, now_ns()))


@dataclass(frozen=True)
class Played:
    """One session of a clip, with all that was noted."""

    outcome: SessionOutcome
    entries: tuple[Entry, ...]
    arrived_ns: list[int]
    seen: list[tuple[int, int, int]]
    decisions_ns: list[int]
    handed: list[tuple[Cue, int]]
    heard: Heard | None
    dropouts: int


def always_out(view: View = View.SIDE) -> Athlete:
    """An athlete whose target is missed at every step, and told so every few steps."""
    unit = "cm"
    measure = "strike_ahead" if view is View.SIDE else "pelvic_shift"
    target = Target(
        measure=measure,
        unit=unit,
        low=NEVER_REACHED_CM if view is View.SIDE else 20.0,
        average_steps=1,
        cue_gap_steps=GAP_STEPS,
        cues=(CueStyle.OUT_OF_BAND,),
    )
    return Athlete(code_name="Bench", height_cm=172.0, targets=(target,), view=view)


def play(
    stage: Stage,
    clip: Path,
    athlete: Athlete,
    *,
    screens: bool = True,
    with_panel: bool = True,
    sound: bool = True,
    loop: bool = False,
    seconds: float | None = None,
    until_ns: int | None = None,
    model: PoseModel | None = None,
    meanwhile: Callable[[Station, AnySpeaker], None] | None = None,
) -> Played:
    """Hold one whole session on a clip: real model, screens, link, record and sound."""
    if screens:
        stage.display()
    with contextlib.ExitStack() as stack:
        recorder = stack.enter_context(stage.sound.recorder()) if sound else None
        speaker: AnySpeaker = SilentSpeaker()
        if sound:
            speaker = TimedSpeaker()
            speaker.open()
        film, timed = Film(clip, loop, seconds, until_ns), TimedModel(model)
        order = StationSetup(
            athlete=athlete,
            view=athlete.view,
            source=film,
            model=timed,  # type: ignore[arg-type]
            speaker=speaker,
            spawn_screen=runner_screen if screens else None,
            spawn_panel=panel if screens and with_panel and has_panel() else None,
            start_at_once=True,
            linger_s=0.0,
        )
        outcome, entries = hold(order, stage.folder / "session.jsonl", meanwhile)
        heard = finish(recorder) if recorder is not None else None
    if outcome.problem is not None:
        raise SystemExit(f"{outcome.problem.title}\n{outcome.problem.details}")
    return Played(
        outcome=outcome,
        entries=entries,
        arrived_ns=film.arrived_ns,
        seen=timed.seen,
        decisions_ns=list(outcome.tally.decisions_ns),
        handed=speaker.handed if isinstance(speaker, TimedSpeaker) else [],
        heard=heard,
        dropouts=speaker.dropouts,
    )


def hold(
    order: StationSetup,
    path: Path,
    meanwhile: Callable[[Station, AnySpeaker], None] | None = None,
) -> tuple[SessionOutcome, tuple[Entry, ...]]:
    """The session of an order, with its record; ``meanwhile`` runs in a thread of its own."""
    station = Station(order)
    helper = None
    with contextlib.closing(station):
        station.open_screen()
        station.open_panel()
        if order.spawn_panel is not None:
            _wait_for_panel(station)
        header = Header(
            versions=versions(),
            anchor=anchor_now(),
            source="bench",
            view=order.view,
            athlete=order.athlete,
            athlete_text="",
            limits={},
        )
        if meanwhile is not None:
            helper = threading.Thread(target=meanwhile, args=(station, order.speaker))
            helper.start()
        try:
            outcome = station.run(Journal(path, header))
        finally:
            if helper is not None:
                helper.join()
    return outcome, read_journal(path).entries


def has_panel() -> bool:
    """Whether there is a clinician's panel to open."""
    return find_spec(PANEL) is not None


def runner_screen(port: int, token: str) -> ScreenProcess:
    return spawn_runner_screen(port, token, windowed=True)


def panel(port: int, token: str) -> ScreenProcess:
    environment = child_environment(os.environ) | {TOKEN_VARIABLE: token}
    return ScreenProcess([sys.executable, "-m", PANEL, "--port", str(port)], environment)


def _wait_for_panel(station: Station) -> None:
    """The panel comes when it is ready; the bench wants it there from the start."""
    give_up = time.monotonic() + JOIN_S
    while Role.PANEL not in station._link.screens():
        if time.monotonic() > give_up:
            raise SystemExit("The panel did not come up.")
        time.sleep(0.05)
