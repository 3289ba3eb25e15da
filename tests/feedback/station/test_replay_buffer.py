"""The last pictures in memory: how many, in what order, and what is asked of them."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from feedback.station import replay_buffer as module
from feedback.station.replay_buffer import KEPT_NS, QUEUE_LENGTH, ReplayBuffer
from feedback.texts.runner import words
from live.camera.jpeg import jpeg_of
from shared.changes import Answered
from shared.flow import Frame
from shared.pictures import AskReplay, Picture, ReplayEnd, ReplayPicture, SaveReplay
from tests.feedback.station.replay_rig import (
    HIGH,
    MS,
    STEP_NS,
    WIDE,
    decode,
    fill,
    frame,
    image,
    make,
    pictures,
    pose,
    until,
)

__all__ = ["make"]  # a fixture


def test_twenty_seconds_are_kept_and_no_more(make: Callable[..., ReplayBuffer]) -> None:
    gallery = make()
    fill(gallery, range(700))
    kept = pictures(gallery)
    assert kept[-1].captured_ns == 699 * STEP_NS
    assert kept[-1].captured_ns - kept[0].captured_ns <= KEPT_NS
    assert len(kept) == 601  # both ends of 20 s at 30 pictures a second
    assert [one.captured_ns for one in kept] == [n * STEP_NS for n in range(99, 700)]


def test_memory_is_bounded_by_bytes_too(
    make: Callable[..., ReplayBuffer], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_BYTES", 40_000)
    gallery = make()
    fill(gallery, range(200))
    kept = pictures(gallery)
    assert 2 < len(kept) < 200
    assert sum(len(one.jpeg) for one in kept) <= 40_000
    assert kept[-1].captured_ns == 199 * STEP_NS


def test_a_replay_comes_in_order_with_its_number_and_all_marks(
    make: Callable[..., ReplayBuffer],
) -> None:
    gallery = make()
    fill(gallery, range(300))
    parts = list(gallery.replay(5, 4.0))
    shots = [part for part in parts if isinstance(part, ReplayPicture)]
    end = parts[-1]
    assert isinstance(end, ReplayEnd)
    assert [shot.number for shot in shots] == list(range(121))
    assert {(shot.id, shot.count) for shot in shots} == {(5, 121)}
    assert (end.id, end.count) == (5, 121)
    assert [mark.at_ns for mark in end.marks] == [
        number * STEP_NS - 7 * MS for number in range(185, 300, 10)
    ]


def test_pictures_carry_landmarks_as_shares_and_the_marks_before_them(
    make: Callable[..., ReplayBuffer],
) -> None:
    gallery = make()
    fill(gallery, range(100))
    newest = pictures(gallery)[-1]
    assert newest.xy[:2] == (0.25, 0.5)
    assert set(newest.xy[2:]) == {-1.0}, "an unknown landmark is -1, never NaN"
    assert [mark.at_ns for mark in newest.marks] == [
        number * STEP_NS - 7 * MS for number in range(45, 100, 10)
    ]
    decoded = decode(newest.jpeg)
    assert decoded.shape == (HIGH, WIDE, 3)
    assert abs(float(decoded.mean()) - image(99).mean()) < 2


def test_nobody_has_no_landmarks(make: Callable[..., ReplayBuffer]) -> None:
    gallery = make()
    fill(gallery, range(3), people=0)
    assert {one.xy for one in pictures(gallery)} == {()}


def test_wide_pictures_are_made_smaller() -> None:
    jpeg, width, height = jpeg_of(np.zeros((1080, 1920, 3), np.uint8), 960)
    assert (width, height) == (960, 540)
    assert decode(jpeg).shape == (540, 960, 3)


def test_frames_that_come_too_fast_are_left_out_and_counted(
    make: Callable[..., ReplayBuffer],
) -> None:
    holds, shown = threading.Event(), threading.Event()

    def show(_: Picture) -> None:
        shown.set()
        holds.wait(20)

    gallery = make(show, lambda: 15.0)
    gallery.add(frame(0), pose(0), ())
    assert shown.wait(20), "the thread is busy from now on"
    for number in range(1, QUEUE_LENGTH + 6):
        gallery.add(frame(number), pose(number), ())
    assert gallery.missed == 5
    holds.set()
    until(lambda: len(pictures(gallery)) == QUEUE_LENGTH + 1)


def test_pictures_are_shown_only_while_somebody_looks(make: Callable[..., ReplayBuffer]) -> None:
    shown: list[Picture] = []
    rates = [0.0]
    gallery = make(shown.append, lambda: rates[0])
    fill(gallery, range(10))
    assert shown == []
    rates[0] = 5.0
    fill(gallery, range(10, 12))
    assert [one.captured_ns for one in shown] == [10 * STEP_NS, 11 * STEP_NS]


def test_a_picture_that_fails_does_not_end_the_others(make: Callable[..., ReplayBuffer]) -> None:
    gallery = make()
    broken = Frame(image=np.zeros((0, 0, 3), np.uint8), captured_ns=1, index=0)
    gallery.add(broken, pose(0), ())
    until(lambda: gallery.failure != "")
    fill(gallery, range(5, 10))
    assert len(pictures(gallery)) == 5


# ---- asked over the link


def test_a_replay_of_no_seconds_ends_and_lets_go(make: Callable[..., ReplayBuffer]) -> None:
    gallery = make()
    fill(gallery, range(10))
    answers: list[object] = []
    gallery.ask(AskReplay(id=4, seconds=5), answers.append)
    gallery.ask(AskReplay(id=4, seconds=0), answers.append)
    _, ended = answers
    assert isinstance(ended, Iterator)
    assert list(ended) == []
    gallery.ask(SaveReplay(id=6, replay=4), answers.append)
    (refused,) = answers[2:]
    assert isinstance(refused, Answered)
    assert (refused.id, refused.done, refused.why) == (6, False, words("answer_other_replay"))


def test_before_the_first_picture_a_replay_is_an_end_at_once(
    make: Callable[..., ReplayBuffer],
) -> None:
    assert list(make().replay(3, 20.0)) == [ReplayEnd(id=3, count=0, marks=())]


def test_a_slow_reader_holds_no_more_than_its_replay(make: Callable[..., ReplayBuffer]) -> None:
    """However long it reads, what is kept for it is what was there when it asked."""
    gallery = make()
    fill(gallery, range(100))
    slow = gallery.replay(4, 2.0)
    first = next(slow)
    fill(gallery, range(100, 900))
    rest = list(slow)
    assert isinstance(first, ReplayPicture)
    assert first.picture.captured_ns == 39 * STEP_NS
    assert len(rest) == 61
    shots = [one.picture for one in rest if isinstance(one, ReplayPicture)]
    assert shots[-1].captured_ns == 99 * STEP_NS


def test_close_frees_all_and_ends_the_thread(make: Callable[..., ReplayBuffer]) -> None:
    before = threading.active_count()
    gallery = make()
    fill(gallery, range(50))
    list(gallery.replay(4, 20.0))
    gallery.close()
    assert list(gallery.replay(5, 20.0)) == [ReplayEnd(id=5, count=0, marks=())]
    assert gallery._kept_bytes == 0
    assert threading.active_count() == before
    gallery.close()
