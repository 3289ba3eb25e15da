"""The last pictures in memory: how many, in what order, and a video of them only on purpose."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feedback import gallery as module
from feedback.gallery import KEPT_NS, QUEUE_LENGTH, Gallery
from feedback.screens.wording import words
from live.opencv import cv2
from live.pictures import jpeg_of, write_video
from shared.changes import Answered
from shared.landmarks import LANDMARK_COUNT
from shared.pictures import AskReplay, Picture, ReplayEnd, ReplayPicture, SaveReplay
from shared.problems import UserError
from shared.records import EventKind, Frame, GaitEvent, Pose, Side

MS, S = 1_000_000, 1_000_000_000
STEP_NS = S // 30
WIDE, HIGH = 64, 48


def image(number: int) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """A grey that tells the number (in steps that JPEG and video keep apart)."""
    return np.full((HIGH, WIDE, 3), 20 + 8 * (number % 25), np.uint8)


def decode(jpeg: bytes) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    return np.asarray(cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR), np.uint8)


def frame(number: int, step_ns: int = STEP_NS) -> Frame:
    return Frame(image=image(number), captured_ns=number * step_ns, index=number)


def pose(number: int, people: int = 1) -> Pose:
    xy = np.full((LANDMARK_COUNT, 2), np.nan)
    xy[0] = (WIDE / 4, HIGH / 2)
    return Pose(
        captured_ns=number * STEP_NS,
        index=number,
        width_px=WIDE,
        height_px=HIGH,
        xy_px=xy,
        visibility=np.ones(LANDMARK_COUNT),
        people=people,
    )


def contact(at_ns: int, side: Side = Side.LEFT) -> GaitEvent:
    return GaitEvent(
        kind=EventKind.CONTACT,
        side=side,
        at_ns=at_ns,
        captured_ns=at_ns + 7 * MS,
        quality=1.0,
        uncertainty_ms=10.0,
    )


@pytest.fixture
def make(tmp_path: Path) -> Iterator[Callable[..., Gallery]]:
    """Galleries that are closed in the end."""
    made: list[Gallery] = []

    def build(
        show: Callable[[Picture], None] = lambda _: None,
        wanted: Callable[[], float] = lambda: 0.0,
        record: Path | None = tmp_path / "2026-11-25-0930-heron.jsonl",
    ) -> Gallery:
        made.append(Gallery(show, wanted, record))
        return made[-1]

    yield build
    for one in made:
        one.close()


def fill(gallery: Gallery, numbers: range, step_ns: int = STEP_NS, people: int = 1) -> None:
    """Give pictures as fast as they are taken in, with a contact every tenth."""
    for number in numbers:
        events = (contact(number * step_ns - 7 * MS),) if number % 10 == 5 else ()
        missed = gallery.missed
        while True:  # a queue that is full is waited for here, so that none is missed
            gallery.add(frame(number, step_ns), pose(number, people), events)
            if gallery.missed == missed:
                break
            missed, events = gallery.missed, ()
            time.sleep(0.001)
    last_ns = numbers[-1] * step_ns
    until(lambda: (p := pictures(gallery)) != [] and p[-1].captured_ns == last_ns)


def until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 20
    while not true():
        assert time.monotonic() < deadline, "it never came"
        time.sleep(0.002)


def pictures(gallery: Gallery, seconds: float = 20.0) -> list[Picture]:
    return [one.picture for one in gallery.replay(1, seconds) if isinstance(one, ReplayPicture)]


def saved(gallery: Gallery, replay: int) -> Answered:
    answers: list[Answered] = []
    gallery.save(9, replay, answers.append)
    until(lambda: bool(answers))
    return answers[0]


def test_twenty_seconds_are_kept_and_no_more(make: Callable[..., Gallery]) -> None:
    gallery = make()
    fill(gallery, range(700))
    kept = pictures(gallery)
    assert kept[-1].captured_ns == 699 * STEP_NS
    assert kept[-1].captured_ns - kept[0].captured_ns <= KEPT_NS
    assert len(kept) == 601  # both ends of 20 s at 30 pictures a second
    assert [one.captured_ns for one in kept] == [n * STEP_NS for n in range(99, 700)]


def test_memory_is_bounded_by_bytes_too(
    make: Callable[..., Gallery], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_BYTES", 40_000)
    gallery = make()
    fill(gallery, range(200))
    kept = pictures(gallery)
    assert 2 < len(kept) < 200
    assert sum(len(one.jpeg) for one in kept) <= 40_000
    assert kept[-1].captured_ns == 199 * STEP_NS


def test_a_replay_comes_in_order_with_its_number_and_all_marks(
    make: Callable[..., Gallery],
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
    make: Callable[..., Gallery],
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


def test_nobody_has_no_landmarks(make: Callable[..., Gallery]) -> None:
    gallery = make()
    fill(gallery, range(3), people=0)
    assert {one.xy for one in pictures(gallery)} == {()}


def test_wide_pictures_are_made_smaller() -> None:
    jpeg, width, height = jpeg_of(np.zeros((1080, 1920, 3), np.uint8), 960)
    assert (width, height) == (960, 540)
    assert decode(jpeg).shape == (540, 960, 3)


def test_frames_that_come_too_fast_are_left_out_and_counted(make: Callable[..., Gallery]) -> None:
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


def test_pictures_are_shown_only_while_somebody_looks(make: Callable[..., Gallery]) -> None:
    shown: list[Picture] = []
    rates = [0.0]
    gallery = make(shown.append, lambda: rates[0])
    fill(gallery, range(10))
    assert shown == []
    rates[0] = 5.0
    fill(gallery, range(10, 12))
    assert [one.captured_ns for one in shown] == [10 * STEP_NS, 11 * STEP_NS]


def test_a_picture_that_fails_does_not_end_the_others(make: Callable[..., Gallery]) -> None:
    gallery = make()
    broken = Frame(image=np.zeros((0, 0, 3), np.uint8), captured_ns=1, index=0)
    gallery.add(broken, pose(0), ())
    until(lambda: gallery.failure != "")
    fill(gallery, range(5, 10))
    assert len(pictures(gallery)) == 5


# ---- saved on purpose


def test_what_was_seen_is_what_is_saved_every_picture_in_order(
    make: Callable[..., Gallery], tmp_path: Path
) -> None:
    gallery = make()
    fill(gallery, range(90))
    list(gallery.replay(4, 1.0))
    for number in range(90, 100):  # newer pictures come in before it is saved
        gallery.add(frame(number), pose(number), ())
        time.sleep(0.01)
    answer = saved(gallery, 4)
    assert answer.done
    path = Path(answer.why)
    video = cv2.VideoCapture(str(path))
    greys = []
    while (read := video.read())[0]:
        greys.append(float(read[1].mean()))
    assert video.get(cv2.CAP_PROP_FPS) == pytest.approx(30, abs=0.1)
    assert len(greys) == 31
    wanted = [float(image(number).mean()) for number in range(59, 90)]
    assert np.abs(np.array(greys) - wanted).max() < 4, "these pictures, in this order"
    assert sorted(one.name for one in tmp_path.iterdir()) == [path.name]


@pytest.mark.skipif(os.name != "posix", reason="modes of files are a POSIX matter")
def test_a_saved_video_is_its_owners_only(make: Callable[..., Gallery]) -> None:
    gallery = make()
    fill(gallery, range(10))
    list(gallery.replay(4, 1.0))
    before = os.umask(0o000)
    try:
        answer = saved(gallery, 4)
    finally:
        os.umask(before)
    assert stat.S_IMODE(Path(answer.why).stat().st_mode) == 0o600


def test_each_video_has_a_name_of_its_own(make: Callable[..., Gallery]) -> None:
    gallery = make()
    fill(gallery, range(10))
    list(gallery.replay(4, 1.0))
    names = [Path(saved(gallery, 4).why).name for _ in range(2)]
    assert names == [f"2026-11-25-0930-heron.replay-{number}.mp4" for number in (1, 2)]


def test_nothing_is_written_unasked(make: Callable[..., Gallery], tmp_path: Path) -> None:
    gallery = make()
    fill(gallery, range(100))
    list(gallery.replay(4, 20.0))
    gallery.close()
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_saved_is_told_in_plain_words(
    make: Callable[..., Gallery], tmp_path: Path
) -> None:
    gallery = make()
    assert saved(gallery, 4).why == words("answer_other_replay"), "none was asked for"
    list(gallery.replay(4, 1.0))
    assert saved(gallery, 4).why == words("answer_no_pictures")
    fill(gallery, range(10))
    list(gallery.replay(5, 1.0))
    assert saved(gallery, 4).why == words("answer_other_replay")
    gallery.let_go(4)
    assert saved(gallery, 5).done, "another's number lets go of nothing"
    gallery.let_go(5)
    assert saved(gallery, 5).why == words("answer_other_replay")
    unrecorded = make(record=None)
    fill(unrecorded, range(10))
    list(unrecorded.replay(4, 1.0))
    assert saved(unrecorded, 4).why == words("answer_no_record")
    nowhere = make(record=tmp_path / "gone" / "session.jsonl")
    fill(nowhere, range(10))
    list(nowhere.replay(4, 1.0))
    answer = saved(nowhere, 4)
    assert not answer.done
    assert "could not be saved (No such file or directory)" in answer.why
    assert "choose another folder" in answer.why


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can make a disk of its own that is full")
def test_a_full_disk_is_told_and_leaves_nothing_behind(
    make: Callable[..., Gallery], tmp_path: Path
) -> None:
    disk = tmp_path / "small"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)], check=False
    )
    if mounted.returncode != 0:
        pytest.skip("no disk of its own can be made here")
    try:
        noise = np.random.default_rng(5).integers(0, 255, (240, 320, 3), np.uint8)
        jpeg, _, _ = jpeg_of(noise, 320)
        with pytest.raises(UserError) as caught:
            write_video(disk / "a.mp4", [(number * STEP_NS, jpeg) for number in range(60)])
        assert caught.value.problem.code == "save_failed"
        assert "the disk is full" in caught.value.problem.title
        assert list(disk.iterdir()) == []
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_video_that_was_cut_short_is_never_called_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = cv2.VideoWriter

    class Forgetful:
        """A writer that loses every second picture, and never says so."""

        fourcc = staticmethod(real.fourcc)

        def __init__(self, *arguments: Any) -> None:
            self._writer, self._count = real(*arguments), 0

        def write(self, picture: Any) -> None:
            self._count += 1
            if self._count % 2:
                self._writer.write(picture)

        def release(self) -> None:
            self._writer.release()

    monkeypatch.setattr(cv2, "VideoWriter", Forgetful)
    jpeg, _, _ = jpeg_of(image(1), 320)
    with pytest.raises(UserError):
        write_video(tmp_path / "a.mp4", [(number * STEP_NS, jpeg) for number in range(10)])
    assert list(tmp_path.iterdir()) == []


def test_pictures_come_on_while_a_video_is_written(
    make: Callable[..., Gallery], monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = threading.Event(), threading.Event()

    def slow(*arguments: object) -> None:
        begun.set()
        assert go_on.wait(20)

    monkeypatch.setattr(module, "write_video", slow)
    gallery = make()
    fill(gallery, range(10))
    list(gallery.replay(4, 1.0))
    answers: list[Answered] = []
    gallery.save(9, 4, answers.append)
    assert begun.wait(20)
    fill(gallery, range(10, 60))
    gallery.replay(4, 1.0)
    gallery.save(10, 4, answers.append)
    assert answers == [Answered(id=10, done=False, why=words("answer_still_saving"))]
    go_on.set()
    until(lambda: len(answers) == 2)
    assert answers[1].done


@pytest.mark.skipif(sys.platform != "linux", reason="a thread's priority is a Linux matter")
def test_writing_a_video_lets_all_that_is_timed_go_first(
    make: Callable[..., Gallery], monkeypatch: pytest.MonkeyPatch
) -> None:
    own = os.getpriority(os.PRIO_PROCESS, 0)
    seen: list[int] = []

    def look(*arguments: object) -> None:
        seen.append(os.getpriority(os.PRIO_PROCESS, 0))

    monkeypatch.setattr(module, "write_video", look)
    gallery = make()
    fill(gallery, range(10))
    list(gallery.replay(4, 1.0))
    assert saved(gallery, 4).done
    assert seen == [min(19, own + 5)]
    assert os.getpriority(os.PRIO_PROCESS, 0) == own, "this thread and all others are as before"


# ---- asked over the link


def test_a_replay_of_no_seconds_ends_and_lets_go(make: Callable[..., Gallery]) -> None:
    gallery = make()
    fill(gallery, range(10))
    answers: list[object] = []
    gallery.ask(AskReplay(id=4, seconds=5), answers.append)
    gallery.ask(AskReplay(id=4, seconds=0), answers.append)
    _, ended = answers
    assert isinstance(ended, Iterator)
    assert list(ended) == []
    gallery.ask(SaveReplay(id=6, replay=4), answers.append)
    assert answers[-1] == Answered(id=6, done=False, why=words("answer_other_replay"))


def test_before_the_first_picture_a_replay_is_an_end_at_once(make: Callable[..., Gallery]) -> None:
    assert list(make().replay(3, 20.0)) == [ReplayEnd(id=3, count=0, marks=())]


def test_a_slow_reader_holds_no_more_than_its_replay(make: Callable[..., Gallery]) -> None:
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


def test_close_frees_all_and_ends_the_thread(make: Callable[..., Gallery]) -> None:
    before = threading.active_count()
    gallery = make()
    fill(gallery, range(50))
    list(gallery.replay(4, 20.0))
    gallery.close()
    assert list(gallery.replay(5, 20.0)) == [ReplayEnd(id=5, count=0, marks=())]
    assert gallery._kept_bytes == 0
    assert threading.active_count() == before
    gallery.close()


def test_close_waits_for_a_video_that_is_being_written(make: Callable[..., Gallery]) -> None:
    gallery = make()
    fill(gallery, range(60))
    list(gallery.replay(4, 20.0))
    answers: list[Answered] = []
    gallery.save(9, 4, answers.append)
    gallery.close()
    assert answers
    assert answers[0].done
    assert Path(answers[0].why).exists()
