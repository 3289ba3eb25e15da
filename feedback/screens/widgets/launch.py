"""Starts screens as processes of their own, and tells in plain words when that cannot be."""

from __future__ import annotations

import atexit
import contextlib
import os
import signal
import subprocess
import sys
import tempfile
import weakref
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from feedback.screens.widgets.design import APPEARANCE_VARIABLE
from feedback.screens.widgets.runner_options import BESIDE, DISTANCE_M, TOKEN_VARIABLE
from feedback.storage.preferences import Preferences, read_preferences
from shared.child_environment import child_environment
from shared.language import _, mark
from shared.problems import Problem, UserError, describe

_MOST_DETAILS: Final = 4_000
_END_S: Final = 2.0
_BY_ITSELF: Final = mark("its program stopped unexpectedly")
_NO_DISPLAY: Final = mark("there is no display: neither DISPLAY nor WAYLAND_DISPLAY is set")


class ScreenProcess(subprocess.Popen[bytes]):
    """A screen. What it says on stderr is kept, for the case that it cannot start.

    ``talks``: it is spoken with over its stdin and stdout, which are pipes then.
    """

    def __init__(
        self, command: list[str], environment: dict[str, str], *, talks: bool = False
    ) -> None:
        self._said = tempfile.TemporaryFile()  # noqa: SIM115 - lives as long as this object
        weakref.finalize(self, self._said.close)
        super().__init__(
            command,
            env=environment,
            stdin=subprocess.PIPE if talks else subprocess.DEVNULL,
            stdout=subprocess.PIPE if talks else subprocess.DEVNULL,
            stderr=self._said,
            # Ctrl+C in the terminal is for the station, which then closes the screen.
            start_new_session=sys.platform != "win32",
        )
        _begun.add(self)

    def said(self) -> str:
        """What the screen wrote on stderr so far; the end of it, if that is long."""
        size = self._said.seek(0, os.SEEK_END)
        self._said.seek(max(0, size - _MOST_DETAILS))
        return self._said.read().decode(errors="replace")

    def standing(self) -> str:
        """How its process stands, for the log: its end, or what the system says that it does."""
        code = self.poll()
        if code is None:
            return f"process {self.pid} runs{_at_work(self.pid)}"
        if code >= 0:
            return f"process {self.pid} ended with status {code}"
        with contextlib.suppress(ValueError):
            return f"process {self.pid} ended by {signal.Signals(-code).name}"
        return f"process {self.pid} ended by signal {-code}"

    def end(self, patience_s: float = _END_S) -> None:
        """Wait a moment for it to end by itself, as after a goodbye; help it if it does not."""
        for help_it in (None, self.terminate, self.kill):
            if help_it is not None:
                help_it()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.wait(patience_s)
                _begun.discard(self)
                return

    def ended_early(self) -> UserError:
        """What to raise where it has ended although it was wanted."""
        problem = self.problem()
        details = "" if problem is None else problem.details
        return UserError("screen_unavailable", details, why=_(_BY_ITSELF))

    def problem(self) -> Problem | None:
        """``screen_unavailable`` if the screen has ended by itself with a failure, else None."""
        code = self.poll()
        if code in (None, 0):
            return None
        said = self.said()
        return describe("screen_unavailable", details=f"exit {code}: {said}", why=_(_why(said)))


def _at_work(pid: int) -> str:
    """State and processor time of a process, as Linux tells them; empty elsewhere."""
    try:
        # Its name, in brackets, may hold anything.
        fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
        spent_s = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
        load = " ".join(f"{one:.1f}" for one in os.getloadavg())
    except (OSError, ValueError, IndexError):
        return ""
    state = _STATES.get(fields[0], fields[0])
    return f" ({state}, {spent_s:.1f} s of processor time, load average {load})"


_STATES: Final = {
    "R": "running or waiting for a processor",
    "S": "waiting for something",
    "D": "waiting for a disk",
    "T": "halted by a signal",
    "t": "halted by a debugger",
    "Z": "ended",
}
"""What Linux's letters mean (proc_pid_stat(5))."""

_begun: Final[set[ScreenProcess]] = set()


@atexit.register
def _leave_none_behind() -> None:
    """A signal may come between the beginning of a screen and whoever was to look after it."""
    for screen in _begun:
        if screen.poll() is None:
            screen.kill()


def spawn_runner_screen(
    port: int,
    token: str,
    *,
    distance_m: float = DISTANCE_M,
    windowed: bool = False,
    beside: bool = False,
) -> ScreenProcess:
    """Start the runner's screen; it joins the link at ``port`` with ``token``.

    ``beside``: the panel is opened too, so that on a single monitor it gets its share of it.
    Raises UserError ``screen_unavailable`` where there is no display at all. A screen that fails
    later has ended with a code other than 0; ask :meth:`ScreenProcess.problem`.
    """
    more = ["--distance-m", f"{distance_m:g}", *(["--windowed"] if windowed else [])]
    return _spawn("runner.window", port, token, *more, *([BESIDE] if beside else []))


def spawn_panel(port: int, token: str, *, beside: bool = False) -> ScreenProcess:
    """Start the clinician's panel; as :func:`spawn_runner_screen` in all else."""
    return _spawn("clinician.panel", port, token, *([BESIDE] if beside else []))


def spawn_setup_screen(port: int, token: str, *, windowed: bool = False) -> ScreenProcess:
    """Start the camera check's screen; as :func:`spawn_runner_screen` in all else."""
    return _spawn("camera_check.window", port, token, *(["--windowed"] if windowed else []))


def spawn_pages(*, windowed: bool = False) -> ScreenProcess:
    """Start the window with the pages of a session at home, which talks over stdin and stdout.

    Raises UserError ``screen_unavailable`` as :func:`spawn_runner_screen` does.
    """
    command = [sys.executable, "-m", "feedback.screens.home.window"]
    return _start([*command, *(["--windowed"] if windowed else [])], "", talks=True)


def spawn_start(file: Path | None = None) -> ScreenProcess:
    """Start the start window, with a prescription that was opened, if any.

    Raises UserError ``screen_unavailable`` as :func:`spawn_runner_screen` does.
    """
    command = [sys.executable, "-m", "feedback.screens.start.window"]
    return _start([*command, *([] if file is None else [str(file)])], "")


def _spawn(screen: str, port: int, token: str, *more: str) -> ScreenProcess:
    command = [sys.executable, "-m", f"feedback.screens.{screen}", "--port", str(port), *more]
    return _start(command, token)


def _start(command: list[str], token: str, *, talks: bool = False) -> ScreenProcess:
    environment = child_environment(os.environ)
    if not has_display(environment):
        raise UserError("screen_unavailable", why=_(_NO_DISPLAY))
    if token:
        environment[TOKEN_VARIABLE] = token
    environment.setdefault(APPEARANCE_VARIABLE, preferred().appearance)
    try:
        return ScreenProcess(command, environment, talks=talks)
    except OSError as error:
        raise UserError("screen_unavailable", why=str(error)) from error


def preferred() -> Preferences:
    """What the user prefers; a file that is wrong is told of where preferences are changed."""
    try:
        return read_preferences()
    except UserError:
        return Preferences()


def has_display(environment: Mapping[str, str], platform: str = sys.platform) -> bool:
    """Whether a window can be expected to open; where it cannot, Qt would abort."""
    if platform in ("win32", "darwin"):
        return True
    return any(environment.get(name) for name in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"))


def _why(said: str) -> str:
    """The likely reason in plain words, from what Qt says when it gives up."""
    if "could not connect to display" in said:
        return mark("the display does not answer")
    if "platform plugin" in said or "shared object file" in said:
        return mark("a system library for windows is missing")
    return _BY_ITSELF
