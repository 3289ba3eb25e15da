"""Pairing, listing, removing and following from the command line, with a real station."""

from __future__ import annotations

import contextlib
import os
import queue
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from feedback.cli.commands import pair
from feedback.cli.common.network import open_network
from feedback.cli.main import build_parser, main
from feedback.link.consoles import ConsoleList, StationList
from feedback.link.network_station import Network
from feedback.link.pairing import Paired, PairingState, public_key_of
from shared.changes import Adjust, Answered, Note
from shared.messages import SessionState
from tests.feedback.cli.test_typed_commands import TARGET
from tests.feedback.link.examples import snapshot
from tests.feedback.link.netting import PATIENCE_S, NetStation, briefing, quiet_network
from tests.feedback.terminal.terminal_rig import Program, needs_a_terminal

__all__ = ["quiet_network"]
pytestmark = pytest.mark.usefixtures("quiet_network")
ROOT = Path(__file__).resolve().parents[3]


class Terminal:
    """``beltside`` in a process of its own, with a data folder of its own."""

    def __init__(self, folder: Path, *words: str) -> None:
        environment = {
            **os.environ,
            "HOME": str(folder),
            "XDG_DATA_HOME": str(folder / "data"),
            "LOCALAPPDATA": str(folder / "data"),
        }
        self.process = subprocess.Popen(
            [sys.executable, "-m", "feedback.cli.main", *words],
            cwd=ROOT,
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.said = ""
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        while data := os.read(self.process.stdout.fileno(), 4096):  # a question ends no line
            self.said += data.decode()

    def type(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(f"{line}\n")
        self.process.stdin.flush()

    def waits_for(self, pattern: str) -> re.Match[str]:
        deadline = time.monotonic() + PATIENCE_S
        while (match := re.search(pattern, self.said)) is None:
            assert time.monotonic() < deadline, f"{pattern} was not said, but: {self.said}"
            time.sleep(0.01)
        return match

    def ends(self) -> int:
        code = self.process.wait(PATIENCE_S)
        self._reader.join(PATIENCE_S)
        return code

    def close(self) -> None:
        self.process.kill()
        self.process.wait()
        self._reader.join(PATIENCE_S)
        for pipe in (self.process.stdin, self.process.stdout):
            assert pipe is not None
            pipe.close()


@pytest.fixture
def terminals(tmp_path: Path) -> Iterator[list[Terminal]]:
    opened: list[Terminal] = []
    yield opened
    for terminal in opened:
        terminal.close()


@pytest.fixture
def station(tmp_path: Path) -> Iterator[NetStation]:
    built = NetStation(tmp_path / "station")
    built.server.brief(briefing())
    built.server.publish(snapshot(1, targets=(TARGET,), step_number=120))
    yield built
    built.close()


def test_a_console_without_a_screen_pairs_shows_changes_notes_and_stops(
    station: NetStation, terminals: list[Terminal], tmp_path: Path
) -> None:
    code = station.network.open_pairing()
    words = ["console", "--headless", "--address", str(station.place), "--name", "office"]
    terminals.append(terminal := Terminal(tmp_path / "office", *words))
    terminal.waits_for("Code shown")
    terminal.type(f"{code[:3]} {code[3:]}")
    terminal.waits_for('Paired with "room 1" as "office"')
    terminal.waits_for("aim 173, may be 165 to 179")
    terminal.type("aim 1 176")
    request, asker = station.requests.get(timeout=PATIENCE_S)
    assert isinstance(request, Adjust)
    assert (request.number, request.revision, request.aim) == (0, 4, 176.0)
    assert asker.name == "office"
    answer = Answered(id=request.id, done=True, target=TARGET, from_step=121)
    station.server.answer(asker.connection, answer)
    terminal.waits_for("Done. It applies from step 121")
    terminal.type("note left shoe untied")
    noted, _ = station.requests.get(timeout=PATIENCE_S)
    assert isinstance(noted, Note)
    assert noted.text == "left shoe untied"
    terminal.type("stop")
    assert station.stops.get(timeout=PATIENCE_S)[1].name == "office"
    station.server.publish(snapshot(2, state=SessionState.STOPPED))
    terminal.waits_for("Heron: stopped")
    terminal.type("quit")
    assert terminal.ends() == 0
    # From now on it is known there: no code is asked for any more.
    terminals.append(again := Terminal(tmp_path / "office", *words))
    again.waits_for("Heron: stopped")
    assert "Code" not in again.said
    again.type("quit")
    assert again.ends() == 0


def test_a_lost_station_is_told_at_the_console(
    station: NetStation, terminals: list[Terminal], tmp_path: Path
) -> None:
    words = ["console", "--headless", "--address", str(station.place)]
    code = station.network.open_pairing()
    terminals.append(terminal := Terminal(tmp_path / "office", *words, "--code", code))
    terminal.waits_for("Heron: running")
    station.server.close("The session has ended.")
    terminal.waits_for("The station has ended: The session has ended")
    terminal.type("aim 1 176")
    terminal.waits_for("Not done: No connection")
    terminal.type("quit")
    assert terminal.ends() == 0


def test_a_console_ends_when_nothing_more_can_be_typed(
    station: NetStation, terminals: list[Terminal], tmp_path: Path
) -> None:
    words = ["console", "--headless", "--address", str(station.place)]
    code = station.network.open_pairing()
    terminals.append(terminal := Terminal(tmp_path / "office", *words, "--code", code))
    terminal.waits_for("Heron: running")
    assert terminal.process.stdin is not None
    terminal.process.stdin.close()
    assert terminal.ends() == 0


@needs_a_terminal
def test_a_stop_goes_out_though_the_terminal_is_paused_and_a_closed_one_ends_the_console(
    station: NetStation, tmp_path: Path
) -> None:
    words = ["console", "--headless", "--address", str(station.place)]
    with contextlib.closing(
        Program(tmp_path / "office", *words, "--code", station.network.open_pairing())
    ) as program:
        program.read_on()
        program.waits_for("Heron: running")
        program.type("\x13")  # Ctrl+S
        for number in range(2, 60):  # so much that the terminal takes no more
            running = SessionState.RUNNING if number % 2 else SessionState.PAUSED
            station.server.publish(snapshot(number, state=running))
        program.type("stop\n")
        assert station.stops.get(timeout=PATIENCE_S)
        assert "Stop was requested" not in program.said
        program.type("\x11")  # Ctrl+Q
        program.waits_for("Stop was requested")
        program.close_terminal()
        code, _ = program.ends()
        assert code == 128 + signal.SIGHUP


def test_the_pair_command_shows_a_code_and_says_who_was_paired(
    terminals: list[Terminal], tmp_path: Path
) -> None:
    terminals.append(pairing := Terminal(tmp_path / "station", "pair", "--station-name", "room 2"))
    code = pairing.waits_for(r"pair a console: (\d{3}) (\d{3})")
    port = pairing.waits_for(r'as "room 2", at [\d.]+:(\d+)')[1]
    words = ["console", "--headless", "--address", f"127.0.0.1:{port}", "--name", "office"]
    wrong = f"{(int(code[1] + code[2]) + 1) % 1_000_000:06d}"
    terminals.append(failed := Terminal(tmp_path / "office", *words, "--code", wrong))
    assert failed.ends() == 1
    assert "The console was not paired (The code was wrong" in failed.said
    terminals.append(console := Terminal(tmp_path / "office", *words, "--code", code[1] + code[2]))
    console.waits_for('Paired with "room 2" as "office"')
    assert pairing.ends() == 0
    assert 'Paired with "office"' in pairing.said
    terminals.append(listed := Terminal(tmp_path / "station", "consoles"))
    assert listed.ends() == 0
    assert re.search(r"^office +paired on \d{4}-\d\d-\d\d at \d\d:\d\d", listed.said)


class SlowToKeep:
    """A network whose code was used, and whose console is kept only after that was seen."""

    def __init__(self, paired: queue.Queue[str]) -> None:
        self._paired = paired

    def pairing(self) -> PairingState:
        threading.Timer(0.05, self._paired.put, ("office",)).start()
        return PairingState(code="", tries_left=3, locked=False)


def test_a_code_that_was_just_used_is_not_called_too_old() -> None:
    """The code is used up before its console is in the list; in between nobody may give up."""
    paired: queue.Queue[str] = queue.Queue()
    assert pair._wait(SlowToKeep(paired), paired) == "office"  # type: ignore[arg-type]


def test_consoles_are_listed_and_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("feedback.cli.commands.consoles.link_folder", lambda: tmp_path)
    assert main(["consoles"]) == 0
    assert "No console is paired" in capfd.readouterr().out
    ConsoleList(tmp_path).add(Paired("office", public_key_of(bytes(32))), "2026-05-04T10:00:00")
    assert main(["consoles", "--remove", "offise"]) == 1
    assert "Paired: office." in capfd.readouterr().err
    assert main(["consoles", "--remove", "office"]) == 0
    assert ConsoleList(tmp_path).all() == ()


def test_known_stations_are_listed_and_forgotten(
    station: NetStation,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    known = station.pair()
    StationList(tmp_path / "office").keep(known)
    monkeypatch.setattr("feedback.cli.commands.stations.link_folder", lambda: tmp_path / "office")
    monkeypatch.setattr("feedback.cli.commands.stations.LOOK_S", 0.1)
    assert main(["stations"]) == 0
    out = capfd.readouterr().out
    assert "room 1" in out
    assert "paired as front desk, not found now" in out
    assert main(["stations", "--remove", "room 9"]) == 1
    assert "room 1" in capfd.readouterr().err
    assert main(["stations", "--remove", known.fingerprint[:8]]) == 0
    assert StationList(tmp_path / "office").all() == ()


def test_a_port_in_use_is_told_before_anything_starts(
    station: NetStation, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main(["pair", "--port", str(station.place.port)]) == 1
    assert f"port {station.place.port}" in capfd.readouterr().err


@pytest.mark.parametrize(
    "words",
    [
        ["run", "--athlete", "heron", "--clip", "side", "--network", "--port", "0"],
        ["console", "--address", "host:99999"],
        ["console", "--address", ":47820"],
        ["console", "--name", " x"],
        ["pair", "--station-name", "\x1b[2J"],
    ],
)
def test_wrong_words_are_told_in_one_line(
    words: list[str], capfd: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        main(words)
    assert caught.value.code == 2
    assert capfd.readouterr().err.count("\n") == 1


def test_without_the_switch_nothing_listens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Network, "__init__", lambda *_: pytest.fail("the network was opened"))
    for words in (
        ["run", "--athlete", "heron", "--camera", "0"],
        ["baseline", "--athlete", "heron", "--camera", "0"],
        ["session", "x.toml", "--camera", "0"],
        ["home", "x.toml"],
    ):
        assert open_network(build_parser().parse_args(words)) is None
