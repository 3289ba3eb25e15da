"""What a session follows when it follows something: the seam to drills and baselines (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from shared.flow import BandState, Update
from shared.messages import BlockNote, PlannedBlock
from shared.targets import Question, Target


@dataclass(frozen=True, slots=True)
class Due:
    """What is to be done at this moment of the running time."""

    targets: tuple[Target, ...]
    """All that are judged, in a fixed order."""
    focus: int | None
    """Number of the target that is cued and shown; None: nothing is."""
    block: BlockNote
    question: Question | None = None
    """Newly asked now; each is given once."""
    remind: tuple[int, BandState] | None = None
    """Number of the target whose reminder is due now, and the side on which it is out when not
    kept; given once."""
    over: bool = False


class Course(Protocol):
    """Leads through a session by its running time (pauses left out) and its steps."""

    def advance(self, run_ns: int, steps: int) -> Due:
        """What is due after so much running time and so many steps; neither ever goes back."""

    def on_update(self, update: Update) -> None:
        """What one frame brought to light."""

    def planned(self) -> tuple[PlannedBlock, ...]:
        """The blocks it is made of, for screens that list them."""

    def move_to(self, number: int) -> bool:
        """Leave the block that is on for block ``number``, from 1; False where it has none."""

    def hold(self, number: int, *, on: bool) -> None:
        """Whether target ``number`` is held where a clinician has set it."""

    def left_ns(self, run_ns: int, steps: int) -> int | None:
        """Running time that is left after so much of it and so many steps; None: not known."""

    def on_answer(self, question: Question, value: int) -> None:
        """The runner answered, asked or not."""
