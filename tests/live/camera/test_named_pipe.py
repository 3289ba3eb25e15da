"""A video through a named pipe, and what is no video at all in its place: always an end."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

import pytest

from live.camera import named_pipe as pipes
from live.camera.sources import FileSource
from shared.problems import UserError
from tests.live.camera.test_sources import COUNT, clip

__all__ = ["clip"]  # a fixture
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no named pipes among its files")


@pytest.fixture
def pipe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(pipes, "SILENT_S", 0.6)
    path = tmp_path / "pipe.mp4"
    os.mkfifo(path)
    return path


def code_of(path: Path) -> str:
    began = time.monotonic()
    with closing(FileSource(path, as_live=False)) as source, pytest.raises(UserError) as caught:
        source.open()
    assert time.monotonic() - began < 5
    return caught.value.problem.code


def test_a_video_comes_through_a_pipe_whole_and_can_be_opened_again(
    pipe: Path, clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))

    def send() -> None:
        content = clip.read_bytes()
        with pipe.open("wb") as out:
            out.write(content[:700])
            out.flush()
            time.sleep(0.3)
            out.write(content[700:])

    sender = threading.Thread(target=send)
    sender.start()
    source = FileSource(pipe, as_live=False)
    for _ in range(2):
        source.open()
        assert source.describe() == str(pipe)
        assert sum(1 for _ in iter(source.read, None)) == COUNT
        source.close()
    sender.join()
    assert source.path.exists()
    spooled = source.path
    del source
    assert not spooled.parent.exists()


def test_a_pipe_that_nobody_writes_to_is_given_up(pipe: Path) -> None:
    assert code_of(pipe) == "pipe_unusable"


def test_a_pipe_whose_writer_says_nothing_is_given_up(pipe: Path) -> None:
    holder = os.open(pipe, os.O_RDWR)
    assert code_of(pipe) == "pipe_unusable"
    os.write(holder, b"x")
    assert code_of(pipe) == "pipe_unusable"
    os.close(holder)


def test_a_pipe_without_an_end_is_given_up(pipe: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipes, "MOST_BYTES", 3_000_000)

    def flood() -> None:
        out = os.open(pipe, os.O_WRONLY)
        with contextlib.suppress(BrokenPipeError):
            while True:
                os.write(out, bytes(1 << 16))
        os.close(out)

    flooder = threading.Thread(target=flood)
    flooder.start()
    assert code_of(pipe) == "pipe_unusable"
    flooder.join()


def test_devices_and_folders_are_no_videos(tmp_path: Path) -> None:
    assert code_of(Path("/dev/zero")) == "video_unreadable"
    assert code_of(Path("/dev/null")) == "video_unreadable"
    assert code_of(tmp_path) == "video_unreadable"
    assert code_of(tmp_path / "none.mp4") == "file_missing"
    assert code_of(Path("a\0b")) == "file_unreadable"
    assert code_of(tmp_path / ("x" * 5000)) == "file_unreadable"
