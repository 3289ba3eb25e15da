"""Listens to a treadmill, a strap or a foot pod over Bluetooth LE, in a process of its own.

Prints one line of JSON (``shared.sensor_values``) for all that is heard, until stdin ends. It
subscribes to what the devices tell and writes nothing to them: a treadmill is never told anything.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import os
import sys
from collections.abc import Callable
from typing import Final

import msgspec
from bleak import BleakClient, BleakScanner
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice

from live.sensors.packets import (
    MalformedPacketError,
    heart_rate,
    machine_status,
    running_speed_cadence,
    steps_per_min,
    treadmill_data,
)
from shared.clock import now_ns
from shared.sensor_values import (
    BeltReading,
    HeartReading,
    LinkReading,
    MachineReading,
    PodReading,
    SensorKind,
    SensorReading,
)

_FULL: Final = "0000{:04x}-0000-1000-8000-00805f9b34fb"
"""The Bluetooth base UUID with a 16 bit number in it (Bluetooth Core Specification)."""
FITNESS_MACHINE: Final = _FULL.format(0x1826)
TREADMILL_DATA: Final = _FULL.format(0x2ACD)
MACHINE_STATUS: Final = _FULL.format(0x2ADA)
HEART_RATE: Final = _FULL.format(0x180D)
HEART_RATE_MEASUREMENT: Final = _FULL.format(0x2A37)
RUNNING: Final = _FULL.format(0x1814)
RSC_MEASUREMENT: Final = _FULL.format(0x2A53)
SERVICE: Final = {
    SensorKind.TREADMILL: FITNESS_MACHINE,
    SensorKind.HEART_STRAP: HEART_RATE,
    SensorKind.FOOT_POD: RUNNING,
}
ANY: Final = "any"
"""In place of a name: the first device that offers the service."""
_SEARCH_S: Final = 5.0
_AGAIN_S: Final = 2.0


def readings(uuid: str, packet: bytes, at_ns: int) -> tuple[SensorReading, ...]:
    """What one packet of a characteristic says; nothing for one that makes no sense."""
    with contextlib.suppress(MalformedPacketError):
        if uuid == TREADMILL_DATA:
            belt = treadmill_data(packet)
            if belt.speed_kmh is not None or belt.incline_percent is not None:
                return (
                    BeltReading(
                        at_ns=at_ns,
                        speed_kmh=belt.speed_kmh,
                        incline_percent=belt.incline_percent,
                    ),
                )
        if uuid == MACHINE_STATUS:
            return (MachineReading(at_ns=at_ns, state=machine_status(packet).state),)
        if uuid == HEART_RATE_MEASUREMENT:
            beat = heart_rate(packet)
            if beat.usable:
                return (HeartReading(at_ns=at_ns, rate_bpm=beat.rate_bpm),)
        if uuid == RSC_MEASUREMENT:
            pod = running_speed_cadence(packet)
            spm = steps_per_min(pod)
            return (PodReading(at_ns=at_ns, cadence_spm=spm, speed_mps=pod.speed_mps),)
    return ()


CHARACTERISTICS: Final = {
    SensorKind.TREADMILL: (TREADMILL_DATA, MACHINE_STATUS),
    SensorKind.HEART_STRAP: (HEART_RATE_MEASUREMENT,),
    SensorKind.FOOT_POD: (RSC_MEASUREMENT,),
}


async def listen(kind: SensorKind, wanted: str, tell: Callable[[SensorReading], None]) -> None:
    """Reach one device, again and again, and tell what it says. Ends only when cancelled."""
    told: str | None = None
    while True:
        why = "not found"
        try:
            device = await _find(kind, wanted)
            if device is not None:
                await _stay(device, kind, tell)
                why = "connection lost"
        except Exception as error:  # noqa: BLE001 - the system's services fail in ways of their own
            why = f"{type(error).__name__}: {error}"
        if why != told:
            tell(LinkReading(at_ns=now_ns(), sensor=kind, reached=False, why=why))
            told = why
        await asyncio.sleep(_AGAIN_S)


async def _stay(device: BLEDevice, kind: SensorKind, tell: Callable[[SensorReading], None]) -> None:
    """Tell what a device says until it is gone. Raises BleakError."""
    gone = asyncio.Event()
    async with BleakClient(device, lambda _client: gone.set()) as client:
        await _subscribe(client, kind, tell)
        name = device.name or device.address
        tell(LinkReading(at_ns=now_ns(), sensor=kind, reached=True, name=name))
        await gone.wait()


async def _find(kind: SensorKind, wanted: str) -> BLEDevice | None:
    folded = wanted.casefold()

    def fits(device: BLEDevice, seen: object) -> bool:
        named = {str(device.name).casefold(), device.address.casefold()}
        if folded != ANY:
            return folded in named
        return SERVICE[kind] in getattr(seen, "service_uuids", ())

    return await BleakScanner.find_device_by_filter(fits, timeout=_SEARCH_S)


async def _subscribe(
    client: BleakClient, kind: SensorKind, tell: Callable[[SensorReading], None]
) -> None:
    def heard(sender: BleakGATTCharacteristic, packet: bytearray) -> None:
        for reading in readings(sender.uuid, bytes(packet), now_ns()):
            tell(reading)

    for uuid in CHARACTERISTICS[kind]:
        offered = client.services.get_characteristic(uuid)
        if offered is not None:
            await client.start_notify(offered, heard)


def _print(reading: SensorReading) -> None:
    sys.stdout.write(msgspec.json.encode(reading).decode() + "\n")
    sys.stdout.flush()


async def _until_stdin_ends(wanted: dict[SensorKind, str]) -> None:
    tasks = [asyncio.create_task(listen(kind, name, _print)) for kind, name in wanted.items()]
    ended = asyncio.create_task(asyncio.to_thread(sys.stdin.read))
    await asyncio.wait([ended, *tasks], return_when=asyncio.FIRST_COMPLETED)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


def main() -> int:
    """Listen until stdin ends."""
    parser = argparse.ArgumentParser(prog="receiver")
    for kind in SensorKind:
        parser.add_argument(f"--{kind.replace('_', '-')}", metavar="NAME")
    options = vars(parser.parse_args())
    wanted = {kind: options[kind] for kind in SensorKind if options[kind] is not None}
    if hasattr(os, "nice"):
        os.nice(10)
    with contextlib.suppress(KeyboardInterrupt, BrokenPipeError):
        asyncio.run(_until_stdin_ends(wanted))
    return 0


if __name__ == "__main__":
    sys.exit(main())
