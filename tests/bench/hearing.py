"""A recording with the time of every sound in it, however the output's clock goes.

A null sink's clock goes a little wrong against the computer's, and a busy computer loses samples.
So each instant is taken from the quickest arrival in the two seconds after it, and not from one
for the whole recording; it is late by the recorder's least delay there, and never early.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.pulse import RATE_HZ, Heard, Recorder

AHEAD_FRAMES = 2 * RATE_HZ


@dataclass(frozen=True)
class LocallyTimed(Heard):
    """What was heard, with the arrivals of its pieces."""

    frames: NDArray[np.int64]
    """How many frames had come with each piece."""
    leads_ns: NDArray[np.float64]
    """Arrival of each piece, less the time of its frames at the nominal rate."""

    def at_ns(self, frame: int) -> int:
        first, last = np.searchsorted(self.frames, [frame, frame + AHEAD_FRAMES])
        near = self.leads_ns[first : max(int(last), int(first) + 1)]
        lead_ns = self.leads_ns[-1] if near.size == 0 else near.min()
        return round(float(lead_ns) + frame * 1e9 / RATE_HZ)


def finish(recorder: Recorder) -> LocallyTimed:
    """End a recording."""
    heard = recorder.finish()
    frames, at_ns = np.array(recorder._arrivals, dtype=np.int64).T
    return LocallyTimed(heard.samples, heard.first_ns, frames, at_ns - frames * 1e9 / RATE_HZ)
