"""The problems of treadmill, strap and pod: part of shared.problems (pure).

Each row: code, what happened, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

SENSORS: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "treadmill_lost",
        "The treadmill is not heard.",
        "Belt speed and incline are not shown, and a stop of the belt is not noticed. The session "
        "continues.",
        "Check that it is switched on, near, and not connected to another program.",
    ),
    (
        "heart_strap_lost",
        "The heart rate strap is not heard.",
        "The heart rate is not shown and its limits are not watched. The session continues.",
        "Check that it is worn and its contacts are moist, and that no other program uses it.",
    ),
    (
        "foot_pod_lost",
        "The foot pod is not heard.",
        "Its cadence is not shown. The session continues; the camera measures as before.",
        "Shake it to wake it up, and check that no other program uses it.",
    ),
    (
        "belt_speeds_differ",
        "The treadmill says {said} km/h, the picture shows {seen}.",
        "One of the two is wrong; lengths in cm depend on it.",
        "Check the runner's height in the profile and that the camera stands square to the belt; "
        "have the treadmill's speed checked.",
    ),
    (
        "belt_inclined",
        "The treadmill says its incline is {incline} %.",
        "Measures at an incline are not comparable with flat ones. The program measures as if "
        "belt and camera were level.",
        "Set the incline to 0 to 1 % if this session is to be compared with others.",
    ),
)
