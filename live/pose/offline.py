"""Keep the pose library from reporting to its maker: nothing leaves the computer unasked.

Its built releases post figures of use (versions, system, when and how long, how many pictures) to
REPORTS_TO, once a minute and whenever a model is closed. Its maker has said that there will be no
switch (issue 6291 of google-ai-edge/mediapipe), and none was found: the reporter is made before
any option is looked at. So the way there is closed: on Linux, where the library reports through a
libcurl inside it, by a proxy that is none, and by trust in nobody; elsewhere see live.pose.library.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Final

import platformdirs
from mediapipe.tasks.python import BaseOptions
from mediapipe.tasks.python.core.base_options_c import MpBaseOptionsC

from live.pose.library import load_without_address
from shared.problems import UserError

REPORTS_TO: Final = "play.googleapis.com"
_HOSTS: Final = Path("/etc/hosts")
_HOSTS_ON_WINDOWS: Final = Path(r"C:\Windows\System32\drivers\etc\hosts")
NOWHERE: Final = "blocked://nowhere"
"""A proxy of a kind that libcurl does not know: it gives up before it asks for a name or opens a
socket. A dead port would do so too, until some program listens there."""


def close_the_way_out(
    platform: str = sys.platform, folder: Path | None = None, hosts: Path | None = None
) -> None:
    """Keep the library from reporting, in this process, before a model is opened.

    ``folder`` is where a copy of the library is kept, ``hosts`` the system's file of hosts, which
    may keep the library silent where no copy can be made. May be called again. Raises UserError
    ``pose_library_reports`` where it would report: no model is opened then.
    """
    if platform == "linux":
        _have_no_proxy()
        return
    why = load_without_address(folder or Path(platformdirs.user_cache_dir("beltside")), platform)
    if why and not _is_nowhere(hosts or (_HOSTS_ON_WINDOWS if platform == "win32" else _HOSTS)):
        raise UserError("pose_library_reports", why=why, host=REPORTS_TO)


def _is_nowhere(hosts: Path) -> bool:
    """Whether the system's own file of hosts sends REPORTS_TO to this computer; asks nobody."""
    try:
        lines = hosts.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return False
    entries = [line.partition("#")[0].split() for line in lines]
    places = [entry[0] for entry in entries if REPORTS_TO in entry[1:]]
    return bool(places) and set(places) <= {"127.0.0.1", "0.0.0.0", "::1", "::"}  # noqa: S104


def _have_no_proxy() -> None:
    """Send every https request that libcurl makes in this process to a proxy that is none.

    Only the C library's environment is changed, not ``os.environ``: a program that is started
    with ``os.environ`` as its environment has the user's own settings. FFmpeg, which reads network
    cameras, looks at ``http_proxy`` and ``no_proxy`` alone and finds there what it found before.
    Sources: libcurl-env(3), where the name in small letters goes before the other and before
    ``all_proxy``; FFmpeg's libavformat/http.c.

    To be called before the library's threads begin, since they read what is changed here.
    """
    os.putenv("https_proxy", NOWHERE)
    for name in ("no_proxy", "NO_PROXY"):
        given = os.environ.get(name)
        if given is None:
            continue
        entries = given.replace(",", " ").split()
        kept = [entry for entry in entries if not _goes_past_the_proxy(entry)]
        if kept:
            os.putenv(name, ",".join(kept))
        else:
            os.unsetenv(name)
        if name == "no_proxy" and "*" in entries:
            os.unsetenv("http_proxy")  # says the same to FFmpeg: no proxy for anything


def _goes_past_the_proxy(entry: str) -> bool:
    """Whether this entry of ``no_proxy`` lets requests to REPORTS_TO go without a proxy."""
    domain = entry.strip(".").lower()
    return entry == "*" or f".{REPORTS_TO}".endswith(f".{domain}")


class TrustNobody(BaseOptions):  # type: ignore[misc]  # the library tells no types
    """The library's options, with no authority to know a server by.

    Should a request find a way out all the same, it ends before a byte of the report is sent.
    """

    def to_ctypes(self) -> MpBaseOptionsC:
        """The options as the library's C interface takes them."""
        options = super().to_ctypes()
        options.ca_bundle_path = os.fsencode(os.devnull)
        return options
