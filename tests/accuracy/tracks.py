"""What the real pose model, and the look at shoes and hips, found in the rendered cases.

The landmarks of clips are kept in a cache; what was found in the cases drawn by chance, and in a
few others, lies in the repository, in place of their clips.
"""

from __future__ import annotations

import hashlib
import math
import os
from collections.abc import Generator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
import platformdirs

import live.pose.model
from live.pipeline import Pipeline, Setup
from live.pixel_watch import PictureWatch, keep_of
from live.pose.bundle import ensure_bundle
from live.pose.model import PoseModel
from shared.flow import Frame, Pose, Update, View
from shared.units import NS_PER_S
from tests.rendered.track_file import ENDING, TRACKS, load_track, load_ways
from tests.rendered.truth import Truth, load_truth

CAPTURED, SPRING, WIDE = "captured_", "spring_", "wide_"
CLIPS = Path(__file__).parents[1] / "rendered" / "clips"


def clips() -> list[Path]:
    """All rendered cases that are drawn to their end (the truth is written last)."""
    return sorted(clip for clip in CLIPS.glob("*.mp4") if truth_path(clip).exists())


def tracks() -> list[Path]:
    """The invented gait's cases of which landmarks and truth are kept and no clip, but for the
    widened ones."""
    others = CAPTURED, SPRING, WIDE
    return [track for track in all_tracks() if not track.name.startswith(others)]


def spring() -> list[Path]:
    """The cases of the second gait."""
    return [track for track in all_tracks() if track.name.startswith(SPRING)]


def wide() -> list[Path]:
    """The cases of the invented gait drawn from ranges in which captured runners lie."""
    return [track for track in all_tracks() if track.name.startswith(WIDE)]


def captured() -> list[Path]:
    """The cases in which captured running moves the drawn bodies. Their truth's meta says by which
    `true_measures` they may be judged."""
    return [track for track in all_tracks() if track.name.startswith(CAPTURED)]


def all_tracks() -> list[Path]:
    """All cases of which landmarks and truth are kept, drawn to their end."""
    return sorted(track for track in TRACKS.glob(f"*{ENDING}") if truth_path(track).exists())


def name_of(case: Path) -> str:
    """The name of a clip or track."""
    return case.name.removesuffix(ENDING).removesuffix(".mp4")


def truth_path(clip: Path) -> Path:
    """The truth file beside a clip or track."""
    return clip.with_name(name_of(clip) + ".truth.json.xz")


def truth_of(clip: Path) -> Truth:
    """What the file beside a clip says."""
    return load_truth(truth_path(clip))


def poses_of(clip: Path) -> list[Pose]:
    """Poses of every frame of a clip or track, stamped with the true times.

    The model's answers depend only on the clip, the bundle and the pose code, so they are kept
    between runs; delete the cache folder to make sure.
    """
    truth = truth_of(clip)
    if clip.name.endswith(ENDING):
        found, seen, (width, height) = load_track(clip)
        return _poses(truth, found, seen, np.array([width, height]))
    key = hashlib.sha256()
    key.update(clip.read_bytes())
    key.update(ensure_bundle().read_bytes())
    key.update(Path(live.pose.model.__file__).read_bytes())
    cache = Path(platformdirs.user_cache_dir("beltside")) / "tracks" / f"{key.hexdigest()[:24]}.npz"
    if cache.exists():
        with np.load(cache) as kept:
            xy, visibility, size = kept["xy"], kept["visibility"], kept["size"]
    else:
        xy, visibility, size = detect(clip, float(truth.meta["fps"]))
        cache.parent.mkdir(parents=True, exist_ok=True)
        unfinished = cache.with_suffix(f".{os.getpid()}.npz")
        np.savez_compressed(unfinished, xy=xy, visibility=visibility, size=size)
        unfinished.replace(cache)  # at once: another test may be reading
    return _poses(truth, xy, visibility, size)


def pipeline_for(case: Path) -> Pipeline:
    """A pipeline that was told what a clinician would have typed in for this case."""
    meta = truth_of(case).meta
    return Pipeline(Setup(View(meta["view"]), meta["height_m"], meta["belt_speed_mps"]))


def updates_of(case: Path, pipeline: Pipeline) -> Generator[Update]:
    """What a pipeline makes of a case, landmarks and pictures, frame by frame as in a session.

    Of a case from the side, for as long as the shoes were looked at.
    """
    poses = poses_of(case)
    if case.name.endswith(ENDING):
        for pose, way_px in zip(poses, load_ways(case).tolist(), strict=False):
            yield pipeline.update(pose)
            if math.isnan(way_px):
                continue
            if pipeline.view is not View.SIDE:
                pipeline.hips_went(way_px)
            elif (spot := pipeline.standing_shoe()) is not None:
                pipeline.shoe_went(spot, way_px)
        return
    for _, update in watched(case, poses, pipeline):
        yield update


def watched(
    clip: Path, poses: list[Pose], pipeline: Pipeline
) -> Generator[tuple[float | None, Update]]:
    """The same from the clip's own pictures, each with the way that was seen in them.

    Ends with the pictures, which may be before the poses do.
    """
    video = cv2.VideoCapture(str(clip))
    pictures = PictureWatch(pipeline)
    for pose in poses:
        ok, image = video.read()
        if not ok:
            break
        update = pipeline.update(pose)
        frame = Frame(np.asarray(image, np.uint8), pose.captured_ns, pose.index)
        yield pictures.see(keep_of(frame, pose, pipeline.view)), update
    video.release()


def detect(clip: Path, frames_per_s: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Found by the real model: landmarks (n, 33, 2) px, visibility (n, 33), the picture's size."""
    found, seen = [], []
    index = 0
    width = height = 0
    video = cv2.VideoCapture(str(clip))
    with PoseModel() as model:
        while True:
            ok, image = video.read()
            if not ok:
                break
            height, width = image.shape[:2]
            at_ns = NS_PER_S + int(index / frames_per_s * NS_PER_S)
            pose = model.detect(Frame(np.asarray(image, np.uint8), at_ns, index))
            found.append(pose.xy_px.astype(np.float32))
            seen.append(pose.visibility.astype(np.float32))
            index += 1
    video.release()
    return np.array(found), np.array(seen), np.array([width, height])


def _poses(truth: Truth, xy: np.ndarray, visibility: np.ndarray, size: np.ndarray) -> list[Pose]:
    poses = []
    for index, at_s in enumerate(np.asarray(truth.frame_time_s)[: len(xy)]):
        points = xy[index].astype(np.float64)
        poses.append(
            Pose(
                captured_ns=NS_PER_S + round(at_s * NS_PER_S),
                index=index,
                width_px=int(size[0]),
                height_px=int(size[1]),
                xy_px=points,
                visibility=visibility[index].astype(np.float64),
                people=int(np.isfinite(points).any()),
            )
        )
    return poses


def _prepare(clip: Path) -> None:
    poses_of(clip)


def main() -> None:
    """Find the landmarks of all clips, one clip a core, so that no test has to wait for them."""
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        for _ in pool.map(_prepare, clips()):
            pass


if __name__ == "__main__":
    main()
