"""A real server and real clients over the loopback address, well-behaved and not."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import threading
import time
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import Any

import msgspec
import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect
from websockets.typing import Origin

from feedback.link import server as server_module
from feedback.link.client_state import LinkState
from feedback.link.local_client import LinkClient
from feedback.link.protocol import LARGEST_FROM_SCREEN_BYTES, Asker, encode
from feedback.link.server import LinkServer
from shared.clock import now_ns
from shared.messages import (
    PROTOCOL,
    Confirm,
    FromStation,
    Hello,
    Ping,
    Refused,
    Request,
    SessionState,
    Stop,
)
from shared.problems import UserError
from tests.feedback.link.examples import snapshot

PATIENCE_S = 20.0
S = 1_000_000_000


def until(check: Callable[[], Any]) -> Any:
    """Wait until ``check`` gives something true; fails the test when it never does."""
    deadline = time.monotonic() + PATIENCE_S
    while not (found := check()):
        assert time.monotonic() < deadline, "it never came to pass"
        time.sleep(0.005)
    return found


class Station:
    """A server that notes when it was told what."""

    def __init__(self) -> None:
        self.stops: queue.Queue[tuple[Stop, int, str]] = queue.Queue()
        self.gone: queue.Queue[tuple[str, int]] = queue.Queue()
        self.requests: queue.Queue[tuple[Request, str]] = queue.Queue()
        self.server = LinkServer(
            self._stop,
            lambda asker: self.gone.put((asker.role, now_ns())),
            lambda request, asker: self.requests.put((request, asker.role)),
        )
        self.port = self.server.start()
        self.opened = ExitStack()

    def _stop(self, stop: Stop, asker: Asker) -> None:
        self.stops.put((stop, now_ns(), threading.current_thread().name))

    def client(self, on_news: Callable[[], None] = lambda: None) -> LinkClient:
        client = LinkClient(self.port, self.server.issue_token("runner"), "runner", on_news)
        client.start()
        return client

    def raw(self, hello: bool = True) -> ClientConnection:
        connection = self.opened.enter_context(
            connect(
                f"ws://127.0.0.1:{self.port}",
                compression=None,
                proxy=None,
                max_queue=1,
                close_timeout=0.2,
            )
        )
        if hello:
            token = self.server.issue_token("runner")
            connection.send(encode(Hello(protocol=PROTOCOL, token=token, role="runner")))
            connection.recv(timeout=PATIENCE_S)
        return connection


@pytest.fixture
def station() -> Iterator[Station]:
    built = Station()
    yield built
    built.server.close("test over")
    built.opened.close()


def received(connection: ClientConnection) -> object:
    data = connection.recv(timeout=PATIENCE_S)
    assert isinstance(data, bytes)
    return msgspec.msgpack.decode(data, type=FromStation)


def joined(client: LinkClient) -> bool:
    return client.status().state is LinkState.JOINED


def test_a_snapshot_reaches_a_screen_that_joins_later(station: Station) -> None:
    station.server.publish(snapshot(7))
    client = station.client()
    status = until(lambda: client.status() if client.status().snapshot else None)
    assert status.snapshot == snapshot(7)
    assert station.server.screens() == ("runner",)
    client.close()
    assert station.gone.get(timeout=PATIENCE_S)[0] == "runner"
    assert station.server.screens() == ()


def test_stop_is_heard_in_the_link_thread_at_once(station: Station) -> None:
    client = station.client()
    until(lambda: joined(client))
    client.stop()
    stop, heard_ns, thread = station.stops.get(timeout=PATIENCE_S)
    assert thread == "link"
    assert 0 <= heard_ns - stop.asked_ns < 1 * S
    assert client.status().stop_asked
    client.close()


def test_stop_is_heard_while_snapshots_pour_out(station: Station) -> None:
    client = station.client()
    until(lambda: joined(client))
    over = threading.Event()

    def pour() -> None:
        number = 0
        while not over.is_set():
            number += 1
            station.server.publish(snapshot(number, code_name="x" * 10_000))

    thread = threading.Thread(target=pour)
    thread.start()
    until(lambda: client.status().snapshot)
    client.stop()
    stop, heard_ns, _ = station.stops.get(timeout=PATIENCE_S)
    over.set()
    thread.join()
    assert heard_ns - stop.asked_ns < 2 * S
    client.close()


def test_stop_asked_before_joining_is_sent_on_joining(station: Station) -> None:
    client = LinkClient(station.port, station.server.issue_token("runner"), "runner")
    client.stop()
    client.start()
    stop, heard_ns, _ = station.stops.get(timeout=PATIENCE_S)
    assert stop.asked_ns < heard_ns
    client.close()


def test_a_used_token_is_refused_in_plain_words(station: Station) -> None:
    token = station.server.issue_token("runner")
    first = LinkClient(station.port, token, "runner")
    first.start()
    until(lambda: joined(first))
    second = LinkClient(station.port, token, "runner")
    second.start()
    until(lambda: second.status().state is LinkState.REFUSED)
    assert "already used" in second.status().why
    assert joined(first)
    assert station.gone.empty()
    first.close()
    second.close()


def test_another_version_is_told_so(station: Station) -> None:
    connection = station.raw(hello=False)
    connection.send(encode(Hello(protocol=PROTOCOL + 8, token="", role="runner")))
    answer = received(connection)
    assert isinstance(answer, Refused)
    assert f"version {PROTOCOL + 8}" in answer.why


def test_a_web_page_cannot_reach_the_station(station: Station) -> None:
    page = Origin("http://example.org")
    with pytest.raises(InvalidStatus):
        connect(f"ws://127.0.0.1:{station.port}", origin=page, proxy=None)


@pytest.mark.parametrize("data", [b"\xc1\x00", "text", b"x" * (LARGEST_FROM_SCREEN_BYTES + 100)])
def test_bad_input_closes_that_connection_only(station: Station, data: bytes | str) -> None:
    good, bad = station.client(), station.raw()
    until(lambda: joined(good))
    bad.send(data)
    with pytest.raises(ConnectionClosed):
        bad.recv(timeout=PATIENCE_S)
    assert station.gone.get(timeout=PATIENCE_S)[0] == "runner"
    good.stop()
    station.stops.get(timeout=PATIENCE_S)
    assert station.server.screens() == ("runner",)
    assert station.server.problem() is None
    good.close()


def test_a_reader_that_stops_reading_does_not_make_the_station_grow(station: Station) -> None:
    slow, quick = station.raw(), station.client()
    until(lambda: joined(quick))
    over = threading.Event()

    def keep_alive() -> None:
        while not over.wait(0.1):
            slow.send(encode(Ping(at_ns=0)))
            quick.ping()

    thread = threading.Thread(target=keep_alive)
    thread.start()
    tracemalloc.start()
    big = 400
    for number in range(1, big + 1):  # 80 MB in all, of which the slow reader takes next to none
        station.server.publish(snapshot(number, code_name="x" * 200_000))
        time.sleep(0.002)
    until(lambda: (quick.status().snapshot or snapshot(0)).number == big)
    grown, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert station.server.screens() == ("runner", "runner")
    assert grown < 10_000_000
    over.set()
    thread.join()
    quick.close()


def test_a_crowd_of_strangers_is_refused_and_then_sent_away(station: Station) -> None:
    crowd = [station.raw(hello=False) for _ in range(16)]
    late = station.raw(hello=False)
    assert isinstance(received(late), Refused)
    for stranger in crowd:
        with pytest.raises(ConnectionClosed):
            stranger.recv(timeout=PATIENCE_S)
    client = station.client()
    until(lambda: joined(client))
    client.close()


CHILD = """
import sys, time
from feedback.link.local_client import LinkClient
client = LinkClient(int(sys.argv[1]), sys.argv[2], "runner")
client.start()
while True:
    client.ping()
    time.sleep(0.2)
"""


@pytest.fixture
def child(station: Station) -> Iterator[subprocess.Popen[bytes]]:
    process = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(station.port), station.server.issue_token("runner")]
    )
    until(lambda: station.server.screens() == ("runner",))
    yield process
    process.kill()
    process.wait()


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="no SIGSTOP on this system")
def test_a_frozen_screen_counts_as_gone(station: Station, child: subprocess.Popen[bytes]) -> None:
    time.sleep(2.0)
    assert station.gone.empty(), "a screen that pings is there"
    frozen_ns = now_ns()
    os.kill(child.pid, signal.SIGSTOP)
    role, gone_ns = station.gone.get(timeout=PATIENCE_S)
    assert role == "runner"
    assert gone_ns - frozen_ns < 3 * S  # 1.5 s, and room for a busy test machine
    assert station.server.screens() == ()
    time.sleep(0.3)
    assert station.gone.empty(), "told once"


def test_a_killed_screen_counts_as_gone(station: Station, child: subprocess.Popen[bytes]) -> None:
    killed_ns = now_ns()
    child.kill()
    role, gone_ns = station.gone.get(timeout=PATIENCE_S)
    assert role == "runner"
    assert gone_ns - killed_ns < 1 * S


def test_closing_sends_the_last_snapshot_and_a_goodbye(station: Station) -> None:
    client = station.client()
    until(lambda: joined(client))
    station.server.publish(snapshot(1))
    last = snapshot(2, state=SessionState.STOPPED)
    station.server.publish(last)
    station.server.close("all done")
    until(lambda: client.status().state is LinkState.ENDED)
    assert client.status().why == "all done"
    assert client.status().snapshot == last
    assert station.gone.empty()


def test_closing_does_not_wait_for_a_frozen_screen(
    station: Station, child: subprocess.Popen[bytes]
) -> None:
    if hasattr(signal, "SIGSTOP"):
        os.kill(child.pid, signal.SIGSTOP)
    began = time.monotonic()
    station.server.close("all done")
    assert time.monotonic() - began < 4.0
    thread = station.server._thread
    assert thread is not None
    assert not thread.is_alive()


SERVER = """
import sys, time
from feedback.link.server import LinkServer
server = LinkServer(print, print, print)
print(server.start(), server.issue_token("runner"), flush=True)
time.sleep(600)
"""


def test_a_screen_notices_that_the_station_has_gone() -> None:
    news = threading.Event()
    with subprocess.Popen([sys.executable, "-c", SERVER], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        port, token = process.stdout.readline().split()
        client = LinkClient(int(port), token.decode(), "runner", news.set)
        client.start()
        until(lambda: joined(client))
        news.clear()
        process.kill()
        assert news.wait(PATIENCE_S)
        until(lambda: client.status().state is LinkState.LOST)
        client.stop()  # must not raise
        client.ping()
        client.close()


def test_a_screen_that_finds_no_station_says_lost() -> None:
    client = LinkClient(1, "t", "runner")
    client.start()
    until(lambda: client.status().state is LinkState.LOST)
    assert client.status().why
    client.close()


def test_a_failing_callback_is_told_and_does_not_end_the_link() -> None:
    calls = []

    def broken(stop: Stop, asker: Asker) -> None:
        calls.append(stop)
        raise RuntimeError("boom")

    server = LinkServer(broken, print, print)
    client = LinkClient(server.start(), server.issue_token("runner"), "runner")
    client.start()
    until(lambda: joined(client))
    client.stop()
    until(lambda: len(calls) == 1)
    client.stop()
    until(lambda: len(calls) == 2)
    problem = server.problem()
    assert problem is not None
    assert problem.code == "worker_failed"
    assert "boom" in problem.details
    client.close()
    server.close("")


def test_a_link_that_cannot_open_is_a_problem_in_plain_words(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise OSError("address not available")

    monkeypatch.setattr(server_module, "serve_screens", fail)
    server = LinkServer(print, print, print)
    with pytest.raises(UserError) as caught:
        server.start()
    assert caught.value.problem.code == "link_failed"
    assert "address not available" in caught.value.problem.title
    server.publish(snapshot())
    server.close("")


def test_requests_reach_the_station_with_the_role_that_asks(station: Station) -> None:
    client = station.client()
    until(lambda: joined(client))
    client.ask(Confirm())
    assert station.requests.get(timeout=PATIENCE_S) == (Confirm(), "runner")
    client.close()


def test_a_console_may_stop_and_nothing_else(station: Station) -> None:
    console = LinkClient(station.port, station.server.issue_token("console"), "console")
    console.start()
    until(lambda: joined(console))
    console.stop()
    station.stops.get(timeout=PATIENCE_S)
    console.ask(Confirm())
    until(lambda: console.status().state is LinkState.LOST)
    assert station.requests.empty()
    console.close()
