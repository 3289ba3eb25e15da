"""What can be asked of the rendered runner: one frozen value per clip, units in the names."""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class BySide:
    """One number for each side of the runner's body."""

    left: float
    right: float

    def of(self, side: str) -> float:
        return self.left if side == "left" else self.right

    @property
    def mean(self) -> float:
        return (self.left + self.right) / 2


def both(value: float) -> BySide:
    return BySide(value, value)


@dataclass(frozen=True)
class Happening:
    """Something out of the ordinary, from `from_s` to `to_s`.

    kinds: hand_up and face_wipe (with `side`); fall (hips drop and stay); drift_back (`amount_m`
    backward from from_s to to_s, and stays there; enough of it leaves the picture); second_person
    (stands beside the belt from from_s to to_s).
    """

    kind: str
    from_s: float
    to_s: float
    side: str = "right"
    amount_m: float = 0.0


@dataclass(frozen=True)
class RunnerParams:
    """A running gait. Angles in degrees, signs as in the measure catalogue.

    Defaults are a recreational runner at an easy pace (step rate, contact and knee figures from
    PMC6044588 Table 2, Karamanidis & Arampatzis 2005, Souza 2016; the rest from memory).
    """

    body: str = "female"
    height_m: float | None = None
    belt_speed_mps: float = 2.8
    cadence_spm: float = 166.0
    step_time_asymmetry_pct: float = 0.0  # (right - left) / half the sum x 100
    contact_time_ms: BySide = field(default_factory=lambda: both(265.0))
    strike_ahead_m: BySide = field(default_factory=lambda: both(0.24))
    foot_angle_contact_deg: BySide = field(default_factory=lambda: both(14.0))
    knee_flexion_contact_deg: float = 15.0
    knee_flexion_peak_deg: float = 45.0
    knee_flexion_toe_off_deg: float = 20.0
    knee_flexion_swing_deg: BySide = field(default_factory=lambda: both(92.0))
    ankle_dorsiflexion_peak_deg: BySide = field(default_factory=lambda: both(25.0))
    knee_inward_deg: BySide = field(default_factory=lambda: both(5.0))
    toe_out_deg: BySide = field(default_factory=lambda: both(6.0))
    step_width_m: float = 0.04
    retraction_s: float = 0.05  # ankle furthest forward this long before contact
    landing_speed_share: float = 0.6  # foot's backward speed at contact, share of belt speed
    swing_peak_share: float = 0.40  # of swing, with the knee most bent; from memory
    swing_late_share: float = 0.0  # of swing, that the leg is later in the middle of it
    landing_bend_dps: float = 90.0  # rate at which the knee bends as the foot lands; from memory
    force_rise: float | None = None  # more is later; none: so that the knee bends as asked
    pelvic_shift_m: BySide = field(default_factory=lambda: both(0.014))
    pelvic_drop_deg: BySide = field(default_factory=lambda: both(4.0))
    pelvic_rotation_deg: float = 6.0
    pelvic_tilt_deg: float = 6.0
    trunk_lean_deg: float = 8.0
    trunk_side_lean_deg: BySide = field(default_factory=lambda: both(1.5))
    thorax_rotation_deg: float = 9.0
    head_pitch_deg: float = 4.0
    arm_direction_deg: BySide = field(default_factory=lambda: both(15.0))
    arm_swing_deg: BySide = field(default_factory=lambda: both(52.0))  # shoulder, peak to peak
    elbow_deg: BySide = field(default_factory=lambda: both(88.0))
    elbow_direction_deg: BySide | None = None  # as of the wrist; none: the whole arm's
    forearm_in_deg: BySide = field(default_factory=lambda: both(12.0))
    step_time_sd_pct: float = 1.5
    variability: float = 1.0  # scales every step-to-step spread but that of step time
    seed: int = 1
    stand_s: float = 0.0  # stands still this long before the belt starts
    stand_hips_ahead_m: float = 0.0  # mid-hips ahead of the ankles while standing
    start_s: float = 2.0  # then the belt speeds up and the gait fades in over this time
    loop_steps: int = 0  # > 0: everything repeats after this many steps (even)
    happenings: tuple[Happening, ...] = ()
