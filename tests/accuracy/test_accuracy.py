"""The required accuracy, on the rendered cases kept apart from all tuning, by the real model."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pytest
from scipy import stats

from feedback.training.side_difference import Noise, least_between_sides
from live.measures.standing import StandingWatch
from shared.catalogue import CATALOGUE, why_not
from shared.flow import Pose, View
from tests.accuracy.report import (
    LINES,
    Line,
    all_cases,
    by_clip_and_side,
    coverage,
    select,
    stated_size,
)
from tests.accuracy.score import (
    Pair,
    Scored,
    belt_speed_off,
    score,
    turns_taken,
    whole_clip_asymmetry,
)
from tests.accuracy.tracks import name_of, truth_of
from tests.plain_errors import error_of

pytestmark = [pytest.mark.model, pytest.mark.timeout(1200)]
PAIR_STEP_CM = 3.0


@pytest.fixture(scope="module")
def apart() -> list[Scored]:
    """Every case kept apart, measured."""
    paths = [path for path in all_cases() if truth_of(path).meta["kept_apart"]]
    assert paths
    return [score(path) for path in paths]


@pytest.fixture(scope="module")
def pairs(apart: list[Scored]) -> list[Pair]:
    return [pair for one in apart for pair in one.pairs]


@pytest.mark.parametrize("line", LINES, ids=lambda line: line.measure)
def test_every_offered_measure_keeps_its_line(line: Line, pairs: list[Pair]) -> None:
    chosen = select(pairs, line)
    if not chosen:
        name = line.names[0]
        assert all(why_not(name, view) for view in CATALOGUE[name].views)
        return
    assert line.figure(chosen) <= line.limit


def test_the_legs_carry_their_right_names(apart: list[Scored]) -> None:
    frames = sum(one.legs_frames for one in apart)
    assert frames > 1000
    assert sum(one.legs_wrong for one in apart) <= 0.01 * frames


def test_no_step_is_missed_or_invented_in_a_minute(apart: list[Scored]) -> None:
    long = [one for one in apart if one.running_s >= 58.0]
    assert long
    for one in long:
        assert (one.missed, one.invented) == (0, 0)


def test_the_feet_take_turns_whatever_the_view(apart: list[Scored]) -> None:
    """One drawn from in front once told both feet at one instant; others: `test_left_out.py`."""
    assert turns_taken(apart) > 1500


def test_the_ankle_is_measured_better_from_the_runners_own_standing(
    apart: list[Scored], monkeypatch: pytest.MonkeyPatch
) -> None:
    def unseen(self: StandingWatch, pose: Pose, seen: View | None) -> None:
        pass

    stood = {
        name_of(path): path
        for path in all_cases()
        if (meta := truth_of(path).meta)["kept_apart"]
        and meta["standing"]
        and meta["view"] == "side"
    }
    own = ankle_errors([one for one in apart if one.clip in stood])
    monkeypatch.setattr(StandingWatch, "add", unseen)
    typical = ankle_errors([score(path) for path in stood.values()])
    assert len(own) == len(typical) >= 12
    # About their mean: what all movements have in common in it was learnt from other movements.
    assert np.std(own) < 0.8 * np.std(typical)


def ankle_errors(some: list[Scored]) -> list[float]:
    """The mean error of the ankle's bend, by clip and leg, deg."""
    pairs = [p for one in some for p in one.pairs if p.name == "ankle_dorsiflexion_peak"]
    keys = sorted({(p.clip, str(p.side)) for p in pairs})
    return [
        float(np.mean([p.found - p.true for p in pairs if (p.clip, str(p.side)) == key]))
        for key in keys
    ]


def test_three_centimetres_further_ahead_are_read_as_three(pairs: list[Pair]) -> None:
    compared = 0
    for side in ("left", "right"):
        means = {
            clip: np.mean([p.found for p in pairs if p.clip == clip and p.name == "strike_ahead"
                           and p.side == side])
            for clip in ("side_03_near", "side_03_far")
        }  # fmt: skip
        change = means["side_03_far"] - means["side_03_near"]
        assert change == pytest.approx(PAIR_STEP_CM, abs=1.0)
        compared += 1
    assert compared == 2


def test_pelvic_shift_ranks_the_sides_rightly(pairs: list[Pair]) -> None:
    """By the bare numbers, in every case whose sides differ by more than the accuracy asked for.

    A report may tell it too, where it is sure enough for that; then it must be right.
    """
    told, ranked, wrong = 0, 0, []
    for clip in sorted({p.clip for p in pairs if p.name == "pelvic_shift"}):
        left, right = (
            [p for p in pairs if (p.clip, p.name, p.side) == (clip, "pelvic_shift", side)]
            for side in ("left", "right")
        )
        found = np.mean([p.found for p in right]) - np.mean([p.found for p in left])
        true = np.mean([p.true for p in right]) - np.mean([p.true for p in left])
        least = least_between_sides("pelvic_shift", _noise(left), _noise(right))
        if abs(found) > least:
            told += 1
            assert np.sign(found) == np.sign(true), clip
        if abs(true) > 0.4:
            ranked += 1
            if np.sign(found) != np.sign(true):
                wrong.append(clip)
    print(f"pelvic_shift: rank told in {told} cases; wrong in {len(wrong)} of {ranked}")
    assert ranked >= 18  # from behind alone: it is not given from in front
    assert not wrong


def _noise(pairs: list[Pair]) -> Noise:
    found = [p.found for p in pairs]
    stated = float(np.mean([p.uncertainty for p in pairs]))
    error = error_of(found, 2.0)  # one foot lands on every second step
    assert error is not None
    return Noise(*error, stated)


def test_the_intervals_hold_what_they_say(pairs: list[Pair]) -> None:
    """Each measure's interval holds 85 % of the true values at least.

    Mostly more: how wide it is was learnt for movements left out (`test_left_out.py`), and these
    cases, kept apart as they are, are of one movement that was learnt from.
    """
    held = {
        name: coverage([p for p in pairs if p.name == name]) for name in {p.name for p in pairs}
    }
    print({name: round(share) for name, share in held.items()})
    assert min(held.values()) >= 85.0, held
    assert len(held) >= 15


def test_the_interval_of_each_measure_holds_by_itself(pairs: list[Pair]) -> None:
    """85 % of true values at least for each measure and leg, as far as so few clips can tell.

    Most of an error is the same throughout a clip, so a clip and side is one trial, and asserted is
    that the share found is not at odds with 85 % (binomial, 95 %).
    """
    by_key: dict[tuple[str, str, str], list[Pair]] = defaultdict(list)
    for pair in pairs:
        view = "side" if pair.view == "side" else "across"
        by_key[(pair.name, pair.place, view)].append(pair)
    assert len(by_key) >= 20
    wrong = {}
    for key, some in by_key.items():
        trials = len(by_clip_and_side(some))
        held = coverage(some) / 100.0 * trials
        print(f"{key}: {held:.1f} of {trials} held, {stated_size(some):.2f} of the stated variance")
        if held < stats.binom.ppf(0.025, trials, 0.85):
            wrong[key] = (trials, held)
    assert not wrong, wrong


def _may_hold(held: float, trials: int) -> bool:
    """Whether so many held are not at odds with a true share of 85 to 95 % (binomial, 95 %)."""
    low, high = stats.binom.ppf(0.025, trials, 0.85), stats.binom.ppf(0.975, trials, 0.95)
    return bool(low <= held <= high)


def test_asymmetry_keeps_line_and_interval_in_short_clips_too(apart: list[Scored]) -> None:
    """Few clips last 20 strides; over the strides that a clip has, all of them can be judged."""
    found = [pair for one in apart for pair in whole_clip_asymmetry(one.pairs)]
    off = np.abs([pair.found - pair.true for pair in found])
    held = sum(off <= [pair.uncertainty for pair in found])
    print(f"step_asymmetry: {off.mean():.2f} points in {len(off)} clips, {held} held")
    assert len(off) >= 20
    assert off.mean() <= 2.0
    assert _may_hold(float(held), len(off))


def test_belt_speed_is_read_from_the_picture_when_it_was_not_typed_in() -> None:
    """Half of the cases from the side that were kept apart, by body height: each within 5 %.

    Its interval is judged as those of the other measures are.
    """
    metas = {path: truth_of(path).meta for path in all_cases()}
    side = [path for path, m in metas.items() if m["kept_apart"] and m["view"] == "side"]
    read = {path.name: belt_speed_off(path) for path in side[::2]}
    assert len(read) >= 10
    off = {name: abs(share) for name, (share, _) in read.items()}
    print({name: round(100.0 * share, 1) for name, share in off.items() if share > 0.03})
    assert max(off.values()) <= 0.05, off
    assert _may_hold(sum(abs(share) <= within for share, within in read.values()), len(read))
