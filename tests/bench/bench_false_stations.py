"""From a mended cable to the Stop that was asked for meanwhile, among false stations; a script.

Run: python -m tests.bench.bench_false_stations [--false 0 1 6 230] [--times 3] (as root, Linux)

Station and console are two network namespaces with a cable in between (tests.feedback.link.wires).
The false stations are announced by real multicast DNS with the beginning of the real one's
certificate, each at an address of its own: they say nothing, show another certificate, drip TLS,
refuse, drop packets, or are not there (tests.feedback.link.false_stations). The cable is cut, Stop
is asked for at the console, and some seconds later the cable is whole again. With ``--moved`` the
station comes back on another port or address meanwhile. One line of JSON for each run, seconds.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import queue
import sys
import tempfile
import time
from pathlib import Path
from unittest.mock import patch

from feedback.link import discovery
from feedback.link.address import Address
from feedback.link.directory import Directory
from tests.feedback.link.examples import snapshot
from tests.feedback.link.false_stations import KINDS, FalseStations
from tests.feedback.link.netting import NetStation, briefing, joined, sign_of_life, until
from tests.feedback.link.wires import Wire, run

_LONGEST_S = 200.0
_ANOTHER = ("address", "add", "10.97.0.5/24")


def main() -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--false", type=int, nargs="+", default=[0, 1, 6, 230])
    parser.add_argument("--kind", choices=KINDS, nargs="+", default=KINDS)
    parser.add_argument("--cut-s", type=float, default=6.0)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--moved", choices=["", "port", "address"], default="")
    options = parser.parse_args()
    for count in options.false:
        for turn in range(options.times):
            # Not always at the same moment of a round of calls.
            cut_s = options.cut_s + 0.37 * turn
            found = one(count, tuple(options.kind), cut_s, options.moved)
            line = {"false": count, "cut_s": cut_s, "moved": options.moved, **found}
            sys.stdout.write(json.dumps(line) + "\n")
            sys.stdout.flush()
    return 0


def one(count: int, kinds: tuple[str, ...], cut_s: float, moved: str) -> dict[str, object]:
    """Cut, ask for Stop, mend: how long until it arrived."""
    wire = Wire()
    with contextlib.ExitStack() as opened, tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        opened.callback(wire.remove)
        announced = [wire.station.address]
        # The false ones' addresses are on its computer here, and it would announce them as its own.
        opened.enter_context(patch.object(discovery, "own_addresses", lambda: tuple(announced)))
        with wire.station.entered():
            station = NetStation(folder / "station", "room 1")
        with wire.console.entered():
            directory = Directory(folder / "office")
        opened.callback(directory.close)
        prefix = station.network.fingerprint[:16]
        (found,) = until(lambda: [f for f in directory.found() if f.prefix == prefix])
        with wire.console.entered():
            places = tuple(Address(host, found.port) for host in found.hosts)
            known = directory.pair(places, station.network.open_pairing(), "desk")
            client = directory.join(known)
        opened.callback(client.close)
        station.server.brief(briefing())
        station.server.publish(snapshot(1))
        until(lambda: client.status().briefing is not None)
        false = FalseStations(wire.station, folder / "other", prefix, count, kinds)
        with false if count else contextlib.nullcontext():
            began = time.monotonic()
            while len(directory.found()) < count + 1 and time.monotonic() - began < 20.0:
                sign_of_life(client)
                time.sleep(0.05)
            seen = len(directory.found())
            wire.cut()
            until(lambda: not joined(client))
            client.stop()
            if moved:
                station.close()
                if moved == "address":
                    run("ip", "-n", wire.station.name, *_ANOTHER, "dev", wire.station.name)
                    announced[:] = ["10.97.0.5"]
                with wire.station.entered():
                    station = NetStation(folder / "station", "room 1")
                station.server.brief(briefing())
                station.server.publish(snapshot(1))
            opened.callback(station.close)
            time.sleep(cut_s)
            wire.mend()
            began = time.monotonic()
            stopped_s: float | None = None
            with contextlib.suppress(queue.Empty):
                station.stops.get(timeout=_LONGEST_S)
                stopped_s = round(time.monotonic() - began, 2)
        calls = sum(false.called)
        return {"seen": seen, "stop_s": stopped_s, "called": calls, "told": false.told}


if __name__ == "__main__":
    sys.exit(main())
