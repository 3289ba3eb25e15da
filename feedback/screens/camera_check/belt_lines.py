"""The belt's ends as lines in the picture, and as a session watches them (pure).

From the side, a line stands where an end is: its x is the edge. From behind and in front, a line
lies on the floor, and the edge is the length that the runner's trunk would have there. The camera
is taken to be level and as high as the runner's hips, as the check asks for: what lies on the floor
at a distance d then is seen below the hips by an amount that goes with 1 / d, and so does the
trunk's length. A camera that is 30 cm higher or lower moves an end that lies 1 m from the runner by
some 30 cm.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from statistics import median
from typing import Final

from shared.flow import View
from shared.landmarks import Landmark as Lm
from shared.pictures import BeltEdges

LEAST_APART: Final = 0.05
"""Two lines are never nearer to each other than this share of the picture."""
EDGE: Final = 0.01
"""Lines stay so far inside the picture."""
_RIM: Final = 0.015
"""A line that is nearer to the picture's edge was pushed against it."""
FIRST: Final = (0.15, 0.85)
"""Where the lines lie before they are drawn."""
FLOOR_BELOW: Final = {View.BEHIND: 0.12, View.FRONT: -0.04}
"""The floor under the hips is seen so far below the lowest landmark of the feet, in trunk lengths.
A heel's landmark lies over the sole; seen from the front, the toes stand ahead of the hips. Fitted
to the rendered clips: the place on the belt is then told to 12 % of its length (19 cm), from behind
rather too far back than too far ahead."""
_OVER_PICTURES: Final = 30
_LEAST_DROP: Final = 0.05


@dataclass(frozen=True, slots=True)
class BeltLines:
    """Places of the two lines, shares of the picture: x from the side, y otherwise."""

    rear: float
    front: float


@dataclass(frozen=True, slots=True)
class BodyInPicture:
    """The runner's size and place in the picture, shares of its height (facing: -1 or 1)."""

    trunk: float
    hips_y: float
    soles_y: float
    facing: float
    """+1 when the runner faces right in the picture."""


class BodyGauge:
    """Medians over the last pictures."""

    def __init__(self) -> None:
        self._bodies: deque[BodyInPicture] = deque(maxlen=_OVER_PICTURES)

    def add(self, xy: tuple[float, ...], shape: float) -> None:
        """Take in landmarks as a picture carries them; ``shape``: its width over its height."""
        body = _body(xy, shape)
        if body is not None:
            self._bodies.append(body)

    @property
    def body(self) -> BodyInPicture | None:
        """The body of late; None before anybody was seen."""
        if not self._bodies:
            return None
        return BodyInPicture(
            trunk=median(body.trunk for body in self._bodies),
            hips_y=median(body.hips_y for body in self._bodies),
            soles_y=median(body.soles_y for body in self._bodies),
            facing=median(body.facing for body in self._bodies),
        )


def first_lines(view: View, body: BodyInPicture | None) -> BeltLines:
    """Where the lines lie before they are drawn: the rear end is behind the runner."""
    low, high = FIRST
    if view is View.SIDE:
        turned = body is not None and body.facing < 0
    else:
        low = 0.6 if body is None else min(max(body.soles_y - 0.12, 0.4), 0.85)
        turned = view is View.BEHIND  # the rear end is the near one, further down
        high = min(low + 0.3, 1 - EDGE)
    return BeltLines(high, low) if turned else BeltLines(low, high)


def moved(lines: BeltLines, rear: bool, to: float) -> BeltLines:
    """The lines with one of them moved, inside the picture and apart from the other.

    A line that comes too near to the other one hops over it, so that they can change places.
    """
    other = lines.front if rear else lines.rear
    mine = lines.rear if rear else lines.front
    to = min(max(to, EDGE), 1 - EDGE)
    if abs(to - other) < LEAST_APART:
        to = other + (LEAST_APART if mine < other else -LEAST_APART)
    if not EDGE <= to <= 1 - EDGE:
        return lines
    return BeltLines(to, lines.front) if rear else BeltLines(lines.rear, to)


def at_rim(lines: BeltLines) -> bool:
    """Whether a line lies at the picture's edge, where no end of a belt is seen."""
    return any(not _RIM < at < 1 - _RIM for at in (lines.rear, lines.front))


def ends_seen(edges: BeltEdges, view: View) -> bool:
    """Whether these edges lie inside the picture, as far as they tell it (from the side alone)."""
    return view is not View.SIDE or not at_rim(BeltLines(edges.rear, edges.front))


def to_edges(lines: BeltLines, view: View, body: BodyInPicture | None) -> BeltEdges | None:
    """The edges that a session watches; None where they cannot be told from these lines."""
    if view is View.SIDE:
        return BeltEdges(rear=round(lines.rear, 4), front=round(lines.front, 4))
    if body is None or _drop(body, view) < _LEAST_DROP:
        return None
    drop = _drop(body, view)
    rear, front = (body.trunk * (y - body.hips_y) / drop for y in (lines.rear, lines.front))
    if not (0.0 < rear <= 1.0 and 0.0 < front <= 1.0):
        return None
    return BeltEdges(rear=round(rear, 4), front=round(front, 4))


def to_lines(edges: BeltEdges, view: View, body: BodyInPicture | None) -> BeltLines | None:
    """Where the lines of these edges lie; None where that cannot be told yet."""
    if view is View.SIDE:
        return BeltLines(edges.rear, edges.front)
    if body is None or body.trunk <= 0:
        return None
    drop = _drop(body, view) / body.trunk
    rear, front = (body.hips_y + share * drop for share in (edges.rear, edges.front))
    return BeltLines(min(rear, 1 - EDGE), min(front, 1 - EDGE))


def _drop(body: BodyInPicture, view: View) -> float:
    """How far below the hips the floor under them is seen, share of the picture's height."""
    return body.soles_y + FLOOR_BELOW[view] * body.trunk - body.hips_y


def _body(xy: tuple[float, ...], shape: float) -> BodyInPicture | None:
    if len(xy) != 66:
        return None

    def at(mark: Lm) -> tuple[float, float]:
        return xy[2 * mark], xy[2 * mark + 1]

    needed = [at(mark) for mark in _NEEDED]
    if any(x < 0 and y < 0 for x, y in needed):
        return None
    (left_s, right_s, left_h, right_h) = needed[:4]
    shoulder = ((left_s[0] + right_s[0]) / 2, (left_s[1] + right_s[1]) / 2)
    hip = ((left_h[0] + right_h[0]) / 2, (left_h[1] + right_h[1]) / 2)
    across = (shoulder[0] - hip[0]) * shape
    heels, toes = needed[4:6], needed[6:8]
    ahead = sum(toe[0] for toe in toes) - sum(heel[0] for heel in heels)
    return BodyInPicture(
        trunk=float((across**2 + (shoulder[1] - hip[1]) ** 2) ** 0.5),
        hips_y=hip[1],
        soles_y=max(y for _, y in needed[4:]),
        facing=1.0 if ahead >= 0 else -1.0,
    )


_NEEDED: Final = (
    Lm.LEFT_SHOULDER,
    Lm.RIGHT_SHOULDER,
    Lm.LEFT_HIP,
    Lm.RIGHT_HIP,
    Lm.LEFT_HEEL,
    Lm.RIGHT_HEEL,
    Lm.LEFT_FOOT_INDEX,
    Lm.RIGHT_FOOT_INDEX,
)
