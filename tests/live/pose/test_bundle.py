"""The pose bundle: fetched by the real pip from a local index, built, checked, built anew."""

from __future__ import annotations

import hashlib
import io
import os
import re
import socket
import threading
import zipfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import flatbuffers
import numpy as np
import pytest
from mediapipe.tasks.metadata import metadata_schema_py_generated as notes
from mediapipe.tasks.metadata import schema_py_generated as tflite

from live.pose import bundle
from live.pose import download as wheel
from live.pose.bundle import BundlePin, ModelPin
from live.pose.bundle_network import with_input_range
from live.pose.download import WheelPin
from live.pose.offline import close_the_way_out
from shared.problems import UserError

WHEEL_NAME = "sample_nets-1.2-cp311-cp311-manylinux_2_28_x86_64.whl"
MEMBERS = ("nets/detector.tflite", "nets/landmarks.tflite")


def _network(weights: bytes) -> bytes:
    """A TFLite file with one empty graph and two odd-sized buffers of weights."""
    data = np.frombuffer(weights, np.uint8)
    network = tflite.ModelT(
        version=3,
        description="small",
        subgraphs=[tflite.SubGraphT(tensors=[], inputs=[], outputs=[], operators=[])],
        buffers=[tflite.BufferT(), tflite.BufferT(data=data), tflite.BufferT(data=data[:13])],
    )
    builder = flatbuffers.Builder(1024)
    builder.Finish(network.Pack(builder), b"TFL3")
    return bytes(builder.Output())


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _make_wheel(networks: tuple[bytes, bytes]) -> bytes:
    info = "sample_nets-1.2.dist-info"
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        for name, network in zip(MEMBERS, networks, strict=True):
            archive.writestr(name, network)
        archive.writestr(
            f"{info}/METADATA", "Metadata-Version: 2.1\nName: sample_nets\nVersion: 1.2\n"
        )
        archive.writestr(
            f"{info}/WHEEL", "Wheel-Version: 1.0\nTag: cp311-cp311-manylinux_2_28_x86_64\n"
        )
        archive.writestr(f"{info}/RECORD", "")
    return content.getvalue()


class Index:
    """A simple package index that can break off in the middle of a file."""

    def __init__(self, content: bytes) -> None:
        self.content = content
        self.breaks = 0
        """How many of the next answers end after half of what they promise."""
        self.asked_from: list[int] = []
        """First byte asked for, of each request for the wheel."""
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Handler, self))
        self._thread = threading.Thread(target=self.server.serve_forever, args=(0.02,))
        self._thread.start()
        self.closed = False

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server.server_port}/simple/"

    def close(self) -> None:
        if not self.closed:
            self.closed = True
            self.server.shutdown()
            self.server.server_close()
            self._thread.join()


class _Handler(BaseHTTPRequestHandler):
    def __init__(self, index: Index, *args: object) -> None:
        self.index = index
        super().__init__(*args)  # type: ignore[arg-type]

    def do_GET(self) -> None:
        if self.path.endswith(".whl"):
            self._send_wheel()
        else:
            page = f'<a href="/files/{WHEEL_NAME}">{WHEEL_NAME}</a>'.encode()
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.send_header("Content-Length", str(len(page)))
            self.end_headers()
            self.wfile.write(page)

    def _send_wheel(self) -> None:
        content = self.index.content
        asked = re.match(r"bytes=(\d+)-", self.headers.get("Range", ""))
        start = int(asked[1]) if asked else 0
        self.index.asked_from.append(start)
        self.send_response(206 if asked else 200)
        if asked:
            self.send_header("Content-Range", f"bytes {start}-{len(content) - 1}/{len(content)}")
        self.send_header("Accept-Ranges", "bytes")
        self.send_header("ETag", f'"{_sha256(content)}"')
        self.send_header("Content-Length", str(len(content) - start))
        self.end_headers()
        rest = content[start:]
        if self.index.breaks:
            self.index.breaks -= 1
            rest = rest[: len(rest) // 2]
        self.wfile.write(rest)

    def log_message(self, *args: object) -> None:
        pass


NETWORKS = (_network(os.urandom(300_001)), _network(os.urandom(700_003)))


@pytest.fixture
def index(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Index]:
    """A local index as pip's only one, with caches of its own."""
    index = Index(_make_wheel(NETWORKS))
    for name in [name for name in os.environ if name.startswith("PIP_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_INDEX_URL", index.url)
    monkeypatch.setenv("PIP_CACHE_DIR", str(tmp_path / "pip"))
    monkeypatch.setenv("PIP_RETRIES", "0")
    monkeypatch.setattr("platformdirs.user_cache_dir", lambda name: str(tmp_path / name))
    yield index
    index.close()


@pytest.fixture
def pin(index: Index, monkeypatch: pytest.MonkeyPatch) -> BundlePin:
    """The pin that belongs to the index, in place of the real one."""

    def pin_with(sha256: str) -> BundlePin:
        return BundlePin(
            wheel=WheelPin(
                name="sample_nets",
                version="1.2",
                sha256=_sha256(index.content),
                platform="manylinux_2_28_x86_64",
                python="311",
            ),
            detector=ModelPin(member=MEMBERS[0], sha256=_sha256(NETWORKS[0])),
            landmarks=ModelPin(member=MEMBERS[1], sha256=_sha256(NETWORKS[1])),
            sha256=sha256,
        )

    expected = io.BytesIO()
    with zipfile.ZipFile(expected, "w") as archive:
        archive.writestr(bundle._entry("pose_detector.tflite"), NETWORKS[0])
        archive.writestr(
            bundle._entry("pose_landmarks_detector.tflite"),
            with_input_range(NETWORKS[1], 0.0, 255.0),
        )
    pin = pin_with(_sha256(expected.getvalue()))
    monkeypatch.setattr(bundle, "PINNED", pin)
    return pin


def test_is_built_once_and_kept(index: Index, pin: BundlePin) -> None:
    told: list[tuple[str, int, int]] = []
    path = bundle.ensure_bundle(lambda *call: told.append(call))
    assert _sha256(path.read_bytes()) == pin.sha256
    assert (wheel.FETCHING, len(index.content), len(index.content)) in told
    index.close()  # offline from here on
    assert bundle.ensure_bundle() == path
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_goes_on_where_the_connection_broke_off(index: Index, pin: BundlePin) -> None:
    index.breaks = 3
    told: list[str] = []
    path = bundle.ensure_bundle(lambda *call: told.append(call[0]))
    assert _sha256(path.read_bytes()) == pin.sha256
    size = len(index.content)
    assert index.asked_from == [0, size // 2, size // 2 + size // 4, index.asked_from[3]]
    assert size * 0.85 < index.asked_from[3] < size * 0.9
    assert told.count(wheel.RESUMING) == 3


def test_tells_when_it_gives_up_and_works_the_next_time(
    index: Index, pin: BundlePin, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(wheel, "RESUMES", 2)
    index.breaks = 99
    with pytest.raises(UserError) as caught:
        bundle.ensure_bundle()
    assert caught.value.problem.code == "bundle_download_failed"
    assert "the connection kept breaking off" in caught.value.problem.title
    assert not bundle.bundle_path().exists()
    index.breaks = 0
    assert bundle.is_sound(bundle.ensure_bundle())


def test_no_network(index: Index, pin: BundlePin, monkeypatch: pytest.MonkeyPatch) -> None:
    index.close()
    monkeypatch.setenv("PIP_RETRIES", "1")
    told: list[str] = []
    with pytest.raises(UserError) as caught:
        bundle.ensure_bundle(lambda *call: told.append(call[0]))
    assert told[-1] == wheel.WAITING
    assert "the package index does not answer" in caught.value.problem.title
    assert caught.value.problem.details  # what pip said, for the journal


def test_the_users_proxy_is_asked_also_after_a_model_was_loaded(
    index: Index, pin: BundlePin, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Loading closes the way out for the pose library alone (live.pose.offline), not for pip."""
    monkeypatch.setenv("PIP_INDEX_URL", "https://index.example/simple/")
    asked: list[bytes] = []
    with socket.create_server(("127.0.0.1", 0)) as proxy:

        def refuse() -> None:
            connection, _ = proxy.accept()
            with connection:
                asked.append(connection.recv(4096))
                connection.sendall(b"HTTP/1.1 403 Forbidden\r\n\r\n")

        for name in ("no_proxy", "NO_PROXY"):
            monkeypatch.delenv(name, raising=False)
        monkeypatch.setenv("https_proxy", f"http://127.0.0.1:{proxy.getsockname()[1]}")
        thread = threading.Thread(target=refuse, daemon=True)
        thread.start()
        close_the_way_out()
        with pytest.raises(UserError) as caught:
            bundle.ensure_bundle()
        thread.join(10.0)
    assert caught.value.problem.code == "bundle_download_failed"
    assert asked
    assert asked[0].startswith(b"CONNECT index.example:443 HTTP/1.")


def test_another_file_under_the_same_name(index: Index, pin: BundlePin) -> None:
    index.content = _make_wheel((NETWORKS[1], NETWORKS[0]))
    with pytest.raises(UserError) as caught:
        bundle.ensure_bundle()
    assert "not the expected file" in caught.value.problem.title
    assert not bundle.bundle_path().exists()


def test_without_pip(index: Index, pin: BundlePin, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    with pytest.raises(UserError) as caught:
        bundle.ensure_bundle()
    assert "ensurepip" in caught.value.problem.title


@pytest.mark.parametrize(
    "damage",
    [
        pytest.param(lambda content: content[:-1], id="cut short"),
        pytest.param(lambda _content: b"", id="empty"),
        pytest.param(lambda content: content[:5000] + b"\0\0" + content[5002:], id="changed"),
    ],
)
def test_a_damaged_file_is_built_anew(
    index: Index, pin: BundlePin, damage: Callable[[bytes], bytes]
) -> None:
    path = bundle.ensure_bundle()
    path.write_bytes(damage(path.read_bytes()))
    assert not bundle.is_sound(path)
    assert bundle.is_sound(bundle.ensure_bundle())


def test_several_at_once_do_not_clash(index: Index, pin: BundlePin) -> None:
    with ThreadPoolExecutor(3) as pool:
        builds = [pool.submit(bundle.ensure_bundle) for _ in range(3)]
    paths = {build.result() for build in builds}
    assert len(paths) == 1
    path = paths.pop()
    assert bundle.is_sound(path)
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_the_input_range_is_added_and_the_weights_stay() -> None:
    weights = os.urandom(1001)
    before = _network(weights)
    after = with_input_range(before, mean=0.0, std=255.0)
    network = tflite.ModelT.InitFromPackedBuf(after)
    assert [bytes(b.data) for b in network.buffers[1:3]] == [weights, weights[:13]]
    assert network.metadata[-1].name == b"TFLITE_METADATA"
    note = notes.ModelMetadataT.InitFromPackedBuf(
        bytes(network.buffers[network.metadata[-1].buffer].data)
    )
    scaling = note.subgraphMetadata[0].inputTensorMetadata[0].processUnits[0].options
    assert (list(scaling.mean), list(scaling.std)) == ([0.0], [255.0])


def test_weights_start_on_sixteen_byte_borders() -> None:
    packed = tflite.Model.GetRootAs(with_input_range(_network(os.urandom(1001)), 0.0, 1.0), 0)
    starts = [
        packed.Buffers(i)._tab.Vector(packed.Buffers(i)._tab.Offset(4))
        for i in range(packed.BuffersLength())
        if not packed.Buffers(i).DataIsNone()
    ]
    assert len(starts) == 3
    assert all(start % 16 == 0 for start in starts)


@pytest.mark.model
def test_the_real_bundle_is_the_tested_one() -> None:
    assert _sha256(bundle.ensure_bundle().read_bytes()) == bundle.PINNED.sha256
