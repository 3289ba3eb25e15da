"""Key press to silence, in the sound that really comes out; a script.

Run: python -m tests.bench.bench_stop [--stops 100] [--key space] [--fault none]

Each stop is a session of its own: real pose model on the demo clip, real screen on an X display
(Xvfb), a real key (xdotool), real sound through PortAudio into a PulseAudio sink that is recorded.
A sound is under way when the key is pressed. Counted is from just before the key press to the last
sample that was not silent, as it was recorded. With ``--fault blocked`` the work thread hangs from
a moment before the key press on. One line of JSON on stdout.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from feedback.screens.widgets.launch import ScreenProcess
from live.pose.model import PoseModel
from tests.feedback.safety.rig import (
    Hand,
    Rig,
    SharedModel,
    Silence,
    silence_after,
    virtual_display,
)
from tests.pulse import PulseServer, server_for_this_program


def main() -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--stops", type=int, default=100)
    parser.add_argument("--key", default="space")
    parser.add_argument("--fault", choices=["none", "blocked"], default="none")
    options = parser.parse_args()
    server = server_for_this_program()
    rng = random.Random(1)
    with tempfile.TemporaryDirectory() as folder, virtual_display(), PoseModel() as model:
        shared, hand = SharedModel(model), Hand()
        found = [
            one_stop(Path(folder), shared, hand, server, options.key, options.fault, rng)
            for _ in range(options.stops)
        ]
        hand.close()
    server.close()
    sys.stdout.write(json.dumps(summary(found, options.key, options.fault)) + "\n")
    return 0


def one_stop(
    folder: Path,
    model: SharedModel,
    hand: Hand,
    server: PulseServer,
    key: str,
    fault: str,
    rng: random.Random,
) -> Silence:
    """Start a session, press the key in the middle of a sound, and listen."""
    pressed: list[int] = []
    wait_s = rng.uniform(0.1, 0.4)

    def press(_screen: ScreenProcess) -> None:
        time.sleep(0.3)
        if fault == "blocked":
            model.free.clear()
        rig.sound()
        time.sleep(wait_s)
        pressed.append(hand.press(key))

    rig = Rig(folder, model)
    with server.recorder() as recorder:
        rig.hold(press)
        heard = recorder.finish()
    return silence_after(heard, pressed[0])


def summary(found: list[Silence], key: str, fault: str) -> dict[str, object]:
    """The distribution, in ms."""
    good = [one for one in found if one.sounding]
    after = np.array([one.after_ms for one in good])
    percentiles = np.percentile(after, [0, 50, 90, 99, 100])
    return {
        "key": key,
        "fault": fault,
        "stops": len(good),
        "nothing_was_sounding": len(found) - len(good),
        "silence_after_ms": dict(
            zip(("min", "p50", "p90", "p99", "max"), np.round(percentiles, 1).tolist(), strict=True)
        ),
        "shortest_silence_ms": round(min(one.lasted_ms for one in good), 1),
        "load_average": [round(load, 1) for load in os.getloadavg()],
    }


if __name__ == "__main__":
    sys.exit(main())
