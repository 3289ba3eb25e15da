"""Single fields of a profile are changed; all else stays as somebody wrote it."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedback.athlete_files.athletes import bundled_folder
from feedback.athlete_files.next_step import NextKind, next_step, read_kept
from feedback.athlete_files.profile_edit import (
    changed,
    check_text,
    put_in,
    read_text,
    save_new,
    save_text,
)
from shared.problems import UserError

HERON = bundled_folder() / "heron.toml"


@pytest.fixture(autouse=True)
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data" / "beltside"


def lines_changed(before: str, after: str) -> set[str]:
    return set(before.splitlines()) ^ set(after.splitlines())


def test_one_line_changes_and_its_comment_stays() -> None:
    before = read_text(HERON)
    after = changed(before, HERON, {("targets", 0, "low"): 164.0})
    comment = "      # 168 less 3 %"
    assert lines_changed(before, after) == {f"low = 163.0{comment}", f"low = 164.0{comment}"}


def test_fields_and_tables_that_were_not_there_are_put_where_they_belong() -> None:
    before = read_text(HERON)
    after = changed(
        before,
        HERON,
        {
            ("belt_speed_kmh",): None,
            ("limits", "longest_min"): 30.0,
            ("targets", 2): {"measure": "trunk_lean", "unit": "deg", "high": 12.0},
        },
    )
    athlete = check_text(after, HERON)
    assert athlete.belt_speed_kmh is None
    assert athlete.limits.longest_min == 30.0
    assert [target.measure for target in athlete.targets][2:] == ["trunk_lean"]
    back = changed(after, HERON, {("targets", 2): None, ("belt_speed_kmh",): 10.1})
    assert check_text(back, HERON).belt_speed_kmh == 10.1
    assert len(check_text(back, HERON).targets) == 2


def test_carriage_returns_and_long_notes_stay_readable() -> None:
    before = 'code_name = "Ruff"\r\nheight_cm = 170\r\nview = "side"\r\n'
    after = put_in(before, HERON, {("height_cm",): 171})
    assert after == before.replace("170", "171")
    noted = put_in(before, HERON, {("notes",): "one\ntwo"})
    assert '"""' in noted
    assert check_text(noted, HERON).notes == "one\ntwo"


def test_what_would_not_be_usable_is_refused() -> None:
    with pytest.raises(UserError, match="height_cm is 300"):
        changed(read_text(HERON), HERON, {("height_cm",): 300})
    with pytest.raises(UserError, match="not valid TOML"):
        put_in("code_name = ", HERON, {})


def test_a_file_that_changed_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "one.toml"
    path.write_text("a = 1\n", encoding="utf-8")
    read = read_text(path)
    path.write_text("a = 2\n", encoding="utf-8")
    with pytest.raises(UserError) as caught:
        save_text(path, "a = 3\n", read)
    assert caught.value.problem.code == "profile_changed"
    assert path.read_text(encoding="utf-8") == "a = 2\n"
    with pytest.raises(UserError) as caught:
        save_text(path, "a = 3\n", None)
    assert caught.value.problem.code == "profile_exists"


def test_a_new_runner_takes_no_other_ones_file_and_begins_with_a_baseline(own_data: Path) -> None:
    first, second = save_new("Red Knot", 172.0, 10.1), save_new("Red knot", 168.0, 9.0)
    assert first == own_data / "athletes" / "red-knot.toml"
    assert second.name == "red-knot-2.toml"
    assert first.stat().st_mode & 0o077 == 0
    athlete = check_text(read_text(first), first)
    assert (athlete.height_cm, athlete.belt_speed_kmh, athlete.targets) == (172.0, 10.1, ())
    step = next_step(athlete, read_kept(), 0)
    assert step.kind is NextKind.BASELINE
    with pytest.raises(UserError):
        save_new("x" * 41, 172.0, 10.1)
    with pytest.raises(UserError):
        save_new("tall", 300.0, 10.1)
