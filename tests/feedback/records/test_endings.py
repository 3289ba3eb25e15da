"""A file's name says what is in it; another ending is refused in words, with what is possible."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from live.camera.sources import FileSource
from shared.problems import UserError
from tests.feedback.records.command_line import run
from tests.feedback.records.month import short_session
from tests.feedback.records.test_sharing import data

__all__ = ["data"]


@pytest.mark.parametrize(
    ("words", "possible"),
    [
        (("export", "heron", "--out", "x.xlsx"), ".csv or .json"),
        (("export", "heron", "--out", "x"), ".csv or .json"),
        (("export", "heron", "--out", "x.csv", "--format", "fhir"), ".json"),
        (("export", "heron", "--out", "x.docx", "--format", "csv"), ".csv"),
        (("report", "heron", "--out", "x.docx"), ".html, .htm or .pdf"),
        (("progress", "heron", "--out", "x.txt"), ".html, .htm or .pdf"),
    ],
)
def test_another_ending_is_refused_and_nothing_is_written(
    data: Path,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    possible: str,
) -> None:
    short_session(data / "sessions", "Heron", 1)
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    code, _, err = run(capsys, *words)
    assert code == 1
    assert f"Give a name that ends in {possible}." in err
    assert list(work.iterdir()) == []


def test_known_endings_are_written_whatever_their_case(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    short_session(data / "sessions", "Heron", 1)
    for words, begins in (
        (("export", "heron", "--out", "a.CSV"), b"\xef\xbb\xbfsession,"),
        (("export", "heron", "--out", "b.json"), b"{"),
        (("export", "heron", "--out", "c.json", "--format", "fhir"), b"{"),
        (("export", "heron", "--out", "d", "--format", "csv"), b"\xef\xbb\xbfsession,"),
        (("report", "heron", "--out", "e.HTM"), b"<!DOCTYPE html>"),
        (("report", "heron", "--out", "f.PDF"), b"%PDF"),
    ):
        out = tmp_path / words[3]
        assert run(capsys, *words[:3], str(out), *words[4:])[0] == 0
        assert out.read_bytes()[: len(begins)].lower() == begins.lower()


@pytest.mark.parametrize("ending", [".png", ".jpg"])
def test_a_single_picture_is_no_video(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"runner{ending}"
    cv2.imwrite(str(path), np.full((48, 64, 3), 90, np.uint8))
    with pytest.raises(UserError) as caught:
        FileSource(path, as_live=False).open()
    assert caught.value.problem.code == "single_picture"
    assert "MP4" in caught.value.problem.action
