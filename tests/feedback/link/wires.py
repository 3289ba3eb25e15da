"""Two computers on one cable, as network namespaces: the cable can be lossy, slow, or cut."""

from __future__ import annotations

import contextlib
import ctypes
import fcntl
import heapq
import itertools
import os
import random
import select
import shutil
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

_NEW_NETWORK: Final = 0x40000000
"""CLONE_NEWNET of setns(2)."""
_SET_INTERFACE: Final = 0x400454CA
_TAP: Final = 0x0002
_NO_HEADER: Final = 0x1000
"""TUNSETIFF, IFF_TAP and IFF_NO_PI of linux/if_tun.h."""
_numbers = itertools.count()


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, capture_output=True, text=True, check=True, timeout=20)


class Computer:
    """One end of the cable."""

    def __init__(self, name: str, address: str) -> None:
        self.name = name
        self.address = address

    @contextlib.contextmanager
    def entered(self) -> Iterator[None]:
        """Sockets made here, and threads begun here, are in that computer."""
        before = os.open("/proc/thread-self/ns/net", os.O_RDONLY)
        inside = os.open(f"/run/netns/{self.name}", os.O_RDONLY)
        try:
            _enter(inside)
            yield
        finally:
            _enter(before)
            os.close(inside)
            os.close(before)

    def command(self, *words: str) -> list[str]:
        """A command that runs there."""
        return ["ip", "netns", "exec", self.name, *words]


class Wire:
    """The cable, with a computer at each end.

    Every Ethernet frame passes through here, from one TAP device to the other, so that it can be
    lost or held up; the kernel's own netem is not in every kernel.
    """

    def __init__(self, seed: int = 1) -> None:
        mark = f"bs{os.getpid() % 100_000}x{next(_numbers)}"
        self.station = Computer(f"{mark}s", "10.97.0.1")
        self.console = Computer(f"{mark}c", "10.97.0.2")
        self._random = random.Random(seed)
        self._loss = self._delay_s = self._jitter_s = 0.0
        self._whole = True
        self._over = False
        self._ends: list[int] = []
        for end in (self.station, self.console):
            run("ip", "netns", "add", end.name)
            with end.entered():
                self._ends.append(_tap(end.name))
            _configure(end)
        self._thread = threading.Thread(target=self._carry, daemon=True)
        self._thread.start()

    def disturb(self, *, loss: float = 0.0, delay_s: float = 0.0, jitter_s: float = 0.0) -> None:
        """Lose this share of the frames, and hold each up, in both directions."""
        self._loss, self._delay_s, self._jitter_s = loss, delay_s, jitter_s

    def cut(self) -> None:
        """Nothing gets through any more, and nobody is told."""
        self._whole = False

    def mend(self) -> None:
        self._whole = True

    def remove(self) -> None:
        self._over = True
        self._thread.join()
        for end in self._ends:
            os.close(end)
        for computer in (self.station, self.console):
            run("ip", "netns", "delete", computer.name)

    def _carry(self) -> None:
        other = dict(zip(self._ends, reversed(self._ends), strict=True))
        waiting: list[tuple[float, int, int, bytes]] = []
        numbers = itertools.count()
        while not self._over:
            until_s = 0.02 if not waiting else max(0.0, waiting[0][0] - time.monotonic())
            for end in select.select(self._ends, [], [], min(0.02, until_s))[0]:
                frame = os.read(end, 65536)
                if not self._whole or self._random.random() < self._loss:
                    continue
                late_s = self._delay_s + self._jitter_s * self._random.random()
                due = time.monotonic() + late_s
                heapq.heappush(waiting, (due, next(numbers), other[end], frame))
            while waiting and waiting[0][0] <= time.monotonic():
                _, _, end, frame = heapq.heappop(waiting)
                with contextlib.suppress(OSError):  # the other end is being taken down
                    os.write(end, frame)


class DirectWire:
    """As Wire, but the kernel's own pair of devices: nothing is in between, and nothing is lost."""

    def __init__(self) -> None:
        mark = f"bs{os.getpid() % 100_000}d{next(_numbers)}"
        self.station = Computer(f"{mark}s", "10.97.0.1")
        self.console = Computer(f"{mark}c", "10.97.0.2")
        ends = (self.station, self.console)
        for end in ends:
            run("ip", "netns", "add", end.name)
        pair = ["type", "veth", "peer", "name", self.console.name, "netns", self.console.name]
        run("ip", "link", "add", self.station.name, "netns", self.station.name, *pair)
        for end in ends:
            _configure(end)

    def remove(self) -> None:
        for end in (self.station, self.console):
            run("ip", "netns", "delete", end.name)


def _configure(end: Computer) -> None:
    run("ip", "-n", end.name, "address", "add", f"{end.address}/24", "dev", end.name)
    run("ip", "-n", end.name, "link", "set", "lo", "up")
    run("ip", "-n", end.name, "link", "set", end.name, "up")
    # What is sent to many goes out by the cable too.
    run("ip", "-n", end.name, "route", "add", "default", "dev", end.name)


def _tap(name: str) -> int:
    """A TAP device of this name in the present namespace; whole Ethernet frames, no header."""
    device = os.open("/dev/net/tun", os.O_RDWR)
    request = struct.pack("16sH22x", name.encode(), _TAP | _NO_HEADER)
    fcntl.ioctl(device, _SET_INTERFACE, request)
    return device


def why_not(kind: type[Wire | DirectWire] = Wire) -> str:
    """Why namespaces joined like this cannot be used here; empty where they can."""
    if sys.platform != "linux":
        return "network namespaces are Linux's"
    if shutil.which("ip") is None:
        return "ip is not installed (Debian: iproute2)"
    try:
        kind().remove()
    except (subprocess.SubprocessError, OSError) as error:
        return f"network namespaces may not be made here ({error})"
    return ""


@pytest.fixture
def wire() -> Iterator[Wire]:
    """A cable that is in order; the test is skipped where there can be none."""
    if why := why_not():
        pytest.skip(why)
    built = Wire()
    yield built
    built.remove()


def _enter(namespace: int) -> None:
    library = ctypes.CDLL(None, use_errno=True)
    if library.setns(namespace, _NEW_NETWORK):
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number))


@contextlib.contextmanager
def browser_daemon(computer: Computer, folder: Path) -> Iterator[dict[str, str]]:
    """An mDNS daemon of another maker on this computer; gives the environment to ask it in."""
    bus = folder / "bus"
    config = folder / "bus.conf"
    config.write_text(
        f"""<busconfig><type>system</type><listen>unix:path={bus}</listen><auth>EXTERNAL</auth>
<policy context="default"><allow user="*"/><allow own="*"/><allow send_type="method_call"/>
<allow send_type="signal"/><allow receive_type="method_call"/><allow receive_type="signal"/>
<allow send_requested_reply="true"/><allow receive_requested_reply="true"/></policy>
</busconfig>""",
        encoding="utf-8",
    )
    avahi = folder / "avahi.conf"
    avahi.write_text(
        "[server]\nhost-name=onlooker\nuse-ipv6=no\n[publish]\ndisable-publishing=yes\n",
        encoding="utf-8",
    )
    environment = {**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={bus}"}
    # Its files lie at fixed places: a folder of its own is put over them, for it alone.
    Path("/run/avahi-daemon").mkdir(exist_ok=True)
    start = "mount -t tmpfs none /run/avahi-daemon && exec avahi-daemon --no-drop-root " + (
        f"--no-chroot --no-rlimits --file={avahi}"
    )
    with contextlib.ExitStack() as started:
        for command in (
            ["dbus-daemon", f"--config-file={config}", "--nofork", "--nopidfile"],
            computer.command("sh", "-c", start),
        ):
            log = started.enter_context((folder / f"{command[0]}.log").open("wb"))
            process = started.enter_context(
                subprocess.Popen(command, env=environment, stdout=log, stderr=log)
            )
            started.callback(process.terminate)
            if command[0] == "dbus-daemon":
                while not bus.exists():
                    assert process.poll() is None, "the message bus did not start"
        yield environment
