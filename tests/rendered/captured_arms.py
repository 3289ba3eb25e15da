"""Clips from in front with other arms than the invented: python -m tests.rendered.captured_arms.

Half of them have the arms of a captured runner (`tests/outside/people/README.md`), turned inward or
outward as a whole; in the others the invented arms swing less far or further, more or less bent.
Draws what is not there yet and keeps what was seen, as `keep_tracks` does.
"""

import argparse
import tempfile
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from tests.accuracy.tracks import detect
from tests.rendered.arms import Arm, shoulder
from tests.rendered.body import SIDES, Floats
from tests.rendered.camera import View, make_camera
from tests.rendered.cases import DARK, GREEN
from tests.rendered.clip import Case, draw_clip, make_truth
from tests.rendered.gait import Gait, make_gait
from tests.rendered.keep_tracks import JOINTS
from tests.rendered.motion import Motion
from tests.rendered.params import BySide, RunnerParams, both
from tests.rendered.render import Look
from tests.rendered.track_file import ENDING, save_track
from tests.rendered.truth import Truth, save_truth

TRACKS = Path(__file__).parent / "arm_tracks"
ARMS = Path(__file__).parents[1] / "outside" / "people" / "bmclab_arms.npz"
DURATION_S = 10.0


@dataclass(frozen=True)
class ArmsGait(Gait):
    """The invented gait with captured arms; `turned_deg` turns each about the upright, + inward."""

    turned_deg: BySide = field(default_factory=lambda: both(0.0))

    def running(self, t: Floats) -> Motion:
        motion = super().running(t)
        return replace(motion, arms={side: self._arm(motion, side, t) for side in SIDES})

    def _arm(self, motion: Motion, side: str, t: Floats) -> Arm:
        stride = ((self.timeline.phase(t) - self.timeline.parity(side)) / 2) % 1.0
        turn = np.radians(self.turned_deg.of(side))
        inward = -1.0 if side == "left" else 1.0
        joints = [shoulder(self.body, motion.trunk, side)]
        ends = ((f"{side}_shoulder", f"{side}_elbow"), (f"{side}_elbow", f"{side}_wrist"))
        for curve, (near, far) in zip(_directions()[side], ends, strict=True):
            ahead, across, up = (curve(stride) / np.linalg.norm(curve(stride), axis=1)[:, None]).T
            length_m = float(np.linalg.norm(self.body.rest(far) - self.body.rest(near)))
            way = [
                ahead * np.cos(turn) - across * np.sin(turn),
                inward * (ahead * np.sin(turn) + across * np.cos(turn)),
                up,
            ]
            joints.append(joints[-1] + length_m * np.stack(way, axis=1))
        return Arm(*joints)


@cache
def _directions() -> dict[str, list[CubicSpline]]:
    """By side those of upper arm and forearm over the stride from one's own contact, 0 to 1."""
    with np.load(ARMS) as kept:
        found = kept["directions"] / 1e4
    at = np.linspace(0.0, 1.0, found.shape[2] + 1)
    return {
        side: [
            CubicSpline(at, np.concatenate([one, one[:1]]), bc_type="periodic") for one in found[i]
        ]
        for i, side in enumerate(("left", "right"))
    }


def _runner(body: str, seed: int) -> RunnerParams:
    return RunnerParams(body=body, seed=seed, belt_speed_mps=3.0, cadence_spm=168)


def _swinging(body: str, seed: int, swing_deg: float, elbow_deg: float) -> RunnerParams:
    return replace(
        _runner(body, seed),
        arm_swing_deg=both(swing_deg),
        elbow_deg=both(elbow_deg),
        arm_direction_deg=BySide(8.0, 30.0),
        forearm_in_deg=BySide(5.0, 20.0),
    )


def _case(name: str, runner: RunnerParams, yaw_deg: float, look: Look) -> Case:
    return Case(
        name,
        runner,
        View("front", distance_m=3.5, height_m=1.0, yaw_deg=yaw_deg),
        replace(look, console=False),
        duration_s=DURATION_S,
    )


CAPTURED = {
    _case("arms_captured_out", _runner("female", 136), 4.0, GREEN): BySide(-15.0, -23.0),
    _case("arms_captured", _runner("male", 777), 0.0, DARK): both(0.0),
    _case("arms_captured_in", _runner("drawn_2", 509), -5.0, GREEN): BySide(15.0, 7.0),
}
CASES = (
    *CAPTURED,
    _case("arms_short_swing", _swinging("female", 618, 34, 95), 0.0, DARK),
    _case("arms_long_swing", _swinging("male", 383, 72, 75), 4.0, DARK),
    _case("arms_bent", _swinging("drawn_4", 289, 60, 110), -5.0, DARK),
)


def gait_of(case: Case) -> Gait:
    """The case's runner, ready to move."""
    gait = make_gait(case.runner, case.duration_s)
    if case not in CAPTURED:
        return gait
    names = ("params", "body", "timeline", "solved", "legs", "inward_rad")
    kept = {name: getattr(gait, name) for name in names}
    return ArmsGait(**kept, turned_deg=CAPTURED[case])


def keep(case: Case, clips: Path) -> None:
    """Draw a case and write its track and truth."""
    gait, camera = gait_of(case), make_camera(case.view)
    truth: Truth = make_truth(case, gait, camera)
    draw_clip(case, clips / f"{case.name}.mp4", gait, camera)
    found, seen, (width, height) = detect(clips / f"{case.name}.mp4", case.fps)
    TRACKS.mkdir(exist_ok=True)
    save_track(TRACKS / f"{case.name}{ENDING}", found, seen, (int(width), int(height)))
    save_truth(TRACKS / f"{case.name}.truth.json.xz", truth, JOINTS)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clips", type=Path, metavar="DIR")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for case in CASES:
            if not (TRACKS / f"{case.name}.truth.json.xz").exists():
                keep(case, asked.clips or Path(folder))


if __name__ == "__main__":
    main()
