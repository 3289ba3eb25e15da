"""Random sequences of frames, faults and commands against a session, checked by rules of their own.

Run many: python -m tests.feedback.safety.histories 200000 --seed 7

The rules are read off the sequence itself, not off the session: when a cue is allowed, when the
session must have stopped, and when it must not. Times are plain integers. A share of the sessions
follows a drill, another one a baseline.
"""

from __future__ import annotations

import argparse
import random
import time

from shared.messages import SessionState
from tests.feedback.safety.changing import Tally
from tests.feedback.safety.courses import BaselinePlan, DrillPlan, Plan
from tests.feedback.safety.referee import Referee
from tests.feedback.safety.sequences import Maker


def run(count: int, seed: int, course: str = "") -> Tally:
    """Check so many sequences; AssertionError, with the sequence's number, when one fails.

    ``course``: empty for none, ``drill`` or ``baseline``.
    """
    tally = Tally()
    for number in range(count):
        rng = random.Random(f"{seed}-{number}{course}")
        plan: Plan | None = None
        if course:
            plan = DrillPlan(rng) if course == "drill" else BaselinePlan(rng)
        referee = Referee(rng, tally, plan)
        try:
            for item in Maker(
                rng, (3, 9) if plan is None else (4, 14), changes=plan is None
            ).sequence():
                referee.feed(item)
        except Exception as error:
            which = f"sequence {number} of seed {seed} {course}"
            raise AssertionError(f"{which}: {error!r}") from error
        tally.unstopped += referee.state is not SessionState.STOPPED
        assert isinstance(referee.session.summary(referee.now_ns).cues, dict)
    return tally


def main() -> None:
    """Check as many as asked for of each kind, and print what happened."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    for course in ("", "drill", "baseline"):
        began = time.perf_counter()
        tally = run(options.count, options.seed, course)
        spent_s = time.perf_counter() - began
        print(f"{options.count} sequences, {course or 'no course'}, in {spent_s:.0f} s: {tally}")


if __name__ == "__main__":
    main()
