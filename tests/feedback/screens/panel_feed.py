"""What comes to a panel beside snapshots: points, pictures, answers; and a link with them."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any, Final

import cv2
import numpy as np

from feedback.demo import demo_clip
from feedback.link.address import Address
from feedback.link.client_state import LinkStatus
from feedback.link.consoles import KnownStation
from feedback.link.sightings import FoundStation
from shared.catalogue import CATALOGUE
from shared.changes import Answered
from shared.clock import now_ns
from shared.flow import EventKind, Side, View
from shared.landmarks import LANDMARK_COUNT
from shared.messages import Point, Request
from shared.pictures import Mark, Picture, ReplayEnd, ReplayPicture
from shared.problems import Problem, UserError

S: Final = 1_000_000_000
AT_NS: Final = 400 * S
"""The station's clock in all examples."""
TYPICAL: Final = {
    # rough values of a runner at 10 km/h, for pictures only
    "cadence": 168.0,
    "strike_ahead": 14.2,
    "shank_angle_at_contact": 6.5,
    "knee_flexion_at_contact": 15.0,
    "knee_flexion_peak": 41.0,
    "ankle_dorsiflexion_peak": 24.0,
    "hip_extension_peak": 22.0,
    "trunk_lean": 6.0,
    "contact_time": 262.0,
    "flight_time": 96.0,
    "duty_factor": 36.5,
    "step_length": 99.0,
    "belt_speed": 10.0,
    "step_asymmetry": 1.8,
    "vertical_excursion": 8.9,
    "pelvic_shift": 3.4,
    "trunk_side_lean": 3.0,
    "step_width": 6.0,
    "arm_crossing": 2.4,
}


def sides(name: str) -> tuple[Side | None, ...]:
    return tuple(Side) if CATALOGUE[name].by_side else (None,)


def value_of(name: str, side: Side | None) -> float:
    return typical(name) * (1.06 if side is Side.LEFT else 1.0)


def typical(name: str) -> float:
    """A runner's value; of a measure that is new, the middle of what it can be."""
    return TYPICAL.get(name, sum(CATALOGUE[name].plausible) / 2)


def points(
    seconds: float = 75.0, names: tuple[str, ...] = ("cadence", "strike_ahead")
) -> tuple[Point, ...]:
    """Steps of the last while, with some wander."""
    chance = np.random.default_rng(5)
    made: list[Point] = []
    step_s = 60 / 168
    for index in range(int(seconds / step_s)):
        at_ns = AT_NS - round((seconds - index * step_s) * S)
        side = Side.LEFT if index % 2 else Side.RIGHT
        for name in names:
            where = side if CATALOGUE[name].by_side else None
            wave = 0.03 * math.sin(index / 18) + 0.02 * chance.standard_normal()
            if name == "cadence":
                wave /= 3
            made.append(
                Point(
                    len(made) + 1,
                    at_ns,
                    900 + index,
                    name,
                    where,
                    value_of(name, where) * (1 + wave),
                    CATALOGUE[name].units[0],
                    None,
                    1.0,
                    0.9,
                )
            )
    return tuple(made)


_BODY: Final = {
    # shares of the picture, of a drawn runner who faces right
    11: (0.50, 0.27), 12: (0.51, 0.27), 13: (0.45, 0.38), 14: (0.56, 0.37), 15: (0.50, 0.46),
    16: (0.61, 0.33), 23: (0.49, 0.50), 24: (0.50, 0.50), 25: (0.54, 0.65), 26: (0.47, 0.66),
    27: (0.55, 0.82), 28: (0.38, 0.73), 29: (0.535, 0.85), 30: (0.36, 0.72), 31: (0.60, 0.855),
    32: (0.37, 0.78),
}  # fmt: skip


@cache
def _first_picture() -> tuple[bytes, int, int]:
    """JPEG, width and height."""
    video = cv2.VideoCapture(str(demo_clip(View.SIDE)))
    _, image = video.read()
    video.release()
    done, jpeg = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 80])
    assert done
    return jpeg.tobytes(), image.shape[1], image.shape[0]


def picture(**changes: Any) -> Picture:
    """One picture of the demo clip, with a body roughly where the runner is."""
    jpeg, width, height = _first_picture()
    xy = [-1.0] * (2 * LANDMARK_COUNT)
    for index, (x, y) in _BODY.items():
        xy[2 * index], xy[2 * index + 1] = x, y
    marks = tuple(
        Mark(kind, side, AT_NS - round(ago_s * S))
        for kind, side, ago_s in (
            (EventKind.CONTACT, Side.LEFT, 0.06),
            (EventKind.TOE_OFF, Side.RIGHT, 0.16),
            (EventKind.CONTACT, Side.RIGHT, 0.42),
            (EventKind.TOE_OFF, Side.LEFT, 0.52),
            (EventKind.CONTACT, Side.LEFT, 0.78),
            (EventKind.TOE_OFF, Side.RIGHT, 0.88),
            (EventKind.CONTACT, Side.RIGHT, 1.14),
            (EventKind.TOE_OFF, Side.LEFT, 1.24),
            (EventKind.CONTACT, Side.LEFT, 1.50),
            (EventKind.TOE_OFF, Side.RIGHT, 1.60),
        )
    )
    fields: dict[str, Any] = {
        "captured_ns": AT_NS,
        "width_px": width,
        "height_px": height,
        "jpeg": jpeg,
        "xy": tuple(xy),
        "marks": marks,
    }
    return Picture(**(fields | changes))


class StillPanelLink:
    """A link that knows one thing, gives what it is told to, and notes what it is asked.

    What it knows stays as old as it was when it was put there, however slow the computer is;
    with ``ages`` it grows old as on a real link.
    """

    def __init__(self, status: LinkStatus, given: tuple[Point, ...] = ()) -> None:
        self.ages = False
        self.known = status
        self.points = given
        self.answers: tuple[Answered, ...] = ()
        self.asked: list[Request] = []
        self.stops = 0
        self.pings = 0
        self.closed = False

    @property
    def known(self) -> LinkStatus:
        return self._known

    @known.setter
    def known(self, status: LinkStatus) -> None:
        self._known = status
        self._age_ns = 0 if status.heard_ns is None else now_ns() - status.heard_ns

    def status(self) -> LinkStatus:
        if self.ages or self._known.heard_ns is None:
            return self._known
        return replace(self._known, heard_ns=now_ns() - self._age_ns)

    def take_points(self) -> tuple[Point, ...]:
        taken, self.points = self.points, ()
        return taken

    def take_answers(self) -> tuple[Answered, ...]:
        taken, self.answers = self.answers, ()
        return taken

    def take_replay(self) -> tuple[ReplayPicture | ReplayEnd, ...]:
        return ()

    def stop(self) -> None:
        self.stops += 1

    def ask(self, request: Request) -> None:
        self.asked.append(request)

    def ping(self) -> None:
        self.pings += 1

    def close(self) -> None:
        self.closed = True


def station(name: str, letter: str) -> KnownStation:
    """One that is paired; ``letter`` is a hexadecimal digit that tells it from others."""
    return KnownStation(
        name=name,
        fingerprint=64 * letter,
        certificate=b"",
        called="Office",
        seed=bytes(32),
        host="192.0.2.7",
        port=47820,
    )


class StillStations:
    """Two stations that are paired, one of them there, and one that is not paired."""

    def __init__(self) -> None:
        self.paired = [station("Treadmill 1", "a"), station("Treadmill 2", "b")]
        self.asked: list[tuple[tuple[Address, ...], str, str]] = []
        self.problem: Problem | None = None
        self.false: tuple[FoundStation, ...] = ()
        self.let_go = 0

    def known(self) -> tuple[KnownStation, ...]:
        return tuple(self.paired)

    def unknown(self) -> tuple[FoundStation, ...]:
        found = FoundStation("Treadmill 3", 16 * "c", 2, ("192.0.2.9",), 47820)
        rest = () if any(one.fingerprint[0] == "c" for one in self.paired) else (found,)
        return (*self.false, *rest)

    def more(self) -> int:
        return self.let_go

    def is_there(self, one: KnownStation) -> bool:
        return one.name == "Treadmill 1"

    def pair(self, places: tuple[Address, ...], code: str, name: str) -> KnownStation:
        self.asked.append((places, code, name))
        if self.problem is not None:
            raise UserError(self.problem.code, why="the code is wrong", do="Try again.")
        self.paired.append(station("Treadmill 3", "c"))
        return self.paired[-1]
