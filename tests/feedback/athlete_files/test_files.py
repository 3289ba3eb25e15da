"""Drills, plans and prescriptions as files: the bundled ones are right, every mistake is named."""

from __future__ import annotations

import stat
from pathlib import Path

import msgspec
import pytest

from feedback.athlete_files.drills import read_drill, read_plan
from feedback.athlete_files.prescriptions import check_sum, read_prescription, write_prescription
from feedback.storage import folders as shelf
from feedback.storage.folders import DataFolder, bundled_folder, files, find
from shared.problems import UserError
from shared.targets import Prescription
from tests.feedback.training.making import (
    bundled_plan,
    cadence_aim,
    drill,
    prescription,
    strike_aim,
)

DRILL = """
title = "A drill"
view = "side"

[[aims]]
name = "steps"
measure = "cadence"
unit = "steps/min"
change_percent = 5.0
cues = ["beat", "words"]

[[aims]]
name = "landing"
measure = "strike_ahead"
unit = "cm"
change = -3.0
hold = "under"

[[blocks]]
kind = "warm_up"
minutes = 3

[[blocks]]
kind = "cued"
minutes = 5
focus = "steps"
ask = ["pain"]

[[blocks]]
kind = "cool_down"
steps = 200
belt_speed_kmh = 5
"""
PLAN = """
title = "A plan"

[[sessions]]
parts_min = [10]

[[sessions]]
kind = "retention"
parts_min = [0, 10]
hours_after = 48
"""


def written(folder: Path, text: str, name: str = "mine.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


# drills


def test_a_good_drill_is_read(tmp_path: Path) -> None:
    read = read_drill(written(tmp_path, DRILL))
    assert [aim.name for aim in read.aims] == ["steps", "landing"]
    assert read.blocks[1].focus == "steps"
    assert (read.blocks[2].steps, read.blocks[2].belt_speed_kmh) == (200, 5.0)


WRONG_DRILL = [
    # (what is changed, to what, field, part of the value, part of the reason, part of allowed)
    ('title = "A drill"', "", "title", "missing", "required", "1 to 60"),
    ('"side"', '"left"', "view", '"left"', "not allowed", '"side", "behind", "front"'),
    ('"side"', '"behind"', "aims[1].measure", "strike", "not from this view", "pelvic_shift"),
    ("change_percent = 5.0", "", "aims[0].change_percent", "missing", "clear what", "one of"),
    ("change = -3.0", "change = -3.0\nlow = 1", "aims[1].change_percent", "", "clear", "one of"),
    ("change = -3.0", "change = 0", "aims[1].change", "0", "nothing would change", "above"),
    ("change = -3.0", "low = 9\nhigh = 8", "aims[1].low", "9", "not under high (8)", "under 8"),
    ("change_percent = 5.0", "change = 8", "aims[0].change_percent", "missing", "relative", "-10"),
    ("change_percent = 5.0", "change_percent = 11", "aims[0].change_percent", "11", "10 %", "10"),
    ("change_percent = 5.0", "change_percent = 5\nramp_step_percent = 4",
     "aims[0].ramp_step_percent", "4", "felt as a jump", "0.5 to 3"),
    ('"landing"', '"steps"', "aims[1].name", "steps", "both have this name", "another"),
    ('"cadence"', '"cadense"', "aims[0].measure", "cadense", 'mean "cadence"', "trunk_lean"),
    ('unit = "cm"', 'unit = "in"', "aims[1].unit", "in", "no such unit", '"cm", "% leg"'),
    ('unit = "steps/min"', 'unit = "steps/min"\nside = "left"', "aims[0].side", "left",
     "left from right", "leave"),
    ('hold = "under"', 'hold = "up"', "aims[1].hold", '"up"', "not", '"near", "under", "over"'),
    ('["beat", "words"]', "[]", "aims[0].cues", "[]", "nothing would be cued", "at least one"),
    ('["beat", "words"]', '["pitch", "out_of_band"]', "aims[0].cues", "pitch", "same", "either"),
    ('hold = "under"', 'hold = "under"\ncues = ["beat"]', "aims[1].cues", "beat", "no beat", "out"),
    ("minutes = 5", "minutes = 0.01", "blocks[1].minutes", "0.01", "not allowed", "0.1 to 60"),
    ("minutes = 5", "", "blocks[1].minutes", "missing", "minutes or for steps", "one of the two"),
    ("minutes = 5", "minutes = 5\nsteps = 99", "blocks[1].minutes", "5", "or for", "one of the"),
    ('focus = "steps"', 'focus = "stepz"', "blocks[1].focus", "stepz", 'mean "steps"', "landing"),
    ("minutes = 3", 'minutes = 3\nfocus = "steps"', "blocks[0].focus", "steps", "nothing", "out"),
    ("minutes = 5", "minutes = 5\nbelt_speed_kmh = 8", "blocks[1].belt_speed_kmh", "8",
     "speed of the baseline", "leave"),
    ('ask = ["pain"]', 'ask = ["joy"]', "blocks[1].ask[0]", "joy", "not", '"pain", "effort"'),
    ('kind = "cued"', 'kind = "rest"', "blocks", "a list", "nothing to practise", "at least one"),
    ('kind = "cued"', 'kind = "cud"', "blocks[1].kind", "cud", "not", '"warm_up", "cued"'),
    ("steps = 200", "stepz = 200", "blocks[2].stepz", "200", 'mean "steps"', "minutes"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "field", "value", "why", "allowed"), WRONG_DRILL)
def test_every_mistake_in_a_drill_is_named(
    tmp_path: Path, old: str, new: str, field: str, value: str, why: str, allowed: str
) -> None:
    assert old in DRILL
    text = DRILL.replace(old, new, 1)
    if new == 'kind = "rest"':
        text = text.replace('focus = "steps"', "")
    path = written(tmp_path, text)
    with pytest.raises(UserError) as caught:
        read_drill(path)
    said, reason = caught.value.problem.title.removeprefix(f"In {path}, ").split(": ", 1)
    assert said.startswith(f"the field {field} is ")
    assert value in said
    assert why in reason
    assert allowed in caught.value.problem.action


def test_warm_up_and_cool_down_stand_at_the_ends(tmp_path: Path) -> None:
    more = DRILL + '\n[[blocks]]\nkind = "cued"\nminutes = 1\n'
    with pytest.raises(UserError, match=r"blocks\[2\].kind .*in the middle of the drill"):
        read_drill(written(tmp_path, more))


def test_one_thing_at_a_time(tmp_path: Path) -> None:
    aim = DRILL[DRILL.index("[[aims]]") : DRILL.index("[[blocks]]")]
    third = aim.replace('steps"', 'more"', 1).replace("landing", "most")
    with pytest.raises(UserError, match="one thing at a time is cued"):
        read_drill(written(tmp_path, DRILL.replace(aim, aim + third)))


# plans

WRONG_PLAN = [
    ("parts_min = [10]", "", "sessions[0].parts_min", "missing", "required", "a list"),
    ("[10]", "[]", "sessions[0].parts_min", "[]", "lasts 0 minutes", "more than 0"),
    ("[10]", "[60, 60, 10]", "sessions[0].parts_min", "60", "lasts 130 minutes", "up to 120"),
    ("[10]", "[5, 0, 5]", "sessions[0].parts_min", "[5, 0, 5]", "too short", "only the first"),
    ("[10]", "[-1]", "sessions[0].parts_min[0]", "-1", "not allowed", "0 to 60"),
    ("[0, 10]", "[1, 10]", "sessions[1].parts_min", "[1, 10]", "has no cues", "[0, 10]"),
    ('"retention"', '"test"', "sessions[1].kind", '"test"', "not", '"practice", "retention"'),
    ("hours_after", "hours_aftr", "sessions[1].hours_aftr", "48", "hours_after", "parts_min"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "field", "value", "why", "allowed"), WRONG_PLAN)
def test_every_mistake_in_a_plan_is_named(
    tmp_path: Path, old: str, new: str, field: str, value: str, why: str, allowed: str
) -> None:
    read_plan(written(tmp_path, PLAN, "good.toml"))
    path = written(tmp_path, PLAN.replace(old, new, 1))
    with pytest.raises(UserError) as caught:
        read_plan(path)
    said, reason = caught.value.problem.title.removeprefix(f"In {path}, ").split(": ", 1)
    assert said.startswith(f"the field {field} is ")
    assert value in said
    assert why in reason
    assert allowed in caught.value.problem.action


def test_a_plan_needs_sessions(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="sessions is missing: there is nothing to do"):
        read_plan(written(tmp_path, 'title = "x"\nsessions = []\n'))


# found by name


def test_five_drills_and_two_plans_come_with_the_program() -> None:
    names = {shelf: [path.stem for path in files(bundled_folder(shelf))] for shelf in
             (DataFolder.DRILLS, DataFolder.PLANS)}  # fmt: skip
    assert names[DataFolder.DRILLS] == [
        "land_under", "level_hips", "quick_steps", "steps_and_landing", "straight_arms",
    ]  # fmt: skip
    assert names[DataFolder.PLANS] == ["eight_sessions", "five_short"]
    for path in files(bundled_folder(DataFolder.DRILLS)):
        assert read_drill(path).title
        assert path.read_text(encoding="utf-8").startswith("# ")  # says what it is for
    for path in files(bundled_folder(DataFolder.PLANS)):
        assert read_plan(path).title


def test_by_name_by_path_and_the_users_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shelf, "own_folder", lambda one: tmp_path / one.value)
    assert find(DataFolder.DRILLS, "quick_steps").name == "quick_steps.toml"
    assert find(DataFolder.DRILLS, "Quick_Steps").name == "quick_steps.toml"
    (tmp_path / "drills").mkdir()
    own = written(tmp_path / "drills", DRILL, "own.toml")
    assert find(DataFolder.DRILLS, "own") == own
    assert find(DataFolder.DRILLS, "some/where.toml") == Path("some/where.toml")
    with pytest.raises(UserError) as caught:
        find(DataFolder.PLANS, "eight_session")
    assert 'no plan called "eight_session"; did you mean "eight_sessions"?' in str(caught.value)
    assert "five_short" in caught.value.problem.action


# prescriptions


@pytest.fixture
def made() -> Prescription:
    two = drill(cadence_aim(), strike_aim(), notes="Some lines\nof text.")
    return prescription(two, bundled_plan("eight_sessions"))


def test_a_prescription_is_one_file_that_reads_back_the_same(
    tmp_path: Path, made: Prescription
) -> None:
    path = tmp_path / "heron.toml"
    write_prescription(made, path)
    assert read_prescription(path) == made
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# A prescription for Heron")
    assert "beltside home heron.toml" in text


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("pain_stop_over = 5", "pain_stop_over = 4"),
        ('code_name = "Heron"', 'code_name = "Plover"'),
        ("beat_spm = 168.0", "beat_spm = 172.0"),
        ("belt_speed_kmh = 10.1", "belt_speed_kmh = 12.0"),
        ("minutes = 4.0", "minutes = 40.0"),
    ],
)
def test_a_changed_prescription_is_not_run(
    tmp_path: Path, made: Prescription, old: str, new: str
) -> None:
    path = tmp_path / "heron.toml"
    write_prescription(made, path)
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(UserError, match="changed after it was written"):
        read_prescription(path)


def test_a_comment_or_another_order_of_fields_changes_nothing(
    tmp_path: Path, made: Prescription
) -> None:
    path = tmp_path / "heron.toml"
    write_prescription(made, path)
    text = path.read_text(encoding="utf-8")
    path.write_text("# for the fridge\n" + text.replace("own = 160.0", "own = 160"))
    assert read_prescription(path) == made


def test_a_prescription_beyond_the_limits_is_refused_even_with_its_sum_right(
    tmp_path: Path, made: Prescription
) -> None:
    goal = made.goals[0]
    fast = msgspec.structs.replace(goal.targets[-1], beat_spm=190.0, high=200.0)
    wrong = msgspec.structs.replace(
        made, goals=(msgspec.structs.replace(goal, targets=(goal.targets[0], fast)), made.goals[1])
    )
    wrong = msgspec.structs.replace(wrong, check=check_sum(wrong))
    path = tmp_path / "heron.toml"
    write_prescription(wrong, path)
    with pytest.raises(UserError, match="at most 10 % over the runner's own"):
        read_prescription(path)
    missing = msgspec.structs.replace(made, goals=made.goals[:1])
    missing = msgspec.structs.replace(missing, check=check_sum(missing))
    write_prescription(missing, path)
    with pytest.raises(UserError, match="one for each aim of the drill"):
        read_prescription(path)
    swapped = msgspec.structs.replace(made, view="behind")
    swapped = msgspec.structs.replace(swapped, check=check_sum(swapped))
    write_prescription(swapped, path)
    with pytest.raises(UserError, match="the drill is for another view"):
        read_prescription(path)
