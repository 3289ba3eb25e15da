"""What the program says to type next can be typed as it stands there, and finds what it names."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import msgspec
import pytest

from feedback.athlete_files.baselines import other_speed, save_baseline
from feedback.athlete_files.drills import read_drill
from feedback.athlete_files.prescriptions import read_prescription
from feedback.cli.commands import prescribe as prescribe_command
from feedback.cli.common.enrol import enrolled
from feedback.cli.main import build_parser
from feedback.storage.folders import DataFolder, find
from feedback.storage.settings import data_folder
from shared.as_typed import as_typed
from shared.problems import UserError
from tests.feedback.making import athlete
from tests.feedback.training.making import baseline

NAMES = ("anna b.toml", "o'neill.toml", "$HOME;x.toml", "走る人.toml", "plain.toml")
TEXT = """\
code_name = "Anna B"
height_cm = 166
view = "side"
belt_speed_kmh = 10.1

[[targets]]
measure = "cadence"
unit = "steps/min"
low = 160
"""


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert tmp_path in data_folder().parents


@pytest.mark.parametrize("name", NAMES)
def test_the_next_command_names_the_file_as_it_must_be_typed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    path, out = tmp_path / "my runners" / name, tmp_path / "to send" / name
    path.parent.mkdir()
    path.write_text(TEXT)
    words = ["prescribe", "--athlete", str(path), "--drill", "quick_steps", "--plan", "five_short"]
    options = build_parser().parse_args([*words, "--out", str(out)])
    with pytest.raises(UserError) as caught:
        prescribe_command.run(options)
    problem = caught.value.problem
    assert problem.code == "baseline_missing"
    typed = shlex.split(problem.action.partition("beltside ")[2])
    asked = build_parser().parse_args(typed)
    assert (asked.command, enrolled(asked.athlete).profile.path) == ("baseline", path)
    who = enrolled(path).profile.athlete
    own = {"code_name": who.code_name, "athlete_id": who.athlete_id}
    save_baseline(msgspec.structs.replace(baseline(), **own))
    assert prescribe_command.run(options) == 0
    said = capsys.readouterr().out
    plan, home = re.findall(r"beltside ((?:plan|home) [^;\n]*(?:;x[^;\n]*)?)", said)
    for line, command in ((plan, "plan"), (home, "home")):
        words = shlex.split(line)
        assert words[0] == command
        assert read_prescription(Path(words[1])).athlete_id == who.athlete_id
    # The file's own head says it too.
    head = out.read_text(encoding="utf-8").split("beltside home ", 1)[1].splitlines()[0]
    assert shlex.split(head) == [name]


def test_what_needs_no_quotes_has_none() -> None:
    assert as_typed("heron") == "heron"
    assert as_typed(Path("a/heron-2.toml")) == "a/heron-2.toml"
    assert shlex.split(as_typed("an 'odd' name")) == ["an 'odd' name"]


@pytest.mark.parametrize(
    "more",
    [
        (),
        ("--belt-kmh", "9"),
        ("--drill", "level_hips"),
        ("--drill", "level_hips", "--belt-kmh", "9"),
    ],
)
def test_the_baseline_to_be_taken_is_the_one_that_was_missing(
    tmp_path: Path, more: tuple[str, ...]
) -> None:
    """Its view is the drill's, where that is not the profile's, and its speed the one asked for."""
    path = tmp_path / "anna.toml"
    path.write_text(TEXT)
    words = ["prescribe", "--athlete", str(path), "--drill", "quick_steps", *more]
    options = build_parser().parse_args(words)
    with pytest.raises(UserError) as caught:
        prescribe_command.run(options)
    typed = shlex.split(caught.value.problem.action.partition("beltside ")[2])
    asked = build_parser().parse_args(typed)
    profile = enrolled(asked.athlete).profile.athlete
    drill = read_drill(find(DataFolder.DRILLS, options.drill))
    assert (asked.view or profile.view) is drill.view
    assert (asked.belt_kmh or profile.belt_speed_kmh) == (options.belt_kmh or 10.1)


def test_what_follows_a_baseline_at_another_speed_names_that_speed() -> None:
    assert other_speed(msgspec.structs.replace(athlete(), belt_speed_kmh=10.1), 10.1) == ""
    assert (
        other_speed(msgspec.structs.replace(athlete(), belt_speed_kmh=10.1), 9.0) == " --belt-kmh 9"
    )
    assert (
        other_speed(msgspec.structs.replace(athlete(), belt_speed_kmh=None), 9.0) == " --belt-kmh 9"
    )
