"""The command line as a user types it: real processes, exit codes, and words without tracebacks."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import platformdirs
import pytest

from feedback.demo import demo_clip
from live.measures.calibration import SHOE_SPEED_SD, correction
from live.measures.scale import LEG_TO_FLOOR_OF_HEIGHT
from live.scene.leg_place import ACROSS
from shared.flow import Side, View
from shared.statistics import Z90
from tests.accuracy.tracks import truth_of

COMMANDS = ("run", "demo", "measure", "model", "athletes", "sounds")


class Outcome:
    """What a command said and how it ended."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err
        assert "Traceback" not in out + err, err

    @property
    def lines(self) -> list[str]:
        return self.err.splitlines()


@pytest.fixture
def home(tmp_path: Path) -> dict[str, str]:
    """An environment whose data and log folders are new; the built model stays where it is."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "QT_", "DISPLAY"))}
    kept.pop("WAYLAND_DISPLAY", None)
    return kept | {
        "XDG_DATA_HOME": str(tmp_path / "data"),
        "XDG_STATE_HOME": str(tmp_path / "state"),
        "XDG_CACHE_HOME": str(Path(platformdirs.user_cache_dir("beltside")).parent),
        "COLUMNS": "100",
    }


def beltside(home: dict[str, str], *words: str, typed: str = "", **more: str) -> Outcome:
    """Run the program in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "feedback.cli.main", *words],
        env=home | more,
        input=typed,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    return Outcome(done.returncode, done.stdout, done.stderr)


@pytest.fixture
def grey_video(tmp_path: Path) -> Path:
    """Two seconds with nobody in the picture."""
    path = tmp_path / "grey.mp4"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 30.0, (320, 240))
    for _ in range(60):
        writer.write(np.full((240, 320, 3), 90, np.uint8))
    writer.release()
    return path


def assert_told(outcome: Outcome, what: str, to_do: str) -> None:
    """Exit code 1, and exactly two lines: what happened, and what to do."""
    assert outcome.code == 1, (outcome.out, outcome.err)
    assert len(outcome.lines) == 2, outcome.err
    assert what in outcome.lines[0]
    assert to_do in outcome.lines[1]


def test_help_explains_every_command(home: dict[str, str]) -> None:
    everything = beltside(home, "--help")
    assert everything.code == 0
    assert everything.err == ""
    for command in COMMANDS:
        assert command in everything.out
        one = beltside(home, command, "--help")
        assert one.code == 0
        assert one.err == ""
        assert f"usage: beltside {command}" in one.out
        for line in (everything.out + one.out).splitlines():
            assert len(line) <= 100


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("jog",), "jog"),
        (("run",), "--athlete"),
        (("run", "--athlete", "heron"), "--camera"),
        (("run", "--athlete", "heron", "--camera", "-1"), "--camera"),
        (("run", "--athlete", "heron", "--camera", "0", "--file", "x.mp4"), "not allowed"),
        (("run", "--athlete", "heron", "--stream", "front-door"), "front-door"),
        (("demo", "--view", "front"), "front"),
        (("demo", "--seconds", "nan"), "nan"),
        (("measure", "x.mp4"), "--view"),
        (("measure", "x.mp4", "--view", "above"), "above"),
        (("measure", "x.mp4", "--view", "side", "--height-cm", "17"), "120 to 220"),
        (("sounds", "--volume", "11"), "0 to 1"),
    ],
)
def test_wrong_usage_is_one_line_and_code_2(
    home: dict[str, str], words: tuple[str, ...], said: str
) -> None:
    outcome = beltside(home, *words)
    assert outcome.code == 2
    assert outcome.out == ""
    assert len(outcome.lines) == 1
    assert said in outcome.err
    assert "--help" in outcome.err


def test_missing_camera(home: dict[str, str]) -> None:
    outcome = beltside(home, "run", "--athlete", "heron", "--camera", "97", "--cautions-read")
    assert_told(outcome, "Camera 97 cannot be opened", "Plug it in")


def test_missing_stream(home: dict[str, str]) -> None:
    address = "http://127.0.0.1:9/video"
    outcome = beltside(home, "run", "--athlete", "heron", "--stream", address, "--cautions-read")
    assert_told(outcome, "not responding", "Check the address")


@pytest.mark.parametrize("command", ["run", "measure"])
def test_missing_file(home: dict[str, str], tmp_path: Path, command: str) -> None:
    outcome = beltside(home, *_with_video(command, tmp_path / "none.mp4"))
    assert_told(outcome, f"There is no file at {tmp_path / 'none.mp4'}", "Check the name")


@pytest.mark.parametrize("command", ["run", "measure"])
def test_text_in_place_of_a_video(home: dict[str, str], tmp_path: Path, command: str) -> None:
    path = tmp_path / "notes.mp4"
    path.write_text("This is no video.\n" * 100)
    outcome = beltside(home, *_with_video(command, path))
    assert_told(outcome, "is not a video that can be read", "Give a video file")


def _with_video(command: str, path: Path) -> tuple[str, ...]:
    if command == "run":
        return ("run", "--athlete", "heron", "--file", str(path), "--cautions-read")
    return ("measure", str(path), "--view", "side")


def test_broken_profile(home: dict[str, str], tmp_path: Path) -> None:
    path = tmp_path / "broken.toml"
    path.write_text('code_name = "Wren\n')
    outcome = beltside(home, "run", "--athlete", str(path), "--camera", "0")
    assert_told(outcome, "is not valid TOML", "Open it in a text editor")
    assert "line 1" in outcome.lines[0]


def test_wrong_field_in_a_profile(home: dict[str, str], tmp_path: Path) -> None:
    path = tmp_path / "wren.toml"
    path.write_text(
        'code_name = "Wren"\nheight_cm = 17.2\nview = "side"\n'
        '[[targets]]\nmeasure = "cadence"\nunit = "steps/min"\nlow = 160.0\n'
    )
    outcome = beltside(home, "run", "--athlete", str(path), "--camera", "0")
    assert_told(outcome, "height_cm", "Allowed: ")
    assert "17.2" in outcome.lines[0]


def test_unknown_athlete(home: dict[str, str]) -> None:
    outcome = beltside(home, "run", "--athlete", "nobody", "--camera", "0")
    assert_told(outcome, "nobody", "heron")


def test_target_that_the_view_cannot_give(home: dict[str, str], grey_video: Path) -> None:
    words = ("run", "--athlete", "heron", "--file", str(grey_video), "--view", "behind")
    outcome = beltside(home, *words, "--cautions-read")
    assert_told(outcome, "strike_ahead", "Allowed: ")


def test_missing_model(home: dict[str, str], grey_video: Path) -> None:
    words = ("measure", str(grey_video), "--view", "side", "--model", "/no/such.task")
    assert_told(beltside(home, *words), "There is no pose model at /no/such.task", "--model")


@pytest.mark.parametrize("content", [b"", b"not a model", b"PK\x03\x04" + bytes(2000)])
def test_damaged_model(
    home: dict[str, str], grey_video: Path, tmp_path: Path, content: bytes
) -> None:
    path = tmp_path / "damaged.task"
    path.write_bytes(content)
    words = ("measure", str(grey_video), "--view", "side", "--model", str(path))
    assert_told(beltside(home, *words), f"{path} cannot be used", "beltside model")


def test_model_that_cannot_be_fetched(home: dict[str, str], tmp_path: Path) -> None:
    nowhere = {
        "XDG_CACHE_HOME": str(tmp_path / "cache"),
        "PIP_INDEX_URL": "http://127.0.0.1:9/simple",
        "PIP_RETRIES": "0",
        "PIP_CONFIG_FILE": os.devnull,
    }
    outcome = beltside(home, "model", **nowhere)
    assert outcome.code == 1
    assert "could not be downloaded" in outcome.lines[-2]
    assert "Connect to the internet" in outcome.lines[-1]


def test_no_portaudio(home: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import ctypes.util\nctypes.util.find_library = lambda name: None\n"
        "import sys\nsys.modules['_sounddevice_data'] = None\n"
    )
    outcome = beltside(home, "sounds", PYTHONPATH=str(tmp_path))
    assert_told(outcome, "PortAudio is not installed", "libportaudio2")


def test_no_sound_output(home: dict[str, str], tmp_path: Path) -> None:
    config = tmp_path / "asound.conf"
    config.write_text("pcm.!default { type no_such_type }\n")
    without = {"ALSA_CONFIG_PATH": str(config), "PULSE_SERVER": "/nowhere"}
    assert_told(beltside(home, "sounds", **without), "There is no sound output", "Plug in")


@pytest.mark.model
def test_no_display_is_told_before_a_session(home: dict[str, str], grey_video: Path) -> None:
    words = ("run", "--athlete", "heron", "--file", str(grey_video), "--no-sound")
    outcome = beltside(home, *words, "--cautions-read")
    assert_told(outcome, "No window can be opened", "Start it on a computer with a display")
    assert list(Path(home["XDG_DATA_HOME"]).rglob("*.jsonl")) == []


def test_data_folder_that_cannot_be_written(
    home: dict[str, str], grey_video: Path, tmp_path: Path
) -> None:
    (tmp_path / "data").write_text("a file where the folder should be")
    words = ("run", "--athlete", "heron", "--file", str(grey_video), "--cautions-read")
    assert_told(beltside(home, *words), "could not be saved", "choose another folder")


def test_edges_that_are_the_same_are_wrong_usage(home: dict[str, str]) -> None:
    words = ("run", "--athlete", "heron", "--camera", "0", "--belt-edges", "0.5", "0.51")
    outcome = beltside(home, *words)
    assert outcome.code == 2
    assert "the two edges are at the same place" in outcome.err


def test_athletes_are_listed_and_broken_ones_named(home: dict[str, str], tmp_path: Path) -> None:
    own = tmp_path / "data" / "beltside" / "athletes"
    own.mkdir(parents=True)
    (own / "wren.toml").write_text("height_cm = ")
    outcome = beltside(home, "athletes")
    assert outcome.code == 0
    assert "heron: Heron" in outcome.out
    assert "wren: not usable" in outcome.out


@pytest.mark.model
def test_measure_says_that_nobody_was_seen(home: dict[str, str], grey_video: Path) -> None:
    outcome = beltside(home, "measure", str(grey_video), "--view", "side", "--json")
    assert outcome.code == 3
    assert outcome.err == ""
    why, last = map(json.loads, outcome.out.splitlines())
    assert [one["code"] for one in why["unmeasured"]] == ["no_runner"]
    summary = last["summary"]
    assert summary["frames"] == 60
    assert summary["dropped"] == 0
    assert summary["measures"] == []
    assert summary["doubtful_frames"]["no_runner"] > 50
    assert summary["duration_s"] == pytest.approx(59 / 30, abs=0.01)


@pytest.mark.model
def test_measure_gives_no_value_from_another_view_than_was_typed(home: dict[str, str]) -> None:
    """From behind as ``side`` it once gave a whole table, with steps of 2 cm."""
    words = ("measure", str(demo_clip(View.BEHIND)), "--view", "side")
    told = beltside(home, *words)
    assert told.code == 3
    first, what, do, *rest = told.out.splitlines()
    assert first == "Nothing was measured."
    assert "does not appear to look from the side" in what
    assert "appears to look from behind" in do
    assert not any("steps/min" in line for line in rest)
    *early, why, last = map(json.loads, beltside(home, *words, "--json").out.splitlines())
    assert early == []
    assert [one["code"] for one in why["unmeasured"]] == ["wrong_view"]
    assert (last["summary"]["measures"], last["summary"]["contacts"]) == ([], {})
    assert last["summary"]["view_seen"] == "behind"


@pytest.mark.model
def test_measure_reads_the_belts_speed_from_the_shoes(home: dict[str, str]) -> None:
    clip = demo_clip(View.SIDE)
    meta = truth_of(clip).meta
    height_cm = f"{100 * meta['height_m']:.0f}"
    outcome = beltside(
        home, "measure", str(clip), "--view", "side", "--height-cm", height_cm, "--json"
    )
    lines = [json.loads(line) for line in outcome.out.splitlines()]
    found = [line for line in lines if line.get("measure") == "belt_speed"]
    last = found[-1]
    assert last["value"] == pytest.approx(3.6 * meta["belt_speed_mps"], rel=0.03)
    assert last["uncertainty"] / last["value"] == pytest.approx(Z90 * SHOE_SPEED_SD, rel=0.01)


@pytest.mark.model
def test_measure_reads_the_pelvis_from_the_picture(home: dict[str, str]) -> None:
    """With its own uncertainty, and the right side as much further as it is."""
    clip = demo_clip(View.BEHIND)
    truth = truth_of(clip)
    height_m = truth.meta["height_m"]
    height_cm = f"{100 * height_m:.0f}"
    outcome = beltside(
        home, "measure", str(clip), "--view", "behind", "--height-cm", height_cm, "--json"
    )
    lines = [json.loads(line) for line in outcome.out.splitlines()]
    found = [line for line in lines if line.get("measure") == "pelvic_shift"]
    sd_cm = correction("pelvic_shift", ACROSS).sd * LEG_TO_FLOOR_OF_HEIGHT * height_m
    assert found[-1]["uncertainty"] == pytest.approx(Z90 * sd_cm, rel=0.05)
    seen, true = (
        {side: np.mean([row[key] for row in rows if row["side"] == side]) for side in Side}
        for rows, key in ((found, "value"), (truth.steps, "pelvic_shift_m"))
    )
    further_cm = 100.0 * (true[Side.RIGHT] - true[Side.LEFT])
    assert seen[Side.RIGHT] - seen[Side.LEFT] == pytest.approx(further_cm, abs=0.5)


def test_unforeseen_failure_is_one_line_and_a_log(home: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import platformdirs\n"
        "def fail(*_, **__): raise RuntimeError('on purpose')\n"
        "platformdirs.user_data_dir = fail\n"
    )
    outcome = beltside(home, "athletes", PYTHONPATH=str(tmp_path))
    assert outcome.code == 1
    assert len(outcome.lines) == 1
    log = Path(outcome.err.split("details are in ")[1].strip().rstrip("."))
    assert "RuntimeError: on purpose" in log.read_text()


def test_a_library_that_cannot_tidy_up_tells_the_log_and_not_the_user(
    home: dict[str, str], tmp_path: Path
) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import platformdirs\n"
        "class Untidy:\n"
        "    def __del__(self): raise AttributeError('half made')\n"
        "real = platformdirs.user_data_dir\n"
        "def asked(*words, **more):\n"
        "    Untidy()\n"
        "    return real(*words, **more)\n"
        "platformdirs.user_data_dir = asked\n"
    )
    outcome = beltside(home, "athletes", PYTHONPATH=str(tmp_path))
    assert (outcome.code, outcome.err) == (0, "")
    (log,) = (tmp_path / "state").rglob("beltside.log")
    assert "half made" in log.read_text()


def test_unforeseen_failure_without_a_log(home: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import platformdirs\n"
        "def fail(*_, **__): raise RuntimeError('on purpose')\n"
        "platformdirs.user_data_dir = fail\n"
    )
    (tmp_path / "state").write_text("a file where the folder should be")
    outcome = beltside(home, "athletes", PYTHONPATH=str(tmp_path))
    assert outcome.code == 1
    assert outcome.lines == [
        "The program failed unexpectedly (RuntimeError); no log could be written."
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="there are no such signals")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.model
def test_measure_ends_politely(home: dict[str, str], number: signal.Signals) -> None:
    words = ("measure", str(demo_clip(View.SIDE)), "--view", "side", "--as-live", "--json")
    with subprocess.Popen(
        [sys.executable, "-m", "feedback.cli.main", *words],
        env=home,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert "event" in process.stdout.readline()
        process.send_signal(number)
        out, err = process.communicate(timeout=30)
    outcome = Outcome(process.returncode, out, err)
    assert outcome.code == 128 + number
    assert outcome.err.strip() == "Ended as requested."
    assert "summary" not in outcome.out


def test_reader_of_the_output_may_leave(home: dict[str, str]) -> None:
    read_end, write_end = os.pipe()
    os.close(read_end)
    done = subprocess.run(
        [sys.executable, "-m", "feedback.cli.main", "athletes"],
        env=home,
        stdout=write_end,
        stderr=subprocess.PIPE,
        text=True,
        timeout=60,
        check=False,
    )
    os.close(write_end)
    assert done.stderr == ""
    assert done.returncode != 0
