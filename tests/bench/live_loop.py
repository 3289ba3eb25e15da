"""Frame arrival to decision against the bare pose model, and foot on the belt to sound, by stage.

The clip is played as if live through the whole station: real model, all screens, link, record,
and sound into a recorded output. A target that is missed at every step calls for a cue every few
steps. Before and after each session the pose model alone is timed on the same clip at the same
pace, so that a busy computer can be told from a slow program.
"""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

from mediapipe.tasks.python.vision import RunningMode

from live.camera.capture import Capture
from live.pose.bundle import ensure_bundle
from live.pose.landmarker import open_landmarker, to_model_image
from live.pose.model import PoseModel
from shared.clock import now_ns
from shared.flow import Frame
from shared.mailbox import Latest
from tests.accuracy.tracks import CLIPS, truth_of
from tests.bench.chain import STAGES, Chain, steps_of
from tests.bench.hearing import finish
from tests.bench.result import Line, at_least, at_most, spread_ms, told
from tests.bench.stage import Film, Played, Stage, always_out, has_panel, play

FILMS = {
    30: (("side_06_long", 16.0), ("side_02_long", 16.0)) * 2,
    60: (("side_05", 16.0), ("side_09", 16.0), ("side_05", 16.0), ("side_09", 16.0)),
}
QUICK = {30: (("side_01_near", 8.0),)}
MOST_P50 = 1.15
MOST_P99 = 1.5
REACHED_MS = {30: 120.0, 60: 80.0}
STILL_STANDING = 90.0
BARE_S = 8.0
SETTLED_NS = 3 * 10**9
"""The first frames are left out on both sides: until then the stride is not known yet."""


def bench(stage: Stage) -> tuple[list[Line], dict[str, Any]]:
    """At 30 and at 60 pictures a second."""
    lines: list[Line] = []
    figures: dict[str, Any] = {"panel": has_panel()}
    for fps, films in (QUICK if stage.quick else FILMS).items():
        bare: list[int] = []
        sessions: list[tuple[Path, Played]] = []
        with PoseModel() as model:
            for name, seconds in films:
                clip = CLIPS / f"{name}.mp4"
                bare += bare_inference(stage, clip)
                # A window that gets no time at all ends a session; a quick round is made anywhere.
                screens = not stage.quick
                played = play(
                    stage, clip, always_out(), screens=screens, seconds=seconds, model=model
                )
                sessions.append((clip, played))
            bare += bare_inference(stage, clip)
        found, told_lines = arrival_to_decision(fps, bare, [one for _, one in sessions])
        figures[f"arrival_{fps}"] = found
        lines += told_lines
        chains = [chain for clip, one in sessions for chain in steps_of(truth_of(clip), one)]
        found, told_lines = contact_to_sound(fps, chains)
        figures[f"chain_{fps}"] = found
        lines += told_lines
    return lines, figures


def bare_inference(stage: Stage, clip: Path) -> list[int]:
    """Time of the library's own call for each frame, with nothing beside it but the camera.

    The recorder of the sound runs as it does beside the sessions: it is the bench's, and takes its
    share of the computer from whatever is measured.
    """
    with stage.sound.recorder() as recorder:
        spans = _bare_inference(clip, 2.0 if stage.quick else BARE_S)
        finish(recorder)
    return spans


def _bare_inference(clip: Path, seconds: float) -> list[int]:
    mailbox: Latest[Frame] = Latest()
    model = open_landmarker(ensure_bundle(), running_mode=RunningMode.VIDEO)
    spans: list[int] = []
    with Capture(Film(clip, loop=True), mailbox):
        began_ns, stamp_ms = now_ns(), 0
        while now_ns() - began_ns < seconds * 1e9 + 10**9:
            frame = mailbox.take(0.1)
            if frame is None:
                continue
            stamp_ms += 1000
            before_ns = now_ns()
            model.detect_for_video(to_model_image(frame.image), stamp_ms)
            if before_ns - began_ns > 10**9:
                spans.append(now_ns() - before_ns)
    model.close()
    return spans


def arrival_to_decision(
    fps: int, bare: list[int], sessions: list[Played]
) -> tuple[dict[str, Any], list[Line]]:
    """Frame arrival to all that follows from it decided and handed on."""
    decisions: list[int] = []
    inference: list[int] = []
    given = dropped = 0
    for one in sessions:
        times = zip(one.seen, one.decisions_ns, strict=False)
        for (captured_ns, _, inference_ns), decision_ns in times:
            if captured_ns - one.arrived_ns[0] > SETTLED_NS:
                decisions.append(decision_ns)
                inference.append(inference_ns)
        given += len(one.arrived_ns)
        dropped += one.outcome.dropped
    whole, alone = spread_ms(decisions), spread_ms(bare)
    ratio = {key: round(whole[key] / alone[key], 3) for key in ("p50", "p99", "max")}
    figures = {
        "decision_ms": whole,
        "bare_ms": alone,
        "ratio": ratio,
        "inference_within_ms": spread_ms(inference),
        "beside_inference_ms": spread_ms(
            [all_of - part for all_of, part in zip(decisions, inference, strict=True)]
        ),
        "frames": {"given": given, "dropped": dropped},
    }
    what = f"{fps}/s: frame arrival to decision"
    return figures, [
        Line(what, told(whole)),
        Line(f"{fps}/s: the pose model alone", told(alone)),
        at_most(f"{fps}/s: p50 against the model alone", ratio["p50"], MOST_P50),
        at_most(f"{fps}/s: p99 against the model alone", ratio["p99"], MOST_P99),
        Line(f"{fps}/s: frames lost", f"{dropped} of {given}"),
    ]


def contact_to_sound(fps: int, chains: list[Chain]) -> tuple[dict[str, Any], list[Line]]:
    """True contact to what was recorded, for the steps that were cued."""
    cued = [chain for chain in chains if chain.onset_ns is not None]
    reach = spread_ms([chain.onset_ns - chain.contact_ns for chain in cued if chain.onset_ns])
    stated = spread_ms([c.stated_ns - c.contact_ns for c in cued if c.stated_ns is not None])
    in_time = sum(chain.onset_ns < chain.toe_off_ns for chain in cued if chain.onset_ns)
    # A cue that was never heard counts as one that came too late.
    handed = sum(chain.handed_ns is not None for chain in chains)
    standing = 100.0 * in_time / max(handed, 1)
    known = spread_ms([chain.exposed_ns - chain.contact_ns for chain in chains])
    figures: dict[str, Any] = {
        "contact_to_sound_ms": reach,
        "contact_to_stated_ms": stated,
        "heard_while_standing_percent": round(standing, 1),
        "all_steps_contact_to_known_ms": known,
        "steps": len(chains),
        "cued_steps": handed,
        "heard_steps": len(cued),
        "stages_ms": {
            f"{a} to {b}": spread_ms([chain.times[b] - chain.times[a] for chain in cued])
            for a, b in itertools.pairwise(STAGES)
        },
    }
    stages = [
        Line(f"{fps}/s:   {name}", f"p50 {one['p50']:.1f}, p99 {one['p99']:.1f} ms")
        for name, one in figures["stages_ms"].items()
    ]
    median = f"{fps}/s: foot on the belt to sound, median"
    still = f"{fps}/s: steps heard while still standing"
    return figures, [
        at_most(median, reach["p50"], REACHED_MS[fps], "ms", 1),
        Line(f"{fps}/s: the same", told(reach)),
        Line(f"{fps}/s: the same, as the sound driver states it", told(stated)),
        at_least(still, standing, STILL_STANDING, "%"),
        *stages,
    ]
