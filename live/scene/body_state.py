"""Looks at each frame and its pose for what ends a session or makes the picture doubtful."""

from __future__ import annotations

import numpy as np

from live.camera.opencv import cv2
from live.scene.background import HEIGHT, WIDTH, Backdrop, CameraWatch
from live.scene.posture import Posture, box_of, hand_up
from shared.flow import Body, FloatArray, Frame, Pose, View


class BodyState:
    """For one runner in one view; give it every frame with its pose, in the order of capture."""

    def __init__(self, view: View, remembered: Backdrop | None = None) -> None:
        """``remembered``: the room as it was when the belt's edges were set, some other day."""
        self._posture = Posture(view)
        self._camera = CameraWatch(remembered)
        self._waiting: tuple[Frame, Pose] | None = None

    def see(self, frame: Frame, pose: Pose) -> Body:
        """What this frame shows; how the camera stands is told by the frames before it."""
        self.settle()
        self._waiting = (frame, pose)
        present = pose.people > 0
        camera = self._camera.standing
        return Body(
            captured_ns=frame.captured_ns,
            present=present,
            hand_up=present and hand_up(pose),
            hips_up=self._posture.hips_up(pose) if present else None,
            place=self._posture.place(pose) if present else None,
            camera_moved=camera.moved,
            camera_elsewhere=camera.elsewhere,
        )

    @property
    def unsettled(self) -> bool:
        """Whether :meth:`settle` has something to do that takes its time."""
        return self._waiting is not None and self._camera.is_due(self._waiting[0].captured_ns)

    def settle(self) -> None:
        """Do what can wait until the last frame's cues are out; the next ``see`` does it too.

        It may be done in another thread, as long as nothing else is asked of this meanwhile.
        """
        if self._waiting is None:
            return
        (frame, pose), self._waiting = self._waiting, None
        if self._camera.is_due(frame.captured_ns):
            box = box_of(pose) if pose.people > 0 else None
            self._camera.look(tiny_grey(frame), box, frame.captured_ns)


def tiny_grey(frame: Frame) -> FloatArray:
    """The frame as a tiny grey picture (48, 64)."""
    small = cv2.resize(frame.image, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    return cv2.cvtColor(small, cv2.COLOR_BGR2GRAY).astype(np.float64)
