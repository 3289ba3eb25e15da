"""The desktop's menu entry, its icon and the type of prescription files, on Linux.

By the freedesktop.org specifications: Desktop Entry 1.4, Icon Theme 0.13, Shared MIME-info 0.21.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

from shared.files import save_atomically
from shared.language import _

MIME_TYPE: Final = "application/x-beltside-prescription"
PATTERN: Final = "*.prescription.toml"
_ICON: Final = Path(__file__).resolve().parents[2] / "screens" / "start" / "beltside.svg"
_READABLE: Final = 0o644
_UPDATE_S: Final = 30.0
_RESERVED: Final = '"`$\\'
"""What has to be written behind a backslash within quotes of an Exec key."""

_MIME: Final = """\
<?xml version="1.0" encoding="UTF-8"?>
<mime-info xmlns="http://www.freedesktop.org/standards/shared-mime-info">
  <mime-type type="{mime}">
    <comment>{comment}</comment>
    <sub-class-of type="application/toml"/>
    <sub-class-of type="text/plain"/>
    <icon name="beltside"/>
    <glob pattern="{pattern}" weight="60"/>
  </mime-type>
</mime-info>
"""
_ENTRY: Final = """\
[Desktop Entry]
Type=Application
Version=1.4
Name=Beltside
GenericName={generic}
Comment={comment}
Exec={command} start %f
Icon=beltside
Terminal=false
Categories=Science;MedicalSoftware;
Keywords=running;gait;treadmill;cadence;
MimeType={mime};
StartupWMClass=beltside
StartupNotify=true
"""


def install() -> tuple[Path, ...]:
    """Write the files and have the desktop read them anew. Raises UserError ``save_failed``."""
    entry, icon, mime = places()
    save_atomically(icon, _ICON.read_bytes(), _READABLE)
    texts = {"mime": MIME_TYPE, "pattern": PATTERN, "comment": _("Beltside prescription")}
    save_atomically(mime, _MIME.format(**texts).encode(), _READABLE)
    said = {
        "generic": _("Running biofeedback"),
        "comment": _("Biofeedback for treadmill running, from one ordinary camera"),
        "command": " ".join(quoted(word) for word in command()),
        "mime": MIME_TYPE,
    }
    save_atomically(entry, _ENTRY.format(**said).encode(), _READABLE)
    _tell_desktop()
    return entry, icon, mime


def remove() -> tuple[Path, ...]:
    """Take them away; what was there."""
    gone = []
    for path in places():
        with contextlib.suppress(FileNotFoundError):
            path.unlink()
            gone.append(path)
    if gone:
        _tell_desktop()
    return tuple(gone)


def places() -> tuple[Path, Path, Path]:
    """Where menu entry, icon and the type of file are kept for this user."""
    data = _data_home()
    return (
        data / "applications" / "beltside.desktop",
        data / "icons" / "hicolor" / "scalable" / "apps" / "beltside.svg",
        data / "mime" / "packages" / "beltside.xml",
    )


def command() -> tuple[str, ...]:
    """How this very installation is started, wherever it is started from."""
    program = Path(sys.executable).with_name("beltside")
    if program.is_file():
        return (str(program),)
    return (sys.executable, "-m", "feedback.cli")


def quoted(word: str) -> str:
    """A word of an Exec key, by the rules of the Desktop Entry Specification."""
    inside = "".join(f"\\{letter}" if letter in _RESERVED else letter for letter in word)
    # The whole value is a string too, in which a backslash stands doubled; % begins a field code.
    return '"' + inside.replace("\\", "\\\\").replace("%", "%%") + '"'


def _data_home() -> Path:
    """Base Directory Specification: an absolute ``XDG_DATA_HOME``, or its default."""
    told = os.environ.get("XDG_DATA_HOME", "")
    return Path(told) if os.path.isabs(told) else Path.home() / ".local" / "share"  # noqa: PTH117


def _tell_desktop() -> None:
    """Desktops look for changes by themselves too; where a tool is missing it takes longer."""
    data = _data_home()
    for tool, folder in (
        ("update-mime-database", data / "mime"),
        ("update-desktop-database", data / "applications"),
    ):
        program = shutil.which(tool)
        if program is None or not folder.is_dir():
            continue
        with contextlib.suppress(OSError, subprocess.TimeoutExpired):
            subprocess.run(
                [program, str(folder)], check=False, capture_output=True, timeout=_UPDATE_S
            )
