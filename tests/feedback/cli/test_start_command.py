"""``beltside`` alone, a double click, and the entry in the desktop's menu."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from feedback.cli.common import launcher
from feedback.cli.main import _meant, main
from shared.child_environment import child_environment

DISPLAYS = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")


def test_no_words_and_a_prescription_alone_mean_the_start_window() -> None:
    assert _meant([]) == ["start"]
    assert _meant(["heron.prescription.toml"]) == ["start", "heron.prescription.toml"]
    assert _meant(["home", "heron.toml"]) == ["home", "heron.toml"]
    assert _meant(["--help"]) == ["--help"]


def test_without_a_display_it_says_what_to_type_instead(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    for name in DISPLAYS:
        monkeypatch.delenv(name, raising=False)
    assert main([]) == 1
    said = capfd.readouterr().err
    assert "no display" in said
    assert "beltside help command-line" in said
    assert "Traceback" not in said
    assert len(said.splitlines()) == 2


def test_a_file_that_is_not_there_opens_no_window(capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["start", "nothing.toml"]) == 1
    assert "nothing.toml" in capfd.readouterr().err


@pytest.mark.skipif(sys.platform != "linux", reason="the freedesktop.org menu is Linux's")
def test_the_menu_entry_is_valid_ties_prescriptions_and_goes_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert main(["install-launcher"]) == 0
    entry, icon, mime = launcher.places()
    # Desktop Entry Specification 1.4, by the validator of its authors where it is installed.
    if (validator := shutil.which("desktop-file-validate")) is not None:
        done = subprocess.run([validator, str(entry)], capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout) == (0, "")
    pairs = [line.split("=", 1) for line in entry.read_text(encoding="utf-8").splitlines()[1:]]
    keys = dict(pairs)
    assert {"Type", "Name", "Exec", "Icon", "MimeType"} <= set(keys)
    assert keys["Exec"].endswith(" start %f")
    assert ElementTree.parse(icon).getroot().tag == "{http://www.w3.org/2000/svg}svg"  # noqa: S314
    assert type_of("heron.prescription.toml", tmp_path) == launcher.MIME_TYPE
    assert type_of("heron.toml", tmp_path) != launcher.MIME_TYPE
    if shutil.which("update-mime-database") is not None:
        globs = (tmp_path / "mime" / "globs2").read_text(encoding="utf-8")
        assert f"60:{launcher.MIME_TYPE}:{launcher.PATTERN}" in globs
    assert main(["install-launcher", "--remove"]) == 0
    assert not any(path.exists() for path in (entry, icon, mime))
    assert main(["install-launcher", "--remove"]) == 0
    assert "nothing to remove" in capsys.readouterr().out


def type_of(name: str, data: Path) -> str:
    """What Qt, a reader of the shared MIME database, takes a file of that name for."""
    code = (
        "import sys; from PyQt6.QtCore import QMimeDatabase;"
        "print(QMimeDatabase().mimeTypesForFileName(sys.argv[1])[0].name())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, name],
        env=child_environment(os.environ) | {"XDG_DATA_HOME": str(data)},
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return done.stdout.strip()


@pytest.mark.parametrize(
    ("word", "written"),
    [
        ("/opt/a b/beltside", '"/opt/a b/beltside"'),
        ("/opt/100%/x", '"/opt/100%%/x"'),
        ('/opt/"q"/x', '"/opt/\\\\"q\\\\"/x"'),
        ("/opt/$HOME/x", '"/opt/\\\\$HOME/x"'),
    ],
)
def test_a_path_of_any_kind_is_quoted_as_the_specification_says(word: str, written: str) -> None:
    assert launcher.quoted(word) == written
