"""A replay over a slow network delays neither snapshots nor Stop, and takes no memory."""

from __future__ import annotations

import contextlib
import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from queue import Queue
from typing import Any

import msgspec
import pytest
from websockets.sync.client import ClientConnection, connect

from feedback.link.protocol import Asker, encode
from feedback.link.server import LinkServer
from shared.changes import Note
from shared.clock import now_ns
from shared.messages import (
    LARGEST_MESSAGE_BYTES,
    PROTOCOL,
    FromStation,
    Hello,
    Ping,
    Request,
    Role,
    Snapshot,
    Stop,
)
from shared.pictures import Picture, ReplayEnd, ReplayPicture
from tests.feedback.link.examples import snapshot

BYTES_PER_S = 2_000_000
"""A wireless network on a bad day: 16 Mbit/s."""
JPEG_BYTES = 60_000
COUNT = 600
DECODER = msgspec.msgpack.Decoder(FromStation)


class SlowNetwork:
    """Carries one connection to ``port``; the way back at ``BYTES_PER_S``, while it is ``open``."""

    def __init__(self, port: int) -> None:
        self.open = threading.Event()
        self.open.set()
        self._to = port
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listening.getsockname()[1]
        self._ends: list[socket.socket] = []
        threading.Thread(target=self._carry, daemon=True).start()

    def close(self) -> None:
        self.open.set()
        for end in (self._listening, *self._ends):
            end.close()

    def _carry(self) -> None:
        with contextlib.suppress(OSError):
            near, _ = self._listening.accept()
            far = socket.socket()
            far.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 65_536)
            far.connect(("127.0.0.1", self._to))
            self._ends += [near, far]
            threading.Thread(target=self._up, args=(near, far), daemon=True).start()
            free_s = time.monotonic()
            while self.open.wait() and (data := far.recv(16_384)):
                free_s = max(free_s, time.monotonic()) + len(data) / BYTES_PER_S
                time.sleep(max(0.0, free_s - time.monotonic()))
                near.sendall(data)

    def _up(self, near: socket.socket, far: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := near.recv(65_536):
                far.sendall(data)


class Clinic:
    """A station that talks ten times a second, and one panel behind a slow network."""

    def __init__(self) -> None:
        self.asked: Queue[tuple[Request, Asker]] = Queue()
        self.stops: Queue[tuple[Stop, int]] = Queue()
        self.made = 0
        self.server = LinkServer(
            lambda stop, _asker: self.stops.put((stop, now_ns())),
            lambda _asker: None,
            lambda request, asker: self.asked.put((request, asker)),
        )
        port = self.server.start()
        self.network = SlowNetwork(port)
        self.over = threading.Event()
        self.panel: ClientConnection = connect(
            f"ws://127.0.0.1:{self.network.port}",
            legacy=True,
            compression=None,
            proxy=None,
            ping_interval=None,
            max_size=LARGEST_MESSAGE_BYTES,
            max_queue=2,
        )
        token = self.server.issue_token(Role.PANEL)
        self.panel.send(encode(Hello(protocol=PROTOCOL, token=token, role=Role.PANEL)))
        self.panel.send(encode(Note(id=1, text="who am I")))
        _, asker = self.asked.get(timeout=10)
        self.connection = asker.connection
        self._talker = threading.Thread(target=self._talk)
        self._talker.start()

    def replay(self) -> Iterator[ReplayPicture | ReplayEnd]:
        for number in range(COUNT):
            self.made += 1
            shot = Picture(
                captured_ns=number,
                width_px=960,
                height_px=540,
                jpeg=os.urandom(JPEG_BYTES),
                xy=(),
            )
            yield ReplayPicture(id=2, number=number, count=COUNT, picture=shot)
        yield ReplayEnd(id=2, count=COUNT, marks=())

    def close(self) -> None:
        self.over.set()
        self._talker.join()
        self.network.close()
        self.server.close("test over")
        with contextlib.suppress(Exception):
            self.panel.close()

    def _talk(self) -> None:
        number = 0
        while not self.over.wait(0.1):
            number += 1
            self.server.publish(snapshot(number, at_ns=now_ns()))
            with contextlib.suppress(Exception):
                self.panel.send(encode(Ping(at_ns=now_ns())))


@pytest.fixture
def clinic() -> Iterator[Clinic]:
    made = Clinic()
    yield made
    made.close()


def read_for(clinic: Clinic, seconds: float) -> list[tuple[Any, int]]:
    """What comes in so many seconds, each with its time."""
    until_s, found = time.monotonic() + seconds, []
    while time.monotonic() < until_s:
        with contextlib.suppress(TimeoutError):
            data = clinic.panel.recv(timeout=0.1, decode=False)
            found.append((DECODER.decode(data), now_ns()))
    return found


def until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 20
    while not true():
        assert time.monotonic() < deadline, "it never came"
        time.sleep(0.01)


def test_snapshots_stay_fresh_and_stop_is_heard_in_the_middle_of_a_replay(clinic: Clinic) -> None:
    read_for(clinic, 0.3)
    clinic.server.answer(clinic.connection, clinic.replay())
    read_for(clinic, 1.0)  # every buffer on the way has filled
    found = read_for(clinic, 2.0)
    ages_s = [(at_ns - one.at_ns) / 1e9 for one, at_ns in found if isinstance(one, Snapshot)]
    assert len(ages_s) >= 8
    # 16 Mbit/s and some 300 kB on the way are 0.2 s; 3 MB would be 1.5 s
    assert max(ages_s) < 0.9
    assert any(isinstance(one, ReplayPicture) for one, _ in found), "and it comes in meanwhile"
    clinic.panel.send(encode(Stop(asked_ns=now_ns())))
    stop, heard_ns = clinic.stops.get(timeout=10)
    assert heard_ns - stop.asked_ns < 300e6


def test_a_replay_that_nobody_reads_is_not_made(clinic: Clinic) -> None:
    clinic.network.open.clear()
    clinic.server.answer(clinic.connection, clinic.replay())
    until(lambda: clinic.made > 0)
    time.sleep(1.0)
    waiting = clinic.made
    # a few hundred kB are under way in buffers; the other 35 MB were never put there
    assert waiting <= 30
    time.sleep(0.5)
    assert clinic.made == waiting
