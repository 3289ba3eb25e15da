"""Looks at the parts of this computer that a session needs; each look gives one Finding.

Nothing is sent to the network, no sound is made and no picture is kept.
"""

from __future__ import annotations

import contextlib
import os
import platform
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np

from feedback.cli.selfcheck import judge
from feedback.cli.selfcheck.judge import Finding
from feedback.demo import demo_clip
from feedback.journal.writer import sessions_folder
from feedback.link.discovery import own_addresses
from feedback.records.moments import clock_problem, newest_begin
from feedback.sound.speaker import SilentSpeaker, open_speaker
from feedback.storage.folders import make_private
from live.camera.sources import CameraSource, FileSource, SourceLost, StreamSource
from live.pose.bundle import bundle_path, is_sound
from live.pose.model import PoseModel
from live.pose.offline import close_the_way_out
from shared.child_environment import child_environment
from shared.clock import now_ns
from shared.flow import View
from shared.language import _
from shared.problems import UserError, reason_of
from shared.units import NS_PER_S

_MOST_CAMERAS: Final = 4
_CAMERA_NS: Final = NS_PER_S
"""How long each camera is looked at."""
_MODEL_FRAMES: Final = 120
_SETTLING_FRAMES: Final = 20
_CLOCK_S: Final = 0.5
_DISPLAY_S: Final = 20.0
_SEARCH_PORT: Final = 5353
_MB: Final = 1_000_000
_SCREENS: Final = """
from PyQt6.QtGui import QGuiApplication
app = QGuiApplication([])
for screen in app.screens():
    print(screen.size().width(), screen.size().height())
"""


def camera(stream: str | None) -> Finding:
    """Look for a second at each camera of this computer, and at the one at the address given."""
    found, silent = [], []
    sources: dict[str, CameraSource | StreamSource] = {
        _("camera {number}").format(number=number): CameraSource(number)
        for number in range(_MOST_CAMERAS)
    }
    if stream is not None:
        sources[_("network camera")] = StreamSource(stream)
    for number, (name, source) in enumerate(sources.items()):
        try:
            source.open()
        except UserError:
            if Path(f"/dev/video{number}").exists() or isinstance(source, StreamSource):
                silent.append(name)
            continue
        try:
            stamps = list(_stamps(source))
        finally:
            source.close()
        if len(stamps) < 2 or source.size is None:
            silent.append(name)
            continue
        rate = (len(stamps) - 1) * NS_PER_S / max(1, stamps[-1] - stamps[0])
        found.append((name, *source.size, rate))
    return judge.camera(found, silent)


def _stamps(source: CameraSource | StreamSource) -> Iterator[int]:
    begun_ns = now_ns()
    with contextlib.suppress(SourceLost, UserError):
        while now_ns() - begun_ns < _CAMERA_NS and (frame := source.read()) is not None:
            yield frame.captured_ns


def sound() -> Finding:
    """Open the sound output, without a sound."""
    speaker, problem = open_speaker()
    speaker.close(0.1)
    if problem is not None or isinstance(speaker, SilentSpeaker):
        return judge.sound(None, "" if problem is None else problem.title)
    return judge.sound(_("The system's sound output opens."))


def display() -> Finding:
    """Ask a process of its own which screens there are: without one, Qt ends its process."""
    try:
        asked = subprocess.run(
            [sys.executable, "-c", _SCREENS],
            capture_output=True,
            text=True,
            timeout=_DISPLAY_S,
            check=False,
            env=child_environment(os.environ),
        )
    except subprocess.TimeoutExpired:
        return judge.display((), _("the display does not answer"))
    sizes = [line.split() for line in asked.stdout.splitlines()]
    screens = [(int(width), int(height)) for width, height in sizes if asked.returncode == 0]
    return judge.display(screens, _("no display was found"))


def network() -> Finding:
    """Which addresses there are, and whether the search's port can be opened."""
    addresses = [text for text in own_addresses() if not text.startswith("127.")]
    return judge.network(addresses, _can_search())


def _can_search() -> bool:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as opened:
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if hasattr(socket, "SO_REUSEPORT"):
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
        try:
            opened.bind(("", _SEARCH_PORT))
        except OSError:
            return False
    return True


def bluetooth() -> Finding:
    """Which adapters the system has, and whether its service can be spoken to."""
    if not sys.platform.startswith("linux"):
        return judge.bluetooth([platform.system()], service=True)
    folder = Path("/sys/class/bluetooth")
    adapters = sorted(path.name for path in folder.glob("hci*")) if folder.is_dir() else []
    bus = Path("/run/dbus/system_bus_socket").is_socket()
    return judge.bluetooth(adapters, service=bus)


def clock() -> Finding:
    """Compare the wall clock with the monotonic one, and with the newest record."""
    wall, monotonic = time.time(), now_ns()
    time.sleep(_CLOCK_S)
    passed_s = (now_ns() - monotonic) / NS_PER_S
    drift = (time.time() - wall - passed_s) / passed_s
    now = datetime.now(tz=UTC)
    problem = clock_problem(now, newest_begin(sessions_folder(), now))
    return judge.clock(drift, "" if problem is None else problem.title)


def model() -> Finding:
    """Run the pose model over the bundled clip and time each frame. It is not downloaded here."""
    cores = _cores()
    try:
        close_the_way_out()
        if not is_sound(bundle_path()):
            return judge.model(None, cores, _("it has not been built yet"))
        took = _frame_times()
    except UserError as error:
        return judge.model(None, cores, error.problem.title.rstrip("."))
    return judge.model(float(np.percentile(took, 95)), cores)


def _frame_times() -> list[float]:
    source = FileSource(demo_clip(View.SIDE), as_live=False, loop=True)
    took = []
    source.open()
    try:
        with PoseModel() as pose_model:
            for count in range(_SETTLING_FRAMES + _MODEL_FRAMES):
                frame = source.read()
                if frame is None:
                    break
                begun_ns = now_ns()
                pose_model.detect(frame)
                if count >= _SETTLING_FRAMES:
                    took.append((now_ns() - begun_ns) / 1e6)
    finally:
        source.close()
    return took


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def disk() -> Finding:
    """How much room there is where the records lie, and how long a safe line takes."""
    where = _first_there(sessions_folder())
    free_mb = shutil.disk_usage(where).free / _MB
    took_ms = []
    try:
        with tempfile.TemporaryFile(dir=where) as file:
            for _count in range(5):
                begun_ns = now_ns()
                file.write(b"x" * 200)
                file.flush()
                os.fsync(file.fileno())
                took_ms.append((now_ns() - begun_ns) / 1e6)
    except OSError:
        took_ms.append(0.0)  # the folder's own finding says what is wrong
    return judge.disk(free_mb, max(took_ms))


def folder() -> Finding:
    """Whether records can be put down, and only their owner can read them."""
    path = sessions_folder()
    why = ""
    open_to_others = False
    try:
        make_private(path)
        if not os.access(path, os.W_OK | os.X_OK):
            why = _("writing there is not allowed")
        open_to_others = sys.platform != "win32" and bool(path.stat().st_mode & 0o077)
    except OSError as error:
        why = reason_of(error)
    except UserError as error:
        why = error.problem.title.rstrip(".")
    return judge.folder(str(path), why, open_to_others)


def _first_there(path: Path) -> Path:
    while not path.exists():
        path = path.parent
    return path


def looks(stream: str | None) -> tuple[Callable[[], Finding], ...]:
    """All of them, in the order in which they are told; ``stream``: a network camera's address."""
    at_camera = partial(camera, stream)
    return (folder, disk, clock, display, sound, at_camera, model, network, bluetooth)
