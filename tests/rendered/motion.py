"""The whole body over time: what a gait gives and the skin, the truth and the extras take."""

from dataclasses import dataclass
from typing import Any, Protocol

from tests.rendered.arms import Arm
from tests.rendered.body import Body, Floats
from tests.rendered.legs import Leg
from tests.rendered.params import RunnerParams
from tests.rendered.timeline import Timeline
from tests.rendered.trunk import Trunk


@dataclass(frozen=True)
class Motion:
    """The whole body over n times t (n,) s; legs and arms by side."""

    t: Floats
    trunk: Trunk
    legs: dict[str, Leg]
    arms: dict[str, Arm]


class Runner(Protocol):
    """A runner with everything settled, wherever the movement comes from.

    `params` holds the belt speed and cadence as they came out. `timeline` holds the true contacts
    and toe-offs. `anchors` (n_steps, 2) m: the belt point under each flat foot's ankle, at its
    contact. `flat_from_deg`: a foot pitched no further down is flat (that tells heel-off).
    `told`: what the truth file's meta says about where the movement comes from.
    """

    @property
    def params(self) -> RunnerParams: ...
    @property
    def body(self) -> Body: ...
    @property
    def timeline(self) -> Timeline: ...
    @property
    def anchors(self) -> Floats: ...
    @property
    def flat_from_deg(self) -> float: ...
    @property
    def told(self) -> dict[str, Any]: ...

    def motion(self, t: Floats) -> Motion:
        """The body at times t (n,) s."""

    def shank_lean(self, leg: Leg) -> Floats:
        """Forward lean of the shank (n,) rad, + knee ahead of the ankle, in the side view."""

    def knee_bend(self, leg: Leg) -> Floats:
        """Bend of the knee (n,) rad, 0 = hip, knee and ankle in one line."""


class Driver(Protocol):
    """What moves the body of a case in place of the invented gait: a frozen value that can be
    compared and shown, with no state."""

    def runner(self, params: RunnerParams, duration_s: float) -> Runner:
        """The body of `params` in this movement, from a little before 0 to after `duration_s`.

        What the movement does not say (trunk, arms) comes from `params`.
        """
