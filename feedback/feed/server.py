"""The feed's process: takes lines on its stdin and hands them to programs that may read them.

It is a process of its own, so that no reader, however slow or many, costs the station anything. It
listens on 127.0.0.1 alone, lets in who knows the session's token, and reads nothing that a program
sends: the feed has no way in.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import hmac
import os
import secrets
import sys
from http import HTTPStatus
from typing import Final

from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.http11 import Request, Response

from feedback.feed.lines import BeginLine, FeedLine, LostLine, decoded, encoded
from feedback.feed.lsl import Outlets
from feedback.feed.meeting import Meeting, put_down

HOST: Final = "127.0.0.1"
MOST_READERS: Final = 8
MOST_WAITING: Final = 2000
"""Lines that one slow reader may be behind; about half a minute of all but landmarks."""
_LARGEST_IN: Final = 1024
_POLICY: Final = 1008
_SEND_WITHIN_S: Final = 2.0


class _Reader:
    """One program that reads: the lines that it has not been sent yet."""

    def __init__(self) -> None:
        self._lines: asyncio.Queue[bytes | None] = asyncio.Queue()
        self._lost = 0

    def offer(self, line: bytes) -> None:
        if self._lines.qsize() >= MOST_WAITING:
            self._lost += 1
            return
        if self._lost:
            self._lines.put_nowait(encoded(LostLine(count=self._lost)))
            self._lost = 0
        self._lines.put_nowait(line)

    def end(self) -> None:
        self._lines.put_nowait(None)

    async def send_to(self, connection: ServerConnection) -> None:
        while (line := await self._lines.get()) is not None:
            async with asyncio.timeout(_SEND_WITHIN_S * 15):
                await connection.send(line.decode())


class FeedServer:
    """Those who read, and what they are told first."""

    def __init__(self, begin: BeginLine, token: str) -> None:
        self._begin = encoded(begin)
        self._expected = f"Bearer {token}".encode()
        self._readers: set[_Reader] = set()

    def hand_out(self, line: bytes) -> None:
        """Give a line to all who read."""
        for reader in self._readers:
            reader.offer(line)

    def end(self) -> None:
        """All that was handed out is sent, then the connections close."""
        for reader in self._readers:
            reader.end()

    def check(self, connection: ServerConnection, request: Request) -> Response | None:
        """Refuse who has no token, a page of a browser, and one too many."""
        said = request.headers.get("Authorization", "").encode()
        if not hmac.compare_digest(said, self._expected) or "Origin" in request.headers:
            return connection.respond(HTTPStatus.UNAUTHORIZED, "A token is needed.\n")
        if len(self._readers) >= MOST_READERS:
            return connection.respond(HTTPStatus.SERVICE_UNAVAILABLE, "Too many readers.\n")
        return None

    async def serve_one(self, connection: ServerConnection) -> None:
        """Send to one reader until either end is done; who sends anything is let go."""
        reader = _Reader()
        reader.offer(self._begin)
        self._readers.add(reader)
        sending = asyncio.create_task(reader.send_to(connection))
        hearing = asyncio.create_task(connection.recv())
        try:
            await asyncio.wait((sending, hearing), return_when=asyncio.FIRST_COMPLETED)
            if hearing.done() and hearing.exception() is None:
                await connection.close(_POLICY, "read only")
        finally:
            self._readers.discard(reader)
            for task in (sending, hearing):
                task.cancel()
                with contextlib.suppress(asyncio.CancelledError, Exception):
                    await task


async def _next_line() -> bytes:
    """The next line from the station; empty at the end.

    In a thread: not every system can wait for a pipe together with sockets.
    """
    return await asyncio.to_thread(sys.stdin.buffer.readline)


async def _run(outlets: Outlets | None) -> None:
    first = await _next_line()
    begin = decoded(first) if first else None
    if not isinstance(begin, BeginLine):
        return
    token = secrets.token_urlsafe(32)
    server = FeedServer(begin, token)
    async with serve(
        server.serve_one,
        HOST,
        0,
        process_request=server.check,
        max_size=_LARGEST_IN,
        compression=None,
    ) as listening:
        meeting = put_down(Meeting(run=begin.run, port=_port(listening), token=token))
        try:
            while line := await _next_line():
                server.hand_out(line.rstrip(b"\n"))
                if outlets is not None:
                    _tell(outlets, decoded(line))
            server.end()
            await asyncio.sleep(0)
        finally:
            meeting.unlink(missing_ok=True)


def _tell(outlets: Outlets, line: FeedLine) -> None:
    # The lab's library has no way to say what failed that would be worth ending the feed for.
    with contextlib.suppress(OSError, RuntimeError):
        outlets.push(line)


def _port(server: Server) -> int:
    return int(next(iter(server.sockets)).getsockname()[1])


def main() -> int:
    """Serve until stdin ends."""
    parser = argparse.ArgumentParser(prog="feed")
    parser.add_argument("--lsl", action="store_true")
    parser.add_argument("--run", required=True)
    parser.add_argument("--landmarks", action="store_true")
    options = parser.parse_args()
    os.nice(10)
    outlets = Outlets(options.run, landmarks=options.landmarks) if options.lsl else None
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_run(outlets))
    return 0


if __name__ == "__main__":
    sys.exit(main())
