"""What one screen is sent, in which order, and that nothing grows while it does not read."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.link.outbox import MOST_ANSWERS, MOST_AT_ONCE, MOST_POINTS, Outbox, Replay, Ring
from feedback.link.protocol import encode
from shared.changes import Answered
from shared.flow import View
from shared.messages import Briefing, FromStation, Point, Points, Snapshot
from shared.pictures import Picture, ReplayEnd, ReplayPicture
from tests.feedback.link.examples import snapshot

S = 1_000_000_000
DECODER = msgspec.msgpack.Decoder(FromStation)


def points(first: int, last: int) -> tuple[Point, ...]:
    return tuple(
        Point(
            number=number,
            at_ns=number,
            step_number=number,
            name="cadence",
            side=None,
            value=170.0,
            unit="steps/min",
            percent_leg=None,
            uncertainty=1.0,
            quality=0.9,
        )
        for number in range(first, last + 1)
    )


def picture(number: int) -> Picture:
    return Picture(captured_ns=number, width_px=4, height_px=3, jpeg=b"jpeg", xy=())


def replay(count: int, asked_id: int = 1) -> Replay:
    for number in range(count):
        yield ReplayPicture(id=asked_id, number=number, count=count, picture=picture(number))
    yield ReplayEnd(id=asked_id, count=count, marks=())


def sent(outbox: Outbox, ring: Ring) -> list[FromStation]:
    """All that would be sent to a reader that keeps reading."""
    found = []
    while (data := outbox.next(ring)) is not None:
        found.append(DECODER.decode(data))
    return found


def rank(message: FromStation) -> int:
    """Its place in the order of what waits at the same time."""
    order = (Briefing, Answered, Points, Snapshot, Picture, ReplayPicture, ReplayEnd)
    return order.index(type(message))


def full() -> tuple[Outbox, Ring]:
    """One of everything waits, put in the other way round."""
    outbox, ring = Outbox(), Ring()
    outbox.seen, outbox.most_pictures_per_s = 0, 10.0
    outbox.replay(replay(2))
    outbox.picture(encode(picture(5)), 0)
    outbox.snapshot = encode(snapshot(3))
    ring.add(points(1, 3))
    outbox.answer(Answered(id=4, done=True))
    briefing = Briefing(
        run="r",
        code_name="Heron",
        view=View.SIDE,
        belt_speed_kmh=None,
        own=(),
        blocks=(),
        pain_stop_over=5,
    )
    outbox.brief(encode(briefing))
    return outbox, ring


def test_the_order_is_briefing_answers_points_snapshot_picture_replay() -> None:
    assert [type(message) for message in sent(*full())] == [
        *(Briefing, Answered, Points, Snapshot, Picture),
        *(ReplayPicture, ReplayPicture, ReplayEnd),
    ]


def test_whatever_comes_in_the_middle_of_a_replay_goes_before_the_rest_of_it() -> None:
    outbox, ring = Outbox(), Ring()
    outbox.seen = 0
    outbox.replay(replay(600))
    for _ in range(100):
        assert isinstance(DECODER.decode(outbox.next(ring) or b""), ReplayPicture)
    outbox.snapshot = encode(snapshot(8))
    outbox.answer(Answered(id=2, done=True))
    ring.add(points(1, 2))
    outbox.picture(encode(picture(9)), 0)
    rest = sent(outbox, ring)
    assert [type(one) for one in rest[:4]] == [Answered, Points, Snapshot, Picture]
    assert len(rest) == 4 + 501
    assert [one.number for one in rest if isinstance(one, ReplayPicture)] == list(range(100, 600))


def test_a_slow_reader_gets_the_newest_snapshot_and_picture_only() -> None:
    outbox, ring = Outbox(), Ring()
    for number in range(1, 500):
        outbox.snapshot = encode(snapshot(number))
        outbox.picture(encode(picture(number)), number)
    shown = sent(outbox, ring)
    assert [type(one) for one in shown] == [Snapshot, Picture]
    assert isinstance(shown[0], Snapshot)
    assert isinstance(shown[1], Picture)
    assert (shown[0].number, shown[1].captured_ns) == (499, 499)


def test_a_replay_makes_its_pictures_one_at_a_time_and_only_when_they_are_read() -> None:
    made = 0

    def counted() -> Replay:
        nonlocal made
        for part in replay(600):
            made += 1
            yield part

    outbox, ring = Outbox(), Ring()
    outbox.replay(counted())
    assert made == 0
    outbox.next(ring)
    outbox.next(ring)
    assert made == 2


def test_a_second_replay_takes_the_place_of_the_first() -> None:
    outbox, ring = Outbox(), Ring()
    outbox.replay(replay(600, asked_id=1))
    outbox.next(ring)
    outbox.replay(replay(2, asked_id=2))
    parts = sent(outbox, ring)
    assert [one.id for one in parts if isinstance(one, ReplayPicture | ReplayEnd)] == [2, 2, 2]
    outbox.replay(replay(600))
    outbox.replay(iter(()))
    assert sent(outbox, ring) == [], "none at all ends the one under way"


def test_answers_are_bounded_and_the_newest_are_kept() -> None:
    outbox = Outbox()
    for number in range(10 * MOST_ANSWERS):
        outbox.answer(Answered(id=number, done=True))
    ids = [one.id for one in sent(outbox, Ring()) if isinstance(one, Answered)]
    assert ids == list(range(9 * MOST_ANSWERS, 10 * MOST_ANSWERS))


def test_a_screen_that_draws_nothing_gets_no_points() -> None:
    outbox, ring = Outbox(), Ring()
    ring.add(points(1, 5))
    assert sent(outbox, ring) == []


def test_a_reader_that_was_away_for_very_long_goes_on_with_the_oldest_there_is() -> None:
    outbox, ring = Outbox(), Ring()
    outbox.seen = 3
    ring.add(points(1, MOST_POINTS + 100))
    numbers = received(sent(outbox, ring))
    assert numbers == list(range(101, MOST_POINTS + 101))


def received(messages: list[FromStation]) -> list[int]:
    return [point.number for one in messages if isinstance(one, Points) for point in one.points]


@given(
    st.integers(0, 30),
    st.lists(st.tuples(st.integers(0, 2 * MOST_AT_ONCE), st.integers(0, 4)), max_size=6),
)
def test_points_come_once_each_in_order_without_a_gap(
    seen: int, turns: list[tuple[int, int]]
) -> None:
    """Each turn: so many points more, then so many messages read."""
    outbox, ring = Outbox(), Ring()
    ring.add(points(1, 30))
    outbox.seen, last = seen, 30
    found: list[FromStation] = []
    for more, reads in turns:
        ring.add(points(last + 1, last + more))
        last += more
        for _ in range(reads):
            if (data := outbox.next(ring)) is not None:
                found.append(DECODER.decode(data))
    found += sent(outbox, ring)
    assert received(found) == list(range(seen + 1, last + 1))
    assert all(len(one.points) <= MOST_AT_ONCE for one in found if isinstance(one, Points))


ACTS = st.lists(
    st.sampled_from(["answer", "point", "snapshot", "picture", "replay", "read"]), max_size=80
)


@given(ACTS)
def test_any_history_is_read_newest_first_where_it_counts(acts: list[str]) -> None:
    """What is read next is always the first in the order of all that waits then."""
    outbox, ring = Outbox(), Ring()
    outbox.seen = 0
    waits: dict[str, int] = {}
    parts = 0
    for number, act in enumerate(acts, start=1):
        match act:
            case "answer":
                outbox.answer(Answered(id=number, done=True))
                waits["answer"] = waits.get("answer", 0) + 1
            case "point":
                ring.add(points(ring.newest + 1, ring.newest + 1))
                waits["points"] = 1
            case "snapshot":
                outbox.snapshot = encode(snapshot(number))
                waits["snapshot"] = number
            case "picture":
                outbox.picture(encode(picture(number)), number)
                waits["picture"] = number
            case "replay":
                outbox.replay(replay(3))
                parts = 4
            case "read":
                data = outbox.next(ring)
                message = None if data is None else DECODER.decode(data)
                if waits.get("answer"):
                    assert isinstance(message, Answered)
                    waits["answer"] -= 1
                elif waits.pop("points", 0):
                    assert isinstance(message, Points)
                elif "snapshot" in waits:
                    assert isinstance(message, Snapshot)
                    assert message.number == waits.pop("snapshot")
                elif "picture" in waits:
                    assert isinstance(message, Picture)
                    assert message.captured_ns == waits.pop("picture")
                elif parts:
                    parts -= 1
                    assert isinstance(message, ReplayPicture if parts else ReplayEnd)
                else:
                    assert message is None
    ranks = [rank(message) for message in sent(outbox, ring)]
    assert ranks == sorted(ranks)


@pytest.mark.parametrize(
    ("most_per_s", "camera_per_s", "shown"), [(0, 30, 0), (5, 30, 25), (15, 30, 75), (30, 30, 150)]
)
def test_pictures_come_about_as_often_as_was_asked(
    most_per_s: float, camera_per_s: int, shown: int
) -> None:
    outbox = Outbox()
    outbox.most_pictures_per_s = most_per_s
    given_out = 0
    for number in range(5 * camera_per_s):
        jitter_ns = (number % 3 - 1) * 3_000_000  # cameras are never even
        at_ns = 1 * S + number * S // camera_per_s + jitter_ns
        if outbox.wants_picture(at_ns):
            outbox.picture(b"", at_ns)
            given_out += 1
    assert given_out == pytest.approx(shown, rel=0.21)


def test_nothing_is_made_twice() -> None:
    parts: Iterator[ReplayPicture | ReplayEnd] = replay(1)
    outbox, ring = Outbox(), Ring()
    outbox.replay(parts)
    assert len(sent(outbox, ring)) == 2
    assert outbox.next(ring) is None
    assert next(parts, None) is None
