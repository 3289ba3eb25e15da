"""What each act does in a replay, what is said of it, and what came of it on its way."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.screens.replay.arrival import LATE_NS, SAVE_LATE_NS, Arrival, Film, Saving, Stage
from feedback.screens.replay.look import CONTACTS, Do, Look
from feedback.screens.replay.model import AFTER_NS, BEFORE_NS, Clip, Speed
from feedback.screens.replay.zoom import WHOLE, Feet, PicturePart
from feedback.texts import replay as wording_replay
from shared.changes import Answered
from shared.flow import EventKind, Side
from shared.landmarks import LANDMARK_COUNT, Landmark
from shared.pictures import Mark, Picture, ReplayEnd, ReplayPicture

L, R = Side.LEFT, Side.RIGHT
MS, S = 1_000_000, 1_000_000_000
STEP_NS = 33 * MS
COUNT = 300
SHAPE = 4 / 3
ROOM = 1.2


def body(
    left_foot: tuple[float, float] = (0.45, 0.9),
    right_foot: tuple[float, float] = (0.55, 0.8),
    shoulders: tuple[float, float] = (0.5, 0.5),
) -> tuple[float, ...]:
    """Landmarks with shoulders at 0.2 and feet as given; the rest is not known."""
    xy = [-1.0] * (2 * LANDMARK_COUNT)
    for name, x, y in (
        ("LEFT_SHOULDER", shoulders[0], 0.2),
        ("RIGHT_SHOULDER", shoulders[1], 0.2),
        *((f"LEFT_{part}", *left_foot) for part in ("ANKLE", "HEEL", "FOOT_INDEX")),
        *((f"RIGHT_{part}", *right_foot) for part in ("ANKLE", "HEEL", "FOOT_INDEX")),
    ):
        at = Landmark[name]
        xy[2 * at], xy[2 * at + 1] = x, y
    return tuple(xy)


def picture(number: int, xy: tuple[float, ...] = ()) -> Picture:
    return Picture(
        captured_ns=number * STEP_NS, width_px=640, height_px=480, jpeg=b"%d" % number, xy=xy
    )


def marks() -> tuple[Mark, ...]:
    """A step every 350 ms from 300 ms on, left first, 10 ms after a picture or so."""
    return tuple(
        Mark(EventKind.CONTACT, L if step % 2 == 0 else R, (300 + 350 * step) * MS)
        for step in range(27)
    )


def film(found: tuple[Mark, ...] | None = None, xy: tuple[float, ...] = ()) -> Film:
    pictures = tuple(picture(number, xy) for number in range(COUNT))
    times = tuple(one.captured_ns for one in pictures)
    return Film(1, pictures, Clip(times, marks() if found is None else found))


def test_it_opens_at_the_newest_contact_and_says_how_far_the_picture_is_from_it() -> None:
    look = Look(film())
    shot = look.single(ROOM)
    # the last of 27 steps: 300 + 26 x 350 = 9400 ms; nearest picture 285 at 9405 ms
    assert look.frame == 285
    assert shot.side is L
    assert shot.caption == "Left contact, 0.46 s before the end, picture 286 of 300"
    assert shot.detail == "5 ms after contact"


def test_without_contacts_it_opens_at_the_newest_picture() -> None:
    look = Look(film(()))
    assert look.frame == COUNT - 1
    assert look.single(ROOM).caption == "0.00 s before the end, picture 300 of 300"
    assert not any(look.can(act) for act in (*CONTACTS, Do.BOTH, Do.OLDER, Do.NEWER))


def test_nothing_can_be_done_without_a_replay() -> None:
    look = Look()
    assert {act for act in Do if look.can(act)} == {Do.FULL, Do.HALF, Do.QUARTER}
    for act in Do:
        look.do(act, 0)
    look.go_to(5)
    look.tick(5)
    assert look.single(ROOM, "nothing yet").caption == "nothing yet"
    assert look.beside(L, ROOM).picture is None


def test_picture_by_picture_and_to_either_end() -> None:
    look = Look(film())
    look.do(Do.BACK, 0)
    assert look.frame == 284
    look.do(Do.ON, 0)
    look.do(Do.ON, 0)
    assert look.frame == 286
    look.do(Do.LAST, 0)
    look.do(Do.ON, 0)
    assert look.frame == COUNT - 1
    look.do(Do.FIRST, 0)
    look.do(Do.BACK, 0)
    assert look.frame == 0


def test_it_jumps_to_each_contact_of_a_side_and_back() -> None:
    look = Look(film())
    look.do(Do.FIRST, 0)
    visited = []
    while look.can(Do.NEXT_RIGHT):
        look.do(Do.NEXT_RIGHT, 0)
        visited.append(look.frame)
        assert look.single(ROOM).side is R
    assert len(visited) == 13
    back = [look.frame]
    while look.can(Do.PREVIOUS_RIGHT):
        look.do(Do.PREVIOUS_RIGHT, 0)
        back.append(look.frame)
    assert back == visited[::-1]


@pytest.mark.parametrize(
    ("act", "shown"),
    [(Do.FULL, 30), (Do.HALF, 15), (Do.QUARTER, 7)],
)
def test_speeds_show_the_picture_that_stands_then(act: Do, shown: int) -> None:
    look = Look(film())
    look.do(Do.FIRST, 0)
    look.do(act, 0)
    look.do(Do.PLAY, 1_000)
    look.tick(1_000 + S)
    assert look.frame == shown  # 1 s, 0.5 s, 0.25 s at 33 ms a picture
    assert look.playing
    look.do(Do.PLAY, 1_000 + S)
    assert not look.playing


def test_a_step_by_hand_stops_playing() -> None:
    look = Look(film())
    look.do(Do.FIRST, 0)
    look.do(Do.PLAY, 0)
    look.do(Do.ON, 0)
    assert not look.playing


def test_pointing_goes_to_the_nearest_picture_or_pair() -> None:
    look = Look(film())
    look.go_to(100 * MS)
    assert look.frame == 3
    look.do(Do.BOTH, 0)
    look.go_to(660 * MS)
    pair = look.pairs[look.pair]
    assert pair.left is not None
    assert pair.right is not None
    assert 650 * MS in (pair.left.at_ns, pair.right.at_ns)


def test_side_by_side_begins_with_the_newest_and_moves_both_by_the_same_time() -> None:
    look = Look(film())
    look.do(Do.LAST, 0)
    look.do(Do.BOTH, 0)
    left, right = look.beside(L, ROOM), look.beside(R, ROOM)
    assert (left.side, right.side) == (L, R)
    assert left.caption == "Left contact, 0.47 s before the end"
    assert right.caption == "Right contact, 0.82 s before the end"
    assert (left.detail, right.detail) == ("5 ms after contact", "8 ms before contact")
    look.do(Do.ON, 0)
    look.do(Do.ON, 0)
    assert look.beside(L, ROOM).detail == "71 ms after contact"
    assert look.beside(R, ROOM).detail == "58 ms after contact"
    assert look.can(Do.OLDER)
    assert not look.can(Do.NEWER)
    look.do(Do.OLDER, 0)
    assert look.from_contact_ns == 0, "at the contacts again"
    assert look.beside(R, ROOM).caption == "Right contact, 1.52 s before the end"
    assert not any(look.can(act) for act in CONTACTS)


def test_side_by_side_begins_with_the_contact_that_is_shown() -> None:
    look = Look(film())
    look.do(Do.FIRST, 0)
    look.do(Do.NEXT_RIGHT, 0)
    look.do(Do.BOTH, 0)
    pair = look.pairs[look.pair]
    assert pair.right is not None
    assert pair.right.at_ns == 650 * MS
    look.do(Do.BOTH, 0)
    assert not look.both
    assert look.single(ROOM).side is R, "and back where it was"


def test_side_by_side_plays_from_before_the_contacts_to_after_them() -> None:
    look = Look(film())
    look.do(Do.BOTH, 0)
    look.do(Do.FULL, 0)
    look.do(Do.PLAY, 0)
    look.tick(AFTER_NS + 1)
    assert look.from_contact_ns == AFTER_NS
    assert not look.playing
    look.do(Do.PLAY, 0)
    assert look.from_contact_ns == -BEFORE_NS
    look.do(Do.FIRST, 0)
    look.do(Do.LAST, 0)
    assert look.from_contact_ns == AFTER_NS


def test_a_side_without_contacts_says_so() -> None:
    look = Look(film(tuple(mark for mark in marks() if mark.side is R)))
    look.do(Do.BOTH, 0)
    shot = look.beside(L, ROOM)
    assert shot.picture is None
    assert shot.caption == "No left contact was found in this replay"


def test_a_new_replay_is_looked_at_in_the_same_way() -> None:
    before = Look(film())
    for act in (Do.HALF, Do.BODY, Do.ZOOM, Do.BOTH):
        before.do(act, 0)
    after = Look(film(), before)
    assert (after.speed, after.body, after.zoom, after.both) == (Speed.HALF, False, True, True)
    assert not Look(film(()), before).both, "where there is nothing to put side by side"


@given(st.lists(st.sampled_from(Do), max_size=40), st.integers(0, 3))
def test_any_acts_in_any_order_leave_something_to_look_at(acts: list[Do], few: int) -> None:
    look = Look(film(marks()[: 9 * few]))
    for number, act in enumerate(acts):
        look.do(act, number * 300 * MS)
        look.tick(number * 300 * MS + 100 * MS)
        assert 0 <= look.frame < COUNT
        shots = [look.beside(side, ROOM) for side in Side] if look.both else [look.single(ROOM)]
        assert any(shot.picture is not None for shot in shots)
        assert all(shot.caption for shot in shots)


# ---- the feet


def inside(part: PicturePart) -> bool:
    fits = part.x >= 0 and part.y >= 0 and part.width > 0 and part.height > 0
    return fits and part.x + part.width <= 1 + 1e-9 and part.y + part.height <= 1 + 1e-9


def holds(part: PicturePart, point: tuple[float, float]) -> bool:
    x, y = point
    return part.x <= x <= part.x + part.width and part.y <= y <= part.y + part.height


def test_the_part_with_both_feet_holds_them_all_and_is_no_more_than_that() -> None:
    shots = [body((0.3 + 0.002 * n, 0.9), (0.5 - 0.002 * n, 0.8)) for n in range(100)]
    part = Feet(shots, SHAPE).both(2.5)
    assert inside(part)
    assert all(holds(part, (x, y)) for x, y in ((0.31, 0.9), (0.49, 0.8)))
    assert part.height < 0.6
    assert part.width * SHAPE / part.height == pytest.approx(2.5)


def test_from_the_side_the_lower_foot_lands_whatever_the_landmarks_call_it() -> None:
    swapped = body(left_foot=(0.3, 0.7), right_foot=(0.6, 0.9))
    feet = Feet([swapped], SHAPE)
    for side in Side:
        part = feet.landing(swapped, side, ROOM)
        assert holds(part, (0.6, 0.9))
        assert not holds(part, (0.3, 0.7))


def test_from_behind_the_foot_of_that_side_lands_although_it_is_further_away() -> None:
    behind = body(left_foot=(0.4, 0.75), right_foot=(0.7, 0.9), shoulders=(0.4, 0.6))
    part = Feet([behind], SHAPE).landing(behind, L, ROOM)
    assert holds(part, (0.4, 0.75))
    assert not holds(part, (0.7, 0.9))


def test_left_and_right_are_shown_at_the_same_size() -> None:
    shots = [body(), body(left_foot=(0.2, 0.5), right_foot=(0.7, 0.95))]
    feet = Feet(shots, SHAPE)
    one, other = (feet.landing(xy, side, ROOM) for xy, side in zip(shots, Side, strict=True))
    assert (one.width, one.height) == (other.width, other.height)


def test_where_nobody_is_known_it_is_the_lower_half() -> None:
    for feet in (Feet([()], SHAPE), Feet([], SHAPE)):
        for part in (feet.both(SHAPE), feet.landing((), L, SHAPE)):
            assert (part.y, part.height) == (0.5, 0.5)


@given(
    st.floats(0.3, 4.0),
    st.floats(0.3, 4.0),
    st.lists(st.lists(st.floats(-1.0, 1.2), min_size=66, max_size=66), max_size=4),
)
def test_any_landmarks_give_a_part_within_the_picture(
    shape: float, room: float, shots: list[list[float]]
) -> None:
    feet = Feet(shots, shape)
    parts = [feet.both(room), *(feet.landing(xy, L, room) for xy in shots)]
    assert all(inside(part) for part in parts)


def test_zoom_shows_a_part_and_without_it_all() -> None:
    look = Look(film(xy=body()))
    assert look.single(ROOM).part == WHOLE
    look.do(Do.ZOOM, 0)
    assert look.single(ROOM).part.height < 0.6
    look.do(Do.BOTH, 0)
    assert look.beside(L, ROOM).part.height < look.single(ROOM).part.height


# ---- on its way


def arrive(count: int, of: int, *, end: bool = True) -> Arrival:
    arrival = Arrival(7, 0)
    for number in range(count):
        part = ReplayPicture(id=7, number=number, count=of, picture=picture(number))
        arrival.take(part, number)
    if end:
        arrival.take(ReplayEnd(id=7, count=of, marks=marks()), count)
    return arrival


def test_progress_is_told_and_then_that_it_is_in_memory_only() -> None:
    arrival = arrive(3, 10, end=False)
    assert (arrival.stage, arrival.text) == (Stage.COMING, "3 of 10 pictures received")
    whole = arrive(10, 10)
    assert whole.stage is Stage.HERE
    assert whole.film is not None
    assert len(whole.film.pictures) == 10
    assert "memory only" in whole.text
    assert whole.well


def test_parts_of_another_replay_are_not_taken() -> None:
    arrival = Arrival(7, 0)
    arrival.take(ReplayPicture(id=6, number=0, count=1, picture=picture(0)), 0)
    arrival.take(ReplayEnd(id=6, count=1, marks=()), 0)
    assert (arrival.stage, arrival.got) == (Stage.COMING, 0)


def test_no_pictures_and_a_refusal_are_told() -> None:
    none = Arrival(7, 0)
    none.take(ReplayEnd(id=7, count=0, marks=()), 0)
    assert (none.stage, none.well) == (Stage.OVER, False)
    refused = Arrival(7, 0)
    refused.on_answer(Answered(id=7, done=False, why="Pictures are not kept."))
    assert refused.stage is Stage.OVER
    assert "Pictures are not kept." in refused.text


def test_a_station_that_says_nothing_is_not_waited_for_for_ever() -> None:
    arrival = Arrival(7, 0)
    arrival.on_tick(LATE_NS)
    assert arrival.stage is Stage.COMING
    arrival.on_tick(LATE_NS + 1)
    assert (arrival.stage, arrival.text) == (Stage.OVER, "No answer from the station. Try again.")


def test_what_came_before_it_broke_off_is_shown_and_told_to_be_less() -> None:
    arrival = arrive(4, 10, end=False)
    arrival.on_tick(3 + LATE_NS + 1)
    assert arrival.stage is Stage.HERE
    assert arrival.film is not None
    assert len(arrival.film.pictures) == 4
    assert not arrival.well
    assert arrival.text.startswith("4 of 10 pictures received")


def test_giving_up_lets_go_of_what_has_come() -> None:
    arrival = arrive(4, 10, end=False)
    arrival.cancel()
    assert (arrival.stage, arrival.film) == (Stage.OVER, None)
    arrival.take(ReplayEnd(id=7, count=10, marks=()), 0)
    assert arrival.film is None


def test_saving_tells_where_or_why_not() -> None:
    saving = Saving(8, 0)
    assert not saving.over
    saving.on_answer(Answered(id=8, done=True, why="/a/b.replay-1.mp4"))
    assert (saving.over, saving.well) == (True, True)
    assert saving.text.endswith("/a/b.replay-1.mp4")
    saving = Saving(8, 0)
    saving.on_answer(Answered(id=8, done=False, why="The disk is full."))
    assert (saving.well, saving.text) == (False, "Not saved: The disk is full.")
    saving = Saving(8, 0)
    saving.on_tick(SAVE_LATE_NS + 1)
    assert (saving.over, saving.well) == (True, False)


# ---- words


@pytest.mark.parametrize("key", wording_replay.TEXTS)
def test_texts_promise_nothing_and_have_named_places(key: str) -> None:
    text = wording_replay.TEXTS[key]
    forbidden = ("emergency", "diagnos", "injur", "risk", "score", "grade", "error", "exception")
    assert not any(word in text.lower() for word in forbidden)
    assert all(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)
