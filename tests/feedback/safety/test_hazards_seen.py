"""What the runner's body calls for: raised hand, fall, nobody there, the belt's rear edge."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest
from msgspec.structs import replace

from feedback.safety.hazards import DOWN_NS, EDGE_NS, GONE_NS, HAND_NS, Edges, HazardWatch
from feedback.session.interface import Facts, Outputs, Start
from feedback.session.session import Session
from shared.flow import Body, CueKind, View
from shared.messages import StopReason
from tests.feedback.making import MS, S, athlete, measure, strike_target, update
from tests.feedback.safety.test_states import BODY

FRAME_NS = 33 * MS
SIDE_EDGES = Edges(View.SIDE, rear=0.2, front=0.8)


def frames(
    seconds: float, every_ns: int = FRAME_NS, start_ns: int = 0, **changes: Any
) -> list[Body]:
    """Bodies of so many seconds, all alike."""
    count = int(seconds * 1e9 / every_ns) + 1
    return [replace(BODY, captured_ns=start_ns + n * every_ns, **changes) for n in range(count)]


def stop_of(
    bodies: Iterable[Body], running: bool = True, edges: Edges | None = None
) -> tuple[StopReason, float] | None:
    """The first stop, with its time in seconds."""
    watch = HazardWatch(edges)
    for body in bodies:
        seen = watch.see(body, running)
        if seen.stop is not None:
            return seen.stop, body.captured_ns / 1e9
    return None


@pytest.mark.parametrize("every_ns", [16_667_000, FRAME_NS, 41_667_000, 100 * MS])
@pytest.mark.parametrize("running", [True, False])
def test_a_hand_held_up_for_a_second_stops_at_any_frame_rate(running: bool, every_ns: int) -> None:
    found = stop_of(frames(3.0, every_ns, hand_up=True), running)
    assert found is not None
    assert found[0] is StopReason.HAND
    assert HAND_NS / 1e9 <= found[1] <= HAND_NS / 1e9 + every_ns / 1e9


def test_a_hand_that_is_up_for_less_does_not_stop() -> None:
    up, down = frames(0.95, hand_up=True), frames(0.4, start_ns=S)
    again = frames(0.95, start_ns=1500 * MS, hand_up=True)
    assert stop_of([*up, *down, *again]) is None


def test_single_frames_that_miss_the_hand_are_forgiven() -> None:
    bodies = frames(3.0, hand_up=True)
    bodies = [replace(b, hand_up=n % 4 != 0) for n, b in enumerate(bodies)]
    found = stop_of(bodies)
    assert found is not None
    assert found[1] < 1.2


def test_misses_are_forgiven_by_the_time_between_the_hits_around_them() -> None:
    """Up, missed, and up again 600 ms later: the two do not add up."""
    times_ms = [0, 100, 200, 300, 400, 500, 600]
    up = [replace(BODY, captured_ns=t * MS, hand_up=True) for t in times_ms]
    missed = [replace(BODY, captured_ns=800 * MS)]
    again = [replace(BODY, captured_ns=t * MS, hand_up=True) for t in (1200, 1300)]
    assert stop_of([*up, *missed, *again]) is None


def test_arms_that_swing_through_the_head_do_not_stop() -> None:
    swing = [replace(b, hand_up=n % 22 < 6) for n, b in enumerate(frames(30.0))]
    assert stop_of(swing) is None


def test_a_gap_between_frames_does_not_count_as_holding() -> None:
    first, second = frames(0.5, hand_up=True), frames(0.5, start_ns=2 * S, hand_up=True)
    assert stop_of([*first, *second]) is None


def test_frames_out_of_order_change_nothing() -> None:
    watch = HazardWatch()
    late = replace(BODY, captured_ns=-5 * S, hand_up=True)
    for body in frames(2.0):
        assert watch.see(body, running=True).stop is None
        assert watch.see(late, running=True).stop is None


def test_hips_that_go_down_and_stay_end_it() -> None:
    found = stop_of([*frames(2.0), *frames(2.0, start_ns=2 * S + FRAME_NS, hips_up=0.4)])
    assert found is not None
    assert found[0] is StopReason.FALL
    assert DOWN_NS / 1e9 <= found[1] - 2.0 <= DOWN_NS / 1e9 + 0.1


def test_a_stumble_that_is_caught_does_not() -> None:
    low = frames(0.4, start_ns=2 * S, hips_up=0.4)
    assert stop_of([*frames(1.9), *low, *frames(2.0, start_ns=2500 * MS)]) is None


@pytest.mark.parametrize("changes", [{"hips_up": None}, {"hips_up": 0.75}])
def test_hips_that_are_not_known_to_be_down_do_not(changes: dict[str, Any]) -> None:
    assert stop_of(frames(10.0, **changes)) is None


def test_nobody_for_three_seconds_ends_it() -> None:
    found = stop_of(frames(5.0, present=False, hips_up=None, place=None))
    assert found is not None
    assert found[0] is StopReason.OUT_OF_PICTURE
    assert GONE_NS / 1e9 <= found[1] <= GONE_NS / 1e9 + 0.04


def test_nobody_for_less_does_not() -> None:
    away = frames(2.9, start_ns=S, present=False, hips_up=None, place=None)
    assert stop_of([*frames(0.9), *away, *frames(2.0, start_ns=4 * S)]) is None


def test_a_flicker_of_somebody_does_not_hide_that_nobody_is_there() -> None:
    away = frames(6.0, present=False, hips_up=None, place=None)
    away = [replace(b, present=n % 30 == 0) for n, b in enumerate(away)]
    assert stop_of(away) is not None


@pytest.mark.parametrize(
    "changes", [{"present": False}, {"hips_up": 0.3}, {"place": 0.2}], ids=["gone", "down", "edge"]
)
def test_only_the_hand_counts_while_not_running(changes: dict[str, Any]) -> None:
    assert stop_of(frames(10.0, **changes), running=False, edges=SIDE_EDGES) is None


# the belt's edge


def test_places_along_the_belt() -> None:
    assert SIDE_EDGES.left_behind(0.2) == pytest.approx(0.0)
    assert SIDE_EDGES.left_behind(0.5) == pytest.approx(0.5)
    assert Edges(View.SIDE, rear=0.9, front=0.3).left_behind(0.6) == pytest.approx(0.5)


def test_from_behind_the_size_goes_with_one_over_the_distance() -> None:
    """A trunk of 0.5 m seen from 3 m (rear edge) to 4.5 m (front edge), focal length 1 picture."""
    edges = Edges(View.BEHIND, rear=0.5 / 3.0, front=0.5 / 4.5)
    assert edges.left_behind(0.5 / 3.75) == pytest.approx(0.5)
    front = Edges(View.FRONT, rear=0.5 / 4.5, front=0.5 / 3.0)
    assert front.left_behind(0.5 / 4.0) == pytest.approx(1 / 3)


@pytest.mark.parametrize(("rear", "front"), [(0.0, 0.5), (0.5, 1.2), (0.5, 0.51)])
def test_edges_that_say_nothing_are_refused(rear: float, front: float) -> None:
    with pytest.raises(ValueError, match="edges"):
        Edges(View.SIDE, rear=rear, front=front)


def drift(to: float, seconds: float) -> list[Body]:
    """Down to where the share ``to`` of the belt is left behind, then two more seconds."""
    bodies = frames(seconds + 2.0)
    way = [min(1.0, b.captured_ns / 1e9 / seconds) for b in bodies]
    return [
        replace(b, place=0.2 + 0.6 * (0.55 + (to - 0.55) * share))
        for b, share in zip(bodies, way, strict=True)
    ]


def warned_and_stopped(bodies: list[Body]) -> tuple[float | None, float | None]:
    watch, warned = HazardWatch(SIDE_EDGES), None
    for body in bodies:
        seen = watch.see(body, running=True)
        if seen.near_edge and warned is None:
            warned = body.captured_ns / 1e9
        if seen.stop is not None:
            assert seen.stop is StopReason.BELT_EDGE
            return warned, body.captured_ns / 1e9
    return warned, None


def test_drifting_back_warns_first_and_then_stops() -> None:
    warned, stopped = warned_and_stopped(drift(0.1, 4.0))
    assert warned is not None
    assert stopped is not None
    assert warned + 0.5 < stopped


def test_even_the_quickest_way_back_is_warned_of_first() -> None:
    warned, stopped = warned_and_stopped([*frames(1.0), *frames(3.0, start_ns=S, place=0.2)])
    assert warned is not None
    assert stopped is not None
    assert warned < stopped < 1.0 + EDGE_NS / 1e9 + 0.4


def test_a_warning_alone_where_the_runner_goes_no_further() -> None:
    warned, stopped = warned_and_stopped(drift(0.36, 3.0))
    assert warned is not None
    assert stopped is None


def test_swaying_with_every_step_does_not_warn() -> None:
    bodies = [replace(b, place=0.5 + 0.06 * (-1) ** (n // 5)) for n, b in enumerate(frames(20.0))]
    assert warned_and_stopped(bodies) == (None, None)


@pytest.mark.parametrize("how", [{"camera_moved": True}, {"camera_elsewhere": True}])
def test_edges_of_a_camera_that_was_moved_are_not_trusted(how: dict[str, Any]) -> None:
    assert warned_and_stopped(frames(5.0, place=0.2, **how)) == (None, None)


# through the session


class Run:
    """A running session that is shown bodies."""

    def __init__(self, edges: Edges | None = None) -> None:
        self.session = Session(athlete(strike_target()), View.SIDE, edges=edges)
        self.session.on_command(Start(), 0)
        self.session.on_tick(0, Facts())

    def show(self, bodies: list[Body]) -> list[Outputs]:
        return [self.session.on_body(body, body.captured_ns + 20 * MS) for body in bodies]


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"hand_up": True}, StopReason.HAND),
        ({"hips_up": 0.3}, StopReason.FALL),
        ({"present": False, "hips_up": None, "place": None}, StopReason.OUT_OF_PICTURE),
        ({"place": 0.21}, StopReason.BELT_EDGE),
    ],
)
def test_each_limit_ends_the_session_once_with_its_reason(
    changes: dict[str, Any], reason: StopReason
) -> None:
    run = Run(SIDE_EDGES)
    outputs = run.show(frames(6.0, **changes))
    assert [out.stop for out in outputs if out.stop is not None] == [reason]
    assert run.session.snapshot(7 * S).stop_reason is reason


def test_the_edge_warning_sounds_again_while_it_lasts_and_is_shown() -> None:
    run = Run(SIDE_EDGES)
    outputs = run.show(frames(6.0, place=0.2 + 0.6 * 0.36))
    warnings = [out.warning for out in outputs if out.warning is not None]
    assert [warning.kind for warning in warnings] == [CueKind.WARNING] * 3
    assert {warning.sound for warning in warnings} == {"warning"}
    assert run.session.snapshot(6 * S).warning == "warn_belt_edge"
    run.show(frames(2.0, start_ns=6100 * MS, place=0.6))
    assert run.session.snapshot(8 * S).warning == ""


def test_a_moved_camera_is_a_doubt_and_ends_the_watch_over_the_edges() -> None:
    run = Run(SIDE_EDGES)
    run.show(frames(0.1, camera_moved=True, camera_elsewhere=True))
    for step in range(12):
        one = measure(step, 30.0)
        out = run.session.on_update(update(one.captured_ns, one), one.captured_ns + 20 * MS)
        assert out.cues == ()
    codes = [problem.code for problem in run.session.snapshot(5 * S).problems]
    assert codes == ["camera_moved", "edges_off"]
    run.show(frames(0.1, start_ns=5 * S, camera_elsewhere=True))
    for step in range(14, 30):
        one = measure(step, 30.0)
        out = run.session.on_update(update(one.captured_ns, one), one.captured_ns + 20 * MS)
        if out.cues:
            break
    else:
        pytest.fail("cues come back once the camera stands still")
    assert [p.code for p in run.session.snapshot(12 * S).problems] == ["edges_off"]
