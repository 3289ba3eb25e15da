"""Every text of the camera check and of the home pages, by key, in one place: plain words."""

from __future__ import annotations

from typing import Final

TEXTS: Final[dict[str, str]] = {
    "title": "Beltside: camera check",
    "title_now": "Beltside: camera check: {heading}",
    "needs_station": "The camera check is opened by the station. Type: beltside check",
    # the checks, in the list
    "check_camera": "Camera gives pictures",
    "check_still": "Camera stands still",
    "check_frame_rate": "Pictures come fast enough",
    "check_light": "Light",
    "check_blur": "Picture is sharp",
    "check_person": "One person, on the belt",
    "check_view_side": "Camera looks from the side",
    "check_view_behind": "Camera looks from behind",
    "check_view_front": "Camera looks from the front",
    "check_whole_body": "Whole body in the picture",
    "check_distance": "Distance",
    "check_level": "Camera is level",
    "check_square_side": "Square, or a little to the front",
    "check_square_across": "Camera in line with the belt",
    "check_steps": "Steps are measured",
    "check_belt_edges": "Ends of the belt",
    "check_place": "Place as last time",
    # how one stands, for screen readers and beside the sign
    "standing_pass": "good",
    "standing_to_do": "to do",
    "standing_unknown": "not known yet",
    # what to do
    "no_picture": "No picture comes. Look at the camera.",
    "stand_still": "The camera was moved. Let it stand still.",
    "faster": "Too few pictures a second. Add light.",
    "lighter": "Too dark. Switch on a light.",
    "darker": "Too bright. Dim the light or draw a curtain.",
    "backlit": "Bright light behind. Draw a curtain.",
    "clean_lens": "The picture is blurred. Wipe the lens.",
    "step_in": "Stand on the belt, still, and look ahead.",
    "others_out": "Only the runner may be in the picture.",
    "view_side": "Put the camera at the side of the belt.",
    "view_behind": "Put the camera behind the belt.",
    "view_front": "Put the camera in front of the belt.",
    "further": "Move the camera further away.",
    "nearer": "Move the camera nearer.",
    "tilt_up": "The head is cut off. Tilt the camera up.",
    "tilt_down": "The feet are cut off. Tilt the camera down.",
    "turn_left": "Turn the camera to the picture's left.",
    "turn_right": "Turn the camera to the picture's right.",
    "raise_left": "Tilted. Raise the camera at the picture's left.",
    "raise_right": "Tilted. Raise the camera at the picture's right.",
    "to_front": "Shift the camera to the runner's front.",
    "to_back": "Shift the camera to the runner's back.",
    "to_left": "Shift the camera to the runner's left.",
    "to_right": "Shift the camera to the runner's right.",
    # why no step is measured of somebody who runs
    "steps_second_person": "Only the runner may be in the picture.",
    "steps_wrong_view": "Put the camera where the view says.",
    "steps_picture_turned": "The picture is turned. Turn the camera.",
    "steps_picture_stretched": "The picture is stretched. Use square pixels.",
    "steps_pictures_few": "Too few pictures a second. Add light.",
    "steps_computer_slow": "The computer is too slow. Close programs.",
    "steps_feet_cut_off": "The feet are cut off. Tilt the camera down.",
    "steps_body_cut_off": "The body is cut off. Move the camera away.",
    "steps_runner_lost_often": "The runner is lost. Add light.",
    "steps_runner_small": "Too small. Move the camera nearer.",
    "steps_legs_hidden": "The legs are hidden. Look past rail and console.",
    "steps_picture_poor": "The body is hard to see. Add light.",
    "steps_not_running": "Walking is seen. Run for some seconds.",
    "steps_legs_alike": "The legs look alike. Put a bright sock on one.",
    "steps_steps_uneven": "Run on at one speed, hands off the rails.",
    "steps_unmeasured": "No step is seen. Add light, wear shorts.",
    "draw_edges": "Move the two lines to the ends of the belt.",
    "level_by_eye": "Cannot be measured here. Compare a door or wall with the frame.",
    "square_by_eye": "Cannot be measured yet. Look along the belt.",
    "place_changed": "The camera stands elsewhere than last time.",
    "place_nearer": "The camera stands nearer than last time.",
    "place_further": "The camera stands further away than last time.",
    # values beside a check
    "value_deg": "{value}°",
    "value_%": "{value} % of the picture",
    "value_/s": "{value} a second",
    # what to do now, large
    "joining": "One moment",
    "joining_more": "Joining the camera.",
    "going_on": "Thank you.",
    "wait": "Looking",
    "wait_more": "This takes a few seconds.",
    "next": "Do this next",
    "good": "All is well",
    "good_more": "Come to the computer and press Enter.",
    "good_lines": "Come to the computer and mark the belt.",
    "was_good_more": "Press Enter to go on.",
    "gone": "The camera check has closed",
    "gone_more": "Close this window and begin again.",
    "count": "{passed} of {count} are good",
    # going on without
    "anyway_none": "1 check is not good yet",
    "anyway_some": "{count} checks are not good yet",
    "anyway_more": "What is seen and said may be wrong. Press A to go on all the same, or Esc to "
    "keep checking.",
    # buttons and lines
    "go_on": "Go on",
    "go_on_keys": "Enter",
    "go_on_about": "Keeps this place and goes on. Key: Enter.",
    "anyway": "Go on all the same",
    "anyway_keys": "A",
    "anyway_about": "Goes on although some checks are not good. Key: A.",
    "back": "Keep checking",
    "back_keys": "Esc",
    "back_about": "Takes that back and keeps checking. Key: Esc.",
    "leave": "Leave",
    "leave_keys": "Esc",
    "leave_about": "Leaves the camera check; nothing is started. Key: Esc.",
    "rear_end": "Belt: rear end",
    "front_end": "Belt: front end",
    "rear_letter": "R",
    "front_letter": "F",
    "rear_about": "Line at the rear end of the belt. Move it with the arrow keys, in small steps "
    "with Shift. Key to it: R.",
    "front_about": "Line at the front end of the belt. Move it with the arrow keys, in small steps "
    "with Shift. Key to it: F.",
    "lines_help": "Ends of the belt: drag the two lines, or press R or F, then the arrow keys. "
    "E: they lie right. N: do not watch for the runner drifting back.",
    "lines_at_rim": "A line lies at the picture's edge, where no end of the belt is seen. Turn or "
    "move the camera until both ends are in the picture, or press N.",
    "lines_wait": "Stand on the belt first: from here, the lines need the runner's size.",
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
    return TEXTS[key].format(**values)
