"""Checks of the camera and its place, from poses and pictures of the last seconds (pure)."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Final

import numpy as np

from live.pipeline import Pipeline, Setup
from live.scene import camera_placement as placing
from live.scene.camera_placement import Placing
from live.scene.picture_values import PictureFacts
from live.scene.view import ViewWatch
from shared.flow import EventKind, Pose, View
from shared.pictures import Check, CheckState
from shared.problems import Problem
from shared.units import NS_PER_S

WINDOW_NS: Final = 2 * NS_PER_S
FEWEST_POSES: Final = 12
"""Fewer in the window tell nothing."""
SEEN_SHARE: Final = 0.6
"""Somebody must be found in so many of the frames."""
MARGIN: Final = 0.02
"""Least room between body and picture edge, share of the picture (our choice: a sway of 3 cm)."""
HEIGHT_LEAST: Final = 0.5
HEIGHT_MOST: Final = 0.94
"""Body height, share of the picture's. Below, a centimetre is less than 1.5 px of a 480 px picture
(our choice)."""
LEVEL_DEG: Final = 3.0
"""More roll than this goes straight into trunk lean and side lean (our choice)."""
SIDE_YAW_DEG: Final = (-6.0, 20.0)
"""From square to well toward the runner's front. Turned 12 degrees to the front the pose model
swaps the legs in 0.9 % of frames, square 10 to 12 %, to the back 20 % (rendered clips)."""
ACROSS_YAW_DEG: Final = (-8.0, 8.0)
"""From behind and in front; at 8 degrees, sideways lengths are 1 % too short (cosine)."""
DARK_BELOW: Final = 40.0
"""Median grey level, 0 to 255; and the others: our choices, tried on darkened pictures."""
BURNT_OVER: Final = 0.30
BACKLIT_BODY_BELOW: Final = 50.0
BACKLIT_AROUND_OVER: Final = 0.25
SOFT_OVER: Final = 0.57
"""Blur after Crete et al. 2007, 0 to 1: sharp clips reach 0.35, smoothed over 1 px 0.50, over 2 px
0.61 and more."""
FEWEST_PER_S: Final = 23.0
"""24 a second is the slowest rate at which the timing of contacts was checked; one less for
pictures that are late."""


@dataclass(frozen=True, slots=True)
class CameraFacts:
    """What is known beside the pictures."""

    frames_per_s: float | None
    """None while it is too early to say."""
    moved: bool
    """The camera was moved just now."""
    edges_set: bool
    pictures_come: bool | None = True
    """None while the camera is being opened."""


class SetupChecks:
    """Takes poses and pictures in the order of capture and says how each check stands."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._poses: deque[Pose] = deque()
        self._pictures: deque[PictureFacts] = deque()
        self._pipeline = Pipeline(Setup(view))
        self._unmeasured: tuple[Problem, ...] = ()
        self._stretched = False
        self._step_ns: int | None = None

    def add_pose(self, pose: Pose) -> None:
        """Take in the pose of a frame, also one without anybody."""
        self._poses.append(pose)
        while pose.captured_ns - self._poses[0].captured_ns > WINDOW_NS:
            self._poses.popleft()
        update = self._pipeline.update(pose)
        self._unmeasured = update.unmeasured
        self._stretched = "picture_stretched" in update.doubts
        if update.measures or any(event.kind is EventKind.CONTACT for event in update.events):
            self._step_ns = pose.captured_ns

    def add_picture(self, facts: PictureFacts) -> None:
        """Take in what a picture's pixels show; a few a second are enough."""
        self._pictures.append(facts)
        while facts.at_ns - self._pictures[0].at_ns > WINDOW_NS:
            self._pictures.popleft()

    @property
    def placing(self) -> Placing | None:
        """How the body stands in the picture; None while too little is seen."""
        seen = [pose for pose in self._poses if pose.people > 0]
        if len(seen) < max(FEWEST_POSES, SEEN_SHARE * len(self._poses)):
            return None
        return placing.find(seen, self._view)

    def checks(self, camera: CameraFacts) -> tuple[Check, ...]:
        """How all of them stand, in the order in which they are put right."""
        placed = self.placing
        return (
            _camera(camera.pictures_come),
            _check("still", not camera.moved, "stand_still"),
            _frame_rate(camera.frames_per_s),
            self._light(),
            self._blur(),
            self._person(placed),
            self._view_check(placed),
            _whole_body(placed),
            _distance(placed),
            self._level(placed),
            _square(placed, self._view),
            *self._steps(),
            _check("belt_edges", camera.edges_set, "draw_edges"),
        )

    def _person(self, placed: Placing | None) -> Check:
        if len(self._poses) < FEWEST_POSES:
            return Check(key="person", standing=CheckState.UNKNOWN)
        if any(pose.people > 1 for pose in self._poses):
            return Check(key="person", standing=CheckState.TO_DO, advice="others_out")
        return _check("person", placed is not None, "step_in")

    def _steps(self) -> tuple[Check, ...]:
        """Whether steps are measured; nothing while nobody runs, since this can be left out."""
        if self._unmeasured:
            return (_check("steps", False, f"steps_{self._unmeasured[0].code}"),)
        if self._stretched:
            return (_check("steps", False, "steps_picture_stretched"),)
        if self._step_ns is None or self._poses[-1].captured_ns - self._step_ns > WINDOW_NS:
            return ()
        return (_check("steps", True, ""),)

    def _view_check(self, placed: Placing | None) -> Check:
        if placed is None:
            return Check(key="view", standing=CheckState.UNKNOWN)
        watch = ViewWatch()
        for pose in self._poses:
            watch.add(pose.xy_px)
        return _check("view", watch.seen is self._view, f"view_{self._view}")

    def _light(self) -> Check:
        if not self._pictures:
            return Check(key="light", standing=CheckState.UNKNOWN)
        brightness = float(np.median([facts.brightness for facts in self._pictures]))
        burnt = float(np.median([facts.burnt_share for facts in self._pictures]))
        backlit = [
            facts.body_brightness < BACKLIT_BODY_BELOW
            and facts.around_burnt_share > BACKLIT_AROUND_OVER
            for facts in self._pictures
            if facts.body_brightness is not None and facts.around_burnt_share is not None
        ]
        advice = ""
        if backlit and np.mean(backlit) > 0.5:
            advice = "backlit"
        elif brightness < DARK_BELOW:
            advice = "lighter"
        elif burnt > BURNT_OVER:
            advice = "darker"
        return _told("light", advice)

    def _blur(self) -> Check:
        if not self._pictures:
            return Check(key="blur", standing=CheckState.UNKNOWN)
        softness = float(np.median([facts.softness for facts in self._pictures]))
        return _check("blur", softness <= SOFT_OVER, "clean_lens")

    def _level(self, placed: Placing | None) -> Check:
        """By the room's upright lines; else by the body's midline, which is upright from behind."""
        turned = [facts.roll_deg for facts in self._pictures if facts.roll_deg is not None]
        roll_deg = None
        if len(turned) > 0.5 * len(self._pictures):
            roll_deg = float(np.median(turned))
        elif placed is not None:
            roll_deg = placed.roll_deg
        if roll_deg is None:
            return Check(key="level", standing=CheckState.UNKNOWN, advice="level_by_eye")
        advice = ""
        if abs(roll_deg) > LEVEL_DEG:
            advice = "raise_right" if roll_deg > 0 else "raise_left"
        return _told("level", advice, roll_deg, "deg")


def all_pass(checks: tuple[Check, ...]) -> bool:
    """Whether nothing is left to do; what only the eye can tell stands in nobody's way."""
    return all(
        check.standing is CheckState.PASS
        or (check.standing is CheckState.UNKNOWN and check.advice != "")
        for check in checks
    )


def _camera(pictures_come: bool | None) -> Check:
    if pictures_come is None:
        return Check(key="camera", standing=CheckState.UNKNOWN)
    return _check("camera", pictures_come, "no_picture")


def _frame_rate(frames_per_s: float | None) -> Check:
    if frames_per_s is None:
        return Check(key="frame_rate", standing=CheckState.UNKNOWN)
    advice = "" if frames_per_s >= FEWEST_PER_S else "faster"
    return _told("frame_rate", advice, frames_per_s, "/s")


def _whole_body(placed: Placing | None) -> Check:
    if placed is None:
        return Check(key="whole_body", standing=CheckState.UNKNOWN)
    left, top, right, bottom = placed.box
    cut = (left < MARGIN, top < MARGIN, right > 1 - MARGIN, bottom > 1 - MARGIN)
    advice = {
        (False, False, False, False): "",
        (False, True, False, False): "tilt_up",
        (False, False, False, True): "tilt_down",
        (True, False, False, False): "turn_left",
        (False, False, True, False): "turn_right",
    }.get(cut, "further")
    return _told("whole_body", advice)


def _distance(placed: Placing | None) -> Check:
    if placed is None:
        return Check(key="distance", standing=CheckState.UNKNOWN)
    share = placed.height_share
    advice = "nearer" if share < HEIGHT_LEAST else "further" if share > HEIGHT_MOST else ""
    return _told("distance", advice, 100 * share, "%")


def _square(placed: Placing | None, view: View) -> Check:
    if placed is None:
        return Check(key="square", standing=CheckState.UNKNOWN)
    if placed.yaw_deg is None:
        return Check(key="square", standing=CheckState.UNKNOWN, advice="square_by_eye")
    side = view is View.SIDE
    least, most = SIDE_YAW_DEG if side else ACROSS_YAW_DEG
    advice = ""
    if placed.yaw_deg < least:
        advice = "to_front" if side else "to_right"
    elif placed.yaw_deg > most:
        advice = "to_back" if side else "to_left"
    return _told("square", advice, placed.yaw_deg, "deg")


def _check(key: str, passed: bool, advice: str) -> Check:
    return _told(key, "" if passed else advice)


def _told(key: str, advice: str, value: float | None = None, unit: str = "") -> Check:
    standing = CheckState.TO_DO if advice else CheckState.PASS
    return Check(key=key, standing=standing, advice=advice, value=value, unit=unit)
