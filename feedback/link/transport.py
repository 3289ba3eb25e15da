"""How WebSocket connections are listened to: by the station on its own computer, by the gateway.

What the library would do for anybody who asks is not done before somebody has shown who it is: no
ping is answered, no message is put together from pieces, and nothing is read beyond a quota.
"""

from __future__ import annotations

import logging
import socket
import ssl
from collections.abc import Awaitable, Callable
from typing import Any, Final

from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.exceptions import ProtocolError
from websockets.frames import Frame, Opcode
from websockets.server import ServerProtocol

from feedback.link.protocol import LARGEST_FROM_SCREEN_BYTES
from feedback.link.quota import Quota
from feedback.link.rate_limit import Listening, peer_of
from shared.clock import now_ns

CLOSE_S: Final = 0.5
"""How long a closing waits for the other end."""
HOST: Final = "127.0.0.1"
_OPEN_S: Final = 2.0
_REMOTE_OPEN_S: Final = 5.0
_WRITE_LIMIT_BYTES: Final = 64 * 1024
_REMOTE_WRITE_LIMIT_BYTES: Final = 16 * 1024
_SEND_BUFFER_BYTES: Final = 128 * 1024
"""What has been handed to the operating system cannot be overtaken. Left to itself it takes some
3 MB of a replay, and a slow network then shows every snapshot seconds late."""

# The library reports every failed handshake as an error, with a traceback; nobody needs it here.
quiet = logging.getLogger("beltside.link")
quiet.addHandler(logging.NullHandler())
quiet.propagate = False


class GuardedConnection(ServerConnection):
    """A connection that looks at no more than its quota, and at nothing that we never send.

    Pings, pongs and messages in pieces (RFC 6455, sections 5.4 and 5.5) are the library's to
    answer, however many come; screens and consoles of ours send none.
    """

    def __init__(self, protocol: ServerProtocol, server: Server, **options: Any) -> None:
        super().__init__(protocol, server, **options)
        self.quota = Quota(now_ns())
        self._look_at = protocol.recv_frame
        protocol.recv_frame = self._check  # type: ignore[method-assign]

    def data_received(self, data: bytes) -> None:
        """Called by the event loop."""
        if self.quota.take_bytes(len(data), now_ns()):
            super().data_received(data)
        else:
            self.transport.abort()

    def connection_lost(self, exc: Exception | None) -> None:
        """Called by the event loop."""
        super().connection_lost(exc)
        # Each holds the other: thousands of strangers would wait for the next look for such.
        vars(self.protocol).pop("recv_frame", None)

    def _check(self, frame: Frame) -> None:
        whole = frame.opcode in (Opcode.BINARY, Opcode.TEXT) and frame.fin
        if frame.opcode is not Opcode.CLOSE and not (whole and self.quota.take_frame(now_ns())):
            raise ProtocolError("not how a screen of ours speaks")
        self._look_at(frame)


Talk = Callable[[GuardedConnection], Awaitable[None]]


async def serve_screens(talk: Talk) -> Server:
    """Listen to this computer alone."""
    server = await serve(
        talk,  # type: ignore[arg-type]  # it is given what create_connection makes
        HOST,
        0,
        origins=[None],  # a web page in a browser must not reach the station
        compression=None,
        max_size=LARGEST_FROM_SCREEN_BYTES,
        max_queue=8,
        write_limit=_WRITE_LIMIT_BYTES,
        open_timeout=_OPEN_S,
        close_timeout=CLOSE_S,
        ping_interval=None,  # our own Ping must come from the screen's event loop
        logger=quiet,
        create_connection=GuardedConnection,
    )
    for listening in server.sockets:  # connections have what their listening socket has
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BUFFER_BYTES)
    return server


async def serve_consoles(talk: Talk, listening: Listening, tls: ssl.SSLContext) -> Server:
    """Listen to the network, over TLS."""
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BUFFER_BYTES)
    return await serve(
        talk,  # type: ignore[arg-type]
        sock=listening,
        ssl=tls,
        origins=[None],
        compression=None,
        max_size=LARGEST_FROM_SCREEN_BYTES,
        max_queue=8,
        write_limit=_REMOTE_WRITE_LIMIT_BYTES,
        open_timeout=_REMOTE_OPEN_S,
        close_timeout=CLOSE_S,
        ping_interval=None,
        server_header=None,
        logger=quiet,
        create_connection=GuardedConnection,
    )


def peer(connection: ServerConnection) -> tuple[str, int]:
    """Who is at the other end."""
    return peer_of(connection.remote_address)


def port_of(server: Server) -> int:
    """Where it listens."""
    return int(next(iter(server.sockets)).getsockname()[1])
