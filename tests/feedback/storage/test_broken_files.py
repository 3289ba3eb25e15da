"""Broken files of the user's own: an answer in words, soon, and the sound ones beside them."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import signal
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
import tomli_w

from feedback.athlete_files.baselines import save_baseline
from feedback.athlete_files.prescriptions import signed, write_prescription
from feedback.storage.folders import DataFolder, own_folder
from shared.problems import UserError
from tests.feedback.records.command_line import run
from tests.feedback.records.month import baseline, prescription, short_session
from tests.feedback.records.test_sharing import data, given, result, sent
from tests.feedback.records.test_signed_results import OTHER
from tests.feedback.storage.mutations import kinds, trouble

__all__ = ["data"]  # a fixture

COUNT = 2_000
"""A hundred thousand: python -m tests.bench.bench_mutations."""


def test_no_reader_fails_or_hangs_on_a_broken_file(tmp_path: Path) -> None:
    logging.disable(logging.CRITICAL)
    try:
        found = [(name, came) for name, came, _ in trouble(tmp_path, COUNT, seed=20_261_130)]
    finally:
        logging.disable(logging.NOTSET)
    assert found == []


@pytest.mark.parametrize(
    ("name", "path", "value"),
    [
        ("log.json", ("done", 1, "number"), -(2**63)),
        ("log.json", ("done", 1, "number"), 0),
        ("log.json", ("done", 1, "levels", "steps"), -1),
        ("kept.home.json", ("prescription", "goals", 0, "targets", 0, "measure"), "caddence"),
        ("kept.home.json", ("prescription", "goals", 0, "targets"), []),
        ("draft.toml", ("goals", 0, "targets"), []),
    ],
)
def test_a_value_that_no_version_writes_is_refused_in_words(
    tmp_path: Path, name: str, path: tuple[str | int, ...], value: object
) -> None:
    (kind,) = (one for one in kinds(tmp_path / "sound") if one.name == name)
    is_toml = name.endswith(".toml")
    table = (tomllib if is_toml else json).loads(kind.content.decode())
    inside: Any = table
    for part in path[:-1]:
        inside = inside[part]
    for content, is_fine in ((inside[path[-1]], True), (value, False)):
        inside[path[-1]] = content
        (tmp_path / name).write_text((tomli_w if is_toml else json).dumps(table))
        if is_fine:
            kind.read(tmp_path / name)
            continue
        with pytest.raises(UserError) as raised:
            kind.read(tmp_path / name)
        assert raised.value.problem.code in ("file_unreadable", "field_wrong")


def deep(path: Path) -> None:
    path.write_text("a = " + "[" * 5000 + "]" * 5000)


def digits(path: Path) -> None:
    path.write_text(f"height_cm = {'9' * 5000}\ncode_name = 'Heron'\n")


def hexadecimal(path: Path) -> None:
    path.write_text(f"height_cm = 0x{'f' * 5000}\ncode_name = 'Heron'\n")


def dotted(path: Path) -> None:
    path.write_text("a." * 200_000 + "a = 1\n")


def device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def pipe(path: Path) -> None:
    os.mkfifo(path)


def folder(path: Path) -> None:
    path.mkdir()


BREAKS = (deep, digits, hexadecimal, dotted, device, pipe, folder)
FOLDERS = ("athletes", "drills", "plans", "prescriptions", "baselines", "progress", "results")


@contextlib.contextmanager
def within(seconds: float) -> Iterator[None]:
    """Breaks off what waits for ever."""

    def give_up(*_: object) -> None:
        raise TimeoutError

    before = signal.signal(signal.SIGALRM, give_up)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    with within(60):
        return run(capsys, *words)


@pytest.fixture
def broken(data: Path) -> Path:
    """A data folder with a session, a baseline, and one of every broken file in every folder."""
    for name in FOLDERS:
        (data / name).mkdir()
        ending = ".toml" if name in FOLDERS[:4] else ".json"
        for make in BREAKS:
            stem = "heron-side-10kmh-" if name == "baselines" else ""
            make(data / name / f"{stem}{make.__name__}{ending}")
    save_baseline(msgspec.structs.replace(baseline("Heron"), belt_speed_kmh=10.1))
    short_session(data / "sessions", "Heron", 1)
    for ending in (".jsonl", ".home.json", ".track"):
        for make in BREAKS:
            make(data / "sessions" / f"{make.__name__}{ending}")
    return data


def test_broken_files_of_every_kind_hide_no_sound_one(
    broken: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    code, out, _ = said(capsys, "athletes")
    assert (code, out.count("not usable")) == (0, len(BREAKS))
    assert "Heron, " in out
    code, out, err = said(capsys, "records")
    assert (code, out.startswith("Heron: 1 session\n")) == (0, True)
    assert out.count("Owner not known") >= 2 * len(BREAKS)
    assert err.count("is skipped") == 2 * len(BREAKS)
    for words in (("report", "heron"), ("export", "heron", "--out", str(tmp_path / "out.csv"))):
        assert said(capsys, *words)[0] == 0
    asked = ("prescribe", "--athlete", "heron", "--drill", "steps_and_landing")
    code, out, _ = said(capsys, *asked, "--belt-kmh", "10.1", "--out", str(tmp_path / "p.toml"))
    assert (code, out.count("cannot be read")) == (0, len(BREAKS))
    assert said(capsys, "plan", str(tmp_path / "p.toml"))[0] == 1  # it holds no plan
    for make in BREAKS:
        track = str(broken / "sessions" / f"{make.__name__}.track")
        assert said(capsys, "remeasure", track)[0] == 1
        for command in ("plan", "sign", "home"):
            path = str(broken / "prescriptions" / f"{make.__name__}.toml")
            assert said(capsys, command, path)[0] == 1, (command, make)
        path = str(broken / "results" / f"{make.__name__}.json")
        assert said(capsys, "receive", path)[0] == 1
    code, out, err = said(capsys, "erase", "heron", "--yes")
    assert (code, "Erased: 1 session, " in out) == (0, True)
    assert "not known whose" in err


@pytest.mark.parametrize("make", [deep, dotted, device, pipe, folder])
def test_broken_settings_end_nothing_that_can_do_without(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path, make: Callable[[Path], None]
) -> None:
    made = given()
    (data / "own.toml").write_bytes(
        (own_folder(DataFolder.PRESCRIPTIONS) / "heron.toml").read_bytes()
    )
    short_session(data / "sessions", "Heron", 1)
    make(data / "records.toml")
    code, out, err = said(capsys, "records")
    assert (code, out) == (0, "Heron: 1 session\n")
    assert "records.toml" in err
    assert "this computer's own store" in err
    for words in (("report", "heron"), ("progress", "heron"), ("plan", str(data / "own.toml"))):
        assert said(capsys, *words)[0] == 0
    for writing in (("erase", "heron", "--yes"), ("receive", sent(tmp_path, result(made)))):
        code, _, err = said(capsys, *writing)
        assert (code, "records.toml" in err) == (1, True)
    assert list(data.glob("sessions/*.jsonl"))
    # A key that is not known without the settings is not taken for the first one.
    other = signed(prescription(), OTHER)
    write_prescription(other, tmp_path / "other.toml")
    code, _, err = said(capsys, "plan", str(tmp_path / "other.toml"))
    assert (code, "records.toml" in err) == (1, True)


def test_the_store_is_a_file(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pipe(data / "store.sqlite")
    code, _, err = said(capsys, "records")
    assert (code, "not a file" in err) == (1, True)
