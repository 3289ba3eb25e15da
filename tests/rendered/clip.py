"""One clip from start to end: settle the gait, draw every frame, encode it, write its truth."""

import subprocess
from dataclasses import asdict, dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from tests.rendered import measure
from tests.rendered.body import Body, Floats, load_body
from tests.rendered.camera import Camera, View, make_camera
from tests.rendered.extras import standing
from tests.rendered.gait import make_gait
from tests.rendered.motion import Driver, Runner
from tests.rendered.params import RunnerParams
from tests.rendered.pose import skeleton
from tests.rendered.render import Look, Painter, Picture
from tests.rendered.room import DECK_HEIGHT_M
from tests.rendered.truth import Truth, TruthCamera, save_truth


@dataclass(frozen=True)
class Case:
    """Everything that makes one clip. `kept_apart` clips are for the final check only.

    shutter_s: exposure time for motion blur, 0 for none; noise: sensor noise, SD in grey levels;
    jitter_s: SD of each frame's exposure time; drop_share: share of frames that are missing.
    driver: what moves the body if not the invented gait; then `runner` says which body, and how
    trunk and arms go where the movement does not.
    """

    name: str
    runner: RunnerParams = field(default_factory=RunnerParams)
    view: View = field(default_factory=View)
    look: Look = field(default_factory=Look)
    fps: float = 30.0
    duration_s: float = 16.0
    shutter_s: float = 0.0
    noise: float = 0.0
    jitter_s: float = 0.0
    drop_share: float = 0.0
    crf: int = 29
    kept_apart: bool = False
    driver: Driver | None = None


def runner_of(case: Case) -> Runner:
    """The case's runner, ready to move."""
    if case.driver is None:
        return make_gait(case.runner, case.duration_s)
    return case.driver.runner(case.runner, case.duration_s)


BLUR_PICTURES = 4


def frame_times(case: Case) -> Floats:
    """True exposure times (n,) s: regular, but for the asked-for jitter and missing frames."""
    count = round(case.duration_s * case.fps)
    times = np.arange(count) / case.fps
    rng = np.random.default_rng(case.runner.seed + 77)
    shake = np.clip(rng.standard_normal(count) * case.jitter_s, -0.4 / case.fps, 0.4 / case.fps)
    times[1:] += shake[1:]
    keep = rng.random(count) >= case.drop_share
    keep[0] = True
    return np.asarray(times[keep])


def belt_travel(params: RunnerParams, t: Floats) -> Floats:
    """How far the belt has run by each time (n,) m: still while the runner stands, then up to
    speed over `start_s`."""
    if not params.stand_s:
        return np.asarray(params.belt_speed_mps * t)
    x = np.clip((t - params.stand_s) / params.start_s, 0, None)
    ramp = np.where(x < 1, x**3 - x**4 / 2, x - 0.5)
    return np.asarray(params.belt_speed_mps * params.start_s * ramp)


BYSTANDER_LOOK = Look(
    shirt=(0.80, 0.80, 0.82), shorts=(0.25, 0.28, 0.33), shoes=(0.2, 0.2, 0.2), lower="tights"
)


def bystander_place(view: View) -> Floats:
    """Where a second person stands (3,) m: on the floor beyond the belt, in the picture."""
    far = 1.0 if view.near_side == "right" else -1.0
    place = {"side": (-0.95, far), "behind": (0.75, 0.85), "front": (-0.9, 0.85)}[view.view]
    return np.array([*place, -DECK_HEIGHT_M])


def bystander_pose(body: Body, view: View) -> tuple[Floats, Floats]:
    """The second person's pose: standing, facing the runner's way."""
    rotations, positions = skeleton(body, standing(body, np.zeros(1)))
    return rotations[0], positions[0] + bystander_place(view)


def make_truth(case: Case, gait: Runner, camera: Camera) -> Truth:
    """The truth of a clip, without drawing it."""
    times = frame_times(case)
    params, view = case.runner, case.view
    joints = measure.file_joints(gait.body, gait.motion(times))
    step_list = measure.steps(gait, case.duration_s)
    stride_list = measure.strides(gait, case.duration_s)
    step_times = [s["step_time_s"] for s in step_list if s["step_time_s"]]
    meta = {
        "name": case.name,
        "view": view.view,
        "near_side": view.near_side if view.view == "side" else None,
        "yaw_deg": view.yaw_deg,
        "kept_apart": case.kept_apart,
        "body": params.body,
        "height_m": round(gait.body.height_m, 4),
        "leg_length_m": round(gait.body.leg_length_m, 4),
        "belt_speed_mps": gait.params.belt_speed_mps,
        "cadence_spm": round(60 / float(np.mean(step_times)), 3),
        "fps": case.fps,
        "duration_s": case.duration_s,
        "loop": bool(params.loop_steps),
        "running_from_s": params.stand_s + params.start_s if params.stand_s else 0.0,
        "standing": [0.0, params.stand_s] if params.stand_s else None,
        "happenings": [asdict(h) for h in params.happenings],
        "params": asdict(params),
        "look": asdict(case.look),
        "shutter_s": case.shutter_s,
        "noise": case.noise,
        **gait.told,
    }
    return Truth(
        meta,
        TruthCamera(
            camera.focal_px,
            camera.focal_px,
            camera.cx,
            camera.cy,
            camera.width,
            camera.height,
            camera.k1,
            camera.position_m * measure.FLIP,
            camera.axes * measure.FLIP,
        ),
        times,
        joints,
        measure.events(gait, case.duration_s),
        step_list,
        stride_list,
        measure.means(step_list, stride_list),
    )


def draw_clip(case: Case, path: Path, gait: Runner, camera: Camera) -> None:
    """Draw and encode every frame of a clip."""
    times = frame_times(case)
    visits = [h for h in case.runner.happenings if h.kind == "second_person"]
    other = load_body("male" if case.runner.body == "female" else "female")
    painter = Painter(gait.body, camera, case.look, (other, BYSTANDER_LOOK) if visits else None)
    their_pose = bystander_pose(other, case.view)
    rng = np.random.default_rng(case.runner.seed + 99)
    grain = _grain(rng, camera, case.noise)
    pictures = BLUR_PICTURES if case.shutter_s else 1
    offsets = (np.arange(pictures) + 0.5) / pictures * case.shutter_s - case.shutter_s / 2
    encoder = _encoder(path, camera, case)
    assert encoder.stdin is not None
    for chunk in np.array_split(times, max(len(times) // 60, 1)):
        moments = (chunk[:, None] + offsets).ravel()
        rotations, positions = skeleton(gait.body, gait.motion(moments))
        belt = belt_travel(gait.params, moments)
        for k in range(len(chunk)):
            shots = [
                painter.draw(
                    rotations[m],
                    positions[m],
                    float(belt[m]),
                    their_pose if any(h.from_s <= moments[m] <= h.to_s for h in visits) else None,
                )
                for m in range(k * pictures, (k + 1) * pictures)
            ]
            encoder.stdin.write(_exposed(shots, grain, rng).tobytes())
    encoder.stdin.close()
    if encoder.wait() != 0:
        raise RuntimeError(f"ffmpeg could not write {path}")
    painter.close()


def _exposed(
    shots: list[Picture], grain: npt.NDArray[np.int16] | None, rng: np.random.Generator
) -> Picture:
    """Several moments averaged into one picture, with sensor noise."""
    if len(shots) == 1 and grain is None:
        return np.ascontiguousarray(shots[0])
    mixed = np.mean(shots, axis=0)
    if grain is not None:
        dy, dx = rng.integers(0, 64, 2)
        h, w = mixed.shape[:2]
        mixed = mixed + grain[dy : dy + h, dx : dx + w, None]
    return np.asarray(np.clip(np.rint(mixed), 0, 255), dtype=np.uint8)


def _grain(rng: np.random.Generator, camera: Camera, noise: float) -> npt.NDArray[np.int16] | None:
    if not noise:
        return None
    size = (camera.height + 64, camera.width + 64)
    return np.rint(rng.standard_normal(size) * noise).astype(np.int16)


def _encoder(path: Path, camera: Camera, case: Case) -> subprocess.Popen[bytes]:
    command = [
        "ffmpeg", "-hide_banner", "-loglevel", "error", "-y",
        "-f", "rawvideo", "-pix_fmt", "rgb24",
        "-s", f"{camera.width}x{camera.height}", "-r", f"{case.fps:g}", "-i", "-",
        "-c:v", "libx264", "-preset", "slow", "-crf", str(case.crf), "-g", "150",
        "-threads", "1", "-pix_fmt", "yuv420p", "-movflags", "+faststart",
        "-bitexact", str(path),
    ]  # fmt: skip
    return subprocess.Popen(command, stdin=subprocess.PIPE)


def make_clip(case: Case, folder: Path) -> Truth:
    """Write NAME.mp4 and NAME.truth.json.xz into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    gait = runner_of(case)
    camera = make_camera(case.view)
    truth = make_truth(case, gait, camera)
    draw_clip(case, folder / f"{case.name}.mp4", gait, camera)
    save_truth(folder / f"{case.name}.truth.json.xz", truth)
    return truth
