"""Keeps the computer from blanking the screen: a runner touches no key for half an hour."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from typing import Final

_WHO: Final = "Beltside"
_WHY: Final = "A runner is watching"


def keep_awake() -> None:
    """Ask the desktop to leave the screen on for as long as this process lives.

    A desktop that does not know how is left as it is; nothing is raised.
    """
    if sys.platform == "win32":
        import ctypes

        continuous, display_required = 0x80000000, 0x00000002  # SetThreadExecutionState, winbase.h
        ctypes.windll.kernel32.SetThreadExecutionState(continuous | display_required)
    elif sys.platform == "darwin":
        with contextlib.suppress(OSError):
            subprocess.Popen(["caffeinate", "-d", "-w", str(os.getpid())])
    else:
        _inhibit()


def _inhibit() -> None:
    """The freedesktop.org screen saver interface; the desktop forgets it when we disconnect."""
    from PyQt6.QtDBus import QDBusConnection, QDBusMessage

    call = QDBusMessage.createMethodCall(
        "org.freedesktop.ScreenSaver",
        "/org/freedesktop/ScreenSaver",
        "org.freedesktop.ScreenSaver",
        "Inhibit",
    )
    call.setArguments([_WHO, _WHY])
    QDBusConnection.sessionBus().send(call)
