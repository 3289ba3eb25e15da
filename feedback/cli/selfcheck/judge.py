"""What each reading of the computer means for a session, and what to do (pure)."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Final

import msgspec

from shared.language import _, _n

RATES_PER_S: Final = (15, 30, 60)
USUAL_PER_S: Final = 30
"""Of most cameras."""
_SHARE_FOR_POSE: Final = 0.8
"""Of the time between two frames; the rest is for all else that a frame costs (our choice)."""
FEWEST_PER_S: Final = 15
LITTLE_ROOM_MB: Final = 500
"""A session of an hour takes 20 to 60 MB (measured on recorded sessions)."""
TOO_LITTLE_MB: Final = 50
SLOW_DISK_MS: Final = 500.0
"""An urgent line is to be on the disk before a person has looked up (our choice)."""
CLOCK_DRIFT: Final = 0.001
"""Of the time passed; a clock that is being set while it is looked at shows more."""


class Standing(StrEnum):
    """How a part is."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    """A session can be held, with less than all."""
    MISSING = "missing"
    """Not there; only matters to those who want to use it."""
    BROKEN = "broken"
    """No session can be held."""


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """How one part is, in words."""

    part: str
    """One word that stays the same in every language: ``camera``, ``sound`` ..."""
    standing: Standing
    found: str
    do: str = ""
    """What to do; empty where nothing is to be done."""


def camera(found: Sequence[tuple[str, int, int, float]], silent: Sequence[str]) -> Finding:
    """Judge the cameras.

    ``found``: name, width, height and frames a second of each that gave pictures; ``silent``: the
    names of those that gave none.
    """
    if not found:
        busy = (
            _("{names}: no picture came.").format(names=", ".join(silent))
            if silent
            else _("No camera was found.")
        )
        return Finding(
            part="camera",
            standing=Standing.BROKEN,
            found=busy,
            do=_(
                "Plug one in, close other programs that use it, and check that you may use it. A "
                "phone or network camera works too: type its address on the page Camera, or give "
                "--stream ADDRESS to a command."
            ),
        )
    told = "; ".join(
        _("{name}: {width} x {height}, {rate} frames a second").format(
            name=name, width=width, height=height, rate=round(rate)
        )
        for name, width, height, rate in found
    )
    slow = max(rate for *_size, rate in found) < FEWEST_PER_S
    return Finding(
        part="camera",
        standing=Standing.DOUBTFUL if slow else Standing.GOOD,
        found=told,
        do=_("Add light: in the dark a camera slows down.") if slow else "",
    )


def sound(device: str | None, why: str = "") -> Finding:
    """``device``: the output that opened; None with ``why`` where none did."""
    if device is None:
        return Finding(
            part="sound",
            standing=Standing.DOUBTFUL,
            found=why,
            do=_(
                "Plug in a loudspeaker and choose it in the system's settings. Without one, cues "
                "are on the screen only."
            ),
        )
    return Finding(part="sound", standing=Standing.GOOD, found=device)


def display(screens: Sequence[tuple[int, int]], why: str = "") -> Finding:
    """``screens``: width and height of each, in pixels."""
    if not screens:
        return Finding(
            part="display",
            standing=Standing.DOUBTFUL,
            found=_("No window can be opened ({why}).").format(why=why),
            do=_("Log in at a screen. Without one, use the commands with --headless."),
        )
    sizes = ", ".join(f"{width} x {height}" for width, height in screens)
    told = _n("{count} screen: {sizes} pixels", "{count} screens: {sizes} pixels", len(screens))
    return Finding(
        part="display",
        standing=Standing.GOOD,
        found=told.format(count=len(screens), sizes=sizes),
    )


def network(addresses: Sequence[str], can_search: bool) -> Finding:
    """``addresses`` of this computer; ``can_search``: the port of the search could be opened."""
    if not addresses:
        return Finding(
            part="network",
            standing=Standing.MISSING,
            found=_("This computer is on no network."),
            do=_("Nothing to do, unless a console on another computer is to watch."),
        )
    told = ", ".join(addresses)
    if not can_search:
        return Finding(
            part="network",
            standing=Standing.DOUBTFUL,
            found=_("{addresses}; stations cannot be searched for").format(addresses=told),
            do=_("Give consoles the station's address, or let the firewall pass UDP port 5353."),
        )
    found = _("This computer's address on the network: {addresses}").format(addresses=told)
    return Finding(part="network", standing=Standing.GOOD, found=found)


def bluetooth(adapters: Sequence[str], service: bool) -> Finding:
    """``adapters`` by name; ``service``: the system's Bluetooth service answers."""
    if not adapters or not service:
        found = (
            _("There is no Bluetooth adapter.")
            if not adapters
            else _("The system's Bluetooth service does not answer.")
        )
        return Finding(
            part="bluetooth",
            standing=Standing.MISSING,
            found=found,
            do=_(
                "Nothing to do, unless values of a treadmill, heart rate strap or foot pod are "
                "wanted: then plug in a Bluetooth adapter or switch it on in the system's settings."
            ),
        )
    return Finding(part="bluetooth", standing=Standing.GOOD, found=", ".join(adapters))


def clock(drift: float, jumped: str) -> Finding:
    """Judge the clock.

    ``drift``: by how much the wall clock ran off the monotonic one, as a share; ``jumped``: in
    words, where the newest record says that the clock was set.
    """
    if jumped:
        return Finding(
            part="clock",
            standing=Standing.DOUBTFUL,
            found=jumped,
            do=_("Check date and time in the system's settings."),
        )
    if abs(drift) > CLOCK_DRIFT:
        return Finding(
            part="clock",
            standing=Standing.DOUBTFUL,
            found=_("The clock is being set just now."),
            do=_("Wait a minute, then check again."),
        )
    return Finding(part="clock", standing=Standing.GOOD, found=_("It runs evenly."))


def model(frame_ms: float | None, cores: int, why: str = "") -> Finding:
    """``frame_ms``: what a frame takes at most in 95 of 100; None with ``why`` without a model."""
    if frame_ms is None:
        return Finding(
            part="model",
            standing=Standing.BROKEN,
            found=_("The pose model cannot be used ({why}).").format(why=why),
            do=_("Build it with 'beltside model': it is downloaded once."),
        )
    keeps = [rate for rate in RATES_PER_S if frame_ms <= 1000 / rate * _SHARE_FOR_POSE]
    told = _n(
        "{ms} ms a frame on {cores} processor", "{ms} ms a frame on {cores} processors", cores
    ).format(ms=round(frame_ms, 1), cores=cores)
    if not keeps:
        return Finding(
            part="model",
            standing=Standing.BROKEN,
            found=told,
            do=_(
                "Too slow: even {rate} frames a second leave {most} ms for a frame. Close other "
                "programs and plug in the power supply, then check again; or use a faster "
                "computer."
            ).format(rate=RATES_PER_S[0], most=int(1000 / RATES_PER_S[0] * _SHARE_FOR_POSE)),
        )
    enough = _("{told}: fast enough for {rate} frames a second").format(told=told, rate=keeps[-1])
    slow = keeps[-1] < USUAL_PER_S
    return Finding(
        part="model",
        standing=Standing.DOUBTFUL if slow else Standing.GOOD,
        found=enough,
        do=_(
            "A session can be held, with rougher times of contact and toe-off. For {rate} frames a "
            "second a frame may take {most} ms: close other programs, plug in the power supply, or "
            "use a faster computer."
        ).format(rate=USUAL_PER_S, most=int(1000 / USUAL_PER_S * _SHARE_FOR_POSE))
        if slow
        else "",
    )


def disk(free_mb: float, save_ms: float) -> Finding:
    """``free_mb`` where the records lie; ``save_ms``: to write one line so that it is safe."""
    told = _("{free} MB free; a line of a record is safely written within {ms} ms").format(
        free=round(free_mb), ms=max(1, round(save_ms))
    )
    if free_mb < TOO_LITTLE_MB:
        standing, do = Standing.BROKEN, _("Make room on the disk.")
    elif free_mb < LITTLE_ROOM_MB:
        standing, do = Standing.DOUBTFUL, _("Make room on the disk.")
    elif save_ms > SLOW_DISK_MS:
        standing, do = Standing.DOUBTFUL, _("The disk is slow: close programs that use it.")
    else:
        standing, do = Standing.GOOD, ""
    return Finding(part="disk", standing=standing, found=told, do=do)


def folder(path: str, why: str, open_to_others: bool) -> Finding:
    """``why``: what keeps the records' folder from being used; empty where nothing does."""
    if why:
        return Finding(
            part="folder",
            standing=Standing.BROKEN,
            found=_("{path}: {why}").format(path=path, why=why),
            do=_("Sessions are not begun where they cannot be recorded: allow writing there."),
        )
    if open_to_others:
        return Finding(
            part="folder",
            standing=Standing.DOUBTFUL,
            found=_("{path} can be read by other users.").format(path=path),
            do=_("Take the permission away: chmod 700, on that folder."),
        )
    return Finding(
        part="folder", standing=Standing.GOOD, found=_("Kept in {path}").format(path=path)
    )


def exit_status(findings: Sequence[Finding]) -> int:
    """0: a session can be held; 1: something that it needs is broken."""
    return int(any(one.standing is Standing.BROKEN for one in findings))
