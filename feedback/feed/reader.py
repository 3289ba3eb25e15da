"""Reads the feed of a session on this computer, as ``beltside tail`` does."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect

from feedback.feed.meeting import Meeting, newest_first
from feedback.feed.server import HOST
from shared.problems import UserError


def join(run: str = "") -> ClientConnection:
    """Join the newest feed, or that of ``run``. Raises UserError ``feed_missing``.

    Files that a killed station has left are passed over and taken away.
    """
    for path, meeting in newest_first():
        if run and meeting.run != run:
            continue
        try:
            return _connected(meeting)
        except ConnectionRefusedError:
            path.unlink(missing_ok=True)
        except (OSError, InvalidStatus, TimeoutError):
            continue
    raise UserError("feed_missing")


def lines_of(connection: ClientConnection) -> Iterator[str]:
    """Each line as it comes, until the session ends."""
    with contextlib.suppress(ConnectionClosed), connection:
        for line in connection:
            yield line if isinstance(line, str) else line.decode()


def _connected(meeting: Meeting) -> ClientConnection:
    return connect(
        f"ws://{HOST}:{meeting.port}/",
        additional_headers={"Authorization": f"Bearer {meeting.token}"},
        open_timeout=5,
        close_timeout=1,
        compression=None,
        proxy=None,
    )
