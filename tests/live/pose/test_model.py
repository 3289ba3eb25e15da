"""The real pose model: what it says of an empty picture, of bad files, and to the terminal."""

from __future__ import annotations

import contextlib
import io
import itertools
import os
import subprocess
import sys
import zipfile
from pathlib import Path
from unittest.mock import Mock

import numpy as np
import pytest
from mediapipe.tasks.python.vision import RunningMode

import feedback.demo
from live.camera.sources import FileSource
from live.pose.bundle import ensure_bundle
from live.pose.landmarker import open_landmarker, to_model_image
from live.pose.landmarker_c import Follower
from live.pose.model import PoseModel
from shared.cores import Reserve, threads
from shared.flow import Frame
from shared.landmarks import Landmark
from shared.problems import UserError
from tests.rendered.truth import load_truth

pytestmark = pytest.mark.model


def empty_frame(number: int) -> Frame:
    return Frame(np.full((120, 160, 3), 80, np.uint8), number * 33_333_333, number)


def test_nobody_in_the_picture() -> None:
    with PoseModel() as model:
        pose = model.detect(empty_frame(3))
    assert (pose.people, pose.width_px, pose.height_px) == (0, 160, 120)
    assert (pose.captured_ns, pose.index) == (99_999_999, 3)
    assert pose.xy_px.shape == (33, 2)
    assert bool(np.isnan(pose.xy_px).all())
    assert pose.visibility.tolist() == [0.0] * 33


@pytest.mark.parametrize("view", ["side", "behind"])
def test_the_landmarks_lie_where_the_body_is(view: str) -> None:
    clips = Path(feedback.demo.__file__).parent
    truth = load_truth(clips / f"{view}.truth.json.xz")
    hips = [truth.joint_index(f"{side}_hip") for side in ("left", "right")]
    source = FileSource(clips / f"{view}.mp4", as_live=False)
    source.open()
    off_px = []
    with PoseModel() as model:
        for _ in range(40):
            frame = source.read()
            assert frame is not None
            pose = model.detect(frame)
            assert pose.people == 1
            left, right = pose.xy_px[Landmark.LEFT_HIP], pose.xy_px[Landmark.RIGHT_HIP]
            true = truth.pixels[frame.index, hips].mean(axis=0)
            off_px.append(float(np.hypot(*((left + right) / 2 - true))))
            if view == "behind":  # the runner's left is on the left of the picture
                assert left[0] < right[0]
    # The body is 380 pixels tall; the model's hips lie some centimetres off the true joints.
    assert float(np.median(off_px)) < 0.03 * 380


def test_the_landmarks_are_those_of_the_librarys_own_call() -> None:
    """Source: mediapipe's PoseLandmarker, the same networks through its Python layer."""
    source = FileSource(Path(feedback.demo.__file__).parent / "side.mp4", as_live=False)
    source.open()
    empty = np.zeros((480, 640, 3), np.uint8)
    pictures = [frame.image for frame in itertools.islice(iter(source.read, None), 12)]
    with (
        contextlib.closing(Follower(ensure_bundle())) as follower,
        open_landmarker(ensure_bundle(), running_mode=RunningMode.VIDEO) as library,
    ):
        for number, picture in enumerate([empty, *pictures, empty, empty, pictures[0][::2]]):
            ours = follower.find(picture, number * 33)
            theirs = library.detect_for_video(to_model_image(picture), number * 33).pose_landmarks
            assert (ours is None) == (not theirs)
            if ours is not None:
                xy_px, visibility = ours
                height, width = picture.shape[:2]
                assert xy_px.tolist() == [[one.x * width, one.y * height] for one in theirs[0]]
                assert visibility.tolist() == [one.visibility for one in theirs[0]]


def test_what_the_library_refuses_is_an_error() -> None:
    picture = np.zeros((120, 160, 3), np.uint8)
    with contextlib.closing(Follower(ensure_bundle())) as follower:
        follower.find(picture, 10)
        with pytest.raises(ValueError, match="timestamp"):
            follower.find(picture, 10)
        assert follower.find(picture, 11) is None  # and goes on after it


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells of single threads")
def test_the_librarys_threads_are_told_apart() -> None:
    first: set[int] = set()
    aside: set[int] = set()
    reserve = Mock(spec=Reserve, put_first=first.update, put_aside=aside.update)
    before = threads()
    with PoseModel() as model:
        model.take_places(reserve)
        assert first
        assert aside
        assert not first & aside
        assert first | aside <= threads() - before
        politeness = [
            {os.getpriority(os.PRIO_PROCESS, number) for number in numbers}
            for numbers in (first, aside)
        ]
    assert politeness[0] == {os.getpriority(os.PRIO_PROCESS, 0)}
    assert min(politeness[1]) > max(politeness[0])


def test_stamps_closer_than_a_millisecond_are_taken() -> None:
    picture = np.zeros((120, 160, 3), np.uint8)
    with PoseModel() as model:
        for stamp_ns in (10_000_000, 10_000_001, 10_400_000, 11_000_000):
            assert model.detect(Frame(picture, stamp_ns, 0)).captured_ns == stamp_ns


def test_nothing_is_printed() -> None:
    code = (
        "import numpy, sys; from live.pose.model import PoseModel\n"
        "from shared.flow import Frame\n"
        "with PoseModel() as model:\n"
        "    for n in range(3):\n"
        "        model.detect(Frame(numpy.zeros((120, 160, 3), numpy.uint8), n * 10**8, n))\n"
        "print('still heard', file=sys.stderr)"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert (told.stdout, told.stderr) == ("", "still heard\n")


def _zip(**members: bytes) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        for name, member in members.items():
            archive.writestr(f"{name}.tflite", member)
    return content.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"", id="empty"),
        pytest.param(b"not a model" * 500, id="text"),
        pytest.param(_zip(other=b"x"), id="a zip of something else"),
        pytest.param(
            _zip(pose_detector=b"x" * 4000, pose_landmarks_detector=b"x" * 4000), id="no networks"
        ),
        pytest.param(None, id="cut short"),
    ],
)
def test_files_that_are_no_model(
    tmp_path: Path, content: bytes | None, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "own.task"
    path.write_bytes(ensure_bundle().read_bytes()[:5_000_000] if content is None else content)
    with pytest.raises(UserError) as caught:
        PoseModel(path)
    assert caught.value.problem.code == "model_unusable"
    assert str(path) in caught.value.problem.title
    assert capfd.readouterr().err == ""


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(UserError) as caught:
        PoseModel(tmp_path / "none.task")
    assert caught.value.problem.code == "model_missing"


def test_a_model_of_ones_own_under_any_name(tmp_path: Path) -> None:
    path = tmp_path / "mein Läufer"
    path.write_bytes(ensure_bundle().read_bytes())
    with PoseModel(path) as model:
        assert model.detect(empty_frame(0)).people == 0


def test_works_without_a_terminal() -> None:
    code = (
        "import os; os.close(2)\n"
        "import numpy; from live.pose.model import PoseModel\n"
        "from shared.flow import Frame\n"
        "with PoseModel() as model:\n"
        "    print(model.detect(Frame(numpy.zeros((9, 9, 3), numpy.uint8), 0, 0)).people)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, env=os.environ, text=True, check=True
    )
    assert told.stdout == "0\n"
