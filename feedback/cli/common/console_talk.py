"""A console without a screen: lines about each station, and typed commands for them."""

from __future__ import annotations

import itertools
import queue
import threading
from typing import Final

from feedback.cli.typed_commands import (
    HELP,
    StopNow,
    Wrong,
    answer_line,
    link_line,
    state_lines,
    understood,
)
from feedback.link.client_state import LinkState
from feedback.link.consoles import KnownStation
from feedback.link.directory import Directory
from feedback.link.remote_client import RemoteClient
from feedback.terminal.guard import OK, say
from feedback.terminal.output import check_output, never_wait, read_line
from shared.clock import now_ns
from shared.language import _
from shared.units import NS_PER_S

_TURN_S: Final = 0.05
_PING_NS: Final = NS_PER_S * 2 // 5
_LINE_NS: Final = 2 * NS_PER_S
"""How often the state is said anew while it changes."""
_STOP_ARRIVES_NS: Final = NS_PER_S // 2
"""A Stop that has not arrived after so long is said to wait."""
_END: Final = ""


class Watched:
    """One station as it is followed here."""

    def __init__(self, number: int, client: RemoteClient) -> None:
        self.number = number
        self.client = client
        self._mark = f"[{number} {client.station.name}] "
        self._said_ns = 0
        self._head: tuple[str, ...] = ()
        self._link = ""
        self._stopped_ns = 0

    def stop(self) -> None:
        """Ask for Stop."""
        self._stopped_ns = now_ns()
        self.client.stop()
        self.say(_("Stop was requested."))

    def look(self, at_ns: int) -> None:
        """Say what is new."""
        status = self.client.status()
        for answer in self.client.take_answers():
            self.say(answer_line(answer))
        self.client.take_points()
        self.client.take_replay()
        link = link_line(status, at_ns)
        if status.state is LinkState.JOINED and at_ns - self._stopped_ns < _STOP_ARRIVES_NS:
            link = ""
        due = at_ns - self._said_ns >= _LINE_NS
        if link and (due or not self._link):
            self.say(link)
            self._said_ns = at_ns
        elif self._link and not link:
            self.say(_("Linked."))
        self._link = link
        if status.snapshot is None or status.state is not LinkState.JOINED or not due:
            return
        lines = state_lines(status.snapshot)
        if lines != self._head:
            self._head = lines
            self._said_ns = at_ns
            self.state()

    def state(self) -> None:
        """Say how it stands."""
        for text in self._head or (_("No data yet."),):
            self.say(text)

    def say(self, text: str) -> None:
        """A line about this station."""
        say(f"{self._mark}{text}")


def talk(directory: Directory, stations: tuple[KnownStation, ...]) -> int:
    """Follow the stations until it is told to quit, or nothing more can be typed."""
    watched = [
        Watched(number, directory.join(station)) for number, station in enumerate(stations, start=1)
    ]
    typed: queue.SimpleQueue[str] = queue.SimpleQueue()
    threading.Thread(target=_read, args=(typed,), name="typed", daemon=True).start()
    ids = itertools.count(1)
    pinged_ns = 0
    say(_("Type 'help' for a list of commands."))
    never_wait()  # a Stop that was typed must go out, whatever the terminal does
    try:
        while True:
            check_output()
            at_ns = now_ns()
            if at_ns - pinged_ns >= _PING_NS:
                pinged_ns = at_ns
                for one in watched:
                    one.client.ping()
            for one in watched:
                one.look(at_ns)
            try:
                text = typed.get(timeout=_TURN_S)
            except queue.Empty:
                continue
            if text == _END or text.strip() == "quit":
                return OK
            _do(text.strip(), watched, next(ids))
    finally:
        for one in watched:
            one.client.close()


def _do(text: str, watched: list[Watched], request_id: int) -> None:
    if text in ("help", "?"):
        say(_(HELP))
        return
    number, _blank, rest = text.partition(" ")
    one: Watched | None = watched[0] if len(watched) == 1 else None
    if number.isdecimal() and 1 <= int(number) <= len(watched):
        one, text = watched[int(number) - 1], rest.strip()
    if text == "state":
        for any_one in [one] if one is not None else watched:
            any_one.state()
        return
    if one is None:
        say(_("Which station? Start with its number: 1 stop"))
        return
    asked = understood(text, one.client.status().snapshot, request_id)
    match asked:
        case Wrong(why=why):
            say(why)
        case StopNow():
            one.stop()
        case _:
            one.client.ask(asked)


def _read(typed: queue.SimpleQueue[str]) -> None:
    """Lines as they are typed; an empty one at the end of all."""
    while text := read_line():
        typed.put(text if text.strip() else "state")
    typed.put(_END)
