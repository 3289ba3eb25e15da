"""From a foot's true contact in a clip to the sound about it: every stage as a time on one clock.

A frame that is played as if live arrives when it is due, so the clip's own time is the clock's
time less that of its first frame. What a real camera adds before arrival (exposure, read-out,
transfer) and the way of the sound through the air are not in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from feedback.journal.entries import EventEntry, PlayedEntry
from shared.flow import CueKind, EventKind, GaitEvent
from shared.units import NS_PER_S
from tests.bench.stage import Played
from tests.pulse import Heard
from tests.rendered.truth import Truth

STAGES = ("contact", "exposed", "arrived", "decided", "handed", "sound")
NEAR_S = 0.1
"""An event is about the true contact of that foot within this."""
ONSET = 1e-3
"""Sound begins where a sample passes this: -60 dBFS, 1 % to 4 % of a cue's peak."""
GAP_S = 0.05
LATEST_NS = 200_000_000


@dataclass(frozen=True)
class Chain:
    """One step: when its contact really was, became known, and was heard of."""

    contact_ns: int
    toe_off_ns: int
    exposed_ns: int
    """True time of the frame that made it known."""
    arrived_ns: int
    decided_ns: int | None = None
    handed_ns: int | None = None
    onset_ns: int | None = None
    """In the recording; None for a step without a cue."""
    stated_ns: int | None = None
    """When the sound left the computer as its driver states it."""

    @property
    def times(self) -> dict[str, int]:
        """By stage; for a step that was heard of."""
        assert self.decided_ns is not None
        assert self.handed_ns is not None
        assert self.onset_ns is not None
        return dict(
            zip(
                STAGES,
                (
                    self.contact_ns,
                    self.exposed_ns,
                    self.arrived_ns,
                    self.decided_ns,
                    self.handed_ns,
                    self.onset_ns,
                ),
                strict=True,
            )
        )


def steps_of(truth: Truth, played: Played) -> list[Chain]:
    """Every step that became known in a clip that was played once, from its start."""
    zero_ns = played.arrived_ns[0] - round(float(truth.frame_time_s[0]) * NS_PER_S)
    index_of = {captured: index for captured, index, _ in played.seen}
    handed = {
        cue.captured_ns: (cue.decided_ns, at_ns)
        for cue, at_ns in played.handed
        if cue.kind is CueKind.OUT_OF_BAND
    }
    stated = {
        entry.played.captured_ns: entry.played.sounded_ns
        for entry in played.entries
        if isinstance(entry, PlayedEntry) and entry.played.kind is CueKind.OUT_OF_BAND
    }
    onsets = onsets_of(played.heard)
    chains = []
    for event in _contacts(played):
        step = _true_step(truth, event, zero_ns)
        index = index_of[event.captured_ns]
        if step is None or index >= len(truth.frame_time_s):
            continue
        decided_ns = handed_ns = onset_ns = None
        if event.captured_ns in handed:
            decided_ns, handed_ns = handed[event.captured_ns]
            onset_ns = _first_after(onsets, handed_ns)
        chains.append(
            Chain(
                contact_ns=zero_ns + round(step["contact_s"] * NS_PER_S),
                toe_off_ns=zero_ns + round(step["toe_off_s"] * NS_PER_S),
                exposed_ns=zero_ns + round(float(truth.frame_time_s[index]) * NS_PER_S),
                arrived_ns=event.captured_ns,
                decided_ns=decided_ns,
                handed_ns=handed_ns,
                onset_ns=onset_ns,
                stated_ns=stated.get(event.captured_ns),
            )
        )
    return chains


def _contacts(played: Played) -> list[GaitEvent]:
    events = [entry.event for entry in played.entries if isinstance(entry, EventEntry)]
    return [event for event in events if event.kind is EventKind.CONTACT]


def _true_step(truth: Truth, event: GaitEvent, zero_ns: int) -> dict[str, Any] | None:
    at_s = (event.at_ns - zero_ns) / NS_PER_S
    of_side = [step for step in truth.steps if step["side"] == event.side]
    nearest = min(of_side, key=lambda step: abs(step["contact_s"] - at_s), default=None)
    if nearest is None or abs(nearest["contact_s"] - at_s) > NEAR_S:
        return None
    return nearest


def onsets_of(heard: Heard | None) -> list[int]:
    """When each stretch of sound began, in the recording, on the station's clock."""
    if heard is None:
        return []
    return [heard.at_ns(first) for first, _ in heard.bursts(GAP_S, ONSET)]


def _first_after(onsets: list[int], at_ns: int) -> int | None:
    place = int(np.searchsorted(onsets, at_ns))
    if place == len(onsets) or onsets[place] - at_ns > LATEST_NS:
        return None
    return onsets[place]
