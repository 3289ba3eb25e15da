"""Nothing leaves the computer unasked: no name is looked up and no packet goes out of it.

Real programs, each on a computer of its own whose cable ends at an onlooker. What is seen here is
what every library does, not the pose library alone.
"""

from __future__ import annotations

import os
import platform as this_system
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from importlib.metadata import version
from pathlib import Path

import platformdirs
import pytest

from feedback.demo import demo_clip
from live.pose import offline
from live.pose.offline import REPORTS_TO
from shared.flow import View
from shared.problems import UserError
from tests.feedback.safety.rig import virtual_display
from tests.live.camera.mjpeg_server import HEIGHT, WIDTH, MjpegServer
from tests.onlooker import ANSWER, Onlooker, Seen, looking_on, python
from tests.pulse import PulseServer
from tests.test_whole_loop import wait_for_summary

pytestmark = pytest.mark.model

CLIP = str(demo_clip(View.SIDE))
LOAD = "from live.pose.landmarker import open_landmarker as load\n"
OPEN_AND_CLOSE = """
from live.pose.bundle import bundle_path
load(bundle_path()).close()
"""
BY_ITSELF = """
import certifi, os
certifi.where = lambda: os.environ["AUTHORITY"]
from mediapipe.tasks.python import BaseOptions, vision
def load(path):
    base = BaseOptions(model_asset_path=str(path))
    return vision.PoseLandmarker.create_from_options(vision.PoseLandmarkerOptions(base))
"""
"""The pose library as it comes, but for whom it trusts."""


@pytest.fixture
def onlooker(tmp_path: Path) -> Iterator[Onlooker]:
    with looking_on(tmp_path / "far end") as built:
        yield built


def test_the_onlooker_sees_names_and_packets(onlooker: Onlooker) -> None:
    """So that the tests below can fail."""
    assert onlooker.seen().nothing
    python(
        onlooker,
        "import contextlib, socket\n"
        "for where in ('name.example', 80), ('203.0.113.5', 7):\n"
        "    with contextlib.suppress(OSError):\n"
        "        socket.create_connection(where, timeout=5).close()\n"
        "socket.socket(type=socket.SOCK_DGRAM).sendto(b'', ('203.0.113.6', 53))\n",
    )
    seen = onlooker.seen()
    assert set(seen.names) == {"name.example"}
    assert {
        f"UDP to {onlooker.address} port 53",
        f"TCP to {ANSWER} port 80",
        "TCP to 203.0.113.5 port 7",
        "UDP to 203.0.113.6 port 53",
    } <= set(seen.packets)
    assert onlooker.seen().nothing


def test_an_ipv6_packet_is_seen(onlooker: Onlooker) -> None:
    if not Path("/proc/net/if_inet6").exists():
        pytest.skip("this kernel has no IPv6")
    python(
        onlooker,
        "import socket\n"
        "socket.socket(socket.AF_INET6, socket.SOCK_DGRAM).sendto(b'', ('2001:db8::7', 9))\n",
    )
    assert any(words.startswith("ICMPv6 to ff02::1:ff00:2") for words in onlooker.seen().packets)


def test_the_pose_library_by_itself_reports_to_its_maker(onlooker: Onlooker) -> None:
    """What live.pose.offline is for. Once the library no longer does it, this fails, and both may
    go.

    The help page on privacy says what is in a report; here it is read, with a certificate that
    the library was made to trust.
    """
    python(onlooker, BY_ITSELF + OPEN_AND_CLOSE, AUTHORITY=str(onlooker.authority))
    seen = onlooker.seen()
    assert set(seen.names) == {REPORTS_TO}
    assert f"TCP to {ANSWER} port 443" in seen.packets
    assert seen.told.startswith(b"POST /log HTTP/1.1\r\n")
    assert version("mediapipe").encode() in seen.told
    assert this_system.python_version().encode() in seen.told
    assert len(seen.told) < 1000


def test_with_the_way_out_closed_nothing_is_asked_or_sent(onlooker: Onlooker) -> None:
    closed = "from live.pose.offline import close_the_way_out\nclose_the_way_out()\n"
    python(onlooker, BY_ITSELF + closed + OPEN_AND_CLOSE, AUTHORITY=str(onlooker.authority))
    assert onlooker.seen() == Seen((), (), b"")


def test_where_nobody_is_trusted_nothing_is_told(onlooker: Onlooker) -> None:
    """The second bar alone: a server is found, and learns nothing."""
    trusting = (
        BY_ITSELF
        + "from live.pose import landmarker\n"
        + "landmarker.close_the_way_out = lambda: None\n"
        + "load = landmarker.open_landmarker\n"
    )
    python(onlooker, trusting + OPEN_AND_CLOSE, AUTHORITY=str(onlooker.authority))
    seen = onlooker.seen()
    assert set(seen.names) == {REPORTS_TO}
    assert f"TCP to {ANSWER} port 443" in seen.packets
    assert seen.told == b""


@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_a_copy_without_the_address_reports_nothing(
    onlooker: Onlooker, tmp_path: Path, platform: str
) -> None:
    """What is done on Windows and macOS (live.pose.library), with this system's library.

    That their systems load such a copy is not shown here, and what signs it is a stand-in.
    """
    tools = tmp_path / "tools"
    tools.mkdir()
    stand_in(tools / "codesign", "exit 0")
    folder = tmp_path / "copies"
    script = (
        BY_ITSELF
        + "from pathlib import Path\n"
        + "from live.pose.library import load_without_address\n"
        + f"print(load_without_address(Path({str(folder)!r}), {platform!r}))\n"
        + OPEN_AND_CLOSE
    )
    path = f"{tools}{os.pathsep}{os.environ['PATH']}"
    copies = []
    try:
        for _ in range(2 if platform == "win32" else 1):
            done = python(onlooker, script, AUTHORITY=str(onlooker.authority), PATH=path)
            assert done.stdout == "\n"
            copies += [(file, file.stat().st_mtime_ns) for file in folder.iterdir()]
    finally:
        shutil.rmtree(folder)  # it is as large as the library
    assert len(set(copies)) == 1
    assert onlooker.seen() == Seen((), (), b"")


def test_where_no_such_copy_can_be_made_it_says_why(tmp_path: Path) -> None:
    stand_in(tmp_path / "codesign", "echo no such identity >&2; exit 1")
    (tmp_path / "file").touch()
    done = subprocess.run(
        [sys.executable, "-c", "from pathlib import Path\n"
        "from live.pose import library\n"
        f"folder = Path({str(tmp_path)!r})\n"
        "print(library.load_without_address(folder, 'darwin'))\n"
        "print(library.load_without_address(folder / 'file', 'win32'))\n"
        "library.ADDRESS = b'another address'\n"
        "print(library.load_without_address(folder, 'win32'))\n"],
        env={**os.environ, "PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}"},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    unsigned, unsaved, unknown = done.stdout.splitlines()
    assert unsigned == "the copy could not be signed: no such identity"
    assert str(tmp_path / "file") in unsaved
    assert unknown == "its address is not where it was"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["codesign", "file"]


@pytest.mark.parametrize(
    ("hosts", "silent"),
    [
        ("127.0.0.1 localhost\n", False),
        (f"# 127.0.0.1 {REPORTS_TO}\n", False),
        (f"127.0.0.1 {REPORTS_TO}\n203.0.113.9 {REPORTS_TO}\n", False),
        (f"127.0.0.1 localhost {REPORTS_TO}  # as asked for\n", True),
        (f"0.0.0.0 {REPORTS_TO}\n::1 {REPORTS_TO}\n", True),
    ],
)
def test_where_it_cannot_be_kept_silent_no_model_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, hosts: str, silent: bool
) -> None:
    """But for a computer whose own file of hosts keeps it silent, as the problem says."""
    monkeypatch.setattr(offline, "load_without_address", lambda *_: "the disk is full")
    (tmp_path / "hosts").write_text(hosts, encoding="ascii")
    if silent:
        offline.close_the_way_out("win32", tmp_path, tmp_path / "hosts")
        return
    with pytest.raises(UserError) as caught:
        offline.close_the_way_out("win32", tmp_path, tmp_path / "hosts")
    assert "cannot be stopped from reporting to its maker (the disk is full)" in str(caught.value)
    assert f"127.0.0.1 {REPORTS_TO}" in str(caught.value)


def stand_in(path: Path, does: str) -> None:
    path.write_text(f"#!/bin/sh\n{does}\n", encoding="ascii")
    path.chmod(0o755)


@pytest.mark.parametrize(
    "settings",
    [
        {"no_proxy": "*"},
        {"NO_PROXY": "localhost,.GoogleAPIs.com"},
        {"no_proxy": "192.168.1.20,com", "NO_PROXY": "*"},
        {"https_proxy": "http://203.0.113.8:3128", "ALL_PROXY": "http://203.0.113.8:3128"},
    ],
)
def test_whatever_proxies_the_user_has_set_the_model_is_silent(
    onlooker: Onlooker, settings: dict[str, str]
) -> None:
    python(onlooker, LOAD + OPEN_AND_CLOSE, **settings)
    assert onlooker.seen() == Seen((), (), b"")


@pytest.mark.parametrize(
    ("settings", "by_proxy"),
    [
        ({}, False),
        ({"http_proxy": "http://{proxy}"}, True),
        ({"http_proxy": "http://{proxy}", "no_proxy": "{camera},googleapis.com"}, False),
        ({"http_proxy": "http://{proxy}", "no_proxy": "*"}, False),
    ],
)
def test_a_camera_elsewhere_is_reached_as_before(
    onlooker: Onlooker, settings: dict[str, str], by_proxy: bool
) -> None:
    """As the user's own proxy settings say: directly, or through the proxy."""
    with (
        onlooker.far_end.entered(),
        MjpegServer(address=onlooker.address) as camera,
        MjpegServer(address=onlooker.address) as proxy,
    ):
        given = {
            name: value.format(
                proxy=proxy.url.split("/")[2], camera=camera.url.split("/")[2].split(":")[0]
            )
            for name, value in settings.items()
        }
        done = python(
            onlooker,
            LOAD
            + OPEN_AND_CLOSE
            + "from live.camera.sources import StreamSource\n"
            + f"source = StreamSource({camera.url!r})\n"
            + "source.open()\n"
            + "print(source.read().image.shape)\n",
            **given,
        )
        assert (proxy.connections > 0, camera.connections > 0) == (by_proxy, not by_proxy)
    assert done.stdout.strip() == str((HEIGHT, WIDTH, 3))
    assert onlooker.seen().names == ()


def environment(folder: Path, pulse: PulseServer) -> dict[str, str]:
    """Folders of the test's own, the display and the sound of this test; no proxies."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not (name.startswith(("XDG_", "QT_")) or name.lower().endswith("_proxy"))
    }
    sound = ("PULSE_SERVER", "PULSE_COOKIE", "PULSE_RUNTIME_PATH")
    return kept | {
        **{name: pulse.environment[name] for name in sound},
        "XDG_DATA_HOME": str(folder / "data"),
        "XDG_STATE_HOME": str(folder / "state"),
        "XDG_CONFIG_HOME": str(folder / "config"),
        "XDG_CACHE_HOME": str(Path(platformdirs.user_cache_dir("beltside")).parent),
    }


@pytest.mark.window
def test_demo_measure_run_and_baseline_send_nothing(
    tmp_path: Path, pulse_server: PulseServer
) -> None:
    """With windows, panel, sound and report, as anybody starts them."""
    programs = {
        "baseline": ("--athlete", "heron", "--clip", "side", "--headless"),
        "demo": ("--seconds", "6", "--windowed", "--view", "side"),
        "measure": (CLIP, "--view", "side", "--height-cm", "166"),
        "run": ("--athlete", "heron", "--file", CLIP, "--cautions-read", "--windowed", "--panel"),
    }
    done_by = {
        "baseline": "Stored as",
        "demo": "Mean cadence",
        "measure": "180 frames in 6.0 s",
        "run": "Saved as",
    }

    def seen_of(command: str) -> tuple[str, Seen]:
        folder = tmp_path / command
        with looking_on(folder) as onlooker:
            words = onlooker.command(
                *(sys.executable, "-m", "feedback.cli.main", command, *programs[command])
            )
            with subprocess.Popen(
                words,
                env=environment(folder, pulse_server),
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
            ) as process:
                if command == "run":
                    # The stopped screen would stay until somebody closes it; Ctrl+C ends the wait
                    # for that, and the report is written.
                    wait_for_summary(folder / "data", process)
                    process.send_signal(signal.SIGINT)
                said, _ = process.communicate(timeout=120)
            assert process.returncode == 0, said
            return said, onlooker.seen()

    with virtual_display(), ThreadPoolExecutor(2) as pool:
        found = dict(zip(programs, pool.map(seen_of, programs), strict=True))
    for command, (said, _) in found.items():
        assert done_by[command] in said, said
    assert {command: seen for command, (_, seen) in found.items() if not seen.nothing} == {}
