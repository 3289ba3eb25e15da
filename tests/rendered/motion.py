"""The whole body over time: what the gait gives and the skin, the truth and the extras take."""

from dataclasses import dataclass

from tests.rendered.arms import Arm
from tests.rendered.body import Floats
from tests.rendered.legs import Leg
from tests.rendered.trunk import Trunk


@dataclass(frozen=True)
class Motion:
    """The whole body over n times t (n,) s; legs and arms by side."""

    t: Floats
    trunk: Trunk
    legs: dict[str, Leg]
    arms: dict[str, Arm]
