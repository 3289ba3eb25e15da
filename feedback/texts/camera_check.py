"""Every text of the camera check and of the home pages, by key, in one place: plain words."""

from __future__ import annotations

from typing import Final

from shared.language import in_table

TEXTS: Final[dict[str, str]] = {
    "title": "Beltside: camera check",
    "title_now": "Beltside: camera check: {heading}",
    "needs_station": "The camera check is opened by the station. Type: beltside check",
    # the checks, in the list
    "check_camera": "Camera image",
    "check_still": "Camera is steady",
    "check_frame_rate": "Frame rate",
    "check_light": "Light",
    "check_blur": "Image is sharp",
    "check_person": "One person, on the belt",
    "check_view_side": "Camera looks from the side",
    "check_view_behind": "Camera looks from behind",
    "check_view_front": "Camera looks from the front",
    "check_whole_body": "Whole body in view",
    "check_distance": "Distance",
    "check_level": "Camera is level",
    "check_square_side": "Square on, or slightly from the front",
    "check_square_across": "Camera in line with the belt",
    "check_steps": "Steps are measured",
    "check_belt_edges": "Ends of the belt",
    "check_place": "Same place as last time",
    # how one stands, for screen readers and beside the sign
    "standing_pass": "good",
    "standing_to_do": "to do",
    "standing_unknown": "not known yet",
    # what to do
    "no_picture": "No image. Check the camera.",
    "stand_still": "The camera moved. Keep it still.",
    "faster": "Frame rate too low. Add light.",
    "lighter": "Too dark. Switch on a light.",
    "darker": "Too bright. Dim the light or draw a curtain.",
    "backlit": "Bright light behind. Draw a curtain.",
    "clean_lens": "The picture is blurred. Wipe the lens.",
    "step_in": "Stand still on the belt and look ahead.",
    "others_out": "Only the runner should be in view.",
    "view_side": "Move the camera to the side of the belt.",
    "view_behind": "Move the camera behind the belt.",
    "view_front": "Move the camera in front of the belt.",
    "further": "Move the camera further away.",
    "nearer": "Move the camera closer.",
    "tilt_up": "The head is cut off. Tilt the camera up.",
    "tilt_down": "The feet are cut off. Tilt the camera down.",
    "turn_left": "Turn the camera to the picture's left.",
    "turn_right": "Turn the camera to the picture's right.",
    "raise_left": "Tilted. Raise the camera at the picture's left.",
    "raise_right": "Tilted. Raise the camera at the picture's right.",
    "to_front": "Move the camera to the runner's front.",
    "to_back": "Move the camera to the runner's back.",
    "to_left": "Move the camera to the runner's left.",
    "to_right": "Move the camera to the runner's right.",
    # why no step is measured of somebody who runs
    "steps_second_person": "Only the runner should be in view.",
    "steps_wrong_view": "Move the camera to match the chosen view.",
    "steps_picture_turned": "The picture is rotated. Turn the camera.",
    "steps_picture_stretched": "The picture is stretched. Use square pixels.",
    "steps_pictures_few": "Frame rate too low. Add light.",
    "steps_computer_slow": "Computer too slow. Close other programs.",
    "steps_feet_cut_off": "The feet are cut off. Tilt the camera down.",
    "steps_body_cut_off": "The body is cut off. Move the camera back.",
    "steps_runner_lost_often": "The runner is often lost. Add light.",
    "steps_runner_small": "Runner too small. Move the camera closer.",
    "steps_legs_hidden": "Legs hidden. Move the camera clear of the rail.",
    "steps_picture_poor": "The body is hard to see. Add light.",
    "steps_not_running": "Walking detected. Run for a few seconds.",
    "steps_legs_alike": "The legs look alike. Put a bright sock on one.",
    "steps_steps_uneven": "Keep running at one speed, hands off the rails.",
    "steps_unmeasured": "No steps detected. Add light, wear shorts.",
    "draw_edges": "Move the two lines to the ends of the belt.",
    "level_by_eye": "Cannot be measured here. Compare a door or wall with the frame.",
    "square_by_eye": "Cannot be measured yet. Look along the belt.",
    "place_changed": "The camera is not where it was last time.",
    "place_nearer": "The camera is closer than last time.",
    "place_further": "The camera is further away than last time.",
    # values beside a check
    "value_deg": "{value}°",
    "value_%": "{value} % of the picture",
    "value_/s": "{value} per second",
    # what to do now, large
    "joining": "One moment",
    "joining_more": "Connecting to the camera.",
    "going_on": "Thank you.",
    "wait": "Checking",
    "wait_more": "This takes a few seconds.",
    "next": "Do this next",
    "good": "All checks passed",
    "good_more": "Come to the computer and press Enter.",
    "good_lines": "Come to the computer and mark the belt.",
    "was_good_more": "Press Enter to continue.",
    "gone": "The camera check has closed",
    "gone_more": "Close this window and start again.",
    "count": "{passed} of {count} passed",
    # going on without
    "anyway_none": "1 check has not passed yet",
    "anyway_some": "{count} checks have not passed yet",
    "anyway_more": "Values and cues may be wrong. Press A to continue anyway, or Esc to keep "
    "checking.",
    # buttons and lines
    "go_on": "Continue",
    "go_on_keys": "Enter",
    "go_on_about": "Saves this place and continues. Key: Enter.",
    "anyway": "Continue anyway",
    "anyway_keys": "A",
    "anyway_about": "Continues although some checks have not passed. Key: A.",
    "back": "Keep checking",
    "back_keys": "Esc",
    "back_about": "Goes back to the checks. Key: Esc.",
    "leave": "Exit",
    "leave_keys": "Esc",
    "leave_about": "Closes the camera check; nothing is started. Key: Esc.",
    "rear_end": "Belt: rear end",
    "front_end": "Belt: front end",
    "rear_letter": "R",
    "front_letter": "F",
    "rear_about": "Line at the rear end of the belt. Move it with the arrow keys, in small steps "
    "with Shift. Key: R.",
    "front_about": "Line at the front end of the belt. Move it with the arrow keys, in small steps "
    "with Shift. Key: F.",
    "lines_help": "Ends of the belt: drag the two lines, or press R or F, then the arrow keys. E: "
    "the lines are correct. N: do not watch for the runner drifting back.",
    "lines_at_rim": "A line is at the edge of the picture, where the end of the belt cannot be "
    "seen. Turn or move the camera until both ends are in view, or press N.",
    "lines_wait": "Stand on the belt first: from this view, the lines depend on the runner's size.",
    "stand_here": "The runner stands in this frame",
    "level_line": "level",
    "picture": "Camera picture",
    "picture_about": "The camera's picture with the runner's outline, a level line and a frame "
    "for the runner.",
    "list": "Checks",
}
"""Text by key; ``{name}`` places are filled in by :func:`tell`."""


def tell(key: str, **values: object) -> str:
    """The text ``key`` with its places filled in; KeyError for an unknown key or missing place."""
    return in_table(f"camera_check.{key}", TEXTS[key]).format(**values)
