"""Targets, athletes and messages: limits are held when they come from outside."""

from __future__ import annotations

import msgspec
import pytest

from shared.flow import Side, View
from shared.landmarks import LANDMARK_COUNT, Landmark
from shared.messages import FromScreen, FromStation, Hello, Ping, Stop
from shared.targets import Athlete, CueStyle, Target

GOOD = {"measure": "cadence", "unit": "steps/min", "low": 160}
RUNNER = {"code_name": "Test", "height_cm": 170, "view": "side", "targets": [GOOD]}


@pytest.mark.parametrize(
    "changes",
    [
        {"beat_spm": 119.9},
        {"beat_spm": 220.1},
        {"average_steps": 0},
        {"average_steps": 41},
        {"hysteresis": -0.1},
        {"cue_gap_steps": 3},
        {"cue_gap_steps": 41},
        {"cues": ["shout"]},
        {"side": "middle"},
        {"colour": "red"},
    ],
)
def test_a_target_outside_its_limits_is_refused(changes: dict[str, object]) -> None:
    msgspec.convert(GOOD, Target)
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert({**GOOD, **changes}, Target)


@pytest.mark.parametrize(
    "changes",
    [
        {"height_cm": 119},
        {"height_cm": 221},
        {"belt_speed_kmh": 2.9},
        {"belt_speed_kmh": 25.1},
        {"code_name": ""},
        {"code_name": "x" * 41},
        {"view": "above"},
        {"age": 40},
    ],
)
def test_an_athlete_outside_the_limits_is_refused(changes: dict[str, object]) -> None:
    msgspec.convert(RUNNER, Athlete)
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert({**RUNNER, **changes}, Athlete)


def test_what_is_left_out_has_a_quiet_default() -> None:
    target = msgspec.convert(GOOD, Target)
    assert (target.average_steps, target.cue_gap_steps, target.hysteresis) == (8, 8, 0.0)
    assert CueStyle.BEAT not in target.cues
    assert msgspec.convert(RUNNER, Athlete).belt_speed_mps is None


def test_belt_speed_in_metres_a_second() -> None:
    athlete = msgspec.convert({**RUNNER, "belt_speed_kmh": 9}, Athlete)
    assert athlete.belt_speed_mps == pytest.approx(2.5)


def test_every_side_has_its_other() -> None:
    assert Side.LEFT.other is Side.RIGHT
    assert all(side.other.other is side for side in Side)


def test_views_and_landmarks_are_complete() -> None:
    assert {view.value for view in View} == {"side", "behind", "front"}
    assert [landmark.value for landmark in Landmark] == list(range(LANDMARK_COUNT))
    for landmark in Landmark:
        if landmark.name.startswith("LEFT_"):
            # The model lists each right landmark straight after its left one, but for the eyes.
            other = Landmark[landmark.name.replace("LEFT_", "RIGHT_")]
            assert other - landmark == (3 if "EYE" in landmark.name else 1)


@pytest.mark.parametrize(
    "message",
    [Hello(protocol=1, token="t" * 128, role="runner"), Stop(asked_ns=5), Ping(at_ns=6)],
)
def test_screen_messages_are_told_apart_by_their_tag(message: FromScreen) -> None:
    encoded = msgspec.msgpack.encode(message)
    assert msgspec.msgpack.decode(encoded, type=FromScreen) == message
    with pytest.raises(msgspec.ValidationError):
        msgspec.msgpack.decode(encoded, type=FromStation)


def test_a_hello_that_is_too_long_is_refused() -> None:
    for hello in (
        Hello(protocol=1, token="t" * 129, role="runner"),
        Hello(protocol=1, token="t" * 8, role="r" * 33),
    ):
        with pytest.raises(msgspec.ValidationError):
            msgspec.msgpack.decode(msgspec.msgpack.encode(hello), type=FromScreen)
