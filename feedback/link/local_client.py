"""A screen's end of the link: a thread that listens, and calls that send at once."""

from __future__ import annotations

import contextlib
import logging
import threading
from collections.abc import Callable
from typing import Final

from websockets.exceptions import ConnectionClosed, WebSocketException
from websockets.sync.client import ClientConnection, connect

from feedback.link.client_inbox import ClientInbox
from feedback.link.client_state import LinkState, LinkStatus, ScreenSide
from shared.clock import now_ns
from shared.messages import LARGEST_MESSAGE_BYTES, Request

_HOST: Final = "127.0.0.1"
_OPEN_S: Final = 5.0

_quiet = logging.getLogger("beltside.link")
_quiet.addHandler(logging.NullHandler())
_quiet.propagate = False


class LinkClient(ClientInbox):
    """Joins the station at ``port`` as a screen of ``role``.

    ``on_news`` is called in the link's own thread after each change of :meth:`status`; it must
    return at once. :meth:`stop` and :meth:`ping` may be called from any thread.
    """

    def __init__(
        self, port: int, token: str, role: str, on_news: Callable[[], None] = lambda: None
    ) -> None:
        self._port = port
        self._on_news = on_news
        super().__init__(ScreenSide(token, role))
        self._connection: ClientConnection | None = None
        self._heard_ns: int | None = None
        self._stop_asked_ns: int | None = None
        self._stop_sent = False
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="link", daemon=True)

    def start(self) -> None:
        """Begin to join; the outcome is told by :meth:`status`."""
        self._thread.start()

    def status(self) -> LinkStatus:
        """What is known now."""
        with self._lock:
            return LinkStatus(
                state=self._side.state,
                why=self._side.why,
                snapshot=self._side.newest,
                briefing=self._side.briefing,
                picture=self._side.picture,
                report=self._side.report,
                heard_ns=self._heard_ns,
                stop_asked=self._stop_asked_ns is not None,
            )

    def stop(self) -> None:
        """Ask for Stop, now; if the link is not up yet, as soon as it is."""
        with self._lock:
            if self._stop_asked_ns is None:
                self._stop_asked_ns = now_ns()
            else:
                self._stop_sent = False  # asked again: send again
        self._send_stop()

    def ask(self, request: Request) -> None:
        """Ask for something beside Stop; without a link it is lost, and can be asked again."""
        self._send(ScreenSide.ask(request))

    def ping(self) -> None:
        """Give a sign of life; call it from the event loop that must be alive."""
        self._send(ScreenSide.ping(now_ns()))

    def close(self) -> None:
        """Leave the station; returns within about 1 s."""
        with self._lock:
            self._closing = True
            connection = self._connection
        if connection is not None:
            connection.close()
        if self._thread.ident is not None:
            self._thread.join(timeout=2.0)

    def _send(self, data: bytes) -> None:
        with self._lock:
            connection = self._connection if self._side.state is LinkState.JOINED else None
        if connection is not None:
            with contextlib.suppress(ConnectionClosed, OSError):
                connection.send(data)

    def _send_stop(self) -> None:
        with self._lock:
            ready = self._connection is not None and self._side.state is LinkState.JOINED
            if not ready or self._stop_sent or self._stop_asked_ns is None:
                return
            self._stop_sent = True
            connection, asked_ns = self._connection, self._stop_asked_ns
        assert connection is not None  # noqa: S101 - told to the type checker by ``ready``
        with contextlib.suppress(ConnectionClosed, OSError):
            connection.send(ScreenSide.stop(asked_ns))

    def _run(self) -> None:
        why = "the station closed the link"
        try:
            with connect(
                f"ws://{_HOST}:{self._port}",
                open_timeout=_OPEN_S,
                close_timeout=0.5,
                ping_interval=None,
                compression=None,
                proxy=None,  # loopback never goes through a proxy
                max_size=LARGEST_MESSAGE_BYTES,
                max_queue=4,
                logger=_quiet,
            ) as connection:
                with self._lock:
                    self._connection = connection
                    closing = self._closing
                if not closing:
                    self._listen(connection)
        except (OSError, TimeoutError, WebSocketException) as error:
            why = str(error)
        except Exception as error:  # noqa: BLE001 - the guard of this thread
            why = f"{type(error).__name__}: {error}"
        with self._lock:
            self._side.on_lost(why)
            self._connection = None
        self._on_news()

    def _listen(self, connection: ClientConnection) -> None:
        connection.send(self._side.hello())
        for data in connection:
            with self._lock:
                self._side.on_bytes(data)
                self._heard_ns = now_ns()
                state = self._side.state
            if state is LinkState.JOINED:
                self._send_stop()
            self._on_news()
            if state is not LinkState.JOINED:
                return
