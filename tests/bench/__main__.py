"""All benches with one command, told as a table and as JSON.

Run: python -m tests.bench [--only NAME ...] [--json FILE] [--quick]

Each claim is a ratio or a difference within one run; the load average is told beside it, since a
busy computer gives other figures. ``--quick`` only shows that every bench works: its figures mean
nothing. The benches by name: see BENCHES. Linux, with PulseAudio, Xvfb and the rendered clips.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path

from tests.bench.beats import bench as beats
from tests.bench.cold_start import bench as cold_start
from tests.bench.core_cost import bench as core_cost
from tests.bench.endurance import bench as endurance
from tests.bench.live_loop import bench as live_loop
from tests.bench.open_screens import bench as open_screens
from tests.bench.plain import bench as plain
from tests.bench.recorded import bench as recorded
from tests.bench.result import Result, load, print_table
from tests.bench.stage import Stage
from tests.bench.two_cameras import bench as two_cameras

BENCHES = {
    "live": live_loop,
    "screens": open_screens,
    "plain": plain,
    "cameras": two_cameras,
    "core": core_cost,
    "beats": beats,
    "recorded": recorded,
    "start": cold_start,
    "endurance": endurance,
}


def main() -> int:
    """Run what is asked for; exit code 1 when a line does not hold."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--only", nargs="+", choices=sorted(BENCHES), default=list(BENCHES))
    parser.add_argument("--json", type=Path)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--endurance-minutes", type=float, default=120.0)
    options = parser.parse_args()
    results = run(options.only, quick=options.quick, endurance_min=options.endurance_minutes)
    print_table(results)
    if options.json is not None:
        text = json.dumps([result.as_json() for result in results], indent=1)
        options.json.write_text(text + "\n")
    return int(any(line.holds is False for result in results for line in result.lines))


def run(names: list[str], quick: bool, endurance_min: float) -> list[Result]:
    """The named benches, one after another."""
    results = []
    with Stage(quick=quick, endurance_min=endurance_min) as stage:
        for name in names:
            before, began = load(), time.monotonic()
            sys.stderr.write(f"{name} ... ")
            sys.stderr.flush()
            lines, figures = BENCHES[name](stage)
            results.append(Result(name, lines, figures, before, load()))
            sys.stderr.write(f"{time.monotonic() - began:.0f} s\n")
    return results


if __name__ == "__main__":
    sys.exit(main())
