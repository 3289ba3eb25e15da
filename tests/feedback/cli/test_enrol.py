"""Every athlete gets an id of its own, in the profile, and nothing else of the file changes."""

from __future__ import annotations

import os
import stat
import tomllib
import uuid
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.athlete_files.athletes import bundled_athletes, own_folder, read_profile
from feedback.athlete_files.baselines import newest_baseline
from feedback.cli.common.enrol import _put_in, enrolled
from feedback.records.owners import keeps_anything_of
from feedback.storage.folders import DataFolder, save_json
from feedback.storage.folders import own_folder as shelf_folder
from feedback.storage.settings import data_folder
from shared.flow import View
from shared.identity import derived_id, plain
from shared.problems import UserError
from tests.feedback.records.month import baseline

TEXT = """\
# Anna, an example.
# The camera stands at the side.

code_name   =  "Anna"   # a code name
height_cm = 170
view = "side"
notes = '''
athlete_id = "not this one"
'''

[[targets]]  # what is aimed at
measure = "cadence"
unit = "steps/min"
low = 160
"""


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    own_folder().mkdir(parents=True)
    assert tmp_path in own_folder().parents
    return own_folder()


def profile(folder: Path, name: str = "anna", code_name: str = "Anna", **more: str) -> Path:
    path = folder / f"{name}.toml"
    text = TEXT.replace('"Anna"', f'"{code_name}"')
    lines = "".join(f'{key} = "{value}"\n' for key, value in more.items())
    path.write_text(lines + text, encoding="utf-8")
    return path


def kept_before(code_name: str) -> None:
    """A baseline as older versions kept it."""
    folder = shelf_folder(DataFolder.BASELINES)
    folder.mkdir(parents=True, exist_ok=True)
    name = f"{plain(code_name)}-side-10p1kmh-20250301T160000.json"
    save_json(folder / name, baseline(code_name))


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_it_is_written_in_once_and_all_else_stays(data: Path, end: str, mark: str) -> None:
    path = data / "anna.toml"
    before = (mark + TEXT.replace("\n", end)).encode()
    path.write_bytes(before)
    path.chmod(0o640)
    found = enrolled("anna")
    after = path.read_bytes()
    who = found.profile.athlete.athlete_id
    assert uuid.UUID(who).version == 4
    added = [line for line in after.splitlines() if line not in before.splitlines()]
    assert added[1:] == [f'athlete_id = "{who}"'.encode()]
    assert added[0].startswith(b"# ")
    rest = b"".join(line for line in after.splitlines(keepends=True) if line.strip() not in added)
    assert rest == before
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [one.code for one in found.notes] == ["athlete_id_given"]
    assert found.profile.text.encode() == after.removeprefix("\ufeff".encode())
    again = enrolled("anna")
    assert (again.profile.athlete, again.notes) == (found.profile.athlete, ())
    assert path.read_bytes() == after
    assert list(data.iterdir()) == [path]


@given(st.lists(st.sampled_from(["# a comment", "", "  # another", "\t"]), max_size=4))
@settings(max_examples=50, deadline=None)
def test_wherever_it_goes_the_file_says_the_same(lines: list[str]) -> None:
    before = "\n".join([*lines, TEXT])
    who = str(uuid.uuid4())
    after = _put_in(before.encode(), who).decode()
    assert tomllib.loads(after) == {"athlete_id": who, **tomllib.loads(before)}
    assert after.endswith(TEXT.split("\n\n", 1)[1])


def test_a_link_stays_a_link(data: Path, tmp_path: Path) -> None:
    real = profile(tmp_path)
    (data / "anna.toml").symlink_to(real)
    assert enrolled("anna").profile.athlete.athlete_id in real.read_text()
    assert (data / "anna.toml").is_symlink()


def test_who_was_known_before_there_were_ids_stays_the_same(data: Path) -> None:
    kept_before("Anna")
    profile(data)
    athlete = enrolled("anna").profile.athlete
    assert athlete.athlete_id == derived_id("Anna")
    assert newest_baseline(athlete, View.SIDE, 10.1) == baseline("Anna")
    # One of another name has nothing of it, be it read the same.
    profile(data, "anna2", "ANNA")
    other = enrolled("anna2").profile.athlete
    with pytest.raises(UserError, match="no baseline for ANNA"):
        newest_baseline(other, View.SIDE, 10.1)


def test_two_of_the_very_same_name_are_two_and_what_was_kept_is_given_to_neither(
    data: Path, tmp_path: Path
) -> None:
    kept_before("Anna")
    one, other = profile(data), profile(tmp_path, "someone")
    first = enrolled("anna")
    assert [note.code for note in first.notes] == ["athlete_id_given"]  # the other is not known yet
    second = enrolled(other)
    assert [note.code for note in second.notes] == ["athlete_id_given", "athlete_name_mixed"]
    assert str(one) in second.notes[1].title
    assert derived_id("Anna") in second.notes[1].meaning
    assert second.profile.athlete.athlete_id != first.profile.athlete.athlete_id
    third = enrolled(profile(data, "third"))
    assert third.profile.athlete.athlete_id not in (
        first.profile.athlete.athlete_id,
        second.profile.athlete.athlete_id,
        derived_id("Anna"),
    )


def test_where_both_are_known_from_the_start_neither_gets_it(data: Path) -> None:
    kept_before("Anna")
    for name in ("anna", "other"):
        profile(data, name)
    found = [enrolled(name) for name in ("anna", "other")]
    assert all(note.notes[1].code == "athlete_name_mixed" for note in found)
    assert derived_id("Anna") not in [one.profile.athlete.athlete_id for one in found]


def test_the_same_person_may_have_two_profiles(data: Path) -> None:
    who = str(uuid.uuid4())
    for name in ("side", "behind"):
        profile(data, name, athlete_id=who)
        assert enrolled(name).profile.athlete.athlete_id == who


def test_a_copy_for_somebody_else_is_refused(data: Path, tmp_path: Path) -> None:
    for folder in (data, tmp_path):
        enrolled(profile(folder))
        copy = folder / "bea.toml"
        copy.write_text((folder / "anna.toml").read_text().replace('"Anna"', '"Bea"'))
        before = copy.read_bytes()
        with pytest.raises(UserError) as caught:
            enrolled(copy)
        assert caught.value.problem.code == "athlete_id_twice"
        assert str(folder / "anna.toml") in caught.value.problem.title
        assert "athlete_id" in caught.value.problem.action
        assert copy.read_bytes() == before
        for path in (copy, folder / "anna.toml"):
            path.unlink()


def test_a_copy_of_one_that_comes_along_gets_its_own(tmp_path: Path) -> None:
    heron = next(one for one in bundled_athletes() if one.name == "heron")
    copy = tmp_path / "copy.toml"
    copy.write_text(heron.text.replace('"Heron"', '"Bea"'))
    found = enrolled(copy)
    who = found.profile.athlete.athlete_id
    assert [note.code for note in found.notes] == ["athlete_id_copied"]
    assert copy.read_text() == heron.text.replace('"Heron"', '"Bea"').replace(
        heron.athlete.athlete_id, who
    )
    assert found.profile.athlete == msgspec.structs.replace(
        heron.athlete, code_name="Bea", athlete_id=who
    )
    assert enrolled("heron").profile.path == heron.path


def test_those_that_come_along_have_the_id_that_stands_for_their_name() -> None:
    for one in bundled_athletes():
        assert one.athlete.athlete_id == derived_id(one.athlete.code_name)


def test_one_that_may_not_be_written_has_the_id_that_stands_for_the_name(data: Path) -> None:
    path = profile(data)
    path.chmod(0o444)
    before = path.read_bytes()
    found = enrolled("anna")
    assert path.read_bytes() == before
    assert found.profile.athlete.athlete_id == derived_id("Anna")
    (note,) = found.notes
    assert note.code == "athlete_id_derived"
    assert "write-protected" in note.title
    assert derived_id("Anna") in note.meaning
    # A second one of that name would be taken for the first.
    other = profile(data, "other")
    other.chmod(0o444)
    with pytest.raises(UserError) as caught:
        enrolled("other")
    assert caught.value.problem.code == "athlete_id_missing"
    other.chmod(0o644)
    assert enrolled("other").profile.athlete.athlete_id != derived_id("Anna")


def test_a_disk_that_is_full_leaves_the_profile_as_it_was(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = profile(data)
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "replace", full)
        found = enrolled("anna")
    assert found.profile.athlete.athlete_id == derived_id("Anna")
    assert path.read_bytes() == before
    assert list(data.iterdir()) == [path]


@pytest.mark.parametrize("wrong", ["anna", "7F7B3A70-4FC7-5448-A87E-CFADF8A6C967", "../x"])
def test_what_is_no_id_is_refused(data: Path, wrong: str) -> None:
    profile(data, athlete_id=wrong)
    with pytest.raises(UserError, match="athlete_id"):
        enrolled("anna")


@pytest.mark.parametrize("name", ["", "x" * 200, "a\u202eb", " "])
def test_a_name_that_is_none_is_refused(data: Path, name: str) -> None:
    with pytest.raises(UserError, match="code_name"):
        read_profile(profile(data, code_name=name))


def test_whoever_asks_at_the_same_time_gets_the_same(data: Path) -> None:
    profile(data)
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: enrolled("anna"), range(4)))
    assert len({one.profile.athlete.athlete_id for one in found}) == 1
    assert not keeps_anything_of(str(uuid.uuid4()))
    assert data_folder().is_dir()
