"""Listens to the beat for hours without keeping the sound: onsets, and the clock of the output."""

from __future__ import annotations

import os
import time

import numpy as np

from tests.bench.result import NS_PER_MS
from tests.pulse import _FRAME_BYTES, RATE_HZ, Recorder

LOUD = 1e-3
QUIET_FRAMES = RATE_HZ // 10
"""A beat begins after so much silence: beats last 45 ms and come every 300 ms at most."""
WINDOW_NS = 20 * 10**9
NS_PER_FRAME = 1e9 / RATE_HZ


class BeatListener(Recorder):
    """Notes where beats begin, and how the output's clock goes against the computer's."""

    def __init__(self, environment: dict[str, str]) -> None:
        super().__init__(environment, keep=False)
        self.onsets: list[int] = []
        """Frames since the recording began."""
        self.leads: list[tuple[int, float]] = []
        """By window: (its beginning ns, least arrival time less that of the frame, ns)."""

    def _read(self) -> None:
        assert self._process.stdout is not None
        rest, total, loud_at = b"", 0, -QUIET_FRAMES
        while piece := os.read(self._process.stdout.fileno(), 1 << 16):
            at_ns = time.perf_counter_ns()
            whole = rest + piece
            count = len(whole) // _FRAME_BYTES
            rest = whole[count * _FRAME_BYTES :]
            samples = np.frombuffer(whole[: count * _FRAME_BYTES], np.float32).reshape(-1, 2)
            for frame in total + np.flatnonzero(np.abs(samples).max(axis=1, initial=0.0) > LOUD):
                if frame - loud_at > QUIET_FRAMES:
                    self.onsets.append(int(frame))
                loud_at = int(frame)
            total += count
            self._note_lead(at_ns, at_ns - total * NS_PER_FRAME)
            self._flowing.set()

    def _note_lead(self, at_ns: int, lead_ns: float) -> None:
        if not self.leads or at_ns - self.leads[-1][0] > WINDOW_NS:
            self.leads.append((at_ns, lead_ns))
        elif lead_ns < self.leads[-1][1]:
            self.leads[-1] = (self.leads[-1][0], lead_ns)

    def output_drift_ms_per_min(self) -> float:
        """How the output's clock goes against the computer's; + when it is late."""
        if len(self.leads) < 3:
            return float("nan")
        at, lead = np.array(self.leads[:-1]).T
        return float(np.polyfit((at - at[0]) / 60e9, lead / NS_PER_MS, 1)[0])

    def beats_drift(self, tempo_spm: float) -> tuple[float, float, int]:
        """The beats against the output's clock: drift in ms a minute, SD around it in ms, breaks.

        A break is a place where the output ran dry, so that all later beats came later: an
        interval that is 1 ms off or more. Drift is taken between breaks.
        """
        frames = np.array(self.onsets, dtype=np.float64)
        off_ms = (np.diff(frames) - 60.0 * RATE_HZ / tempo_spm) / RATE_HZ * 1e3
        broken = np.abs(off_ms) >= 1.0
        even = off_ms[~broken]
        if even.size == 0:
            return float("nan"), float("nan"), int(broken.sum())
        return float(even.mean() * tempo_spm), float(even.std()), int(broken.sum())
