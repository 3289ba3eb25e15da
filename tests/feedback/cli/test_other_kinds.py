"""A file of another kind than is needed is called what it is."""

from __future__ import annotations

import importlib.resources
from collections.abc import Callable
from pathlib import Path

import pytest

from feedback.athlete_files.athletes import read_profile
from feedback.athlete_files.drills import read_drill, read_plan
from feedback.athlete_files.prescriptions import read_prescription, write_prescription
from shared.problems import UserError
from tests.feedback.training.making import bundled_plan, drill, prescription

KINDS: dict[str, tuple[str | None, Callable[[Path], object], str]] = {
    "an athlete's profile": ("athletes/heron.toml", read_profile, "beltside athletes"),
    "a drill": ("drills/quick_steps.toml", read_drill, "beltside drills"),
    "a plan": ("plans/five_short.toml", read_plan, "beltside drills"),
    "a prescription": (None, read_prescription, "beltside prescribe"),
}


@pytest.mark.parametrize(
    ("given", "wanted"),
    [(given, wanted) for given in KINDS for wanted in KINDS if given != wanted],
)
def test_a_file_of_another_kind_is_called_what_it_is(
    tmp_path: Path, given: str, wanted: str
) -> None:
    """An athlete's profile at home: "baseline_cadence_spm; did you mean baseline_utc?"."""
    name, _, _ = KINDS[given]
    if name is None:
        path = tmp_path / "heron.toml"
        write_prescription(prescription(drill(), bundled_plan("five_short")), path)
    else:
        path = Path(str(importlib.resources.files("profiles"))) / name
    _, read, says = KINDS[wanted]
    with pytest.raises(UserError) as caught:
        read(path)
    problem = caught.value.problem
    assert problem.code == "file_of_another_kind"
    assert problem.title.endswith(f" is {given}, and {wanted} is needed here.")
    assert says in problem.action


def test_a_result_is_no_prescription(tmp_path: Path) -> None:
    path = tmp_path / "heron-session1.json"
    path.write_text('{"format": 1}\n')
    with pytest.raises(UserError, match="is a result or a baseline, and a prescription is needed"):
        read_prescription(path)


def test_a_hint_that_asks_ends_as_a_question(tmp_path: Path) -> None:
    path = tmp_path / "heron.toml"
    path.write_text("hight_cm = 172\n")
    with pytest.raises(UserError) as caught:
        read_profile(path)
    assert caught.value.problem.title.endswith('did you mean "height_cm"?')
