"""Why nothing is measured although somebody moves: the likeliest reasons, in plain words (pure)."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass
from typing import Final

import msgspec

from live.scene.movement import Movement, movement_of, rate_of
from live.scene.quality import RUNNING_SPM
from shared.flow import Pose, View
from shared.language import told
from shared.problems import Problem, describe
from shared.problems.unmeasured import OTHER_VIEW
from shared.units import NS_PER_S

AFTER_NS: Final = 5 * NS_PER_S
"""Whoever moves for so long without a step that was measured is told why."""
WINDOW_NS: Final = 5 * NS_PER_S
LOOK_EVERY_NS: Final = NS_PER_S // 2
QUIET_NS: Final = 2 * NS_PER_S
"""Nothing is looked into so soon after a measured step."""
PAUSE_NS: Final = 2 * NS_PER_S
"""Moving goes on over shorter pauses."""
STANDS_BEFORE_IT_NS: Final = 30 * NS_PER_S
"""What was said stays for so long while the runner stands there, to read it and to mend it."""
GONE_NS: Final = 3 * NS_PER_S
AGREE: Final = 2
"""So many looks in a row must find another first reason before it takes the old one's place."""
MOST_TOLD: Final = 3
WORTH_TELLING: Final = 0.3
"""At the end, reasons that were found so much less often than the first one are left out."""

FEWEST_PER_S: Final = 15.0
"""Slower than this, pictures are the first reason; a step lasts a third of a second."""
MOVING_SEEN_PER_S: Final = 5.0
"""So few do not even tell whether anybody moves: they are told of whoever is there."""
ENOUGH_PER_S: Final = 23.0
NEEDED_PER_S: Final = 24
"""The slowest rate at which the timing of contacts was checked; one less for late pictures."""
DROPPED: Final = 1.3
"""More pictures come than are looked at by this factor: the computer is slow, not the camera."""
OFTEN: Final = 0.3
"""Share of the pictures from which on something is there "often" (our choice)."""
SEVERAL: Final = 0.2
FOUND_LEAST: Final = 0.7
SMALL: Final = 0.35
SMALLISH: Final = 0.5
"""Body height, share of the picture's: under the first a leg is some 80 px long in 480 rows, at
the second the camera check asks for more. Our choice."""
SEEN_LEAST: Final = 0.5
"""The model's belief that it sees something. In drawn clips the feet have 0.8 to 1, behind a board
0.1 to 0.5; in three real ones 0.93 and more."""
RHYTHM_LEAST: Final = 0.35
"""Share of the head's and shoulders' up and down that one rhythm explains: 0.9 in drawn clips,
0.5 with a camera that is carried along (two real ones)."""
EXCHANGED_PER_S: Final = 1.0
"""Legs taken for each other, times a second: 0 to 0.3 in drawn clips, 1.5 to 2 with a board before
hips or knees, 3.3 in a real one in black tights. So it is in a real one with bare legs in hard sun,
from the side, that is measured all the same: it says what is likely, where no step is found."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What else is known at that moment."""

    view: View | None
    """From where the camera surely looks; None where that cannot be told."""
    typed: View


class UnmeasuredWatch:
    """Gets every pose, and says after five seconds without a step why that may be."""

    def __init__(self, view: View) -> None:
        self._typed = view
        self._poses: deque[Pose] = deque()
        self._looked_ns = 0
        self._untold_ns: int | None = None
        """Since when there were too few frames to tell whether anybody moves."""
        self._step_ns: int | None = None
        self._present_ns: int | None = None
        self._moving_since_ns: int | None = None
        self._moved_ns: int | None = None
        self._moved_for_ns = 0
        self._told: tuple[Problem, ...] = ()
        self._other_first = 0
        self._steps = 0
        self._somebody = False
        self._suspects: Counter[str] = Counter()
        self._newest: dict[str, Problem] = {}

    @property
    def told(self) -> tuple[Problem, ...]:
        """The reasons as they stand, the likeliest first."""
        return self._told

    def add(self, pose: Pose, steps: int, seen: View | None) -> tuple[Problem, ...]:
        """Take in one frame: its pose, how many steps it brought, and from where it surely looks.

        Returns the reasons that stand, the likeliest first; none while steps are measured, while
        nobody moves, or in the first five seconds.
        """
        now_ns = pose.captured_ns
        self._poses.append(pose)
        while now_ns - self._poses[0].captured_ns > WINDOW_NS:
            self._poses.popleft()
        if pose.people > 0:
            self._present_ns = now_ns
            self._somebody = True
        if steps:
            self._steps += steps
            self._step_ns = now_ns
            self._moving_since_ns = self._moved_ns = None
            self._told, self._other_first = (), 0
        measured = self._step_ns is not None and now_ns - self._step_ns < QUIET_NS
        if not measured and now_ns - self._looked_ns >= LOOK_EVERY_NS:
            self._looked_ns = now_ns
            self._look(now_ns, seen)
        return self._told

    def over_all(self) -> tuple[Problem, ...]:
        """Why the whole of it brought no value, at its end, the likeliest reason first."""
        if self._steps:
            return (describe("steps_few", steps=self._steps),)
        if not self._somebody:
            return (describe("no_runner"),)
        if not self._moved_for_ns:
            slow = tuple(self._newest.values())  # too few pictures to see that anybody moved
            return slow or (describe("nobody_runs"),)
        known = self._suspects.most_common(MOST_TOLD)
        least = WORTH_TELLING * known[0][1]
        found = [self._newest[code] for code, count in known if count >= least]
        named = [one for one in found if one.code != "unmeasured"]
        if self._moved_for_ns >= AFTER_NS - LOOK_EVERY_NS:
            return tuple(named or found)
        seconds, needed = round(self._moved_for_ns / NS_PER_S), AFTER_NS // NS_PER_S
        return (describe("run_short", seconds=seconds, needed=needed), *named)

    def _look(self, now_ns: int, seen: View | None) -> None:
        if self._present_ns is None or now_ns - self._present_ns > GONE_NS:
            self._moving_since_ns = self._moved_ns = None
            self._told, self._other_first = (), 0
            return
        movement = movement_of(self._poses)
        rate = rate_of(self._poses)
        if movement is None or not movement.moves:
            self._untold_ns = None if movement is not None else self._untold_ns or now_ns
            if rate is not None and rate[0] < MOVING_SEEN_PER_S:
                few = _too_few(*rate)
                self._suspect(few)
                self._tell(few)
            else:
                self._stand(now_ns)
            return
        if self._moving_since_ns is None:
            self._moving_since_ns = self._began(now_ns)
            self._moved_ns = self._moving_since_ns
        if self._moved_ns is not None:
            self._moved_for_ns += now_ns - self._moved_ns
        self._moved_ns = now_ns
        self._untold_ns = None
        found = reasons(movement, Evidence(seen, self._typed))
        self._suspect(found)
        if now_ns - self._moving_since_ns >= AFTER_NS:
            self._tell(found)

    def _suspect(self, found: tuple[Problem, ...]) -> None:
        for place, one in enumerate(found):
            self._suspects[one.code] += MOST_TOLD - place
            self._newest[one.code] = one

    def _began(self, now_ns: int) -> int:
        """Since when somebody moves who is seen to move now, for the first time or again."""
        began_ns = now_ns
        if self._untold_ns is not None:
            began_ns = max(self._untold_ns, now_ns - QUIET_NS)
        if self._step_ns is not None and now_ns - self._step_ns < 2 * QUIET_NS:
            began_ns = self._step_ns
        return began_ns

    def _stand(self, now_ns: int) -> None:
        if self._moved_ns is None:
            return
        still_ns = now_ns - self._moved_ns
        if still_ns > PAUSE_NS:
            self._moving_since_ns = None
        if still_ns > STANDS_BEFORE_IT_NS:
            self._moved_ns = None
            self._told, self._other_first = (), 0

    def _tell(self, found: tuple[Problem, ...]) -> None:
        """Say these, without swinging to and fro between two that are about as likely."""
        if not self._told or self._told[0].code == found[0].code:
            self._told, self._other_first = found, 0
            return
        self._other_first += 1
        if self._other_first >= AGREE:
            self._told, self._other_first = found, 0


def reasons(movement: Movement, seen: Evidence) -> tuple[Problem, ...]:
    """Why such movement brings no step, the likeliest first; at least one, at most three."""
    found = [*_other_bodies(movement, seen), *_pictures(movement), *_in_view(movement)]
    found += [*_rhythm(movement), *_lesser(movement)]
    if not found:
        found = [describe("unmeasured")]
    return tuple(found[:MOST_TOLD])


def other_view(typed: View, seen: View) -> Problem:
    """The camera looks from ``seen``, not from where it was said to."""
    problem = describe("wrong_view", view=typed.spoken)
    return msgspec.structs.replace(problem, action=told(OTHER_VIEW, seen=seen.spoken))


def _other_bodies(movement: Movement, seen: Evidence) -> list[Problem]:
    found = []
    if movement.turned > OFTEN:
        found.append(describe("picture_turned"))
    if movement.several > SEVERAL:
        found.append(describe("second_person"))
    if seen.view is not None and seen.view is not seen.typed:
        found.append(other_view(seen.typed, seen.view))
    return found


def _pictures(movement: Movement, least: float = FEWEST_PER_S) -> list[Problem]:
    looked_at, come = movement.looked_at_per_s, movement.come_per_s
    return [] if looked_at >= least else [*_too_few(looked_at, come)]


def _too_few(looked_at: float, come: float) -> tuple[Problem]:
    fps = f"{looked_at:.1f}" if looked_at < 1.5 else round(looked_at)
    if come > DROPPED * looked_at:
        return (describe("computer_slow", fps=fps, come=round(come), needed=NEEDED_PER_S),)
    return (describe("pictures_few", fps=fps, needed=NEEDED_PER_S),)


def _in_view(movement: Movement) -> list[Problem]:
    found = []
    if movement.feet_out > OFTEN:
        found.append(describe("feet_cut_off"))
    elif movement.body_out > OFTEN:
        found.append(describe("body_cut_off"))
    if movement.found < FOUND_LEAST:
        found.append(describe("runner_lost_often", percent=round(100 * movement.found)))
    if movement.height_share < SMALL:
        found.append(_small(movement))
    if movement.trunk_seen < SEEN_LEAST:
        found.append(describe("picture_poor"))
    elif min(movement.knees_seen, movement.feet_seen) < SEEN_LEAST and movement.feet_out <= OFTEN:
        found.append(describe("legs_hidden"))
    return found


def _rhythm(movement: Movement) -> list[Problem]:
    if movement.looked_at_per_s < FEWEST_PER_S:
        return []  # so few pictures tell neither rhythm nor legs
    rhythmic = movement.rhythm >= RHYTHM_LEAST
    found = []
    if rhythmic and movement.steps_per_min < RUNNING_SPM[0]:
        found.append(describe("not_running"))
    if movement.exchanged_per_s >= EXCHANGED_PER_S:
        found.append(describe("legs_alike"))
    if not rhythmic:
        found.append(describe("steps_uneven"))
    return found


def _lesser(movement: Movement) -> list[Problem]:
    """What is not bad enough to come first, but does not help."""
    found = []
    if movement.looked_at_per_s >= FEWEST_PER_S:
        found += _pictures(movement, ENOUGH_PER_S)
    if SMALL <= movement.height_share < SMALLISH:
        found.append(_small(movement))
    return found


def _small(movement: Movement) -> Problem:
    return describe("runner_small", percent=round(100 * movement.height_share))
