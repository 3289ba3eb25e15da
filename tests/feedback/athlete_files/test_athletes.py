"""Profiles: the bundled ones are right, their page is true, and every mistake is named."""

from __future__ import annotations

import re
from pathlib import Path

import msgspec
import pytest

from feedback.athlete_files import athletes as profiles
from feedback.athlete_files.athletes import (
    bundled_athletes,
    check_athlete,
    find_athlete,
    read_profile,
)
from feedback.storage.folders import DataFolder, bundled_folder, files
from shared.catalogue import CATALOGUE
from shared.flow import Side, View
from shared.problems import UserError
from shared.targets import (
    Aim,
    Athlete,
    Block,
    BlockKind,
    CueStyle,
    Drill,
    Goal,
    Hold,
    Limits,
    Plan,
    PlanSession,
    Prescription,
    Question,
    SessionKind,
    Target,
)

README = Path(profiles.bundled_folder()).parent / "README.md"
GOOD = """
code_name = "Test"
height_cm = 172
view = "side"
belt_speed_kmh = 10

[[targets]]
measure = "cadence"
unit = "steps/min"
low = 163
high = 173
beat_spm = 168
hysteresis = 1
cues = ["beat", "words"]

[[targets]]
measure = "strike_ahead"
unit = "cm"
side = "left"
high = 26
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "someone.toml"
    path.write_text(text, encoding="utf-8")
    return path


def changed(old: str, new: str) -> str:
    assert old in GOOD
    return GOOD.replace(old, new, 1)


def test_a_good_file_is_read(tmp_path: Path) -> None:
    athlete = read_profile(written(tmp_path, GOOD)).athlete
    assert (athlete.code_name, athlete.height_cm, athlete.view) == ("Test", 172.0, View.SIDE)
    assert athlete.belt_speed_mps == pytest.approx(10 / 3.6)
    cadence, strike = athlete.targets
    assert cadence.cues == (CueStyle.BEAT, CueStyle.WORDS)
    assert (strike.side, strike.low, strike.high) == (Side.LEFT, None, 26.0)


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "someone.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read_profile(path).athlete.code_name == "Test"


WRONG = [
    # (what is changed, to what, field, part of the value, part of the reason, part of allowed)
    ('code_name = "Test"', "", "code_name", "missing", "required", "1 to 40"),
    ('"Test"', '""', "code_name", '""', "not allowed", "1 to 40"),
    ('"Test"', '" "', "code_name", '" "', "cannot be read", "letters"),
    ('"Test"', '"a\\u0007b"', "code_name", "a", "U+0007, which cannot be read", "letters"),
    ('"Test"', "12", "code_name", "12", "not allowed", "text in quotes"),
    ("height_cm = 172", "height_cm = 1.72", "height_cm", "1.72", "not allowed", "120 to 220"),
    ("height_cm = 172", 'height_cm = "172"', "height_cm", '"172"', "not allowed", "120 to 220"),
    ("height_cm = 172", "height_cm = true", "height_cm", "true", "not allowed", "120 to 220"),
    ("height_cm = 172", "height_cm = nan", "height_cm", "nan", "not a number", "120 to 220"),
    ("height_cm", "hight_cm", "hight_cm", "172", 'did you mean "height_cm"', "height_cm"),
    ('"side"', '"left"', "view", '"left"', "not allowed", '"side", "behind", "front"'),
    ("_kmh = 10", "_kmh = 2", "belt_speed_kmh", "2", "not allowed", "3 to 25"),
    ("low = 163", "low = 174", "targets[0].low", "174", "not under high (173)", "under 173"),
    ("low = 163", "low = 173", "targets[0].low", "173", "not under high", "under 173"),
    ("low = 163", "low = -inf", "targets[0].low", "-inf", "not a number", "a number"),
    ("low = 163", "low = 82", "targets[0].low", "82", "steps, not strides", "110 to 240"),
    ("low = 163", "lwo = 163", "targets[0].lwo", "163", 'did you mean "low"', "hysteresis"),
    ("high = 26", "", "targets[1].low", "missing", "needs an edge", "low, high or both"),
    ("high = 26", "high = 260", "targets[1].high", "260", "no runner", "-10 to 60 cm"),
    ('"cadence"', '"cadense"', "targets[0].measure", '"cadense"', 'mean "cadence"', "cadence,"),
    ('"cadence"', '"pelvic_shift"', "targets[0].measure", "shift", "not from this view", "trunk"),
    ('"cadence"', '"heel_rise"', "targets[0].measure", "heel", "accuracy not shown", "trunk"),
    ('"strike_ahead"', "7", "targets[1].measure", "7", "not allowed", "text in quotes"),
    ('"cm"', '"in"', "targets[1].unit", '"in"', "no such unit", '"cm", "% leg"'),
    ('unit = "cm"', "", "targets[1].unit", "missing", "required", "text"),
    ('"left"', '"both"', "targets[1].side", '"both"', "not allowed", '"left", "right"'),
    ("low = 163", 'side = "left"', "targets[0].side", '"left"', "left from right", "leave"),
    ("beat_spm = 168", "", "targets[0].beat_spm", "missing", "needs a tempo", "120 to 220"),
    ("beat_spm = 168", "beat_spm = 80", "targets[0].beat_spm", "80", "not allowed", "120 to 220"),
    ("beat_spm = 168", "beat_spm = 174", "targets[0].beat_spm", "174", "own band", "163 to 173"),
    ("high = 26", "high = 26\nbeat_spm = 168", "targets[1].beat_spm", "168", "no beat", "cadence"),
    ('"beat", ', "", "targets[0].cues", '["words"]', "not among the cues", 'add "beat"'),
    ('"words"]', '"buzz"]', "targets[0].cues[1]", '"buzz"', "not allowed", '"out_of_band"'),
    ('["beat", "words"]', '"beat"', "targets[0].cues", '"beat"', "not allowed", "a list"),
    ("hysteresis = 1", "hysteresis = 5", "targets[0].hysteresis", "5", "back", "half the band (5)"),
    ("hysteresis = 1", "hysteresis = -1", "targets[0].hysteresis", "-1", "not", "0 or more"),
    ("high = 26", "average_steps = 0", "targets[1].average_steps", "0", "not", "1 to 40"),
    ("high = 26", "average_steps = 2.5", "targets[1].average_steps", "2.5", "not", "a whole"),
    ("high = 26", "cue_gap_steps = 3", "targets[1].cue_gap_steps", "3", "not", "4 to 40"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "field", "value", "why", "allowed"), WRONG)
def test_every_mistake_is_named(
    tmp_path: Path, old: str, new: str, field: str, value: str, why: str, allowed: str
) -> None:
    path = written(tmp_path, changed(old, new))
    with pytest.raises(UserError) as caught:
        read_profile(path)
    problem = caught.value.problem
    assert problem.code == "field_wrong"
    assert problem.title.startswith(f"In {path}, the field {field} is ")
    said, reason = problem.title.removeprefix(f"In {path}, the field {field} is ").split(": ", 1)
    assert value in said
    assert why in reason
    assert allowed in problem.action


@pytest.mark.parametrize("targets", ["targets = 3", "targets = [3]"])
def test_targets_must_be_tables(tmp_path: Path, targets: str) -> None:
    text = targets + GOOD[: GOOD.index("[[targets]]")]
    with pytest.raises(UserError, match="the field targets") as caught:
        read_profile(written(tmp_path, text))
    assert "[[targets]]" in caught.value.problem.action or "a table" in caught.value.problem.action


@pytest.mark.parametrize("targets", ["", "targets = []"])
def test_a_profile_may_have_no_target_yet_but_nothing_is_cued_without(
    tmp_path: Path, targets: str
) -> None:
    path = tmp_path / "athlete.toml"
    path.write_text(targets + GOOD[: GOOD.index("[[targets]]")], encoding="utf-8")
    athlete = read_profile(path).athlete
    assert athlete.targets == ()
    with pytest.raises(UserError, match="nothing would be cued"):
        check_athlete(athlete, path, to_be_cued=True)


def test_the_same_target_twice_is_refused(tmp_path: Path) -> None:
    text = GOOD + '\n[[targets]]\nmeasure = "strike_ahead"\nunit = "cm"\nhigh = 20\nside = "left"'
    with pytest.raises(UserError, match=r"targets\[2\]\.measure .* set twice"):
        read_profile(written(tmp_path, text))
    other_side = text.replace('high = 20\nside = "left"', 'high = 20\nside = "right"')
    assert len(read_profile(written(tmp_path, other_side)).athlete.targets) == 3


def test_a_long_value_is_cut_short(tmp_path: Path) -> None:
    with pytest.raises(UserError) as caught:
        read_profile(written(tmp_path, changed('"Test"', f'"{"x" * 5000}"')))
    assert len(caught.value.problem.title) < 250


def test_a_one_edged_band_may_have_a_beat_and_a_hysteresis(tmp_path: Path) -> None:
    for edge in ("low = 163\n", "high = 173\n"):
        athlete = read_profile(written(tmp_path, changed(edge, ""))).athlete
        assert athlete.targets[0].hysteresis == 1.0
    with pytest.raises(UserError, match=r"beat_spm is 168"):
        read_profile(written(tmp_path, changed("low = 163\nhigh = 173", "high = 165")))


def test_a_band_in_percent_of_leg_is_not_held_to_the_range_in_cm(tmp_path: Path) -> None:
    text = changed('unit = "cm"', 'unit = "% leg"').replace("high = 26", "high = 70")
    assert read_profile(written(tmp_path, text)).athlete.targets[1].high == 70.0


def test_another_view_can_be_asked_for_but_must_give_the_measures(tmp_path: Path) -> None:
    path = written(tmp_path, GOOD)
    athlete = read_profile(path).athlete
    check_athlete(athlete, path, View.SIDE)
    with pytest.raises(UserError, match=r"targets\[1\]\.measure .*not from this view"):
        check_athlete(athlete, path, View.BEHIND)


def test_broken_missing_and_unreadable_files_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"not valid TOML.*line 4") as caught:
        read_profile(written(tmp_path, changed('"side"', '"side')))
    assert caught.value.problem.code == "toml_broken"
    for path, code in ((tmp_path / "none.toml", "file_missing"), (tmp_path, "file_unreadable")):
        with pytest.raises(UserError) as caught:
            read_profile(path)
        assert caught.value.problem.code == code
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UserError, match="not text"):
        read_profile(binary)


# measures that are not given any more


WITHDRAWN = """
[[targets]]
measure = "arm_direction"
unit = "deg"
side = "left"
high = 30.0
"""


def test_a_file_from_before_is_read_without_the_target_that_is_not_given_any_more(
    tmp_path: Path,
) -> None:
    profile = read_profile(written(tmp_path, GOOD + WITHDRAWN))
    assert profile.athlete == read_profile(written(tmp_path, GOOD)).athlete
    (line,) = profile.left_out
    assert line.startswith("Targets for arm_direction are skipped: it is no longer offered.")
    assert line.endswith(CATALOGUE["arm_direction"].not_offered)
    assert WITHDRAWN.strip() in profile.text


def test_where_nothing_else_would_be_cued_it_is_refused_in_words(tmp_path: Path) -> None:
    alone = changed('"side"', '"behind"')
    alone = alone[: alone.index("[[targets]]")] + WITHDRAWN
    with pytest.raises(UserError) as caught:
        read_profile(written(tmp_path, alone))
    said = caught.value.problem.title
    assert "targets[0].measure" in said
    assert "arm_direction" in said
    assert CATALOGUE["arm_direction"].not_offered.rstrip(".") in said


# the bundled ones


def test_three_athletes_come_with_the_program() -> None:
    found = {profile.name: profile for profile in bundled_athletes()}
    assert sorted(found) == ["dipper", "heron", "plover"]
    assert {name: (p.athlete.view, p.athlete.targets[0].measure) for name, p in found.items()} == {
        "heron": (View.SIDE, "cadence"),
        "dipper": (View.BEHIND, "pelvic_shift"),
        "plover": (View.FRONT, "arm_crossing"),
    }
    for profile in found.values():
        assert profile.athlete.code_name.lower() == profile.name
        assert f'"{profile.athlete.code_name}"' in profile.text
        # The clinic is made up and says so.
        assert "made up" in profile.text


def test_no_bundled_cadence_target_is_more_than_ten_percent_over_its_baseline() -> None:
    """The usual prescription is +5 to +10 % at the same speed (Heiderscheit et al. 2011)."""
    for profile in bundled_athletes():
        for target in profile.athlete.targets:
            if target.measure != "cadence":
                continue
            baseline = re.search(r"Own step rate .*: (\d+) steps/min", profile.athlete.notes)
            assert baseline is not None
            assert target.beat_spm is not None
            assert 1.0 < target.beat_spm / float(baseline[1]) <= 1.10


# finding them


def test_finds_by_name_and_by_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(profiles, "own_folder", lambda: tmp_path / "own")
    assert find_athlete("heron").athlete.code_name == "Heron"
    assert find_athlete("Heron").name == "heron"
    path = written(tmp_path, GOOD)
    assert find_athlete(path).athlete.code_name == "Test"
    monkeypatch.chdir(tmp_path)
    assert find_athlete("someone.toml").text == GOOD
    with pytest.raises(UserError, match='no athlete called "someone"'):
        find_athlete("someone")


def test_the_users_own_files_are_found_after_the_bundled(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(profiles, "own_folder", lambda: tmp_path)
    written(tmp_path, GOOD)
    (tmp_path / "heron.toml").write_text(GOOD, encoding="utf-8")
    assert find_athlete("someone").athlete.code_name == "Test"
    assert find_athlete("heron").athlete.code_name == "Heron"
    assert [path.stem for path in profiles.own_athletes()] == ["heron", "someone"]


def test_an_unknown_name_is_told_with_the_known_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(profiles, "own_folder", lambda: tmp_path / "none")
    with pytest.raises(UserError) as caught:
        find_athlete("herron")
    problem = caught.value.problem
    assert problem.code == "athlete_missing"
    assert problem.title == 'There is no athlete called "herron"; did you mean "heron"?'
    assert "dipper, heron, plover" in problem.action
    with pytest.raises(UserError, match=r'called "xyz"\.'):
        find_athlete("xyz")


def test_a_cadence_target_too_far_over_the_own_is_refused(tmp_path: Path) -> None:
    own = changed("belt_speed_kmh = 10", "belt_speed_kmh = 10\nbaseline_cadence_spm = 152")
    with pytest.raises(UserError, match=r"targets\[0\].beat_spm is 168: it is over \+10 %") as told:
        read_profile(written(tmp_path, own))
    assert "up to 167 steps/min" in told.value.problem.action
    read_profile(written(tmp_path, own.replace("152", "153")))
    stricter = own.replace("152", "160") + "\n[limits]\ncadence_most_percent = 4\n"
    with pytest.raises(UserError, match=r"over \+4 %"):
        read_profile(written(tmp_path, stricter))


@pytest.mark.parametrize(
    "line", ["pain_stop_over = 6", "pain_stop_over = -1", "cadence_most_percent = 11", "pain = 2"]
)
def test_limits_can_only_be_set_stricter(tmp_path: Path, line: str) -> None:
    with pytest.raises(UserError, match=r"limits\.pain|limits\.cadence"):
        read_profile(written(tmp_path, f"{GOOD}\n[limits]\n{line}\n"))


# their page


def table_rows(heading: str) -> dict[str, list[str]]:
    text = README.read_text(encoding="utf-8")
    section = text.split(f"## {heading}\n", 1)[1].split("\n## ", 1)[0]
    rows = [line.strip("| ").split("|") for line in section.splitlines() if line.startswith("| `")]
    return {row[0].strip(" `"): [cell.strip() for cell in row[1:]] for row in rows}


@pytest.mark.parametrize(
    ("heading", "kind"),
    [
        ("The runner", Athlete),
        ("Limits", Limits),
        ("One target", Target),
        ("A drill", Drill),
        ("One aim", Aim),
        ("One block", Block),
        ("A plan", Plan),
        ("One session of a plan", PlanSession),
        ("A prescription", Prescription),
        ("One goal", Goal),
    ],
)
def test_the_page_lists_every_field_and_no_other(heading: str, kind: type[msgspec.Struct]) -> None:
    rows = table_rows(heading)
    fields = {field.name: field for field in msgspec.structs.fields(kind)}
    assert sorted(rows) == sorted(fields)
    for name, field in fields.items():
        _, allowed, meaning = rows[name]
        assert meaning
        assert ("required" in allowed) == field.required, name
        schema = msgspec.json.schema(field.type)
        for limits in (schema, *schema.get("anyOf", ())):
            for key in ("minimum", "maximum", "minLength", "maxLength"):
                if key in limits:
                    assert re.search(rf"(?<!\w){limits[key]:g}\b", allowed), (name, key)
        if isinstance(field.default, int | float) and field.default:
            assert f"else {field.default:g}" in allowed


def test_the_page_lists_every_measure_that_can_be_set() -> None:
    rows = table_rows("Measures that can be held to a band")
    known = {name: spec for name, spec in CATALOGUE.items() if not spec.not_offered}
    assert list(rows) == list(known)
    for name, spec in known.items():
        low, high = spec.plausible
        assert rows[name] == [
            ", ".join(spec.units),
            "left, right" if spec.by_side else "",
            ", ".join(view for view in View if view in spec.views),
            f"{low:g} to {high:g}",
        ]


def test_the_page_names_every_cue_style_and_bundled_file() -> None:
    text = README.read_text(encoding="utf-8")
    for name in (*CueStyle, *View, *Side):
        assert f'"{name}"' in text
    for name in (*Question, *BlockKind, *Hold, *SessionKind):
        assert f'"{name}"' in text
    for profile in bundled_athletes():
        assert f"`{profile.path.name}`" in text
    for shelf in (DataFolder.DRILLS, DataFolder.PLANS):
        found = files(bundled_folder(shelf))
        assert found
        assert all(f"`{path.name}`" in text for path in found)
