"""Pairs of measured and true values for one clip, by measure, side and place."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from live.measures.calibration import ANY, LANDMARKS, correction
from live.pipeline import Pipeline, Setup
from shared.flow import EventKind, GaitEvent, Measure, Pose, Side, Update, View
from shared.statistics import Z90, symmetry_index
from shared.units import NS_PER_S
from tests.accuracy.sources import look_of, movement_of, true_in
from tests.accuracy.tracks import name_of, pipeline_for, poses_of, truth_of, updates_of
from tests.rendered.truth import Truth

SETTLE_S: Final = 10.0
"""What the accuracy is asked for: after ten seconds of running."""
APART: Final = 0.25
"""Ankles at least this share of leg length apart: frames in which naming the legs matters."""
STEP_TRUTH: Final[dict[str, tuple[str, float]]] = {
    "strike_ahead": ("strike_ahead_m", 100.0),
    "shank_angle_at_contact": ("shank_angle_deg", 1.0),
    "knee_flexion_at_contact": ("knee_flexion_contact_deg", 1.0),
    "knee_flexion_peak": ("knee_flexion_peak_deg", 1.0),
    "ankle_dorsiflexion_peak": ("ankle_dorsiflexion_peak_deg", 1.0),
    "hip_extension_peak": ("hip_extension_peak_deg", 1.0),
    "trunk_lean": ("trunk_lean_deg", 1.0),
    "contact_time": ("contact_time_s", 1000.0),
    "flight_time": ("flight_time_s", 1000.0),
    "vertical_excursion": ("vertical_excursion_m", 100.0),
    "pelvic_shift": ("pelvic_shift_m", 100.0),
    "trunk_side_lean": ("trunk_side_lean_deg", 1.0),
    "step_width": ("step_width_m", 100.0),
}
STRIDE_TRUTH: Final[dict[str, tuple[str, float]]] = {
    "arm_crossing": ("arm_crossing_m", 100.0),
    "arm_direction": ("arm_direction_deg", 1.0),
}


FEWEST_STRIDES: Final = 5
"""Steps of each side that tell a clip's asymmetry."""
STANDING_ANKLE_DEG: Final = 3.6
"""Shank ahead of upright as a rendered body stands when nothing else is asked for."""


@dataclass(frozen=True)
class Pair:
    """One measured value beside its truth."""

    clip: str
    view: str
    kept_apart: bool
    name: str
    side: str
    place: str
    """near, far, across or any: which correction it falls under."""
    found: float
    true: float
    uncertainty: float
    build: str = ""
    """Which body was drawn."""
    movement: str = ""
    look: str = ""
    """Whose movement it shows, in which clothes: see ``tests.accuracy.sources``."""

    @property
    def sources(self) -> tuple[str, str, str]:
        """Movement, body and clothes: each is left out in turn."""
        return self.movement, f"body {self.build}", f"legs in {self.look}"


@dataclass(frozen=True)
class Scored:
    """One clip, measured."""

    clip: str
    truth: Truth
    pairs: list[Pair]
    legs_wrong: int
    legs_frames: int
    missed: int
    invented: int
    running_s: float
    contacts: list[GaitEvent]
    """All that were told, from the first frame on."""


def turns_taken(some: Iterable[Scored]) -> int:
    """How many contacts followed one of the other foot, as each must. AssertionError: not so."""
    checked = 0
    for one in some:
        assert len(one.contacts) > 15, one.clip
        for earlier, later in itertools.pairwise(one.contacts):
            if earlier.side is None or later.side is None:
                continue
            assert later.side is earlier.side.other, one.clip
            checked += 1
    return checked


def score(clip: Path, settle_s: float = SETTLE_S) -> Scored:
    """Run the live core over a case and set its values beside the truth.

    From the side landmarks are all that it is told: the belt's speed, for which shoes are looked
    at, is typed in.
    """
    truth = truth_of(clip)
    poses = poses_of(clip)
    pipeline = pipeline_for(clip)
    wrong = frames = 0
    updates = []
    if pipeline.view is not View.SIDE:
        updates = list(updates_of(clip, pipeline))
    else:
        for pose in poses:
            updates.append(pipeline.update(pose))
            if _seconds(pose.captured_ns) >= settle_s:
                named = _named_rightly(pipeline, pose, truth)
                frames += named is not None
                wrong += named is False
    contacts = [e for u in updates for e in u.events if e.kind is EventKind.CONTACT]
    true = [event for event in truth.events if event["kind"] == "contact"]
    missed, invented = _missed_and_invented(contacts, true, settle_s)
    return Scored(
        clip=name_of(clip),
        truth=truth,
        pairs=pairs_of(clip, updates, settle_s),
        legs_wrong=wrong,
        legs_frames=frames,
        missed=missed,
        invented=invented,
        running_s=_seconds(poses[-1].captured_ns) - settle_s,
        contacts=contacts,
    )


def pairs_of(clip: Path, updates: list[Update], settle_s: float = SETTLE_S) -> list[Pair]:
    """What a pipeline told of a case, beside the truth."""
    truth = truth_of(clip)
    maker = _PairMaker(name_of(clip), truth, truth.steps, truth.strides, settle_s)
    found = [pair for update in updates for pair in maker.pairs(update)]
    return [pair for pair in found if true_in(truth.meta, pair.name)]


def shift_by_landmarks(clip: Path) -> list[Pair]:
    """The pairs for the pelvis's shift where nobody looks at the pictures; none from the side."""
    pipeline = pipeline_for(clip)
    if pipeline.view is View.SIDE:
        return []
    pairs = pairs_of(clip, [pipeline.update(pose) for pose in poses_of(clip)])
    return [replace(pair, place=LANDMARKS) for pair in pairs if pair.name == "pelvic_shift"]


def whole_clip_asymmetry(pairs: list[Pair]) -> list[Pair]:
    """One pair for step_asymmetry, from all steps of one clip.

    Few tuning clips last the 20 strides of the measure itself; what it is off by lasts as long as
    the clip, so fewer strides tell that as well.
    """
    by_side = {side: [p for p in pairs if (p.name, p.side) == ("step_length", side)]
               for side in ("left", "right")}  # fmt: skip
    if not pairs or pairs[0].view != View.SIDE or min(map(len, by_side.values())) < FEWEST_STRIDES:
        return []

    def index(kind: str) -> float:
        return symmetry_index(
            *(float(np.mean([getattr(p, kind) for p in some])) for some in by_side.values())
        )

    first = by_side["left"][0]
    return [
        replace(
            first,
            name="step_asymmetry",
            side="",
            place=ANY,
            uncertainty=Z90 * correction("step_asymmetry", ANY).sd,
            found=index("found"),
            true=index("true"),
        )
    ]


def belt_speed_off(clip: Path, shoes: bool = True) -> tuple[float, float]:
    """How far a belt speed that was not typed in is off, and by its 90 % interval at most.

    Both as a share, mean over all that is told after ten seconds of running. Without ``shoes`` from
    the landmarks alone.
    """
    meta = truth_of(clip).meta
    pipeline = Pipeline(Setup(View.SIDE, meta["height_m"]))
    updates = updates_of(clip, pipeline) if shoes else map(pipeline.update, poses_of(clip))
    found = [
        measure
        for update in updates
        for measure in update.measures
        if measure.name == "belt_speed"
        and _seconds(measure.at_ns) >= meta["running_from_s"] + SETTLE_S
    ]
    off = float(np.mean([one.value for one in found])) / 3.6 / float(meta["belt_speed_mps"]) - 1.0
    return off, float(np.mean([one.uncertainty / one.value for one in found]))


def standing_ankle_deg(truth: Truth) -> float:
    """Ankle's bend in standing: as seen in the truth, else as that body would stand."""
    if not truth.meta["standing"]:
        return STANDING_ANKLE_DEG
    from_s, to_s = truth.meta["standing"]
    times = np.asarray(truth.frame_time_s)
    still = (times >= from_s) & (times < to_s)
    lines = [truth.joint(f"{s}_knee") - truth.joint(f"{s}_ankle") for s in ("left", "right")]
    return float(np.degrees(np.mean([np.arctan2(x[still, 0], x[still, 2]) for x in lines])))


def _seconds(at_ns: int) -> float:
    """Stamp to the truth's clock (the poses start one second in)."""
    return (at_ns - NS_PER_S) / NS_PER_S


def _named_rightly(pipeline: Pipeline, pose: Pose, truth: Truth) -> bool | None:
    """Whether the legs of this frame carry their right names; None where it does not matter."""
    ankles = pipeline.named_ankles()
    if ankles is None:
        return None
    pixels = truth.pixels[pose.index]
    left, right = pixels[truth.joint_index("left_ankle")], pixels[truth.joint_index("right_ankle")]
    hip, knee = pixels[truth.joint_index("left_hip")], pixels[truth.joint_index("left_knee")]
    if np.linalg.norm(left - right) < APART * 2.0 * np.linalg.norm(hip - knee):
        return None
    straight = np.linalg.norm(ankles[0] - left) + np.linalg.norm(ankles[1] - right)
    crossed = np.linalg.norm(ankles[0] - right) + np.linalg.norm(ankles[1] - left)
    return bool(straight <= crossed)


def _missed_and_invented(
    contacts: list[GaitEvent], true_contacts: list[dict[str, Any]], settle_s: float
) -> tuple[int, int]:
    """True contacts without a found one within 100 ms, and the reverse, after settling."""
    late = [(e.at_ns / NS_PER_S - 1.0, e.side) for e in contacts]
    late = [(at, side) for at, side in late if at > settle_s]
    if not late:
        return len(true_contacts), 0
    first, last = late[0][0], late[-1][0]
    true = [
        (event["time_s"], event["side"])
        for event in true_contacts
        if first - 0.1 <= event["time_s"] <= last + 0.1
    ]
    near = [
        sum(abs(at - contact) < 0.1 and side == foot for at, side in late) for contact, foot in true
    ]
    return sum(count == 0 for count in near), len(late) - sum(count > 0 for count in near)


class _PairMaker:
    def __init__(
        self,
        clip: str,
        truth: Truth,
        steps: list[dict[str, Any]],
        strides: list[dict[str, Any]],
        settle_s: float,
    ) -> None:
        self._clip = clip
        self._meta = truth.meta
        self._steps = steps
        self._strides = strides
        self._settle_s = settle_s
        self._neutral_deg = standing_ankle_deg(truth)

    def pairs(self, update: Update) -> list[Pair]:
        out = []
        for event in update.events:
            if _seconds(event.at_ns) < self._settle_s:
                continue
            key = "contact_s" if event.kind is EventKind.CONTACT else "toe_off_s"
            step = self._step(event.side, event.at_ns, key)
            if step is not None:
                found = (_seconds(event.at_ns) - step[key]) * 1000.0
                out.append(
                    self._pair(event.kind.value, event.side, found, 0.0, event.uncertainty_ms)
                )
        for measure in update.measures:
            if _seconds(measure.at_ns) < self._settle_s:
                continue
            true = self._truth_of(measure)
            if true is not None:
                out.append(
                    self._pair(measure.name, measure.side, measure.value, true, measure.uncertainty)
                )
        return out

    def _truth_of(self, measure: Measure) -> float | None:
        at_s = _seconds(measure.at_ns)
        if measure.name == "cadence":
            return self._cadence(at_s, measure.steps)
        if measure.name == "step_asymmetry":
            return self._asymmetry(at_s, measure.steps)
        if measure.name in STRIDE_TRUTH:
            key, factor = STRIDE_TRUTH[measure.name]
            rows = [s for s in self._strides if s["side"] == measure.side]
            near = [s for s in rows if s["to_s"] <= at_s + 0.3 and s["from_s"] >= at_s - 2.0]
            return float(np.mean([s[key] for s in near])) * factor if near else None
        if measure.name == "step_length":
            # By definition belt speed x step time; the truth file has the way between the feet.
            step = self._step(measure.side, measure.at_ns, "contact_s")
            if step is None or step["step_time_s"] is None:
                return None
            return 100.0 * float(self._meta["belt_speed_mps"] * step["step_time_s"])
        if measure.name not in STEP_TRUTH:
            return None
        key, factor = STEP_TRUTH[measure.name]
        anchor = "contact_s" if self._at_contact(measure) else "toe_off_s"
        step = self._step(measure.side, measure.at_ns, anchor)
        if step is None or step.get(key) is None:
            return None
        if measure.name == "knee_flexion_peak":  # of both legs
            before = [s for s in self._steps if s["index"] == step["index"] - 1]
            return float(np.mean([s[key] for s in (step, *before)])) * factor
        # The catalogue counts the ankle's bend from standing, the truth from an upright shank.
        neutral = self._neutral_deg if measure.name == "ankle_dorsiflexion_peak" else 0.0
        return float(step[key]) * factor - neutral

    def _at_contact(self, measure: Measure) -> bool:
        return measure.name in {
            "strike_ahead",
            "shank_angle_at_contact",
            "knee_flexion_at_contact",
            "trunk_lean",
        } or (measure.name == "vertical_excursion" and self._meta["view"] == "side")

    def _step(self, side: Side | None, at_ns: int, key: str) -> dict[str, Any] | None:
        rows = [s for s in self._steps if side is None or s["side"] == side]
        step = min(rows, key=lambda s: abs(s[key] - _seconds(at_ns)))
        return step if abs(step[key] - _seconds(at_ns)) < 0.12 else None

    def _last_contacts(self, at_s: float, count: int) -> list[dict[str, Any]] | None:
        upto = [s for s in self._steps if s["contact_s"] < at_s + 0.12]
        return upto[-(count + 1) :] if len(upto) > count else None

    def _cadence(self, at_s: float, steps: int) -> float | None:
        rows = self._last_contacts(at_s, steps)
        if rows is None:
            return None
        return 60.0 * steps / float(rows[-1]["contact_s"] - rows[0]["contact_s"])

    def _asymmetry(self, at_s: float, steps: int) -> float | None:
        rows = self._last_contacts(at_s, steps)
        if rows is None:
            return None
        times: dict[str, list[float]] = {"left": [], "right": []}
        for earlier, later in itertools.pairwise(rows):
            times[later["side"]].append(later["contact_s"] - earlier["contact_s"])
        left, right = np.mean(times["left"]), np.mean(times["right"])
        return float(100.0 * (right - left) / (0.5 * (right + left)))

    def _pair(
        self, name: str, side: Side | None, found: float, true: float, uncertainty: float
    ) -> Pair:
        place = "any"
        if side is not None:
            near = self._meta["near_side"]
            place = "across" if near is None else ("near" if side == near else "far")
        return Pair(
            clip=self._clip,
            view=self._meta["view"],
            kept_apart=bool(self._meta["kept_apart"]),
            name=name,
            side="" if side is None else side.value,
            place=place,
            found=found,
            true=true,
            uncertainty=uncertainty,
            build=str(self._meta["body"]),
            movement=movement_of(self._meta),
            look=look_of(self._meta),
        )
