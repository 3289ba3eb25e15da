"""What open screens cost the station: frame arrival to decision with and without the panel.

Sessions of one clip, by turns with the runner's screen alone and with the clinician's panel beside
it, its camera picture shown, a replay played in its own window, and one of the panel's charts
dragged by the mouse all the while. Real windows on an X display, real mouse and keys (xdotool).
Turn and turn about, so that what else the computer does falls on both alike.
"""

from __future__ import annotations

import math
import subprocess
import threading
import time
from typing import Any

from feedback.sound.speaker import AnySpeaker
from feedback.station.station import Station
from live.pose.model import PoseModel
from tests.accuracy.tracks import CLIPS
from tests.bench.result import Line, at_most, spread_ms, told
from tests.bench.stage import Played, Stage, always_out, play

MOST_P99 = 1.2
CLIP = CLIPS / "side_06_long.mp4"
SECONDS = 30.0
ROUNDS = 2
SETTLED_NS = 3 * 10**9
MAPPED_S = 0.7
REPLAY_AFTER_S = 4.0
COMES_S = 1.5
"""For the replay's pictures to come."""
CHARTS_PX = (950, 518)
"""On the tab of the panel's charts, in a window of 1280 x 720."""
CHART_PX = (920, 610)
"""On the panel's chart there."""


def bench(stage: Stage) -> tuple[list[Line], dict[str, Any]]:
    """The runner's screen alone, then with the panel and its replay: A B B A."""
    seconds = 8.0 if stage.quick else SECONDS
    alone: list[int] = []
    both: list[int] = []
    with PoseModel() as model:
        for turn in range(2 * (1 if stage.quick else ROUNDS)):
            for with_panel in (False, True) if turn % 2 == 0 else (True, False):
                played = play(
                    stage,
                    CLIP,
                    always_out(),
                    with_panel=with_panel,
                    sound=False,
                    loop=True,
                    seconds=seconds,
                    model=model,
                    meanwhile=drag if with_panel else None,
                )
                (both if with_panel else alone).extend(settled(played))
    one, other = spread_ms(alone), spread_ms(both)
    ratio = other["p99"] / one["p99"]
    lines = [
        Line("arrival to decision, runner's screen alone", told(one)),
        Line("arrival to decision, with panel, replay and a chart dragged", told(other)),
        at_most("ratio of the 99th percentiles", ratio, MOST_P99),
    ]
    return lines, {"alone_ms": one, "with_panel_ms": other, "ratio_p99": round(ratio, 3)}


def settled(played: Played) -> list[int]:
    """Decisions after the first seconds, in ns."""
    pairs = zip(played.seen, played.decisions_ns, strict=False)
    return [
        decision_ns
        for (captured_ns, _, _), decision_ns in pairs
        if captured_ns - played.arrived_ns[0] > SETTLED_NS
    ]


def drag(station: Station, _speaker: AnySpeaker) -> None:
    """Open the replay and play it, then pull the chart to and fro until the session ends."""
    ended: threading.Event = station._worker.ended
    while not station._link.wants_pictures():  # until the panel's window is up
        if ended.wait(0.1):
            return
    time.sleep(MAPPED_S)
    if ended.wait(REPLAY_AFTER_S):
        return
    window = find_window("clinician's panel")
    xdo("windowfocus", "--sync", window, "key", "ctrl+r")
    replay = find_window("Beltside: replay")
    xdo("windowfocus", "--sync", replay)
    time.sleep(COMES_S)
    xdo("key", "space")
    xdo("windowraise", window)
    xdo("mousemove", *map(str, CHARTS_PX), "click", "1")
    x, y = CHART_PX
    xdo("mousemove", str(x), str(y), "mousedown", "1")
    began = time.monotonic()
    while not ended.wait(0.03):
        way = round(120 * math.sin(4 * (time.monotonic() - began)))
        xdo("mousemove", str(x + way), str(y))
    xdo("mouseup", "1")


def find_window(title: str) -> str:
    """The number of the window with that title, once it is there."""
    found = xdo("search", "--sync", "--onlyvisible", "--name", title)
    return found.split()[0]


def xdo(*arguments: str) -> str:
    done = subprocess.run(["xdotool", *arguments], check=True, capture_output=True, timeout=20)
    return done.stdout.decode()


if __name__ == "__main__":
    with Stage() as _stage:
        for line in bench(_stage)[0]:
            print(f"{line.what}: {line.found} {line.asked} {line.holds}")
