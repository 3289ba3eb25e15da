"""A flood of announced names, from a process of its own.

Run: python -m tests.feedback.link.false_names ADDRESS PREFIX COUNT RATE [bare]

``COUNT`` names, ``RATE`` a second, over and over until a line comes in on stdin; ``bare``: pointers
alone, so that each name has to be asked for and nobody answers. Whole ones have addresses of their
own. Packets are made by the library that is used on the other side, and sent by a plain socket.
"""

from __future__ import annotations

import contextlib
import itertools
import select
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from typing import Final

from zeroconf import ServiceInfo
from zeroconf._dns import DNSRecord
from zeroconf._protocol.outgoing import DNSOutgoing
from zeroconf.const import _FLAGS_AA, _FLAGS_QR_RESPONSE

from feedback.link.discovery import SERVICE
from shared.messages import PROTOCOL
from tests.feedback.link.wires import Computer

_GROUP: Final = ("224.0.0.251", 5353)
"""RFC 6762, section 3."""
_AT_ONCE: Final = 10


@contextlib.contextmanager
def flood(
    computer: Computer, prefix: str, count: int, rate: float, *words: str
) -> Iterator[subprocess.Popen[str]]:
    """The flood, from that computer."""
    asked = (computer.address, prefix, str(count), str(rate), *words)
    command = computer.command(sys.executable, "-m", __name__, *asked)
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "up\n"
        yield process
        process.communicate("\n", timeout=20.0)


def packet(numbers: range, prefix: str, *, bare: bool) -> bytes:
    """One announcement of these names."""
    out = DNSOutgoing(_FLAGS_QR_RESPONSE | _FLAGS_AA)
    for number in numbers:
        info = ServiceInfo(
            SERVICE,
            f"false {number}.{SERVICE}",
            port=4001,
            properties={"v": str(PROTOCOL), "fp": prefix},
            server=f"false-{number}.local.",
            parsed_addresses=[f"10.{97 + number // 65536}.{number // 256 % 256}.{number % 256}"],
        )
        records: list[DNSRecord] = [info.dns_pointer()]
        if not bare:
            records += [info.dns_service(), info.dns_text(), *info.dns_addresses()]
        for record in records:
            out.add_answer_at_time(record, 0)
    (data,) = out.packets()
    return data


def main(address: str, prefix: str, count: int, rate: float, *, bare: bool) -> None:
    """Send until a line comes in."""
    sending = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sending.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(address))
    sending.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, 255)
    made = [
        packet(range(first, min(first + _AT_ONCE, count)), prefix, bare=bare)
        for first in range(0, count, _AT_ONCE)
    ]
    sys.stdout.write("up\n")
    sys.stdout.flush()
    began, sent = time.monotonic(), 0
    for data in itertools.cycle(made):
        early_s = began + sent / rate - time.monotonic()
        if select.select([sys.stdin], [], [], max(0.0, early_s))[0]:
            break
        sending.sendto(data, _GROUP)
        sent += _AT_ONCE
    sending.close()


if __name__ == "__main__":
    main(
        sys.argv[1],
        sys.argv[2],
        int(sys.argv[3]),
        float(sys.argv[4]),
        bare=sys.argv[5:] == ["bare"],
    )
