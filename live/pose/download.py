"""Fetch one pinned wheel with the pip beside this Python, honouring the user's pip settings."""

from __future__ import annotations

import importlib.util
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Final

import msgspec

from shared.language import _, mark, told
from shared.problems import UserError

Report = Callable[[str, int, int], None]
"""Called with what is being done, bytes so far, bytes in all (0 while that is unknown)."""

RESUMES: Final = 60
"""How often pip takes up a broken download again. With pip's own waits between its tries to
connect, that bridges several minutes without a network."""
FETCHING: Final = mark("Getting the pose model")
RESUMING: Final = mark("Connection lost; continuing where it stopped")
WAITING: Final = mark("No answer from the network; trying again")
_PROGRESS: Final = re.compile(r"Progress (\d+) of (\d+)")
_OUTPUT_KEPT: Final = 40


class WheelPin(msgspec.Struct, frozen=True, kw_only=True):
    """One wheel of one release for one platform, so that every computer gets the same file."""

    name: str
    version: str
    sha256: str
    platform: str
    python: str
    """As in the wheel's file name, without the dot: ``311``."""


def fetch_wheel(pin: WheelPin, folder: Path, report: Report) -> Path:
    """Download the wheel into ``folder`` and return its path; pip has checked its sha256.

    A connection that breaks off is taken up again by pip where it stopped (RESUMES times), but
    only within this call: pip keeps no part of a file from one run to the next. Raises UserError
    ``bundle_download_failed`` when pip is missing or gives up.
    """
    if importlib.util.find_spec("pip") is None:
        raise UserError(
            "bundle_download_failed",
            why=told(
                "pip is missing; '{executable} -m ensurepip' adds it", executable=sys.executable
            ),
        )
    wanted = f"{pin.name}=={pin.version} --hash=sha256:{pin.sha256}\n"
    (folder / "wanted.txt").write_text(wanted, encoding="ascii")
    target = f"--platform {pin.platform} --python-version {pin.python} --abi cp{pin.python}"
    output = _run_pip(
        "download --requirement wanted.txt --require-hashes --no-deps --only-binary :all: "
        f"--implementation cp {target} --dest . --resume-retries {RESUMES} "
        "--progress-bar raw --no-input --disable-pip-version-check",
        folder,
        report,
    )
    wheels = sorted(folder.glob("*.whl"))
    if not wheels:
        raise UserError("bundle_download_failed", output, why=_reason(output))
    return wheels[0]


def _run_pip(arguments: str, folder: Path, report: Report) -> str:
    """Run pip in ``folder``, pass its progress on, and return the last lines it printed.

    It runs in a folder of our own, so that nothing lying about can pass for pip.
    """
    report(_(FETCHING), 0, 0)
    kept: list[str] = []
    with subprocess.Popen(
        [sys.executable, "-m", "pip", *arguments.split()],
        cwd=folder,
        # the user's proxy, also once live.pose.offline has taken it from the pose model
        env=os.environ,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
    ) as pip:
        assert pip.stdout is not None  # noqa: S101  (a pipe was asked for)
        try:
            for line in pip.stdout:
                if progress := _PROGRESS.search(line):
                    report(_(FETCHING), int(progress[1]), int(progress[2]))
                    continue
                if "Attempting to resume" in line:
                    report(_(RESUMING), 0, 0)
                elif "Retrying (" in line:
                    report(_(WAITING), 0, 0)
                kept = [*kept[1 - _OUTPUT_KEPT :], line.rstrip()]
        except BaseException:
            pip.kill()
            raise
    return "\n".join(kept)


def _reason(output: str) -> str:
    """Why pip gave up, in plain words, from what it printed."""
    if "DO NOT MATCH THE HASHES" in output:
        return told("what arrived is not the expected file")
    if "No space left" in output:
        return told("the disk is full")
    if "from versions: none" in output or "Retrying (" in output:
        return told("the package index does not answer")
    if "IncompleteDownload" in output or "incomplete-download" in output:
        return told("the connection kept breaking off")
    errors = [line for line in output.splitlines() if line.lower().startswith("error")]
    return errors[-1].partition(":")[2].strip()[:200] if errors else told("pip failed")
