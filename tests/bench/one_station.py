"""One whole station on a looped clip, as a process of its own; for tests.bench.two_cameras.

Run: python -m tests.bench.one_station CLIP VIEW UNTIL_NS SCREENS. It plays until UNTIL_NS of the
monotonic clock, which all processes share, and writes what it noted as one line of JSON.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from shared.clock import now_ns
from shared.flow import View
from tests.bench.stage import Stage, always_out, play


def main() -> None:
    """Play, and tell the stamp and the decision time of every frame that was measured."""
    clip, view, until_ns, screens = sys.argv[1:5]
    with Stage() as stage:
        played = play(
            stage,
            Path(clip),
            always_out(View(view)),
            screens=screens == "screens",
            sound=False,
            loop=True,
            until_ns=int(until_ns),
        )
    out = {
        "arrived_ns": played.arrived_ns,
        "measured": [
            (captured_ns, decision_ns)
            for (captured_ns, _, _), decision_ns in zip(
                played.seen, played.decisions_ns, strict=False
            )
        ],
        "ended_ns": now_ns(),
    }
    sys.stdout.write(json.dumps(out) + "\n")


if __name__ == "__main__":
    main()
