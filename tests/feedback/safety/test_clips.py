"""Gestures, falls and drifting on the rendered clips: the real pose model, lookout and session.

Times are the clips' own. What happens in each is in tests/rendered/cases.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from feedback.safety.hazards import Edges
from feedback.session.interface import Facts, Start
from feedback.session.session import Session
from live.camera.sources import FileSource
from live.pose.model import PoseModel
from live.scene.body_state import BodyState
from shared.flow import Body, View
from shared.messages import StopReason
from shared.units import NS_PER_MS, NS_PER_S
from tests.feedback.making import athlete, strike_target, update
from tests.feedback.safety import falls
from tests.rendered.truth import load_truth

pytestmark = pytest.mark.model

CLIPS = Path(__file__).parents[2] / "rendered" / "clips"
FALLS = {case.name for case in falls.CASES}
HALF_BELT_M = 0.75
"""Belts are about 1.5 m long (common practice, no source)."""


@cache
def bodies(clip: str) -> tuple[Body, ...]:
    """What the lookout sees in every frame of a clip."""
    folder = falls.CLIPS if clip in FALLS else CLIPS
    source = FileSource(folder / f"{clip}.mp4", as_live=False)
    lookout = BodyState(View(clip.split("_")[0]))
    seen: list[Body] = []
    source.open()
    with PoseModel() as model:
        while (frame := source.read()) is not None:
            seen.append(lookout.see(frame, model.detect(frame)))
    source.close()
    return tuple(seen)


@dataclass(frozen=True)
class End:
    """How a session on a clip ended."""

    reason: StopReason | None
    at_s: float | None
    warned_s: float | None
    """When the first warning sounded."""


def session_on(
    clip: str, from_s: float = 0.0, to_s: float = 100.0, edges: Edges | None = None
) -> End:
    """Run a session on a part of the clip."""
    session = Session(athlete(strike_target()), View(clip.split("_")[0]), edges=edges)
    session.on_tick(0, Facts())
    session.on_command(Start(), round(from_s * NS_PER_S))
    warned_s = None
    for body in bodies(clip):
        at_s = body.captured_ns / NS_PER_S
        if not from_s <= at_s < to_s:
            continue
        now_ns = body.captured_ns + 20 * NS_PER_MS
        out = session.on_body(body, now_ns)
        if out.warning is not None and warned_s is None:
            warned_s = at_s
        if out.stop is not None:
            return End(out.stop, at_s, warned_s)
        session.on_update(update(body.captured_ns), now_ns)
    return End(None, None, warned_s)


def side_edges(clip: str) -> Edges:
    """The belt's edges as the clip's own camera shows them, at hip height."""
    truth = load_truth(CLIPS / f"{clip}.truth.json.xz")
    up = 0.9
    points = truth.camera.project(np.array([[-HALF_BELT_M, 0, up], [HALF_BELT_M, 0, up]]))
    rear, front = points[:, 0] / truth.camera.width
    return Edges(View.SIDE, rear=float(rear), front=float(front))


def edges_from_behind(clip: str, distance_m: float) -> Edges:
    """The trunk's length at the two edges, from that in the middle of the belt."""
    places = [b.place for b in bodies(clip) if b.place is not None and b.captured_ns < 4 * NS_PER_S]
    middle = float(np.median(places)) * distance_m
    rear, front = distance_m - HALF_BELT_M, distance_m + HALF_BELT_M
    return Edges(View.BEHIND, rear=middle / rear, front=middle / front)


def test_a_face_that_is_wiped_does_not_stop_and_a_raised_hand_does() -> None:
    """Wiping from 7.0 to 8.2 s; the hand goes up before 12 s and stays until 14.5 s."""
    end = session_on("side_16")
    assert end.reason is StopReason.HAND
    assert end.at_s is not None
    assert 12.5 <= end.at_s <= 13.2


@pytest.mark.parametrize(
    ("clip", "up_s"), [("side_18", 6.0), ("behind_10", 10.0)], ids=["side", "behind"]
)
def test_a_hand_held_up_stops_from_each_view(clip: str, up_s: float) -> None:
    end = session_on(clip)
    assert end.reason is StopReason.HAND
    assert end.at_s is not None
    assert up_s + 0.5 <= end.at_s <= up_s + 1.2


def test_a_fall_stops_within_a_second_and_a_half() -> None:
    """The runner begins to go down at 13 s and is on the knees at 13.7 s."""
    end = session_on("side_17")
    assert end.reason is StopReason.FALL
    assert end.at_s is not None
    assert 13.5 <= end.at_s <= 14.5


@pytest.mark.parametrize("clip", sorted(FALLS))
def test_a_fall_is_seen_from_behind_and_from_the_front(clip: str) -> None:
    """As from the side: within a second and a half of the beginning."""
    end = session_on(clip)
    assert end.reason is StopReason.FALL
    assert end.at_s is not None
    assert falls.FALLS_AT_S + 0.5 <= end.at_s <= falls.FALLS_AT_S + 1.5


@pytest.mark.parametrize("clip", sorted(FALLS))
def test_running_is_no_fall_from_behind_and_from_the_front(clip: str) -> None:
    end = session_on(clip, to_s=falls.FALLS_AT_S)
    assert (end.reason, end.warned_s) == (None, None)
    seen = [body for body in bodies(clip) if body.captured_ns < falls.FALLS_AT_S * NS_PER_S]
    assert len(seen) > 100
    assert not any(body.hand_up or body.camera_moved for body in seen)


def test_leaving_the_picture_stops_after_three_seconds() -> None:
    """Out of the picture from about 15.8 s on; no edges are known."""
    end = session_on("side_18", from_s=8.5)
    assert end.reason is StopReason.OUT_OF_PICTURE
    assert end.at_s is not None
    assert 18.5 <= end.at_s <= 19.5


def test_drifting_back_is_warned_of_and_then_stopped_from_the_side() -> None:
    """0.45 m back between 9 and 12 s."""
    end = session_on("side_18", from_s=8.5, edges=side_edges("side_18"))
    assert end.reason is StopReason.BELT_EDGE
    assert end.at_s is not None
    assert end.warned_s is not None
    assert 9.5 <= end.warned_s < end.at_s <= 12.5


def test_drifting_back_is_warned_of_and_then_stopped_from_behind() -> None:
    """0.5 m back between 13.5 and 16 s, the camera 4 m behind the middle of the belt."""
    end = session_on("behind_10", from_s=13.0, edges=edges_from_behind("behind_10", 4.0))
    assert end.reason is StopReason.BELT_EDGE
    assert end.at_s is not None
    assert end.warned_s is not None
    assert 13.8 <= end.warned_s < end.at_s <= 16.6


@pytest.mark.parametrize(
    ("clip", "to_s"), [("side_16", 11.5), ("side_17", 12.9), ("side_18", 5.4), ("behind_10", 9.4)]
)
def test_running_before_it_happens_neither_warns_nor_stops(clip: str, to_s: float) -> None:
    edges = side_edges(clip) if clip.startswith("side") else edges_from_behind(clip, 4.0)
    end = session_on(clip, to_s=to_s, edges=edges)
    assert (end.reason, end.warned_s) == (None, None)
    seen = [b for b in bodies(clip) if b.captured_ns < to_s * NS_PER_S]
    assert not any(b.hand_up or b.camera_moved for b in seen)
