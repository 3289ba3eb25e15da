"""Poses of a whole video file, in their order, found by several pose models at once.

The file is cut into parts of equal length, which the models do in turns. Each begins its part anew
and some seconds early, unheard, until it follows the runner and knows whether somebody else is
there. So a file gives the same values on every computer, however many models are at work.
"""

from __future__ import annotations

import math
import os
import threading
from collections.abc import Generator, Sequence
from contextlib import closing
from enum import Enum, auto
from pathlib import Path
from queue import SimpleQueue
from typing import Final, NamedTuple

from live.camera.sources import FileSource
from live.pixel_watch import Kept, keep_of
from live.pose.model import PoseModel
from shared.flow import Pose, View
from shared.units import NS_PER_S

PART_NS: Final = 20 * NS_PER_S
EARLY_NS: Final = 2 * NS_PER_S
"""A second person is known after 1.5 s at the latest (live.pose.people)."""
MOST_MODELS: Final = 4
"""Each reads the whole file, of which the parts of the others are passed over."""


class _End(Enum):
    PART = auto()
    FILE = auto()


class FileFrame(NamedTuple):
    """One frame of the file."""

    pose: Pose
    kept: Kept | None
    """What of its picture is looked at once the frame's place in the stride is known."""


_Found = SimpleQueue[FileFrame | _End | Exception]


def models_for(seconds: float) -> int:
    """How many models a file of this length is worth: one a core, and a part for each.

    At least two for more than one part: a model cannot go back to begin the next one early.
    """
    parts = math.ceil(seconds * NS_PER_S / PART_NS)
    return 1 if parts < 2 else min(max(2, cores()), MOST_MODELS, parts)


def cores() -> int:
    """Processor cores that this program may use."""
    allowed = getattr(os, "sched_getaffinity", None)  # Linux only
    return len(allowed(0)) if allowed is not None else os.cpu_count() or 1


def frames_of(path: Path, models: Sequence[PoseModel], view: View) -> Generator[FileFrame]:
    """Every frame of the file, stamped with the file's own time. Raises what a source raises."""
    enough = threading.Event()
    found: list[_Found] = [SimpleQueue() for _ in models]
    lanes = [
        threading.Thread(target=_work, args=(path, model, view, lane, found, enough), daemon=True)
        for lane, model in enumerate(models)
    ]
    for lane in lanes:
        lane.start()
    try:
        part, end = 0, _End.PART
        while end is _End.PART:
            end = yield from _one_part(found[part % len(models)])
            part += 1
    finally:
        enough.set()
        for lane in lanes:
            lane.join()


def _one_part(found: _Found) -> Generator[FileFrame, None, _End]:
    while True:
        one = found.get()
        if isinstance(one, Exception):
            raise one
        if isinstance(one, _End):
            return one
        yield one


def _work(
    path: Path,
    model: PoseModel,
    view: View,
    lane: int,
    found: list[_Found],
    enough: threading.Event,
) -> None:
    """Every ``len(found)``-th part, from ``lane`` on, until the file ends or is not wanted."""
    source = FileSource(path, as_live=False)
    part, end = lane, _End.PART
    with closing(source):
        try:
            source.open()
            while end is _End.PART:
                end = _do(source, model, view, part, found[lane], enough, alone=len(found) == 1)
                part += len(found)
                found[lane].put(end)
        except Exception as error:  # noqa: BLE001 - raised again in the thread that waits
            found[lane].put(error)


def _do(
    source: FileSource,
    model: PoseModel,
    view: View,
    part: int,
    found: _Found,
    enough: threading.Event,
    alone: bool,
) -> _End:
    """One part; a model that is alone goes through the file without a break."""
    from_ns = part * PART_NS
    to_ns = None if alone else from_ns + PART_NS
    if part > 0:
        model.start_anew()
    frame = source.read(max(0, from_ns - EARLY_NS))
    while frame is not None and not enough.is_set():
        if to_ns is not None and frame.captured_ns >= to_ns:
            return _End.PART
        pose = model.detect(frame)
        if pose.captured_ns >= from_ns:
            found.put(FileFrame(pose, keep_of(frame, pose, view)))
        frame = source.read()
    return _End.FILE
