"""The session's promises under random histories: when it must be silent, it is."""

from __future__ import annotations

import math
from typing import Any

import msgspec
from hypothesis import event, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from feedback.journal.entries import Entry
from feedback.session.session import CaptureState, Facts, Outputs, Session, Start, StopAsked
from shared.catalogue import CATALOGUE
from shared.flow import Measure, Side, Update, View
from shared.messages import SessionState, Snapshot, StopReason
from shared.problems import describe
from shared.targets import Target
from tests.feedback.making import MS, athlete, cadence_target, measure, strike_target

DOUBTS = ("no_runner", "second_person", "wrong_view", "body_cut_off", "quality_low")
LOST = describe("picture_lost", seconds=1)


def mostly(good: Any, *others: Any) -> st.SearchStrategy[Any]:
    """Nearly always the good value, so that the history keeps calling for cues."""
    return st.sampled_from([good] * 25 * len(others) + list(others))


levels = mostly(20.0, 5.0, math.nan, math.inf, -math.inf, 99.0)
frames = st.fixed_dictionaries(
    {
        "dt_ns": mostly(375 * MS, 0, 33 * MS, 900 * MS, 3000 * MS),
        "late_ns": mostly(10 * MS, 250 * MS, 251 * MS, 800 * MS, -1),
        "doubts": mostly((), *[(code,) for code in DOUBTS], DOUBTS),
        "back_ns": mostly(0, 80 * MS, 300 * MS, -50 * MS),
        "ahead": mostly(1, 0, 2, 3, 9, -3),
        "side": mostly(Side.LEFT, Side.RIGHT),
        "strike": levels,
        "spm": levels.map(lambda level: 130.0 + 3 * level),
        "uncertainty": mostly(1.0, math.nan, math.inf),
        "quality": mostly(0.9, 0.5, 0.49, math.nan),
    }
)
facts = st.builds(
    Facts,
    capture=st.sampled_from([CaptureState.RUNNING] * 4 + [CaptureState.LOST, CaptureState.OPENING]),
    problems=st.sampled_from([(), (LOST,), (describe("sound_missing"),)]),
    screen_gone=st.sampled_from([""] * 30 + ["runner"]),
    frames_per_s=st.just(30.0),
    sound_on=st.booleans(),
)
commands = st.sampled_from(
    [Start()] * 12 + [StopAsked(reason=reason, source="test") for reason in StopReason]
)
histories = st.lists(
    st.sampled_from([frames] * 45 + [facts] * 4 + [commands]).flatmap(lambda one: one),
    min_size=20,
    max_size=80,
)
target_sets = st.sampled_from(
    [
        (strike_target(),),
        (strike_target(side=Side.LEFT, average_steps=1, cue_gap_steps=4, hysteresis=0.0),),
        (cadence_target(average_steps=1), strike_target()),
        (),
    ]
)


class Watched:
    """Runs a history and checks every output against the rules, read off the history itself."""

    def __init__(self, targets: tuple[Target, ...], time_limit_s: float | None) -> None:
        self.session = Session(athlete(*targets), View.SIDE, time_limit_s=time_limit_s)
        self.targets = targets
        self.now_ns = self.captured_ns = 1_000 * MS
        self.step = 0
        self.frame: Update | None = None
        self.facts = Facts()
        # Steps gone forward in all: step numbers may run back, the gap may not.
        self.walked = self.walked_at_cue = 0
        self.walked_at: dict[int, int] = {}
        self.cues = 0

    def feed(self, item: object) -> None:
        before = self.session.state
        if isinstance(item, Facts):
            self.now_ns += 100 * MS
            self.facts = item
            outputs = self.session.on_tick(self.now_ns, item)
            assert outputs.cues == ()
        elif isinstance(item, Start | StopAsked):
            outputs = self.session.on_command(item, self.now_ns)
            assert outputs.cues == ()
        else:
            assert isinstance(item, dict)
            outputs = self._feed_frame(item)
        if before is SessionState.STOPPED:
            assert outputs == Outputs()
            assert self.session.state is SessionState.STOPPED
        assert (outputs.stop is not None) == (
            before is not SessionState.STOPPED and self.session.state is SessionState.STOPPED
        )
        if outputs.beat_spm is not None:
            self._check_allowed()
            assert outputs.beat_spm == self.targets[0].beat_spm
        for entry in outputs.journal:
            assert msgspec.json.decode(msgspec.json.encode(entry), type=Entry) == entry
        snapshot = self.session.snapshot(self.now_ns)
        assert msgspec.msgpack.decode(msgspec.msgpack.encode(snapshot), type=Snapshot) == snapshot
        assert msgspec.json.decode(msgspec.json.encode(snapshot), type=Snapshot) == snapshot
        if snapshot.focus is not None and snapshot.focus.value is not None:
            assert math.isfinite(snapshot.focus.value)
            assert snapshot.state is SessionState.RUNNING
            assert self.frame is not None
            assert not self.frame.doubts

    def _feed_frame(self, item: dict[str, Any]) -> Outputs:
        self.captured_ns += item["dt_ns"]
        self.now_ns = max(self.now_ns, self.captured_ns + item["late_ns"])
        made = self._measures(item)
        self.frame = Update(
            captured_ns=self.captured_ns, index=0, events=(), measures=made,
            doubts=item["doubts"], quality=0.9,
        )  # fmt: skip
        outputs = self.session.on_update(self.frame, self.now_ns)
        for cue in outputs.cues:
            self._check_allowed()
            assert 0 <= self.now_ns - cue.captured_ns <= 250 * MS
            assert cue.measure == self.targets[0].measure
            assert any(self._is_behind(one, cue.step_number) for one in made)
            walked = self.walked_at[cue.step_number]
            if self.cues:
                assert walked - self.walked_at_cue >= self.targets[0].cue_gap_steps
            self.cues += 1
            self.walked_at_cue = walked
        assert len(outputs.cues) <= 1
        return outputs

    def _measures(self, item: dict[str, Any]) -> tuple[Measure, ...]:
        self.step = max(0, self.step + item["ahead"])
        self.walked += max(0, item["ahead"])
        self.walked_at[self.step] = self.walked
        at_ns = self.captured_ns - item["back_ns"]
        strike = measure(
            self.step, item["strike"], side=item["side"], at_ns=at_ns, captured_ns=at_ns,
            uncertainty=item["uncertainty"], quality=item["quality"],
        )  # fmt: skip
        return strike, replace(
            strike, name="cadence", side=None, unit="steps/min", value=item["spm"], steps=8
        )

    def _check_allowed(self) -> None:
        assert self.session.state is SessionState.RUNNING
        assert self.facts.capture is CaptureState.RUNNING
        assert self.frame is not None
        assert not self.frame.doubts
        assert 0 <= self.now_ns - self.frame.captured_ns <= 250 * MS

    def _is_behind(self, one: Measure, step_number: int) -> bool:
        spec = CATALOGUE[one.name]
        return (
            one.name == self.targets[0].measure
            and one.step_number == step_number
            and math.isfinite(one.value)
            and one.quality >= spec.quality_floor
            and spec.plausible[0] <= one.value <= spec.plausible[1]
        )


@settings(max_examples=300, deadline=None)
@given(histories, target_sets, st.sampled_from([None, None, 20.0]))
def test_never_a_cue_when_it_must_not_be(
    history: list[object], targets: tuple[Target, ...], time_limit_s: float | None
) -> None:
    watched = Watched(targets, time_limit_s)
    for item in [Start(), *history]:
        watched.feed(item)
    event(f"cues: {min(watched.cues, 3)}")
