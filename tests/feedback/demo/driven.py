"""Drives the demo's clips through the whole measuring and cueing, in the clips' own time."""

from __future__ import annotations

from dataclasses import dataclass

from feedback.demo import answering_clip, demo_profile
from feedback.journal.entries import CueEntry, Entry, JudgementEntry
from feedback.journal.writer import Header, Recording, limits_in_force, new_uid
from feedback.session.interface import Facts, Start, StopAsked
from feedback.session.session import Session
from live.camera.sources import FileSource
from live.pipeline import Pipeline, Setup
from live.pose.model import PoseModel
from live.scene.body_state import BodyState
from shared.clock import ClockAnchor
from shared.flow import BandState, CueKind, View
from shared.messages import StopReason
from shared.units import NS_PER_MS, NS_PER_S

_DECIDED_AFTER_NS = 20 * NS_PER_MS


@dataclass(frozen=True)
class Told:
    """What a session put into its journal, with the clip's time in s."""

    view: View
    entries: tuple[tuple[float, Entry], ...]
    recording: Recording

    def cues(self, kind: CueKind) -> list[float]:
        """When cues of this kind came for what is aimed at."""
        return [
            at_s
            for at_s, entry in self.entries
            if isinstance(entry, CueEntry)
            and entry.cue.kind is kind
            and entry.cue.measure == self.recording.header.athlete.targets[0].measure
        ]

    def states(self, from_s: float, to_s: float) -> set[BandState]:
        """How what is aimed at was judged meanwhile."""
        return {
            entry.judgement.state
            for at_s, entry in self.entries
            if isinstance(entry, JudgementEntry)
            and entry.judgement.measure == self.recording.header.athlete.targets[0].measure
            and from_s <= at_s < to_s
        }


def drive(view: View, until_s: float) -> Told:
    """Play a part as fast as it can be measured, up to this time of its clip."""
    athlete = demo_profile(view).athlete
    session = Session(athlete, view, demo=True)
    found = list(session.on_tick(0, Facts(frames_per_s=30.0, sound_on=True)).journal)
    found += session.on_command(Start(), 0).journal
    entries = [(0.0, entry) for entry in found]
    height_m, speed_mps = athlete.height_cm / 100, athlete.belt_speed_mps
    pipeline = Pipeline(Setup(view=view, height_m=height_m, belt_speed_mps=speed_mps))
    lookout = BodyState(view)
    source = FileSource(answering_clip(view), as_live=False)
    source.open()
    now_ns = 0
    with PoseModel() as model:
        while (frame := source.read()) is not None:
            if frame.captured_ns > until_s * NS_PER_S:
                break
            now_ns = frame.captured_ns + _DECIDED_AFTER_NS
            pose = model.detect(frame)
            body = session.on_body(lookout.see(frame, pose), now_ns)
            outputs = session.on_update(pipeline.update(pose), now_ns)
            pipeline.settle()
            lookout.settle()
            told = (*body.journal, *outputs.journal)
            entries += [(frame.captured_ns / NS_PER_S, entry) for entry in told]
    source.close()
    asked = StopAsked(reason=StopReason.TIME, source="the test", asked_ns=now_ns)
    entries += [(until_s, entry) for entry in session.on_command(asked, now_ns).journal]
    summary = session.summary(now_ns, ())
    header = Header(
        uid=new_uid(),
        versions={},
        anchor=ClockAnchor(0, "2026-03-05T17:04:00.000000+00:00"),
        source=source.describe(),
        view=view,
        athlete=athlete,
        athlete_text="",
        limits=limits_in_force(athlete.limits),
        demo=True,
        begun_with=athlete.targets,
    )
    whole = (*(entry for _at_s, entry in entries), summary)
    return Told(view, tuple(entries), Recording(header=header, entries=whole, torn=False))
