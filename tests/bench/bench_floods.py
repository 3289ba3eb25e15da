"""What a stranger on the network does to the runner's own Stop, and to the measuring; a script.

Run: python -m tests.bench.bench_floods [--stops 40] [--only pings silent ...] [--json FILE]
[--consoles]

Each stop is a session of its own, as in tests.bench.bench_stop: real pose model on the demo clip,
real screen on an X display, a real key, sound through PortAudio into a PulseAudio sink that is
recorded. The station is on the network all the while, and another process floods it (see
tests.bench.flooder) from its first pictures until after it. Counted is from just before the key
press to the last sample that was not silent, and to the stop in the station's record; and the
frames that were lost, and frame arrival to decision. The flooding process is on this computer, so
it is given only the time that nobody else wants (SCHED_IDLE), on the first processor: a stranger
elsewhere takes none.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import msgspec
import numpy as np

from feedback.journal.entries import StateEntry
from feedback.journal.writer import read_journal
from feedback.link.address import Address
from feedback.link.connect import approach, dial, pair_with
from feedback.link.consoles import KnownStation
from feedback.link.network_station import Network
from feedback.link.protocol import encode
from feedback.link.server import LinkServer
from feedback.screens.widgets.launch import ScreenProcess
from live.pose.model import PoseModel
from shared.clock import now_ns
from shared.messages import PROTOCOL, Hello, Role, SessionState, Stop
from tests.feedback.safety.rig import Hand, Rig, SharedModel, silence_after, virtual_display
from tests.pulse import PulseServer, server_for_this_program

KINDS: Final = (
    "nobody",
    "silent",
    "pings",
    "fragments",
    "connections",
    "handshakes",
    "slow",
    "replays",
)
HOST: Final = "127.0.0.1"
LONGEST_S: Final = 60.0
AT_WORK_S: Final = 1.5
"""Before the key the flood has had so long."""


class Unannounced(Network):
    """Not to be found by anybody but the flood."""

    def announce(self) -> None:
        pass


@dataclass(frozen=True)
class Found:
    """One stop."""

    silence_ms: float
    record_ms: float
    frames: int
    lost: int
    decisions_ns: tuple[int, ...]


def main() -> int:
    """Print a table, or write it as JSON."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--stops", type=int, default=40)
    parser.add_argument("--only", nargs="+", choices=KINDS, default=KINDS)
    parser.add_argument("--consoles", action="store_true", help="the Stop of a console instead")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    if options.consoles:
        for kind in options.only:
            sys.stdout.write(json.dumps(console_stops(kind, options.stops)) + "\n")
            sys.stdout.flush()
        return 0
    server = server_for_this_program()
    rng = random.Random(1)
    rows = []
    with tempfile.TemporaryDirectory() as folder, virtual_display(), PoseModel() as model:
        shared, hand = SharedModel(model), Hand()
        for kind in options.only:
            found = [
                one_stop(Path(folder), shared, hand, server, kind, rng)
                for _ in range(options.stops)
            ]
            rows.append(summary(kind, found))
            sys.stdout.write(json.dumps(rows[-1]) + "\n")
            sys.stdout.flush()
        hand.close()
    server.close()
    if options.json is not None:
        options.json.write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")
    return 0


def one_stop(
    folder: Path,
    model: SharedModel,
    hand: Hand,
    server: PulseServer,
    kind: str,
    rng: random.Random,
) -> Found:
    """Start a session, flood it, press the key in the middle of a sound, and listen."""
    pressed: list[int] = []
    wait_s = rng.uniform(0.1, 0.4)

    def press(_screen: ScreenProcess) -> None:
        flood.enter_context(flooded(kind, network.port, known))
        time.sleep(AT_WORK_S)
        rig.sound()
        time.sleep(wait_s)
        pressed.append(hand.press("space"))

    network = Unannounced(folder / "station", "room 1", 0)
    rig = Rig(folder, model, network=network)
    known = folder / "known.json"
    if kind == "replays":
        rig.station.open_link()
        station = pair_with(Address(HOST, network.port), network.open_pairing(), "office")
        known.write_bytes(msgspec.json.encode(station))
    with server.recorder() as recorder, contextlib.ExitStack() as flood:
        outcome = rig.hold(press)
        heard = recorder.finish()
    silence = silence_after(heard, pressed[0])
    stopped = [
        entry
        for entry in read_journal(rig.path).entries
        if isinstance(entry, StateEntry) and entry.state is SessionState.STOPPED
    ]
    return Found(
        silence_ms=silence.after_ms if silence.sounding else float("nan"),
        record_ms=(stopped[0].at_ns - pressed[0]) / 1e6,
        frames=outcome.tally.frames,
        lost=outcome.dropped,
        decisions_ns=tuple(outcome.tally.decisions_ns),
    )


def console_stops(kind: str, count: int) -> dict[str, object]:
    """Stop after Stop of a paired console, from its sending to the station's link thread, in ms."""
    came: list[float] = []
    link = LinkServer(
        lambda stop, _: came.append((now_ns() - stop.asked_ns) / 1e6),
        lambda _: None,
        lambda *_: None,
    )
    with tempfile.TemporaryDirectory() as folder:
        network = Unannounced(Path(folder) / "station", "room 1", 0)
        link.start(network)
        place = Address(HOST, network.port)
        station = pair_with(place, network.open_pairing(), "office")
        known = Path(folder) / "known.json"
        known.write_bytes(msgspec.json.encode(station))
        with flooded(kind, network.port, known):
            time.sleep(AT_WORK_S)
            asyncio.run(_send_stops(place, station, count))
        link.close("The bench is over.")
    return {
        "flood": kind,
        "sent": count,
        "arrived": len(came),
        "console_stop_to_station_ms": _percentiles(np.array(came)) if came else None,
    }


async def _send_stops(place: Address, station: KnownStation, count: int) -> None:
    connection = await dial(place, station.certificate)
    await approach(connection, station)
    await connection.send(encode(Hello(protocol=PROTOCOL, token="", role=Role.CONSOLE)))
    for _ in range(count):
        await connection.send(encode(Stop(asked_ns=now_ns())))
        await asyncio.sleep(0.1)
    await connection.close()


@contextlib.contextmanager
def flooded(kind: str, port: int, known: Path) -> Iterator[None]:
    """With the flood under way."""
    if kind == "nobody":
        yield
        return
    command = [sys.executable, "-m", "tests.bench.flooder", kind, HOST, str(port), str(LONGEST_S)]
    with subprocess.Popen([*command, str(known)], stderr=subprocess.DEVNULL) as flooder:
        try:
            yield
        finally:
            flooder.kill()


def summary(kind: str, found: list[Found]) -> dict[str, object]:
    """The distributions, in ms, and the frames."""
    silences = np.array([one.silence_ms for one in found])
    decisions = np.concatenate([np.array(one.decisions_ns) for one in found]) / 1e6
    return {
        "flood": kind,
        "stops": len(found),
        "nothing_was_sounding": int(np.isnan(silences).sum()),
        "key_to_silence_ms": _percentiles(silences[~np.isnan(silences)]),
        "key_to_record_ms": _percentiles(np.array([one.record_ms for one in found])),
        "decision_ms": _percentiles(decisions),
        "frames": sum(one.frames for one in found),
        "frames_lost": sum(one.lost for one in found),
        "load_average": round(os.getloadavg()[0], 1),
    }


def _percentiles(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> dict[str, float]:
    found = np.percentile(values, [50, 99, 100])
    return dict(zip(("p50", "p99", "max"), np.round(found, 1).tolist(), strict=True))


if __name__ == "__main__":
    sys.exit(main())
