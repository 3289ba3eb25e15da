"""What was cued so far: the newest few for the screens, and how many of each kind (pure)."""

from __future__ import annotations

from collections import Counter, deque
from typing import Final

from shared.flow import Cue
from shared.messages import CueNote

CUES_SHOWN: Final = 8


class CueLog:
    """Takes every coaching cue that is given."""

    def __init__(self) -> None:
        self._notes: deque[CueNote] = deque(maxlen=CUES_SHOWN)
        self._counts: Counter[str] = Counter()

    @property
    def newest(self) -> tuple[CueNote, ...]:
        """The newest few, newest last."""
        return tuple(self._notes)

    @property
    def counts(self) -> dict[str, int]:
        """How many of each kind."""
        return dict(self._counts)

    def put(self, cue: Cue) -> None:
        """Take in a cue that was given."""
        self._counts[cue.kind.value] += 1
        self._notes.append(
            CueNote(
                kind=cue.kind,
                measure=cue.measure,
                side=cue.side,
                step_number=cue.step_number,
                at_ns=cue.decided_ns,
                latency_ms=(cue.decided_ns - cue.captured_ns) / 1e6,
            )
        )
