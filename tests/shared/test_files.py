"""Files: what cannot be read is told in words; a save is whole or not there at all."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.files import save_atomically
from shared.problems import UserError
from shared.reading import read_toml


def code_of(path: Path) -> str:
    with pytest.raises(UserError) as caught:
        read_toml(path)
    assert str(path) in caught.value.problem.title
    return caught.value.problem.code


def test_reads_toml_with_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes('\ufeffname = "Ä"\n'.encode())
    assert read_toml(path) == {"name": "Ä"}


def test_what_cannot_be_read_is_told_apart(tmp_path: Path) -> None:
    assert code_of(tmp_path / "none.toml") == "file_missing"
    assert code_of(tmp_path) == "file_unreadable"
    broken = tmp_path / "broken.toml"
    broken.write_text("a = 1\nb = = 2\n")
    assert code_of(broken) == "toml_broken"
    # too long, and too deep in two ways
    for text in (f"a = {'1' * 5000}", f"a = {'[' * 3000}{']' * 3000}", f"{'a.' * 5000}a = 1"):
        (tmp_path / "endless.toml").write_text(f"{text}\n")
        assert code_of(tmp_path / "endless.toml") == "toml_broken"
    with pytest.raises(UserError, match="line 2"):
        read_toml(broken)
    broken.write_bytes(b"\xff\xff")
    assert code_of(broken) == "file_unreadable"


@given(content=st.binary(max_size=200))
def test_no_content_gets_past_as_anything_but_a_table_or_a_problem(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    path = tmp_path_factory.mktemp("any") / "a.toml"
    path.write_bytes(content)
    code = ""
    try:
        table = read_toml(path)
    except UserError as error:
        code = error.problem.code
    else:
        assert isinstance(table, dict)
    assert code in ("", "toml_broken", "file_unreadable")


def test_saves_for_the_owner_only_and_makes_the_folder(tmp_path: Path) -> None:
    path = tmp_path / "new" / "a.bin"
    save_atomically(path, b"one")
    save_atomically(path, b"two")
    assert path.read_bytes() == b"two"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [one.name for one in path.parent.iterdir()] == ["a.bin"]


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_failed_save_leaves_the_old_bytes_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    path = tmp_path / "a.bin"
    save_atomically(path, b"old")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, fail)
    with pytest.raises(UserError, match="No space left on device") as caught:
        save_atomically(path, b"new")
    assert caught.value.problem.code == "save_failed"
    assert path.read_bytes() == b"old"
    assert [one.name for one in tmp_path.iterdir()] == ["a.bin"]


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(UserError) as caught:
        save_atomically(tmp_path / "file" / "a.bin", b"")
    assert caught.value.problem.code == "save_failed"
