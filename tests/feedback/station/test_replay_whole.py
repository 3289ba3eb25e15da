"""From a rendered clip through the real station to a panel: pictures, a replay, a video."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from feedback.demo import demo_clip, demo_profile
from feedback.journal.writer import Header, Journal
from feedback.link.client_state import LinkState
from feedback.link.local_client import LinkClient
from feedback.screens.replay.model import Clip
from feedback.sound.speaker import SilentSpeaker
from feedback.station.setup import SessionOutcome, StationSetup
from feedback.station.station import Station
from live.camera.opencv import cv2
from live.camera.sources import FileSource
from live.pose.model import PoseModel
from shared.changes import Answered
from shared.clock import anchor_now, now_ns
from shared.flow import EventKind, Side, View
from shared.landmarks import Landmark
from shared.messages import Role, SessionState
from shared.pictures import (
    AskReplay,
    Picture,
    ReplayEnd,
    ReplayPicture,
    SaveReplay,
    WatchPictures,
)
from tests.feedback.screens.replay_clip import FRAMES_PER_S, ON_THE_BODY, images
from tests.rendered.truth import load_truth

pytestmark = pytest.mark.model
RUNS_S = 9.0
Grey = NDArray[np.float64]


def until(check: Callable[[], Any], within_s: float = 30.0) -> Any:
    deadline = time.monotonic() + within_s
    while not (found := check()):
        assert time.monotonic() < deadline, "it never came to pass"
        time.sleep(0.01)
    return found


class Session:
    """A station that plays the bundled clip of the side view as if live, with a panel."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "2026-11-25T093000Z-heron.jsonl"
        athlete = demo_profile(View.SIDE).athlete
        self.station = Station(
            StationSetup(
                athlete=athlete,
                view=View.SIDE,
                source=FileSource(demo_clip(View.SIDE), as_live=True, loop=True),
                model=PoseModel(),
                speaker=SilentSpeaker(),
                spawn_screen=None,
                start_at_once=True,
                keep_pictures=True,
                record=self.path,
            )
        )
        self._header = Header(
            versions={},
            anchor=anchor_now(),
            source="clip",
            view=View.SIDE,
            athlete=athlete,
            athlete_text="",
            limits={},
        )
        port = self.station.open_link()
        self.panel = LinkClient(port, self.station.issue_token(Role.PANEL), Role.PANEL)
        self.over = threading.Event()

    def hold(self, meanwhile: Callable[[LinkClient], None]) -> SessionOutcome:
        """Run, with ``meanwhile`` in a thread of its own; Stop comes after it at the latest."""
        failures: list[BaseException] = []

        def do() -> None:
            try:
                until(lambda: self.panel.status().state is LinkState.JOINED)
                meanwhile(self.panel)
            except BaseException as error:  # noqa: BLE001 - told in the test's own thread
                failures.append(error)
            finally:
                self.panel.stop()

        def ping() -> None:
            while not self.over.wait(0.3):
                self.panel.ping()

        self.panel.start()
        threads = [threading.Thread(target=one) for one in (do, ping)]
        for thread in threads:
            thread.start()
        try:
            outcome = self.station.run(Journal(self.path, self._header))
        finally:
            self.over.set()
            for thread in threads:
                thread.join()
            self.panel.close()
            self.station.close()
        if failures:
            raise failures[0]
        return outcome


def got_replay(panel: LinkClient, asked_id: int) -> tuple[list[Picture], ReplayEnd]:
    panel.ask(AskReplay(id=asked_id, seconds=20))
    parts: list[ReplayPicture | ReplayEnd] = []

    def ended() -> bool:
        parts.extend(panel.take_replay())
        return bool(parts) and isinstance(parts[-1], ReplayEnd)

    until(ended)
    end = parts.pop()
    assert isinstance(end, ReplayEnd)
    return [one.picture for one in parts if isinstance(one, ReplayPicture)], end


def frame_of(picture: Picture, known: list[Grey]) -> int:
    """Which frame of the clip a picture shows: the one that looks most like it."""
    seen = grey(cv2.imdecode(np.frombuffer(picture.jpeg, np.uint8), cv2.IMREAD_COLOR))
    return int(np.argmin([np.abs(seen - one).mean() for one in known]))


def grey(image: Any) -> Grey:
    levels: Grey = np.asarray(image, np.float64).mean(axis=2)
    return levels


def test_a_panel_gets_pictures_and_a_replay_with_the_landmarks_on_the_runner(
    tmp_path: Path,
) -> None:
    session = Session(tmp_path)
    found: dict[str, Any] = {}

    def watch(panel: LinkClient) -> None:
        panel.ask(WatchPictures(most_per_s=10))
        until(lambda: panel.status().picture is not None)
        until(
            lambda: (
                (s := panel.status().snapshot)
                and s.state is SessionState.RUNNING
                and s.elapsed_s > RUNS_S
            )
        )
        found["preview"] = panel.status().picture
        found["pictures"], found["end"] = got_replay(panel, 11)
        panel.ask(SaveReplay(id=12, replay=11))
        found["answer"] = until(panel.take_answers)[0]

    outcome = session.hold(watch)
    assert outcome.problem is None
    pictures: list[Picture] = found["pictures"]
    end: ReplayEnd = found["end"]
    assert found["preview"].xy, "the preview has the landmarks too"
    assert len(pictures) == end.count
    # the model's first look at a picture takes its time
    assert RUNS_S - 2 < (pictures[-1].captured_ns - pictures[0].captured_ns) / 1e9 <= 20

    truth = load_truth(demo_clip(View.SIDE).with_suffix(".truth.json.xz"))
    known = [grey(image) for image in images(View.SIDE)]
    body_px = 380  # the runner's height in the clip
    off = []
    for picture in pictures[10 :: len(pictures) // 12]:  # a busy computer takes fewer of them
        number = frame_of(picture, known)
        for name, landmark in ON_THE_BODY.items():
            if landmark in (Landmark.LEFT_SHOULDER, Landmark.LEFT_HIP, Landmark.RIGHT_HIP):
                true = truth.pixels[number, truth.joint_index(name)]
                x, y = picture.xy[2 * landmark : 2 * landmark + 2]
                off.append(
                    np.hypot(x * picture.width_px - true[0], y * picture.height_px - true[1])
                )
    assert len(off) > 20
    assert np.median(off) < 0.06 * body_px
    assert np.max(off) < 0.15 * body_px

    # The contacts that can be jumped to are those of the clip, to a picture or so.
    clip = Clip(tuple(one.captured_ns for one in pictures), end.marks)
    assert {contact.side for contact in clip.contacts} == set(Side)
    steps_per_s = truth.meta["cadence_spm"] / 60
    assert len(clip.contacts) > 0.4 * steps_per_s * RUNS_S
    contacts = [one for one in truth.events if one["kind"] == EventKind.CONTACT]
    late_ms = []
    for contact in clip.contacts[4:]:
        number = frame_of(pictures[contact.frame], known)
        at_s = number / FRAMES_PER_S + (contact.at_ns - clip.times_ns[contact.frame]) / 1e9
        same = [one["time_s"] for one in contacts if one["side"] == contact.side]
        late_ms.append(1e3 * min((at_s - one for one in same), key=abs))
    assert np.median(np.abs(late_ms)) < 40

    answer: Answered = found["answer"]
    assert answer.done, answer.why
    assert answer.why == str(tmp_path / "2026-11-25T093000Z-heron.replay-1.mp4")
    video = cv2.VideoCapture(answer.why)
    count = 0
    while video.read()[0]:
        count += 1
    assert count == len(pictures)


def test_stop_is_heard_at_once_while_a_replay_is_sent_and_saved(tmp_path: Path) -> None:
    session = Session(tmp_path)
    times: dict[str, int] = {}

    def stop_in_the_middle(panel: LinkClient) -> None:
        until(lambda: (s := panel.status().snapshot) and s.elapsed_s > 6.0)
        got_replay(panel, 21)
        panel.ask(SaveReplay(id=22, replay=21))
        panel.ask(AskReplay(id=23, seconds=20))
        times["asked"] = now_ns()
        panel.stop()
        until(
            lambda: (s := panel.status().snapshot) is not None and s.state is SessionState.STOPPED
        )
        times["stopped"] = now_ns()

    outcome = session.hold(stop_in_the_middle)
    assert outcome.saved
    assert (times["stopped"] - times["asked"]) / 1e9 < 1.0
