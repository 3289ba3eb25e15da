"""Time that the clinician's panel takes to show one camera picture after another; a script.

Run: python -m tests.bench.bench_paint [--seconds 20] [--drag]

A full HD window gets 30 pictures a second, with new steps and snapshots as in a session. Counted
is all that one turn of its event loop costs: taking in, decoding, and drawing what has changed.
``--drag``: a chart is dragged all the while. The same pictures are drawn alone, with nothing
around them, in the same run. One line of JSON on stdout. Without a display it draws offscreen.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from typing import Any, Final

if not os.environ.get("DISPLAY") and sys.platform == "linux":
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import cv2
import msgspec
import numpy as np
from PyQt6.QtCore import QRectF
from PyQt6.QtGui import QImage, QPainter, QPaintEvent
from PyQt6.QtWidgets import QApplication, QWidget

from feedback.demo import demo_clip
from feedback.screens.clinician.panel import PanelWindow
from feedback.screens.widgets.application import make_app
from shared.clock import now_ns
from shared.flow import View
from shared.messages import Point
from shared.pictures import Picture
from tests.feedback.screens.panel_examples import known, running
from tests.feedback.screens.panel_feed import AT_NS, StillPanelLink, picture, points

SIZE: Final = (1920, 1080)
PER_S: Final = 30
WARM_UP: Final = 60
STEP_S: Final = 60 / 168


class Bare(QWidget):
    """The picture and nothing else, as large as in the panel."""

    def __init__(self) -> None:
        super().__init__()
        self.image = QImage()
        self.place = QRectF()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802 - Qt's name
        painter = QPainter(self)
        painter.drawImage(self.place, self.image)
        painter.end()


def pictures(count: int = 60) -> list[Picture]:
    """Pictures of the demo clip, all different, with the landmarks a little moved."""
    video = cv2.VideoCapture(str(demo_clip(View.SIDE)))
    first = picture()
    made = []
    for index in range(count):
        done, image = video.read()
        if not done:
            break
        _, jpeg = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 80])
        xy = tuple(share if share < 0 else share + 0.0005 * (index % 20) for share in first.xy)
        made.append(
            Picture(
                captured_ns=AT_NS,
                width_px=image.shape[1],
                height_px=image.shape[0],
                jpeg=jpeg.tobytes(),
                xy=xy,
                marks=first.marks,
            )
        )
    video.release()
    return made


def step(number: int, at_ns: int) -> tuple[Point, ...]:
    """The points of one step."""
    kept = points(seconds=2.0)[-2:]
    return tuple(
        Point(
            100_000 + 2 * number + index,
            at_ns,
            one.step_number,
            one.name,
            one.side,
            one.value + 0.3 * (number % 5),
            one.unit,
            one.percent_leg,
            one.uncertainty,
            one.quality,
        )
        for index, one in enumerate(kept)
    )


def summary(times_ms: list[float]) -> dict[str, float]:
    """Median, 99 % and most, in ms."""
    kept = np.array(times_ms[WARM_UP:])
    return {
        "p50_ms": round(float(np.percentile(kept, 50)), 2),
        "p99_ms": round(float(np.percentile(kept, 99)), 2),
        "most_ms": round(float(kept.max()), 2),
    }


def measure_panel(
    app: QApplication, shots: list[Picture], count: int, *, drag: bool
) -> tuple[list[float], QRectF]:
    """Milliseconds of each turn, and the place that the picture has in the panel."""
    link = StillPanelLink(known(running(), picture=shots[0]), points(seconds=600.0))
    window = PanelWindow(link)
    window.view._timer.stop()  # the turns are counted here
    window.resize(*SIZE)
    window.show()
    app.processEvents()
    times, began = [], time.monotonic()
    stepped = 0.0
    for index in range(count):
        due = began + index / PER_S
        while time.monotonic() < due:
            time.sleep(0.001)
        elapsed = index / PER_S
        at_ns = AT_NS + round(elapsed * 1e9)
        shot = msgspec.structs.replace(shots[index % len(shots)], captured_ns=at_ns)
        if index % 3 == 0:
            value = 165 + index % 10
            fresh = running(number=5_000 + index, at_ns=at_ns, elapsed_s=395 + elapsed)
            target = msgspec.structs.replace(fresh.targets[0], value=float(value))
            fresh = msgspec.structs.replace(fresh, targets=(target, *fresh.targets[1:]))
            link.known = known(fresh, picture=shot)
        else:
            link.known = known(link.known.snapshot, picture=shot)
        if elapsed - stepped >= STEP_S:
            stepped = elapsed
            link.points = step(index, at_ns)
        before_ns = now_ns()
        if drag:
            left = -60.0 - 40.0 * abs((index % 60) - 30) / 30
            chart = window.view.charts.charts[index % 2]
            chart.getPlotItem().setXRange(left, left + 60.5, padding=0)
        window.view.tick()
        app.processEvents()
        times.append((now_ns() - before_ns) / 1e6)
    place = QRectF(window.view.picture.rect())
    window.close()
    return times, place


def measure_bare(app: QApplication, shots: list[Picture], place: QRectF, count: int) -> list[float]:
    """Milliseconds to decode and draw the picture alone."""
    window = Bare()
    window.resize(*SIZE)
    window.show()
    app.processEvents()
    window.place = QRectF(0, 0, place.width(), place.width() * 3 / 4)
    times = []
    for index in range(count):
        before_ns = now_ns()
        window.image = QImage.fromData(shots[index % len(shots)].jpeg, "JPG")
        window.update(window.place.toRect())
        app.processEvents()
        times.append((now_ns() - before_ns) / 1e6)
        time.sleep(0.002)
    window.close()
    return times


def run(seconds: float, *, drag: bool) -> dict[str, Any]:
    """The figures of panel and bare picture, and the ratio of their medians."""
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    shots = pictures()
    count = WARM_UP + round(seconds * PER_S)
    times, place = measure_panel(app, shots, count, drag=drag)
    panel = summary(times)
    bare = summary(measure_bare(app, shots, place, count))
    return {
        "size": list(SIZE),
        "picture": [shots[0].width_px, shots[0].height_px],
        "pictures": count - WARM_UP,
        "drag": drag,
        "platform": QApplication.platformName(),
        "panel": panel,
        "bare": bare,
        "ratio_p50": round(panel["p50_ms"] / bare["p50_ms"], 2),
        "ratio_p99": round(panel["p99_ms"] / bare["p99_ms"], 2),
    }


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--drag", action="store_true")
    options = parser.parse_args()
    _app = make_app()
    print(json.dumps(run(options.seconds, drag=options.drag)))
