"""Watches the runner's body for what ends a session: a raised hand, a fall, nobody, the belt's end.

Pure: it takes what each frame shows and keeps time by the frames' own stamps.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from statistics import median
from typing import Final

from shared.flow import Body, View
from shared.messages import StopReason
from shared.units import NS_PER_MS, NS_PER_S

HAND_NS: Final = NS_PER_S
"""A hand is held up for so long on purpose only (our choice; wiping the brow is over sooner)."""
DOWN_NS: Final = 500 * NS_PER_MS
"""Longer than any flight or landing: a stride at 150 steps/min lasts 800 ms."""
HIPS_DOWN: Final = 0.7
"""Mid-hips lower than this, in leg lengths, are down. Running keeps them over 0.8; kneeling brings
them to about 0.55 (our choice, halfway; see tests.live.scene.test_posture)."""
GONE_NS: Final = 3 * NS_PER_S
WARN_AT: Final = 0.40
STOP_AT: Final = 0.30
"""Share of the belt that is left behind the runner. A pull cord must have tripped at 70 % of the
running surface (ISO 20957-6, an excerpt), which leaves 30 %; the warning comes 10 % before."""
BACK_AT: Final = 0.45
"""A warning ends here, so that it does not come and go."""
WARN_NS: Final = 200 * NS_PER_MS
EDGE_NS: Final = 500 * NS_PER_MS
"""Longer than the warning takes, so that the warning is always first."""
PLACE_OVER_NS: Final = 400 * NS_PER_MS
"""The place is the median over so long: about one step, in which the body sways to and fro."""
EDGES_APART: Final = 0.02
"""Two edges nearer to each other in the picture than this share of it cannot be told apart."""
LONGEST_GAP_NS: Final = 400 * NS_PER_MS
"""After a longer gap between two frames nothing counts as held on."""


@dataclass(frozen=True, slots=True)
class Edges:
    """The belt's rear and front edge, each as a value of ``Body.place`` in this view.

    Raises ValueError when the two cannot be told apart.
    """

    view: View
    rear: float
    front: float

    def __post_init__(self) -> None:
        if not (0.0 < self.rear <= 1.0 and 0.0 < self.front <= 1.0):
            raise ValueError("edges are shares of the picture, over 0 and up to 1")
        if abs(self.rear - self.front) < EDGES_APART:
            raise ValueError("the two edges are (nearly) the same")

    def left_behind(self, place: float) -> float:
        """Share of the belt behind the runner: 0 at the rear edge, 1 at the front edge.

        From behind and in front the size in the picture goes with 1 / distance.
        """
        if self.view is View.SIDE:
            return (place - self.rear) / (self.front - self.rear)
        near, far = 1.0 / self.rear, 1.0 / self.front
        return (1.0 / max(place, 1e-6) - near) / (far - near)


class _Hold:
    """True once something was seen for ``needs_ns``, short misses forgiven."""

    def __init__(self, needs_ns: int, forgives_ns: int) -> None:
        self._needs_ns = needs_ns
        self._forgives_ns = forgives_ns
        self._since_ns: int | None = None
        self._seen_ns = 0
        self._missed = False

    def add(self, seen: bool, at_ns: int) -> bool:
        if not seen:
            self._missed = True
            return False
        too_long = at_ns - self._seen_ns > self._forgives_ns
        if self._since_ns is None or (self._missed and too_long):
            self._since_ns = at_ns
        self._seen_ns, self._missed = at_ns, False
        return at_ns - self._since_ns >= self._needs_ns

    def forget(self) -> None:
        self._since_ns = None


@dataclass(frozen=True, slots=True)
class BodySigns:
    """What the body calls for now."""

    stop: StopReason | None = None
    near_edge: bool = False
    """The runner has drifted toward the rear edge: warn."""


class HazardWatch:
    """Looks at every frame of one session; ``edges`` None: the belt's end is not watched."""

    def __init__(self, edges: Edges | None = None) -> None:
        self._edges = edges
        self._hand = _Hold(HAND_NS, 200 * NS_PER_MS)
        self._down = _Hold(DOWN_NS, 70 * NS_PER_MS)
        self._gone = _Hold(GONE_NS, 250 * NS_PER_MS)
        self._warn = _Hold(WARN_NS, 70 * NS_PER_MS)
        self._edge = _Hold(EDGE_NS, 70 * NS_PER_MS)
        self._places: deque[tuple[int, float]] = deque()
        self._near_edge = False
        self._last_ns: int | None = None

    def edges_lost(self, body: Body) -> bool:
        """True when edges were set for a camera that stands elsewhere now."""
        return self._edges is not None and body.camera_elsewhere

    def see(self, body: Body, running: bool) -> BodySigns:
        """Take in one frame. Only the raised hand counts while not ``running``."""
        at_ns = body.captured_ns
        if self._last_ns is not None and not 0 < at_ns - self._last_ns <= LONGEST_GAP_NS:
            if at_ns <= self._last_ns:
                return BodySigns(near_edge=self._near_edge)
            self._hand.forget()
            self._forget_running()
        self._last_ns = at_ns
        if self._hand.add(body.present and body.hand_up, at_ns):
            return BodySigns(StopReason.HAND)
        if not running:
            self._forget_running()
            return BodySigns()
        low = body.present and body.hips_up is not None and body.hips_up < HIPS_DOWN
        if self._down.add(low, at_ns):
            return BodySigns(StopReason.FALL)
        if self._gone.add(not body.present, at_ns):
            return BodySigns(StopReason.OUT_OF_PICTURE)
        return self._see_edge(body)

    def _see_edge(self, body: Body) -> BodySigns:
        left = self._left_behind(body)
        if left is None:
            self._warn.forget()
            self._edge.forget()
            self._near_edge = False
            return BodySigns()
        at_ns = body.captured_ns
        warned = self._warn.add(left < WARN_AT, at_ns)
        self._near_edge = warned or (self._near_edge and left < BACK_AT)
        if self._edge.add(left < STOP_AT, at_ns):
            return BodySigns(StopReason.BELT_EDGE)
        return BodySigns(near_edge=self._near_edge)

    def _left_behind(self, body: Body) -> float | None:
        """Where on the belt the runner has been lately; None while that is not known."""
        if self._edges is None or body.camera_moved or body.camera_elsewhere:
            self._places.clear()
            return None
        at_ns = body.captured_ns
        if body.present and body.place is not None:
            self._places.append((at_ns, body.place))
        while self._places and at_ns - self._places[0][0] > PLACE_OVER_NS:
            self._places.popleft()
        if not self._places:
            return None
        return self._edges.left_behind(median(place for _, place in self._places))

    def _forget_running(self) -> None:
        for hold in (self._down, self._gone, self._warn, self._edge):
            hold.forget()
        self._places.clear()
        self._near_edge = False
