"""Every problem a user can meet: what happened, what it means, what to do."""

from __future__ import annotations

from typing import Final

import msgspec

from shared.language import Said, Text, english, made, split
from shared.plain_text import plain_line
from shared.problems.athletes import ATHLETES
from shared.problems.clocks import CLOCK
from shared.problems.network import NETWORK
from shared.problems.prescriptions import PRESCRIPTIONS
from shared.problems.records import RECORDS
from shared.problems.saving import advice
from shared.problems.sensors import SENSORS
from shared.problems.unmeasured import ROWS as UNMEASURED_ROWS
from shared.problems.unmeasured import SIDES_NOT_KNOWN, STRETCHED

WORDED: Final = ("title", "meaning", "action")


class Problem(msgspec.Struct, frozen=True):
    """A problem in plain words; ``{name}`` places are filled in by :func:`describe`."""

    code: str
    title: str
    """What happened."""
    meaning: str
    """What it means for the runner or the session."""
    action: str
    """What to do now."""
    details: str = ""
    """For the journal; never needed to act."""
    said: tuple[Said | None, ...] = ()
    """What title, meaning and action were made of, for a reader of another language."""

    def __post_init__(self) -> None:
        """Worded in the language in use, whoever made it."""
        split(self, *WORDED)

    def in_english(self) -> Problem:
        """The same in English, for what is kept in files."""
        return english(self, *WORDED)


_TABLE: Final[tuple[Problem, ...]] = (
    # files and typed input
    Problem(
        "file_missing",
        "There is no file at {path}.",
        "Nothing was read and nothing was changed.",
        "Check the name and the folder, then try again.",
    ),
    Problem(
        "file_unreadable",
        "The file {path} cannot be read ({why}).",
        "Nothing was read and nothing was changed.",
        "Check that it is a text file and that you may open it.",
    ),
    Problem(
        "toml_broken",
        "The file {path} is not valid TOML: {why}.",
        "Nothing was read and nothing was changed.",
        "Open it in a text editor and correct the place named.",
    ),
    Problem(
        "field_wrong",
        "In {path}, the field {field} is {value}: {why}.",
        "The file was not used and nothing was changed.",
        "Allowed: {allowed}. Correct this line and try again.",
    ),
    Problem(
        "file_of_another_kind",
        "The file {path} is {what}, and {wanted} is needed here.",
        "Nothing was started and nothing was changed.",
        "{do}",
    ),
    Problem(
        "athlete_missing",
        'There is no athlete called "{name}"{near}',
        "Nothing was started.",
        "Known: {known}. Use one of these names, or the path of a .toml file.",
    ),
    Problem(
        "name_unknown",
        'There is no {kind} called "{name}"{near}',
        "Nothing was started.",
        "Known: {known}. Use one of these names, or the path of a .toml file.",
    ),
    Problem(
        "language_unknown",
        'There are no texts in the language "{language}".',
        "Nothing was started.",
        "Available: {known}. Use one of these with --language, in the environment as "
        "BELTSIDE_LANGUAGE, or as language in preferences.toml.",
    ),
    *(Problem(*row) for row in ATHLETES),
    # baseline, prescription, plan
    Problem(
        "belt_speed_missing",
        "The belt's speed is not known.",
        "A baseline is valid for one speed only, so none was taken.",
        "Give it with --belt-kmh, or write belt_speed_kmh into the athlete's file.",
    ),
    Problem(
        "baseline_quality",
        "The steps could not be measured well enough for a baseline.",
        "No baseline was stored: targets from unreliable values would be wrong.",
        "Add light, wear plain clothes and keep the whole body in view, then take it again.",
    ),
    Problem(
        "baseline_unsteady",
        "The steps did not become steady.",
        "No baseline was stored: their mean would not be reliable.",
        "Run a few minutes at this belt speed to settle in, then take it again.",
    ),
    Problem(
        "baseline_cut_short",
        "The baseline ended after {steps} of {wanted} steps.",
        "No baseline was stored.",
        "Take it again, and run until it ends automatically.",
    ),
    Problem(
        "baseline_missing",
        "There is no baseline for {name} from {view} at {speed} km/h.",
        "Targets are calculated from the runner's baseline, so nothing was prescribed.",
        "{do}",
    ),
    Problem(
        "goal_refused",
        'The aim "{aim}" cannot be set for this runner: {why}.',
        "Nothing was prescribed and nothing was started.",
        "{do}",
    ),
    Problem(
        "view_differs",
        "The drill needs the camera {drill_view}, but the athlete's file says {view}.",
        "Nothing was prescribed.",
        "Choose a drill for this view, or give the other view with --view.",
    ),
    *(Problem(*row) for row in (*PRESCRIPTIONS, *CLOCK)),
    Problem(
        "plan_missing",
        "The prescription {path} contains no plan.",
        "There are no sessions to show.",
        "Run its drill with 'beltside session', or prescribe it again with --plan.",
    ),
    Problem(
        "plan_finished",
        "All sessions of the plan are complete.",
        "There is no next session.",
        "Write a new prescription, or run one again with --number.",
    ),
    Problem(
        "session_unknown",
        "The plan has no session {number}.",
        "Nothing was started.",
        "Give a number from 1 to {count}, or leave --number out.",
    ),
    Problem(
        "ask_clinic",
        "Pain after the last session: the next one should wait.",
        "Nothing was started. Rest until the pain is back to its earlier level.",
        "Talk to your clinic. If it agrees, add --agreed.",
    ),
    Problem(
        "too_early",
        "The next session is due in {hours} hours at the earliest.",
        "Nothing was started: rest is needed for what you practised to settle.",
        "Come back then, or run it anyway with --now.",
    ),
    Problem(
        "answer_missing",
        "An answer is missing: {question}.",
        "Nothing was started.",
        "Answer it when asked, or give it with {option}.",
    ),
    Problem(
        "ending_unknown",
        "{path} cannot be written: {what} can only be {possible}.",
        "Nothing was written. The end of the file name decides its format.",
        "Give a name that ends in {possible}.",
    ),
    Problem(
        "save_failed",
        "The file {path} could not be saved ({why}).",
        "The earlier version, if there was one, is unchanged.",
        "{do}",
    ),
    # records
    Problem(
        "store_unreachable",
        "The session store cannot be used ({why}).",
        "Nothing was stored, changed or erased. The session records themselves are safe.",
        "{do}",
    ),
    *(Problem(*row) for row in RECORDS),
    Problem(
        "sessions_missing",
        "There is no session{of}.",
        "Nothing was written and nothing was changed.",
        "{do}",
    ),
    Problem(
        "result_refused",
        "The result {path} was not accepted: {why}.",
        "Nothing was stored.",
        "{do}",
    ),
    # pictures
    Problem(
        "camera_missing",
        "Camera {source} cannot be opened.",
        "There is no picture, so nothing can be measured.",
        "Plug it in, close other programs that use it, or choose another number with --camera.",
    ),
    Problem(
        "stream_missing",
        "The stream {source} is not responding.",
        "There is no picture, so nothing can be measured.",
        "Check the address and the network. The program keeps trying while it runs.",
    ),
    Problem(
        "video_unreadable",
        "{source} is not a video that can be read.",
        "There is no picture, so nothing can be measured.",
        "Give a video file such as MP4, MOV, AVI or MKV.",
    ),
    Problem(
        "single_picture",
        "{source} is a single picture, not a video.",
        "Steps are measured from one picture to the next, so nothing can be measured.",
        "Give a video file such as MP4, MOV, AVI or MKV.",
    ),
    Problem(
        "pipe_unusable",
        "The video cannot be read through the pipe {source}: {why}.",
        "There is no picture, so nothing can be measured.",
        "Save the video to a file first, and give that file.",
    ),
    Problem(
        "picture_lost",
        "No new picture for {seconds} s.",
        "Nothing is measured and no cue is given until the picture is back.",
        "Check the camera and its cable. The program reconnects automatically.",
    ),
    Problem(
        "frame_rate_low",
        "The camera gives only {fps} frames per second.",
        "Foot contact cannot be timed well, so values are less accurate.",
        "Add light, close other programs, or choose a faster camera mode.",
    ),
    # the model
    Problem(
        "bundle_download_failed",
        "The pose model could not be downloaded ({why}).",
        "Without it the runner's body cannot be tracked.",
        "Connect to the internet and run it again. Or use your own file with --model FILE.task.",
    ),
    Problem(
        "bundle_corrupt",
        "The pose model at {path} is damaged.",
        "It was not used.",
        "Run 'beltside model' to build it again.",
    ),
    Problem(
        "model_missing",
        "There is no pose model at {path}.",
        "Without it the runner's body cannot be tracked.",
        "Give the path of a .task file, or leave out --model to use the built-in one.",
    ),
    Problem(
        "model_unusable",
        "The pose model at {path} cannot be used ({why}).",
        "Without it the runner's body cannot be tracked.",
        "Run 'beltside model' to build it again, or use another .task file.",
    ),
    Problem(
        "pose_library_reports",
        "The pose library cannot be stopped from reporting to its maker ({why}).",
        "It would send versions, system, when and how long it ran, and the number of pictures, so "
        "it is not used.",
        "Add the line '127.0.0.1 {host}' to the system's hosts file, and start again.",
    ),
    # what the picture shows
    Problem(
        "no_runner",
        "No runner detected.",
        "Nothing is measured and no cue is given.",
        "Step into the middle of the picture, whole body in view. Already there? Add light, or "
        "move the camera closer.",
    ),
    Problem(
        "second_person",
        "A second person is in the picture.",
        "Values may be mixed up, so no cue is given.",
        "Ask the other person to leave the camera's view.",
    ),
    Problem(
        "people_late",
        "The check for a second person is too slow.",
        "Someone else in view would be noticed late, and values may be mixed up.",
        "Keep others out of the camera's view, and close other programs.",
    ),
    Problem(
        "wrong_view",
        "The camera does not appear to look from {view}.",
        "The measures of this view would be wrong, so no values and no cues are given.",
        "Move the camera, or choose the view that fits.",
    ),
    Problem(
        "body_cut_off",
        "Part of the body is outside the picture.",
        "Measures that need it are not given.",
        "Move the camera back or turn it until head and feet are in view.",
    ),
    Problem(
        "not_running",
        "Walking detected, not running.",
        "The measures are for running only, so no cues are given.",
        "Start running: cues begin after a few steps.",
    ),
    Problem(
        "scale_doubt",
        "Body height and belt speed do not match.",
        "Lengths in centimetres may be wrong by more than 8 %, so they are not cued.",
        "Check the height in the profile and the speed shown on the treadmill.",
    ),
    Problem(
        "quality_low",
        "The body cannot be tracked well enough.",
        "No cue is given until the picture is clear again.",
        "Add light, wear plain clothes and keep the legs in view.",
    ),
    Problem(
        "camera_moved",
        "The camera has been moved.",
        "Values may be wrong, so no cues are given until it is still.",
        "Leave the camera alone, or stop and set it up again.",
    ),
    Problem(
        "edges_off",
        "The ends of the belt are no longer monitored.",
        "The camera has been moved, so drifting back on the belt would not be noticed.",
        "Stop, set the camera up again and start a new session.",
    ),
    # why nothing is measured although somebody moves
    *(Problem(*row) for row in (*UNMEASURED_ROWS, STRETCHED, SIDES_NOT_KNOWN)),
    # sound, screen, link
    Problem(
        "sound_missing",
        "There is no sound output.",
        "Cues are shown on the screen only.",
        "Plug in a loudspeaker or headphones and start again to hear cues.",
    ),
    Problem(
        "sound_library_missing",
        "The sound library PortAudio is not installed.",
        "Cues are shown on the screen only.",
        "On Debian or Ubuntu: apt install libportaudio2. Then start again.",
    ),
    Problem(
        "sound_lost",
        "The sound output stopped working ({why}).",
        "Cues are shown on the screen only.",
        "Check the cable or the headphones, then start again.",
    ),
    Problem(
        "start_unavailable",
        "The start window cannot be opened. {why}",
        "Everything it does can be typed as well.",
        "Type 'beltside help command-line' for the commands, or 'beltside demo --headless' to see "
        "one at work.",
    ),
    Problem(
        "launcher_elsewhere",
        "There is no menu entry to write on this system.",
        "On macOS and Windows a shortcut is made by hand.",
        "Type 'beltside help start-window': it says how.",
    ),
    Problem(
        "screen_unavailable",
        "No window can be opened ({why}).",
        "There is no runner's screen, so there is no Stop button on it.",
        "Start it on a computer with a display, or use --headless for the demo.",
    ),
    Problem(
        "panel_unavailable",
        "The clinician's panel could not be opened: {why}",
        "The session continues without it.",
        "Start again on a computer with a display, or leave out --panel.",
    ),
    Problem(
        "screen_lost",
        "The runner's screen has closed or failed.",
        "Its Stop button was lost with it, so the session was stopped.",
        "Start a new session when you are ready.",
    ),
    Problem(
        "link_refused",
        "The screen could not connect to the station ({why}).",
        "It shows nothing.",
        "Close it and start the session again.",
    ),
    Problem(
        "link_failed",
        "The screens cannot connect to the station ({why}).",
        "No screen can be shown, so there is no Stop button on it.",
        "Allow connections within this computer (127.0.0.1) in the firewall, then start again.",
    ),
    # the network
    *(Problem(*row) for row in NETWORK),
    *(Problem(*row) for row in SENSORS),
    # the program itself
    Problem(
        "worker_failed",
        "Part of the program failed ({part}).",
        "There are no cues. What was recorded so far is saved.",
        "Stop, and start again. The journal has the details.",
    ),
    Problem(
        "worker_stalled",
        "The program fell behind.",
        "There are no cues until it has caught up.",
        "Close other programs. If it happens again, restart the computer.",
    ),
    Problem(
        "journal_failed",
        "The session cannot be recorded ({why}).",
        "The session continues. Data is kept in memory until it can be saved or the session ends.",
        "{do}",
    ),
)
_LONGEST_VALUE: Final = 1000
"""Letters; a path, or the names that are known."""
PROBLEMS: Final[dict[str, Problem]] = {problem.code: problem for problem in _TABLE}
DOUBTS: Final = frozenset(
    {
        "no_runner",
        "second_person",
        "wrong_view",
        "legs_hidden",
        "body_cut_off",
        "not_running",
        "picture_turned",
        "picture_stretched",
        "scale_doubt",
        "quality_low",
        "camera_moved",
        "picture_lost",
    }
)
"""While one of these problems is on, what is measured counts for nothing."""


def describe(code: str, details: str = "", **values: object) -> Problem:
    """The problem ``code`` with its places filled in, with plain text only.

    Raises KeyError for an unknown code or a missing place: both are programming errors.
    """
    known = PROBLEMS[code]
    values = {**advice(code, values.get("why", "")), **values}
    values = {
        name: value if isinstance(value, int | float) else _plain(value)
        for name, value in values.items()
    }
    title = made(Said(known.title), values)
    return Problem(
        code=code,
        # A reason may end as a question.
        title=Text.of(title.replace('"?.', '"?'), title.said),
        meaning=made(Said(known.meaning), values),
        action=made(Said(known.action), values),
        details=details,
    )


def _plain(value: object) -> str:
    """As one line, with the blank that parts it from the words before where it begins with one."""
    text = str(value)
    line = plain_line(text, _LONGEST_VALUE)
    line = f" {line}" if line and text.startswith(" ") else line
    return Text.of(line, value.said) if isinstance(value, Text) else line


class UserError(Exception):
    """Stops what was asked for, with a Problem to show; never shown as a traceback."""

    def __init__(self, code: str, details: str = "", **values: object) -> None:
        self.problem = describe(code, details, **values)
        super().__init__(f"{self.problem.title} {self.problem.action}")


def reason_of(error: Exception) -> str:
    """Why something failed: the system's own words where it gives any, else the error's text."""
    return getattr(error, "strerror", None) or str(error)


def file_error(code: str, path: object, error: Exception) -> UserError:
    """A UserError ``code`` (``save_failed``, ``file_unreadable``) about ``path``, with why."""
    return UserError(code, str(error), path=str(path), why=reason_of(error))
