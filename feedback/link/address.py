"""Where a station may be called (pure)."""

from __future__ import annotations

from typing import Final, NamedTuple

DEFAULT_PORT: Final = 47820
"""Not assigned to anything by IANA, from memory; any other does as well."""


class Address(NamedTuple):
    """A computer and its port."""

    host: str
    port: int

    def __str__(self) -> str:
        """As it is typed."""
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"


def place_of(text: str) -> Address | None:
    """HOST or HOST:PORT as it is typed; an IPv6 address with a port stands in brackets.

    None where it is neither.
    """
    host, port = text.strip(), ""
    if host.startswith("["):
        host, _, port = host[1:].partition("]")
        port = port.removeprefix(":")
    elif host.count(":") == 1:
        host, _, port = host.partition(":")
    if not host or any(letter.isspace() for letter in host):
        return None
    if not port:
        return Address(host, DEFAULT_PORT)
    if not (port.isascii() and port.isdigit() and len(port) < 6 and 0 < int(port) < 65536):
        return None
    return Address(host, int(port))
