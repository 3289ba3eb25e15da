"""The cases drawn by chance: their rule, their kept landmarks, and what all that is kept weighs."""

from collections import Counter
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from live.pipeline import Pipeline, Setup
from live.stride import fourier
from shared.flow import View
from tests.accuracy.tracks import poses_of, truth_of
from tests.rendered import captured_cases, keep_tracks, spring_cases, wide_cases
from tests.rendered.camera import make_camera
from tests.rendered.chance import CASES, COUNTS, FOURTH, LATER, LONG_S, ONLY_APART, THIRD
from tests.rendered.clip import Case, make_truth, runner_of
from tests.rendered.params import RunnerParams
from tests.rendered.render import Look
from tests.rendered.track_file import (
    ENDING,
    KEPT,
    LEFT_AWAY,
    TRACKS,
    load_track,
    load_ways,
    save_track,
)
from tests.rendered.truth import load_truth

CLIPS = Path(__file__).parent / "clips"
BUDGET_BYTES = 25_000_000


def test_landmarks_come_back_to_an_eighth_of_a_pixel(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    xy_px = rng.uniform(-200.0, 1500.0, (40, 33, 2))
    seen = rng.uniform(0.0, 1.0, (40, 33))
    xy_px[7] = np.nan
    xy_px[9, 3] = np.nan
    save_track(tmp_path / "one.track.xz", xy_px, seen, (640, 480))
    back_px, back_seen, size = load_track(tmp_path / "one.track.xz")
    assert (np.isnan(back_px) == np.isnan(xy_px))[:, KEPT].all()
    assert np.nanmax(np.abs(back_px - xy_px)) <= 1 / 16 + 1e-9
    assert np.abs(back_seen - seen)[:, KEPT].max() <= 0.005 + 1e-9
    assert np.isnan(back_px[:, LEFT_AWAY]).all()
    assert not back_seen[:, LEFT_AWAY].any()
    assert size == (640, 480)


def test_ways_come_back_to_a_sixty_fourth_of_a_pixel(tmp_path: Path) -> None:
    xy_px, seen, ways_px = np.zeros((40, 33, 2)), np.zeros((40, 33)), np.full(25, np.nan)
    ways_px[[3, 9, 24]] = -31.73, 12.02, 0.004
    path = tmp_path / "one.track.xz"
    save_track(path, xy_px, seen, (640, 480), ways_px)
    back_px = load_ways(path)
    assert np.flatnonzero(np.isfinite(back_px)).tolist() == [3, 9, 24]
    assert np.nanmax(np.abs(back_px - ways_px)) <= 1 / 128
    assert (len(back_px), len(load_track(path)[0])) == (25, 40)
    save_track(path, xy_px, seen, (640, 480))
    assert len(load_ways(path)) == 0


@pytest.mark.parametrize("name", ["chance_side_05", "chance_across_10", "chance_across_09"])
def test_nothing_is_measured_by_the_landmarks_that_are_left_away(name: str) -> None:
    """Whatever they are, every value, event and quality comes out the same."""
    path = TRACKS / f"{name}{ENDING}"
    meta = truth_of(path).meta
    rng = np.random.default_rng(8)
    told = []
    for known in (False, True):
        pipeline = Pipeline(Setup(View(meta["view"]), meta["height_m"]))
        updates = []
        for pose in poses_of(path):
            if known:
                pose.xy_px[LEFT_AWAY] = rng.uniform(0.0, 480.0, (len(LEFT_AWAY), 2))
                pose.visibility[LEFT_AWAY] = rng.uniform(0.0, 1.0, len(LEFT_AWAY))
            updates.append(repr(pipeline.update(pose)))
        told.append(updates)
    assert told[0] == told[1]


def test_each_drawing_keeps_apart_what_its_rule_says() -> None:
    assert len({case.name for case in CASES}) == len(CASES)
    drawings: Counter[str] = Counter()
    for case in CASES:
        _, kind, written = case.name.split("_")
        number = int(written)
        if number < COUNTS[kind]:
            drawings["first"] += 1
            assert case.kept_apart == (number % 2 == 1)
        elif number < COUNTS[kind] + LATER[kind]:
            drawings["later"] += 1
            assert case.kept_apart == (case.runner.body in ("male", "slight"))
        elif number < COUNTS[kind] + LATER[kind] + THIRD[kind]:
            drawings["third"] += 1
            assert case.kept_apart
            assert case.duration_s >= LONG_S or kind == "across"
        else:
            # Nothing of the fourth, from which was learnt, is kept any more.
            assert number >= COUNTS[kind] + LATER[kind] + THIRD[kind] + FOURTH[kind]
            drawings["fifth"] += 1
            assert case.kept_apart == (case.runner.body in ("drawn_3", "drawn_6"))
            assert case.duration_s >= LONG_S or kind == "across" or not case.kept_apart
        assert case.kept_apart or case.runner.body != ONLY_APART
    assert drawings == {"first": 43, "later": 20, "third": 5, "fifth": 57}
    apart = [case for case in CASES if case.kept_apart]
    builds = {case.runner.body for case in apart}
    assert builds == {"female", "male", "sturdy", ONLY_APART, "drawn_3", "drawn_6"}
    assert {case.view.view for case in apart} == {"side", "behind", "front"}
    assert sum(case.duration_s >= LONG_S for case in CASES if not case.kept_apart) >= 12
    assert sum(case.duration_s >= LONG_S for case in apart) >= 24


def test_of_every_case_track_and_truth_are_kept_and_of_no_other() -> None:
    names = {case.name for case in keep_tracks.CASES}
    assert {path.name.removesuffix(ENDING) for path in TRACKS.glob(f"*{ENDING}")} == names
    assert not any((CLIPS / f"{name}.mp4").exists() for name in names)
    for case in keep_tracks.CASES:
        truth = load_truth(TRACKS / f"{case.name}.truth.json.xz")
        xy_px, seen, size = load_track(TRACKS / f"{case.name}{ENDING}")
        assert len(xy_px) == len(seen) == len(truth.frame_time_s)
        assert size == (truth.camera.width, truth.camera.height)
        asked = asdict(case.runner)
        asked["happenings"] = list(asked["happenings"])
        # What can be asked for grew after the first cases were drawn: they have the defaults.
        assert {**asdict(RunnerParams()), **truth.meta["params"]} == asked
        assert _look(Look()) | truth.meta["look"] == _look(case.look)
        assert truth.meta["kept_apart"] == case.kept_apart


def _look(look: Look) -> dict[str, Any]:
    return {
        key: list(value) if isinstance(value, tuple) else value
        for key, value in asdict(look).items()
    }


def test_in_every_case_shoes_or_hips_were_looked_at() -> None:
    """Shoes a pair or more a stance of the first ten seconds, but for those that the picture hides;
    hips in nearly every picture."""
    for case in keep_tracks.CASES:
        path = TRACKS / f"{case.name}{ENDING}"
        seen = int(np.isfinite(load_ways(path)).sum())
        frames = len(load_track(path)[0])
        assert seen >= (20 if case.view.view == "side" else 0.98 * frames), case.name


def test_no_drawn_leg_leaps() -> None:
    """Each ankle, against mid-hips, keeps to its own mean stride of eight harmonics."""
    for case in (*CASES, *spring_cases.CASES, *wide_cases.CASES):
        truth = load_truth(TRACKS / f"{case.name}.truth.json.xz")
        hips = (truth.joint("left_hip") + truth.joint("right_hip")) / 2.0
        for side in ("left", "right"):
            contacts = [e for e in truth.events if (e["kind"], e["side"]) == ("contact", side)]
            at_s = np.array([event["time_s"] for event in contacts])
            inside = (truth.frame_time_s > at_s[0]) & (truth.frame_time_s < at_s[-1])
            strides = np.interp(truth.frame_time_s[inside], at_s, np.arange(len(at_s)))
            columns = fourier.basis(2.0 * np.pi * strides, 8)
            ankle_m = (truth.joint(f"{side}_ankle") - hips)[inside]
            mean = columns @ np.linalg.lstsq(columns, ankle_m, rcond=None)[0]
            assert np.sqrt(((ankle_m - mean) ** 2).sum(axis=1).mean()) < 0.05, case.name


SOME = (CASES[1], CASES[30], captured_cases.CASES[7])


@pytest.mark.parametrize("case", SOME, ids=lambda case: case.name)
def test_the_kept_truth_is_what_the_generator_gives_now(case: Case) -> None:
    truth = load_truth(TRACKS / f"{case.name}.truth.json.xz")
    runner = runner_of(case)
    again = make_truth(case, runner, make_camera(case.view))
    assert np.nanmax(np.abs(again.joints_m - truth.joints_m)) < 2e-4
    assert again.steps == truth.steps
    assert {key: truth.meta[key] for key in runner.told} == runner.told


@pytest.mark.parametrize("case", SOME, ids=lambda case: case.name)
def test_the_kept_landmarks_lie_on_the_body(case: Case) -> None:
    """Mid-hips of model and truth together, within a tenth of the body's height in the picture."""
    truth = load_truth(TRACKS / f"{case.name}.truth.json.xz")
    xy_px, _, _ = load_track(TRACKS / f"{case.name}{ENDING}")
    true = np.mean([truth.pixels[:, truth.joint_index(f"{s}_hip")] for s in ("left", "right")], 0)
    off = np.linalg.norm(xy_px[:, 23:25].mean(axis=1) - true, axis=1)
    height_px = np.nanmax(xy_px[..., 1], axis=1) - np.nanmin(xy_px[..., 1], axis=1)
    assert np.median(off / height_px) < 0.1


def test_all_that_is_kept_stays_within_its_size() -> None:
    kept = [*CLIPS.iterdir(), *TRACKS.iterdir()]
    assert sum(path.stat().st_size for path in kept) <= BUDGET_BYTES
