"""A copy of the pose library without its maker's address, where no setting keeps it silent.

On Windows and macOS the library reports by the system's own means (WinINet, NSURLSession), which
look at no setting of a single program. The address that it reports to stands in its file once, in
plain letters; in the copy another of the same length stands there, at which nobody is.
"""

from __future__ import annotations

import contextlib
import ctypes
import importlib.resources
import os
import subprocess
from pathlib import Path
from typing import Final

from mediapipe.tasks.python.core import mediapipe_c_bindings as bindings

from shared.files import save_atomically
from shared.language import told
from shared.problems import UserError

ADDRESS: Final = b"https://play.googleapis.com/log"
LOOPBACK: Final = b"https://127.0.0.1:1/nobody-here"
"""Never leaves the computer. Port 1 is not in use (IANA: tcpmux)."""
NO_SCHEME: Final = b"blocked://nobody-is-there/today"
"""NSURLSession gives up at a scheme that it does not know, and asks no proxy of the system."""
_NAME: Final = "pose-library-"


def load_without_address(folder: Path, platform: str) -> str:
    """Have the library's Python layer use a copy in ``folder``, made first where there is none.

    To be called before the library is first used. Returns why it could not be done; else "".
    """
    if bindings._shared_lib is not None:
        return "" if _NAME in bindings._shared_lib._name else told("it was loaded already")
    try:
        bindings._shared_lib = ctypes.CDLL(str(_copy(folder, platform)))
    except UserError as error:
        return error.problem.title
    except subprocess.CalledProcessError as error:
        return told("the copy could not be signed: {stderr}", stderr=error.stderr.strip())
    except OSError as error:
        return str(error)
    return ""


def _copy(folder: Path, platform: str) -> Path:
    """The copy that belongs to the installed library, told by its size and time."""
    (original,) = Path(str(importlib.resources.files("mediapipe.tasks.c"))).glob("libmediapipe.*")
    about = original.stat()
    copy = folder / f"{_NAME}{about.st_size}-{about.st_mtime_ns}{original.suffix}"
    if copy.exists():
        return copy
    content = original.read_bytes()
    if content.count(ADDRESS) != 1:
        raise OSError("its address is not where it was")
    instead = NO_SCHEME if platform == "darwin" else LOOPBACK
    unsigned = copy.with_name(f"unsigned-{os.getpid()}-{copy.name}")
    save_atomically(unsigned, content.replace(ADDRESS, instead))
    try:
        if platform == "darwin":  # which loads no library whose signature is broken
            sign = ["codesign", "--force", "--sign", "-", str(unsigned)]
            subprocess.run(sign, check=True, capture_output=True, text=True)
        os.replace(unsigned, copy)
    finally:
        unsigned.unlink(missing_ok=True)
    for old in folder.glob(f"{_NAME}*"):
        if old != copy:
            with contextlib.suppress(OSError):  # on Windows a file in use stays
                old.unlink()
    return copy
