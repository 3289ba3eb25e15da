"""Keep what native libraries print away from the user's terminal."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

STDERR: Final = 2
_one_at_a_time = threading.RLock()


@contextmanager
def quiet_stderr() -> Iterator[None]:
    """Throw away everything written to file descriptor 2 in the meantime, by any thread.

    Native code writes there past Python, so only the descriptor itself can be turned away. For
    short spans only: our own messages would be lost too.
    """
    with _one_at_a_time:
        try:
            kept = os.dup(STDERR)
        except OSError:  # a program without a terminal may have none
            yield
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, STDERR)
        os.close(nowhere)
        try:
            yield
        finally:
            os.dup2(kept, STDERR)
            os.close(kept)
