"""The station's ear for treadmill, strap and pod: starts the receiver's process and reads it."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping
from typing import Final

import msgspec

from shared.child_environment import child_environment
from shared.clock import now_ns
from shared.sensor_values import LinkReading, SensorKind, SensorReading

_END_S: Final = 2.0
_DECODER: Final[msgspec.json.Decoder[SensorReading]] = msgspec.json.Decoder(SensorReading)


class Sensors:
    """Hands on what is heard. Without it, or when it dies, a session goes on as before."""

    def __init__(
        self, wanted: Mapping[SensorKind, str], heard: Callable[[SensorReading], None]
    ) -> None:
        """``heard`` is called in a thread of its own and must return at once."""
        self._wanted = tuple(wanted)
        self._heard = heard
        words = [sys.executable, "-m", "live.sensors.receiver"]
        for kind, name in wanted.items():
            words += [f"--{kind.replace('_', '-')}", name]
        self._process = subprocess.Popen(
            words,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=child_environment(os.environ),
            start_new_session=True,  # the terminal's Ctrl+C is the station's: it ends this
        )
        self._closed = False
        self._thread = threading.Thread(target=self._read, name="sensors", daemon=True)
        self._thread.start()

    @property
    def process_id(self) -> int:
        """Of the receiver, which is to keep off the processor for the measuring."""
        return self._process.pid

    def close(self) -> None:
        """End the receiver; may be done again."""
        if self._closed:
            return
        self._closed = True
        with contextlib.suppress(OSError, ValueError):
            if self._process.stdin is not None:
                self._process.stdin.close()
        try:
            self._process.wait(_END_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._thread.join(_END_S)

    def _read(self) -> None:
        pipe = self._process.stdout
        if pipe is None:
            return
        for kind in self._wanted:
            self._heard(self._lost(kind, "still looking"))
        with pipe:
            for line in pipe:
                with contextlib.suppress(msgspec.DecodeError):
                    self._heard(_DECODER.decode(line))
        if not self._closed:  # it died by itself
            for kind in self._wanted:
                self._heard(self._lost(kind, "the receiver has ended"))

    def _lost(self, kind: SensorKind, why: str) -> LinkReading:
        return LinkReading(at_ns=now_ns(), sensor=kind, reached=False, why=why)
