"""A drill's targets beside the runner's own values, as they would be prescribed."""

from __future__ import annotations

from pathlib import Path

import msgspec

from feedback.athlete_files.drills import read_drill
from feedback.screens.start.proposal import (
    change_words,
    changed,
    propose_targets,
    usable_first,
)
from feedback.storage.folders import DataFolder, bundled_folder, files
from feedback.training.goals import goals_for
from shared.flow import View
from shared.targets import Drill, Limits
from tests.feedback.training.making import baseline

DRILLS = {path.stem: read_drill(path) for path in files(bundled_folder(DataFolder.DRILLS))}
QUICK = DRILLS["quick_steps"]


def test_it_shows_what_would_be_prescribed() -> None:
    (row,) = propose_targets(baseline(), QUICK, Limits(), {}).rows
    (goal,) = goals_for(baseline(), QUICK, Limits())
    assert "160.0" in row.own
    assert "1.2" in row.own
    assert f"{goal.aimed[-1]:.1f}" in row.aimed
    assert f"{goal.targets[-1].low:.1f}" in row.aimed
    assert f"{goal.targets[-1].high:.1f}" in row.aimed
    assert f"{goal.aimed[0]:.1f}" in row.by_steps


def test_another_change_is_reckoned_anew() -> None:
    before = propose_targets(baseline(), QUICK, Limits(), {}).rows[0]
    after = propose_targets(baseline(), QUICK, Limits(), {"steps": 7.5}).rows[0]
    assert after.change_percent == 7.5
    assert after.aimed != before.aimed
    assert "172.0" in after.aimed


def test_the_runners_own_limit_is_the_most_that_can_be_set() -> None:
    limits = Limits(cadence_most_percent=6.0)
    (row,) = propose_targets(baseline(), QUICK, limits, {}).rows
    assert (row.least_percent, row.most_percent) == (-6.0, 6.0)
    assert "6 %" in row.limit
    over = propose_targets(baseline(), QUICK, limits, {"steps": 7.5})
    assert not over.can_be_signed
    assert over.problem is not None
    assert over.problem.code == "goal_refused"
    assert over.rows[0].aimed == ""


def test_a_change_too_small_to_measure_cannot_be_signed() -> None:
    assert not propose_targets(baseline(), QUICK, Limits(), {"steps": 0.1}).can_be_signed


def test_a_measure_that_the_baseline_lacks_is_said() -> None:
    other = baseline(*(one for one in baseline().measures if one.name != "cadence"))
    proposal = propose_targets(other, QUICK, Limits(), {})
    assert not proposal.can_be_signed
    assert proposal.rows[0].own == "not in the baseline"


def test_the_drill_that_can_be_set_with_the_least_change_comes_first() -> None:
    drills = [(Path(f"{name}.toml"), drill) for name, drill in DRILLS.items()]
    found = usable_first(drills, baseline(), Limits())
    assert found[0][0].stem == "quick_steps"
    assert all(drill.view is View.SIDE for _path, drill in found)
    less = usable_first(drills, baseline(), Limits(cadence_most_percent=1.0))
    assert less[0][0].stem != "quick_steps"


def test_no_drill_for_a_view_without_any() -> None:
    assert usable_first([(Path("q.toml"), QUICK)], baseline(view=View.BEHIND), Limits()) == ()


def test_the_words_for_the_command() -> None:
    assert change_words({"steps": 7.5, "landing": -10}) == (
        "--change", "steps=7.5", "--change", "landing=-10",
    )  # fmt: skip


def test_a_change_replaces_what_the_drill_says() -> None:
    aim = msgspec.structs.replace(QUICK.aims[0], change_percent=None, low=170.0, high=180.0)
    drill: Drill = msgspec.structs.replace(QUICK, aims=(aim,))
    made = changed(drill, {"steps": 5.0}).aims[0]
    assert (made.change_percent, made.low, made.high) == (5.0, None, None)
