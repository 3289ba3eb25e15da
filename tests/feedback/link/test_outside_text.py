"""What false stations, false consoles and notes send: nothing of it steers what it reaches."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import msgspec
import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.server import ServerConnection, serve
from zeroconf import IPVersion, ServiceInfo, Zeroconf

from feedback.journal.entries import NoteEntry
from feedback.link.address import Address
from feedback.link.admission import decode_from_door
from feedback.link.certificate import server_context, station_identity
from feedback.link.client_state import LinkState, ScreenSide
from feedback.link.discovery import SERVICE
from feedback.link.finding import found_in
from feedback.link.pairing import SHARE_BYTES
from feedback.terminal.guard import PROBLEM
from shared.changes import Adjust, Answered, Remark
from shared.messages import PROTOCOL, Refused, Role
from shared.plain_text import plain_line
from shared.problems import Problem
from tests.feedback.cli.test_typed_commands import TARGET
from tests.feedback.link.examples import snapshot
from tests.feedback.link.netting import (
    HOST,
    PATIENCE_S,
    NetStation,
    Raw,
    briefing,
    quiet_network,
    until,
)
from tests.feedback.link.test_commands import ROOT, Terminal
from tests.feedback.link.test_session import Consoles, answered, consoles, target
from tests.feedback.outside import WICKED, assert_fit

__all__ = ["consoles", "quiet_network"]
offline = pytest.mark.usefixtures("quiet_network")


class FalseStation:
    """Answers whatever it is told with the same bytes, over TLS as a station speaks it."""

    def __init__(self, folder: Path, answer: bytes) -> None:
        self._answer = answer
        tls = server_context(station_identity(folder).path)
        self._server = serve(self._talk, HOST, 0, ssl=tls)
        self.place = Address(HOST, self._server.socket.getsockname()[1])
        self._thread = threading.Thread(target=self._server.serve_forever)
        self._thread.start()

    def close(self) -> None:
        self._server.shutdown()
        self._thread.join()

    def _talk(self, connection: ServerConnection) -> None:
        with contextlib.suppress(ConnectionClosed):
            for _ in connection:
                connection.send(self._answer)


@pytest.fixture
def terminals(tmp_path: Path) -> Iterator[list[Terminal]]:
    opened: list[Terminal] = []
    yield opened
    for terminal in opened:
        terminal.close()


def packed(**fields: object) -> bytes:
    return msgspec.msgpack.encode(fields)


@offline
def test_a_false_stations_refusal_steers_no_terminal(
    tmp_path: Path, terminals: list[Terminal]
) -> None:
    false = FalseStation(tmp_path / "false", packed(type="refused", why=WICKED))
    try:
        words = ["--address", str(false.place), "--code", "123456", "--headless"]
        terminals.append(terminal := Terminal(tmp_path / "office", "console", *words))
        assert terminal.ends() == PROBLEM
    finally:
        false.close()
    assert "Forged: line two" in terminal.said
    assert_fit(terminal.said)


@offline
def test_nothing_that_a_paired_station_says_steers_a_consoles_terminal(
    tmp_path: Path, terminals: list[Terminal]
) -> None:
    station = NetStation(tmp_path / "station", WICKED[:128])
    try:
        problem = Problem("x", WICKED, WICKED, WICKED)
        station.server.brief(briefing())
        station.server.publish(
            snapshot(1, targets=(TARGET,), code_name=WICKED, problems=(problem,))
        )
        code = station.network.open_pairing()
        words = ["--address", str(station.place), "--code", code, "--headless", "--name", "office"]
        terminals.append(terminal := Terminal(tmp_path / "office", "console", *words))
        terminal.waits_for("Paired with")
        terminal.waits_for("aim 173, may be 165 to 179")
        terminal.type("aim 1 176")
        request, asker = station.requests.get(timeout=PATIENCE_S)
        assert isinstance(request, Adjust)
        answer = Answered(id=request.id, done=False, why=WICKED)
        station.server.answer(asker.connection, answer)
        terminal.waits_for("Not done: a")
        station.server.close(WICKED)
        terminal.waits_for("The station has ended")
        terminal.type("quit")
        terminal.ends()
    finally:
        station.close()
    assert terminal.said.count("Forged: line") > 3
    assert_fit(terminal.said)


def test_a_screen_is_given_plain_text_only() -> None:
    side = ScreenSide("token", Role.PANEL)
    side.on_bytes(packed(type="welcome", protocol=PROTOCOL, station=WICKED))
    remark = Remark(at_ns=1, who=WICKED, text=WICKED)
    problem = Problem("x", WICKED, WICKED, WICKED, WICKED)
    shown = snapshot(
        1, code_name=WICKED, problems=(problem,), remarks=(remark,), consoles=(WICKED, "office")
    )
    side.on_bytes(msgspec.msgpack.encode(shown))
    side.on_bytes(packed(type="goodbye", why=WICKED))
    assert side.state is LinkState.ENDED
    assert_fit(side.why)
    assert side.newest is not None
    plain = plain_line(WICKED)
    assert_fit(plain)
    assert side.newest.code_name == plain
    assert side.newest.consoles == (plain, "office")
    assert side.newest.remarks == (Remark(at_ns=1, who=plain, text=plain),)
    assert side.newest.problems == (Problem("x", plain, plain, plain, plain),)


@offline
@pytest.mark.parametrize(
    "name",
    [
        "de\u3164sk",
        "de\u034fsk",
        "desk\U000e0041",
        "de\u061csk",
        "de\u00adsk",
        "desk\ufe01",
        "d" + "\u0336" * 9,
        "\u0301desk",
        "de\u00a0sk",
        "de\ue000sk",
    ],
)
def test_a_console_with_unseen_letters_in_its_name_is_not_paired(tmp_path: Path, name: str) -> None:
    station = NetStation(tmp_path)
    station.network.open_pairing()
    start = packed(type="pair_start", protocol=PROTOCOL, name=name, share=b"A" + bytes(32))
    assert SHARE_BYTES == 33
    try:
        with Raw(station.place) as raw:
            raw.send(start)
            assert isinstance(decode_from_door(raw.recv()), Refused)
        assert station.network.pairing().tries_left == 5, "it was not even tried"
    finally:
        station.close()


@offline
def test_a_note_is_plain_on_record_and_an_unseen_one_is_refused(consoles: Consoles) -> None:
    seen: dict[str, object] = {}

    def meanwhile() -> None:
        client = consoles.pair("office", consoles.place)
        try:
            until(lambda: target(client))
            for number, text in enumerate(("\u200b\u202e\u3164", WICKED), start=1):
                with client._lock:  # as no console of ours would send it
                    client._send(packed(type="note", id=number, text=text))
                seen[text] = answered(client)
            seen["remarks"] = until(lambda: shown_remarks(client))
        finally:
            client.stop()
            until(lambda: not client.status().stop_waits)
            client.close()

    def shown_remarks(client: object) -> object:
        target(client)  # type: ignore[arg-type]
        snapshot = client.status().snapshot  # type: ignore[attr-defined]
        return snapshot.remarks

    consoles.bench.run(meanwhile)
    refused = cast("Answered", seen["\u200b\u202e\u3164"])
    assert (refused.id, refused.done, refused.why) == (1, False, "The note is empty.")
    assert seen[WICKED] == Answered(id=2, done=True)
    (note,) = [e for e in consoles.bench.record().entries if isinstance(e, NoteEntry)]
    assert note.text == plain_line(WICKED)
    assert_fit(note.text)


@pytest.mark.skipif(sys.platform != "linux", reason="network namespaces are Linux's")
def test_a_false_announcement_steers_no_terminal(tmp_path: Path) -> None:
    from tests.feedback.link import wires

    if why := wires.why_not():
        pytest.skip(why)
    cable = wires.DirectWire()
    name = "roo\x9b31m\u202e1\u200b m <b>&"
    try:
        with cable.station.entered():
            announcing = Zeroconf(ip_version=IPVersion.V4Only)
            info = ServiceInfo(
                SERVICE,
                f"{name}.{SERVICE}",
                port=4001,
                properties={"v": str(PROTOCOL), "fp": "ab" * 8},
                server="x.local.",
                parsed_addresses=[cable.station.address],
            )
            announcing.register_service(info)
        try:
            done = subprocess.run(
                cable.console.command(sys.executable, "-m", "feedback.cli.main", "stations"),
                cwd=ROOT,
                env=os.environ | {"XDG_DATA_HOME": str(tmp_path)},
                capture_output=True,
                timeout=60,
                check=True,
            )
        finally:
            announcing.close()
    finally:
        cable.remove()
    assert_fit(done.stdout)
    assert "roo\ufffd31m1 m <b>&" in done.stdout.decode()
    found = found_in(info, f"{name}.{SERVICE}")
    assert found is not None
    assert found.name == "roo\ufffd31m1 m <b>&"
