"""What each field of a runner's profile is called in forms, and what it is for (pure).

By the field's name, with ``limits.`` or ``targets.`` before it where it stands in such a table.
"""

from __future__ import annotations

from typing import Final

from shared.language import _, mark

FIELDS: Final[dict[str, tuple[str, str]]] = {
    "code_name": (mark("Code name"), mark("Shown on the screen and in records: no real name.")),
    "athlete_id": (
        mark("Id"),
        mark("All records are found by it. The program writes it; no two people may share it."),
    ),
    "height_cm": (mark("Height"), mark("Standing, without shoes. It gives the picture its scale.")),
    "view": (mark("Camera"), mark("Where the camera stands, seen from the runner.")),
    "belt_speed_kmh": (
        mark("Belt speed"),
        mark("What the belt is set to. The program never sets it."),
    ),
    "baseline_cadence_spm": (
        mark("Own cadence"),
        mark("At this belt speed, before any training, in steps/min. It limits cadence targets."),
    ),
    "notes": (mark("Notes"), mark("For the people who read this profile.")),
    "limits.pain_stop_over": (
        mark("Pain that ends the session"),
        mark("A pain rating above this ends the session."),
    ),
    "limits.pain_caution_from": (
        mark("Pain to be careful from"),
        mark("From this rating the runner is told to ease off, and the target is not raised."),
    ),
    "limits.effort_caution_from": (
        mark("Effort to be careful from"),
        mark("From this effort rating the plan repeats the session."),
    ),
    "limits.cadence_most_percent": (
        mark("Most for cadence (%)"),
        mark("How far a cadence target may be above the runner's own cadence."),
    ),
    "limits.target_step_percent": (
        mark("Largest step of a target (%)"),
        mark("How far a target may be moved at one time."),
    ),
    "limits.longest_min": (mark("Longest session (min)"), mark("A session ends after this time.")),
    "limits.heart_rate_warn_bpm": (
        mark("Heart rate to ease off (beats/min)"),
        mark("With a heart rate strap: from here on the runner is told to ease off."),
    ),
    "limits.heart_rate_end_bpm": (
        mark("Heart rate that ends the session (beats/min)"),
        mark("With a heart rate strap: held over this for 5 s, the session ends."),
    ),
    "limits.volume_most": (
        mark("Loudest volume"),
        mark("Of the program's own ceiling; 1 is all of it."),
    ),
    "targets.measure": (mark("Measure"), mark("What is held to a band.")),
    "targets.unit": (mark("Unit"), mark("Of the band's edges.")),
    "targets.side": (mark("Side"), mark("The runner's own side. Empty: steps of both sides.")),
    "targets.low": (mark("Lower edge"), mark("At least one of the two edges is needed.")),
    "targets.high": (mark("Upper edge"), mark("At least one of the two edges is needed.")),
    "targets.beat_spm": (
        mark("Beat (steps/min)"),
        mark('Cadence only, and with "a beat" chosen below.'),
    ),
    "targets.average_steps": (
        mark("Steps averaged"),
        mark("How many steps are averaged before they are judged."),
    ),
    "targets.hysteresis": (
        mark("Return margin"),
        mark("How far back inside the band a value must come to count as back."),
    ),
    "targets.cue_gap_steps": (mark("Fewest steps between cues"), ""),
    "targets.cues": (mark("Cues"), mark("How this target is cued. Inside the band it is silent.")),
}
CHOICES: Final[dict[str, str]] = {
    "side": mark("from the side"),
    "behind": mark("from behind"),
    "front": mark("from in front"),
    "left": mark("left"),
    "right": mark("right"),
    "beat": mark("a beat"),
    "out_of_band": mark("a sound when it leaves the band"),
    "pitch": mark("a sound whose pitch grows with the distance"),
    "spoken": mark("a spoken line"),
    "back_in_band": mark("a short tone when it is back"),
    "words": mark("words on the screen"),
}


def field_title(key: str) -> str:
    """What the field is called."""
    return _(FIELDS[key][0]) if key in FIELDS else key


def field_help(key: str) -> str:
    """What it is for; may be empty."""
    text = FIELDS[key][1] if key in FIELDS else ""
    return _(text) if text else ""


def choice_title(value: str) -> str:
    """What one of a field's choices is called."""
    return _(CHOICES[value]) if value in CHOICES else value
