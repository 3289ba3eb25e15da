"""Streams for a laboratory's recorder over the Lab Streaming Layer, with units and labels.

The layer has no lock: whoever is on the same network can read its streams. So they are opened only
where they are asked for, and carry no name and no note.
"""

from __future__ import annotations

import importlib
import math
from collections.abc import Sequence
from typing import Any, Final

from feedback.feed.lines import CueLine, EventLine, FeedLine, LandmarksLine, MeasureLine, PlayedLine
from shared.catalogue import CATALOGUE
from shared.clock import now_ns
from shared.flow import Side
from shared.landmarks import LANDMARK_COUNT
from shared.problems import UserError
from shared.units import NS_PER_S

MEASURES: Final = "Beltside measures"
EVENTS: Final = "Beltside events"
CUES: Final = "Beltside cues"
LANDMARKS: Final = "Beltside landmarks"
_Label = tuple[str, Side | None, str]
_IRREGULAR: Final = 0.0
_SIDES: Final = (None, Side.LEFT, Side.RIGHT)


def library() -> Any:
    """The layer's own library. Raises UserError ``lsl_missing``."""
    try:
        return importlib.import_module("pylsl")  # only where it was asked for: an extra
    except (ImportError, OSError, RuntimeError) as error:
        raise UserError("lsl_missing", str(error)) from error


def channels() -> list[_Label]:
    """(measure, side, unit) of each channel of the measures' stream."""
    return [
        (spec.name, side, spec.units[0])
        for spec in CATALOGUE.values()
        for side in (_SIDES if spec.by_side else _SIDES[:1])
    ]


class Outlets:
    """The streams of one session."""

    def __init__(self, run: str, *, landmarks: bool = False) -> None:
        """``run`` names the session; a stream that comes back is known by it."""
        self._lsl = library()
        self._offset_s = self._lsl.local_clock() - now_ns() / NS_PER_S
        self._channels = {(name, side): index for index, (name, side, _) in enumerate(channels())}
        self._measures = self._outlet(MEASURES, "Gait", self._lsl.cf_double64, run, channels())
        marker = [("marker", None, "")]
        self._events = self._outlet(EVENTS, "Markers", self._lsl.cf_string, run, marker)
        self._cues = self._outlet(CUES, "Markers", self._lsl.cf_string, run, marker)
        self._landmarks = None
        if landmarks:
            points = [
                (f"{number}_{axis}", None, "share of picture" if axis != "seen" else "share")
                for number in range(LANDMARK_COUNT)
                for axis in ("x", "y", "seen")
            ]
            self._landmarks = self._outlet(LANDMARKS, "MoCap", self._lsl.cf_float32, run, points)

    def push(self, line: FeedLine) -> None:
        """Send one line on, with its own time in the layer's clock."""
        match line:
            case MeasureLine():
                at = self._channels.get((line.name, line.side))
                if at is not None:
                    sample = [math.nan] * len(self._channels)
                    sample[at] = line.value
                    self._measures.push_sample(sample, self._time(line.at_ns))
            case EventLine():
                self._events.push_sample([_marker(line.kind, line.side)], self._time(line.at_ns))
            case CueLine():
                text = _marker(f"decided {line.kind}", line.measure, line.side)
                self._cues.push_sample([text], self._time(line.decided_ns))
            case PlayedLine():
                self._cues.push_sample([f"sounded {line.kind}"], self._time(line.sounded_ns))
            case LandmarksLine() if self._landmarks is not None:
                flat = [math.nan if x is None else x for point in line.points for x in point]
                self._landmarks.push_sample(flat, self._time(line.captured_ns))
            case _:
                pass

    def _time(self, at_ns: int) -> float:
        return float(at_ns / NS_PER_S + self._offset_s)

    def _outlet(
        self,
        name: str,
        kind: str,
        form: int,
        run: str,
        labels: Sequence[_Label],
    ) -> Any:
        info = self._lsl.StreamInfo(
            name, kind, len(labels), _IRREGULAR, form, f"beltside {kind} {name} {run}"
        )
        described = info.desc()
        described.append_child_value("run", run)
        described.append_child_value("clock_offset_s", f"{self._offset_s:.9f}")
        described.append_child_value(
            "clock", "layer's clock less the station's monotonic clock, read as the stream began"
        )
        each = described.append_child("channels")
        for label, side, unit in labels:
            channel = each.append_child("channel")
            channel.append_child_value("label", _marker(label, side))
            channel.append_child_value("unit", unit)
            channel.append_child_value("type", kind)
        return self._lsl.StreamOutlet(info)


def _marker(*parts: str | None) -> str:
    return " ".join(part for part in parts if part)
