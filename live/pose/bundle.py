"""The pose model file: built once from a public wheel into the user's cache, checked, kept."""

from __future__ import annotations

import hashlib
import tempfile
import zipfile
from io import BytesIO
from pathlib import Path
from typing import Final

import msgspec
import platformdirs

from live.pose.download import Report, WheelPin, fetch_wheel
from shared.files import save_atomically
from shared.language import _, told
from shared.problems import UserError
from shared.reading import read_content

ENTRY_TIME: Final = (1980, 1, 1, 0, 0, 0)
"""The earliest that a zip can hold."""
UNIX: Final = 3
"""The zip format's number for the system that an entry was made on."""
_MOST_BYTES: Final = 500_000_000
"""The bundle has 9,400,000."""


class ModelPin(msgspec.Struct, frozen=True, kw_only=True):
    """One network inside the wheel."""

    member: str
    sha256: str


class BundlePin(msgspec.Struct, frozen=True, kw_only=True):
    """Where the bundle comes from and what it must come out as."""

    wheel: WheelPin
    detector: ModelPin
    landmarks: ModelPin
    unused_output: int | None = None
    """Number of an output of the landmark network that is left out with all it takes."""
    sha256: str


PINNED: Final = BundlePin(
    wheel=WheelPin(
        name="mediapipe",
        version="0.10.21",
        sha256="05dc4a9e593655a79558d05d6227d31018c2537a4bd3362b51e230cf22aecfe3",
        platform="manylinux_2_28_x86_64",
        python="311",
    ),
    detector=ModelPin(
        member="mediapipe/modules/pose_detection/pose_detection.tflite",
        sha256="9ba9dd3d42efaaba86b4ff0122b06f29c4122e756b329d89dca1e297fd8f866c",
    ),
    landmarks=ModelPin(
        member="mediapipe/modules/pose_landmark/pose_landmark_full.tflite",
        sha256="e9a5c5cb17f736fafd4c2ec1da3b3d331d6edbe8a0d32395855aeb2cdfd64b9f",
    ),
    unused_output=2,
    sha256="907577b54cc2ae4727eb85d303949b0e91f5df3677f1c6236216df240287b2f5",
)
"""The networks are data, the same in the wheels of every platform: this one, the smallest, is
only unpacked, never installed or imported. It holds the full model alone of its three sizes. Its
third output paints the runner's outline, which nobody looks at and which took a third of the time:
it is left out, and the landmarks stay the same to the last bit."""


def bundle_path() -> Path:
    """Where the built bundle lies in the user's cache."""
    return Path(platformdirs.user_cache_dir("beltside")) / "pose-full.task"


def ensure_bundle(report: Report | None = None) -> Path:
    """The path of a sound bundle; builds it first where it is missing or damaged.

    Needs the network only to build. Several processes may call this at once: each builds its
    own equal copy and puts it in place in one move. Raises UserError
    (``bundle_download_failed``, ``model_unusable``, ``save_failed``).
    """
    path = bundle_path()
    if not is_sound(path):
        content = _build(PINNED, report or _say_nothing)
        if _sha256(content) != PINNED.sha256:
            raise UserError("model_unusable", path=str(path), why=told("it came out wrong"))
        save_atomically(path, content)
    return path


def is_sound(path: Path) -> bool:
    """Whether the file is there and holds exactly the bundle that was tested."""
    try:
        return _sha256(read_content(path, _MOST_BYTES)) == PINNED.sha256
    except UserError:
        return False


def _build(pin: BundlePin, report: Report) -> bytes:
    # Imported here since it takes mediapipe with it, which a check of the file does not need.
    from live.pose.bundle_network import with_input_range, without_output

    with tempfile.TemporaryDirectory(prefix="beltside-") as folder:
        wheel = fetch_wheel(pin.wheel, Path(folder), report)
        report(_("Building the pose model"), 0, 0)
        with zipfile.ZipFile(wheel) as archive:
            detector = _take(archive, pin.detector)
            landmarks = _take(archive, pin.landmarks)
    if pin.unused_output is not None:
        landmarks = without_output(landmarks, pin.unused_output)
    bundle = BytesIO()
    with zipfile.ZipFile(bundle, "w", zipfile.ZIP_STORED) as archive:
        # The detector brings its own input range (-1 to 1); the landmark network lacks one.
        archive.writestr(_entry("pose_detector.tflite"), detector)
        archive.writestr(
            _entry("pose_landmarks_detector.tflite"),
            with_input_range(landmarks, mean=0.0, std=255.0),
        )
    return bundle.getvalue()


def _entry(name: str) -> zipfile.ZipInfo:
    """A zip entry that comes out the same on every system and at any time."""
    entry = zipfile.ZipInfo(name, ENTRY_TIME)
    entry.create_system = UNIX
    return entry


def _take(archive: zipfile.ZipFile, model: ModelPin) -> bytes:
    content = archive.read(model.member)
    if _sha256(content) != model.sha256:
        raise UserError("bundle_download_failed", why=told("what arrived is not the expected file"))
    return content


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _say_nothing(_what: str, _done: int, _total: int) -> None:
    pass
