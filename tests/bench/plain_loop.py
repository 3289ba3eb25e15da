"""The plain alternative: one loop that reads, infers, draws with OpenCV and plays with sd.play.

What a developer would write first, with the same pose model. A process of its own, started by
tests.bench.plain: python -m tests.bench.plain_loop CLIP SECONDS. It writes one line of JSON for
each frame that it took, on stdout.

The clip stands in for a webcam that does not wait: the driver keeps a queue of four frames (as
OpenCV asks of Video4Linux), the oldest is read first, and while the queue is full new ones are
lost. A step is taken at the foremost point of an ankle, once the next frame shows that it was.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections import deque
from pathlib import Path

import cv2
import numpy as np
import sounddevice
from mediapipe.tasks.python.vision import RunningMode

from feedback.sound.tones import render_all
from live.pose.bundle import ensure_bundle
from live.pose.landmarker import open_landmarker, to_model_image
from shared.landmarks import Landmark as Lm

QUEUE = 4
GAP_STEPS = 5
RATE_HZ = 48_000
SOONEST_S = 0.2
"""Two steps cannot be nearer; what is found sooner is a jump of the landmarks."""


class DriverQueue:
    """A webcam that goes on without its reader."""

    def __init__(self, path: str) -> None:
        self._file = cv2.VideoCapture(path)
        self._step_ns = round(1e9 / self._file.get(cv2.CAP_PROP_FPS))
        self._count = int(self._file.get(cv2.CAP_PROP_FRAME_COUNT))
        self._queue: deque[int] = deque()
        self._next = 0
        self._read = 0
        self.lost = 0
        self.zero_ns = time.perf_counter_ns()

    def read(self) -> tuple[int, int, np.ndarray] | None:
        """(index, arrival ns, picture) of the oldest frame that waits; None after the last."""
        while True:
            self._fill()
            if self._queue:
                break
            if self._next >= self._count:
                return None
            time.sleep(max(0, self.due_ns(self._next) - time.perf_counter_ns()) / 1e9)
        index = self._queue.popleft()
        while self._read < index:
            self._file.grab()
            self._read += 1
        ready, picture = self._file.read()
        self._read += 1
        return (index, self.due_ns(index), np.asarray(picture, np.uint8)) if ready else None

    def due_ns(self, index: int) -> int:
        return self.zero_ns + index * self._step_ns

    def _fill(self) -> None:
        now_ns = time.perf_counter_ns()
        while self._next < self._count and self.due_ns(self._next) <= now_ns:
            if len(self._queue) < QUEUE:
                self._queue.append(self._next)
            else:
                self.lost += 1
            self._next += 1


def main() -> None:
    """Run until the clip or the time is over."""
    path, seconds = sys.argv[1], float(sys.argv[2])
    # Undo what live.camera.opencv sets for the rest of Beltside: windows of OpenCV's own, all
    # threads.
    os.environ["QT_QPA_PLATFORM_PLUGIN_PATH"] = str(Path(cv2.__file__).parent / "qt" / "plugins")
    cv2.setNumThreads(-1)
    model = open_landmarker(ensure_bundle(), running_mode=RunningMode.VIDEO)
    model.detect_for_video(to_model_image(np.zeros((480, 640, 3), np.uint8)), 0)
    tone = render_all(RATE_HZ)["out_low"] * np.float32(0.35)
    sounddevice.play(tone * 0, RATE_HZ, blocking=True)
    ahead: dict[Lm, deque[float]] = {lm: deque(maxlen=3) for lm in (Lm.LEFT_ANKLE, Lm.RIGHT_ANKLE)}
    camera = DriverQueue(path)
    steps, last_step_ns, forward = 0, 0, 0.0
    lines = []
    while (frame := camera.read()) is not None and frame[1] < camera.zero_ns + seconds * 1e9:
        index, arrived_ns, picture = frame
        found = model.detect_for_video(to_model_image(picture), 1 + index * 1000 // 30)
        cue_ns = None
        if found.pose_landmarks:
            marks = found.pose_landmarks[0]
            hips = (marks[Lm.LEFT_HIP].x + marks[Lm.RIGHT_HIP].x) / 2
            toes = marks[Lm.LEFT_FOOT_INDEX].x + marks[Lm.RIGHT_FOOT_INDEX].x
            forward += 0.05 * (toes - marks[Lm.LEFT_HEEL].x - marks[Lm.RIGHT_HEEL].x - forward)
            for ankle, last in ahead.items():
                last.append((marks[ankle].x - hips) * np.sign(forward))
                topped = len(last) == 3 and last[0] < last[1] >= last[2] and last[1] > 0.02
                if topped and arrived_ns - last_step_ns > SOONEST_S * 1e9:
                    last_step_ns = arrived_ns
                    steps += 1
                    if steps % GAP_STEPS == 0:
                        sounddevice.play(tone, RATE_HZ)
                        cue_ns = time.perf_counter_ns()
            height, width = picture.shape[:2]
            for mark in marks:
                place = (int(mark.x * width), int(mark.y * height))
                cv2.circle(picture, place, 3, (0, 255, 0), -1)
        font = cv2.FONT_HERSHEY_SIMPLEX
        cv2.putText(picture, f"steps {steps}", (20, 40), font, 1, (255, 255, 255))
        cv2.imshow("plain", picture)
        cv2.waitKey(1)
        lines.append((index, arrived_ns, time.perf_counter_ns(), cue_ns))
    sounddevice.wait()
    out = {"zero_ns": camera.zero_ns, "steps": steps, "lost": camera.lost, "frames": lines}
    sys.stdout.write(json.dumps(out) + "\n")


if __name__ == "__main__":
    main()
