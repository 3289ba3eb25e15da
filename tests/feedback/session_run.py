"""A session that the tests feed one step at a time."""

from __future__ import annotations

from feedback.session.session import Outputs, Session, Start
from shared.flow import View
from shared.messages import Snapshot
from shared.targets import Target
from tests.feedback.making import (
    MS,
    STEP_NS,
    athlete,
    cadence,
    measure,
    update,
)

NO_RUNNER = ("no_runner",)


class Run:
    """A session that is fed one step at a time; the decision falls 20 ms after the frame."""

    def __init__(self, *targets: Target, time_limit_s: float | None = None) -> None:
        self.session = Session(athlete(*targets), View.SIDE, time_limit_s=time_limit_s)
        self.now_ns = 0

    def start(self) -> Run:
        self.session.on_command(Start(), self.now_ns)
        return self

    def step(
        self,
        number: int,
        strike: float | None = None,
        spm: float | None = None,
        doubts: tuple[str, ...] = (),
        late_ns: int = 20 * MS,
    ) -> Outputs:
        measures = []
        if strike is not None:
            measures.append(measure(number, strike))
        if spm is not None:
            measures.append(cadence(number, spm))
        captured_ns = number * STEP_NS + 80 * MS
        self.now_ns = captured_ns + late_ns
        return self.session.on_update(update(captured_ns, *measures, doubts=doubts), self.now_ns)

    def frame(self, captured_ns: int, doubts: tuple[str, ...] = ()) -> Outputs:
        self.now_ns = captured_ns + 20 * MS
        return self.session.on_update(update(captured_ns, doubts=doubts), self.now_ns)

    def snapshot(self) -> Snapshot:
        return self.session.snapshot(self.now_ns)


def sounds(*outputs: Outputs) -> list[str]:
    return [cue.sound for one in outputs for cue in one.cues]
