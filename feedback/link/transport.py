"""How the station's end listens: to screens on its own computer, and to the network."""

from __future__ import annotations

import logging
import socket
import ssl
from collections.abc import Awaitable, Callable
from typing import Final

from websockets.asyncio.server import Server, ServerConnection, serve

from feedback.link.conversation import LARGEST_FROM_SCREEN_BYTES

CLOSE_S: Final = 0.5
"""How long a closing waits for the other end."""
_HOST: Final = "127.0.0.1"
_OPEN_S: Final = 2.0
_REMOTE_OPEN_S: Final = 5.0
_WRITE_LIMIT_BYTES: Final = 64 * 1024
_SEND_BUFFER_BYTES: Final = 128 * 1024
"""What has been handed to the operating system cannot be overtaken. Left to itself it takes some
3 MB of a replay, and a slow network then shows every snapshot seconds late."""

# The library reports every failed handshake as an error, with a traceback; nobody needs it here.
quiet = logging.getLogger("beltside.link")
quiet.addHandler(logging.NullHandler())
quiet.propagate = False

Talk = Callable[[ServerConnection], Awaitable[None]]


async def serve_screens(talk: Talk) -> Server:
    """Listen to this computer alone."""
    server = await serve(
        talk,
        _HOST,
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
    )
    for listening in server.sockets:  # connections have what their listening socket has
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BUFFER_BYTES)
    return server


async def serve_consoles(talk: Talk, listening: socket.socket, tls: ssl.SSLContext) -> Server:
    """Listen to the network, over TLS."""
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BUFFER_BYTES)
    return await serve(
        talk,
        sock=listening,
        ssl=tls,
        origins=[None],
        compression=None,
        max_size=LARGEST_FROM_SCREEN_BYTES,
        max_queue=8,
        write_limit=_WRITE_LIMIT_BYTES,
        open_timeout=_REMOTE_OPEN_S,
        close_timeout=CLOSE_S,
        ping_interval=None,
        server_header=None,
        logger=quiet,
    )


def port_of(server: Server) -> int:
    """Where it listens."""
    return int(next(iter(server.sockets)).getsockname()[1])
