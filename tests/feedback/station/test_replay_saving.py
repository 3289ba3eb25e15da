"""A video of a replay is written only on purpose, whole or not at all."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feedback.station import replay_buffer as module
from feedback.station.replay_buffer import ReplayBuffer
from feedback.texts.runner import words
from live.camera.jpeg import jpeg_of, write_video
from live.camera.opencv import cv2
from shared.changes import Answered
from shared.problems import UserError
from tests.feedback.station.replay_rig import (
    STEP_NS,
    fill,
    frame,
    image,
    make,
    pose,
    saved,
    until,
)

__all__ = ["make"]  # a fixture


def test_what_was_seen_is_what_is_saved_every_picture_in_order(
    make: Callable[..., ReplayBuffer], tmp_path: Path
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
def test_a_saved_video_is_its_owners_only(make: Callable[..., ReplayBuffer]) -> None:
    gallery = make()
    fill(gallery, range(10))
    list(gallery.replay(4, 1.0))
    before = os.umask(0o000)
    try:
        answer = saved(gallery, 4)
    finally:
        os.umask(before)
    assert stat.S_IMODE(Path(answer.why).stat().st_mode) == 0o600


def test_each_video_has_a_name_of_its_own(make: Callable[..., ReplayBuffer]) -> None:
    gallery = make()
    fill(gallery, range(10))
    list(gallery.replay(4, 1.0))
    names = [Path(saved(gallery, 4).why).name for _ in range(2)]
    assert names == [f"2026-11-25-0930-heron.replay-{number}.mp4" for number in (1, 2)]


def test_nothing_is_written_unasked(make: Callable[..., ReplayBuffer], tmp_path: Path) -> None:
    gallery = make()
    fill(gallery, range(100))
    list(gallery.replay(4, 20.0))
    gallery.close()
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_saved_is_told_in_plain_words(
    make: Callable[..., ReplayBuffer], tmp_path: Path
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
    make: Callable[..., ReplayBuffer], tmp_path: Path
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
    make: Callable[..., ReplayBuffer], monkeypatch: pytest.MonkeyPatch
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
    (refused,) = answers
    assert (refused.id, refused.done, refused.why) == (10, False, words("answer_still_saving"))
    go_on.set()
    until(lambda: len(answers) == 2)
    assert answers[1].done


@pytest.mark.skipif(sys.platform != "linux", reason="a thread's priority is a Linux matter")
def test_writing_a_video_lets_all_that_is_timed_go_first(
    make: Callable[..., ReplayBuffer], monkeypatch: pytest.MonkeyPatch
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


def test_close_waits_for_a_video_that_is_being_written(make: Callable[..., ReplayBuffer]) -> None:
    gallery = make()
    fill(gallery, range(60))
    list(gallery.replay(4, 20.0))
    answers: list[Answered] = []
    gallery.save(9, 4, answers.append)
    gallery.close()
    assert answers
    assert answers[0].done
    assert Path(answers[0].why).exists()
