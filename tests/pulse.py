"""A sound output for tests: a PulseAudio server of their own whose sink can be recorded.

Debian packages: pulseaudio, pulseaudio-utils (parec), libasound2-plugins (the way from
PortAudio through ALSA to PulseAudio), libportaudio2.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

RATE_HZ = 48_000
_SINK = "test_sink"
_FRAME_BYTES = 8
_START_LIMIT_S = 20.0
_PRIORITY = 6


@dataclass(frozen=True)
class Heard:
    """What the sink played, at 48 kHz."""

    samples: NDArray[np.float32]
    """(n, 2): left, right."""
    first_ns: int
    """When sample 0 was recorded, on the clock of ``time.perf_counter_ns``.

    Taken from the quickest arrival of any piece, so it is late by the recorder's least delay
    (a few ms) and never early.
    """

    def at_ns(self, frame: int) -> int:
        """When this frame was recorded."""
        return self.first_ns + frame * 1_000_000_000 // RATE_HZ

    def frame_at(self, at_ns: int) -> int:
        """The frame that was recorded at this time."""
        return (at_ns - self.first_ns) * RATE_HZ // 1_000_000_000

    def bursts(self, gap_s: float = 0.02, threshold: float = 1e-4) -> list[tuple[int, int]]:
        """(first, last) frame of each stretch of sound with no silence longer than ``gap_s``."""
        loud = np.flatnonzero(np.any(np.abs(self.samples) > threshold, axis=1))
        if loud.size == 0:
            return []
        breaks = np.flatnonzero(np.diff(loud) > gap_s * RATE_HZ)
        firsts = np.concatenate([loud[:1], loud[breaks + 1]])
        lasts = np.concatenate([loud[breaks], loud[-1:]])
        return [(int(a), int(b)) for a, b in zip(firsts, lasts, strict=True)]


class Recorder:
    """Records the sink from ``start`` to ``finish``; with ``keep`` off it only listens."""

    def __init__(self, environment: dict[str, str], keep: bool = True) -> None:
        self._environment = environment
        self._keep = keep
        self._pieces: list[bytes] = []
        self._arrivals: list[tuple[int, int]] = []
        self._flowing = threading.Event()

    def start(self) -> None:
        """Return once sound (or silence) flows."""
        self._process = subprocess.Popen(
            ["parec", f"--device={_SINK}.monitor", "--format=float32le", f"--rate={RATE_HZ}",
             "--channels=2", "--raw", "--latency-msec=10"],
            stdout=subprocess.PIPE, bufsize=0, env=self._environment,
        )  # fmt: skip
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()
        assert self._flowing.wait(_START_LIMIT_S), "the recorder gives nothing"

    def _read(self) -> None:
        assert self._process.stdout is not None
        total = 0
        while piece := os.read(self._process.stdout.fileno(), 1 << 16):
            total += len(piece)
            if self._keep:
                self._arrivals.append((total // _FRAME_BYTES, time.perf_counter_ns()))
                self._pieces.append(piece)
            self._flowing.set()

    def end(self) -> None:
        """Stop recording; may be called more than once."""
        self._process.terminate()
        self._process.wait(10.0)
        self._thread.join(10.0)
        assert self._process.stdout is not None
        self._process.stdout.close()

    def finish(self) -> Heard:
        """Stop recording and give what was heard."""
        self.end()
        raw = b"".join(self._pieces)
        samples = np.frombuffer(raw[: len(raw) // _FRAME_BYTES * _FRAME_BYTES], np.float32)
        first_ns = min(at_ns - frames * 10**9 // RATE_HZ for frames, at_ns in self._arrivals)
        return Heard(samples.reshape(-1, 2), first_ns)


class PulseServer:
    """A PulseAudio daemon with one null sink, in a folder of its own; no one else's sound."""

    def __init__(self) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="sound-"))
        self._folder.chmod(0o700)
        socket = self._folder / "native"
        self.environment = {
            **os.environ,
            "HOME": str(self._folder),
            "PULSE_RUNTIME_PATH": str(self._folder),
            "PULSE_STATE_PATH": str(self._folder),
            "PULSE_COOKIE": str(self._folder / "cookie"),
            "PULSE_SERVER": f"unix:{socket}",
        }
        self._process = subprocess.Popen(
            ["pulseaudio", "--daemonize=no", "--exit-idle-time=-1", "--system=false", "-n",
             "--disable-shm=yes", "--log-target=stderr",
             f"--load=module-null-sink sink_name={_SINK} rate={RATE_HZ} format=float32le",
             f"--load=module-native-protocol-unix socket={socket} auth-anonymous=1"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=self.environment,
        )  # fmt: skip
        give_up = time.monotonic() + _START_LIMIT_S
        while not socket.exists():
            assert self._process.poll() is None, "pulseaudio ended at once"
            assert time.monotonic() < give_up, "pulseaudio does not start"
            time.sleep(0.02)
        # Other work on this computer must not disturb the recording, where we may say so.
        with contextlib.suppress(PermissionError):
            os.sched_setscheduler(self._process.pid, os.SCHED_RR, os.sched_param(_PRIORITY))
        # A sink that no one hears plays in pieces of 2 s; a listener keeps them short.
        self._listener = Recorder(self.environment, keep=False)
        self._listener.start()

    @property
    def pid(self) -> int:
        """Process number of the daemon."""
        return self._process.pid

    @contextlib.contextmanager
    def recorder(self) -> Iterator[Recorder]:
        """A running recorder; call ``finish`` on it inside or after the block."""
        recorder = Recorder(self.environment)
        recorder.start()
        try:
            yield recorder
        finally:
            recorder.end()

    def kill(self) -> None:
        """Take the sound output away at once, as unplugging does."""
        self._process.kill()
        self._process.wait(10.0)

    def close(self) -> None:
        """End the daemon and remove its folder."""
        self._listener.end()
        self._process.terminate()
        self._process.wait(10.0)
        shutil.rmtree(self._folder)


def _needs_linux() -> None:
    """On Linux the sound tests must run; a missing package is a failure, not a skip."""
    if not sys.platform.startswith("linux"):
        pytest.skip("the sound tests record a PulseAudio sink, on Linux")
    for program in ("pulseaudio", "parec"):
        if shutil.which(program) is None:
            pytest.fail(
                f"{program} is missing: apt install pulseaudio pulseaudio-utils "
                "libasound2-plugins libportaudio2"
            )


def _in_this_process(server: PulseServer, patch: pytest.MonkeyPatch) -> None:
    """Point PortAudio in this process at the server; it lists devices only when it starts."""
    for name in ("PULSE_SERVER", "PULSE_COOKIE", "PULSE_RUNTIME_PATH"):
        patch.setenv(name, server.environment[name])
    _restart_portaudio()


def server_for_this_program() -> PulseServer:
    """A server of its own as the default output of this process and those it starts, to its end."""
    server = PulseServer()
    for name in ("PULSE_SERVER", "PULSE_COOKIE", "PULSE_RUNTIME_PATH"):
        os.environ[name] = server.environment[name]
    _restart_portaudio()
    return server


def _restart_portaudio() -> None:
    import sounddevice

    sounddevice._terminate()
    sounddevice._initialize()


@pytest.fixture(scope="session")
def pulse_server() -> Iterator[PulseServer]:
    """One server for the whole run; use its ``environment`` for a program started by a test."""
    _needs_linux()
    server = PulseServer()
    yield server
    server.close()


@pytest.fixture
def sound_output(
    pulse_server: PulseServer, monkeypatch: pytest.MonkeyPatch
) -> Iterator[PulseServer]:
    """The server as the default sound output of this process, for one test."""
    _in_this_process(pulse_server, monkeypatch)
    yield pulse_server
    monkeypatch.undo()
    _restart_portaudio()


@pytest.fixture
def sound_output_to_lose(monkeypatch: pytest.MonkeyPatch) -> Iterator[PulseServer]:
    """A server of this test's own as the default output, to be killed by the test."""
    _needs_linux()
    server = PulseServer()
    _in_this_process(server, monkeypatch)
    yield server
    monkeypatch.undo()
    _restart_portaudio()
    server.close()
