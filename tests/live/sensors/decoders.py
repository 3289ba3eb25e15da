"""Our decoders beside two others that nobody here has written, as the table of the README.

``python -m tests.live.sensors.decoders`` prints it. pyftms says that it is for Python 3.11,
but its client is written in the grammar of 3.12: its models alone are loaded, which need nothing of
that but a mark for type checkers.
"""

from __future__ import annotations

import functools
import importlib
import importlib.util
import io
import sys
import typing
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any, Final, NamedTuple

from bluetooth_sig import BluetoothSIGTranslator

from live.sensors import packets

NOTHING: Final = "not read"


class Row(NamedTuple):
    """One field of one packet, by all who read it."""

    packet: str
    field: str
    ours: object
    first: object
    """bluetooth-sig."""
    second: object
    """pyftms, which reads treadmills alone."""
    vector: object
    """Worked out by hand from the layout of the fields in the specification."""


class _Packet(NamedTuple):
    uuid: str
    written: str
    read: Callable[[bytes], Any]
    fields: tuple[tuple[str, str, str, object], ...]
    """Our field, bluetooth-sig's, pyftms's and the value by hand."""


PACKETS: Final = (
    _Packet(
        "2ACD",
        "0000 3804",
        packets.treadmill_data,
        (("speed_kmh", "instantaneous_speed", "speed_instant", 10.8),),
    ),
    _Packet(
        "2ACD",
        "0c05 3804 d20400 0f00 0900 98 5802",
        packets.treadmill_data,
        (
            ("speed_kmh", "instantaneous_speed", "speed_instant", 10.8),
            ("total_distance_m", "total_distance", "distance_total", 1234),
            ("incline_percent", "inclination", "inclination.inclination", 1.5),
            ("ramp_deg", "ramp_angle_setting", "inclination.ramp_angle", 0.9),
            ("heart_rate_bpm", "heart_rate", "heart_rate", 152),
            ("elapsed_s", "elapsed_time", "time_elapsed", 600),
        ),
    ),
    _Packet(
        "2ADA",
        "05 3804",
        packets.machine_status,
        (("target_kmh", "", "target_speed", 10.8),),
    ),
    _Packet(
        "2ADA",
        "06 f1ff",
        packets.machine_status,
        (("target_incline_percent", "", "target_inclination", -1.5),),
    ),
    _Packet(
        "2A37",
        "16 48 5503",
        packets.heart_rate,
        (
            ("rate_bpm", "heart_rate", "", 72),
            ("beat_intervals_s.0", "rr_intervals.0", "", 0.83301),
        ),
    ),
    _Packet(
        "2A53",
        "07 0003 aa d400 39300000",
        packets.running_speed_cadence,
        (
            ("speed_mps", "instantaneous_speed", "", 3.0),
            ("cadence_per_min", "instantaneous_cadence", "", 170),
            ("stride_length_m", "instantaneous_stride_length", "", 2.12),
            ("total_distance_m", "total_distance", "", 1234.5),
        ),
    ),
)


@functools.cache
def pyftms_models() -> tuple[Any, Any]:
    """The readers of treadmill data and machine status; ImportError without the package."""
    spec = importlib.util.find_spec("pyftms")
    if spec is None or spec.submodule_search_locations is None:
        raise ImportError("pyftms is not installed")
    root = Path(spec.submodule_search_locations[0])
    lent = not hasattr(typing, "override")
    if lent:
        typing.override = lambda function: function  # type: ignore[attr-defined]
    try:
        for name in ("pyftms", "pyftms.models", "pyftms.models.realtime_data"):
            package = ModuleType(name)
            package.__path__ = [str(root.joinpath(*name.split(".")[1:]))]
            sys.modules.setdefault(name, package)
        treadmill = importlib.import_module("pyftms.models.realtime_data.treadmill")
        status = importlib.import_module("pyftms.models.machine_status")
    finally:
        if lent:
            del typing.override  # type: ignore[attr-defined]
    return treadmill.TreadmillData, status.MachineStatusModel


def table() -> Iterator[Row]:
    """Every field of every packet. Raises ImportError without pyftms."""
    sig = BluetoothSIGTranslator()
    second = dict(zip(("2ACD", "2ADA"), pyftms_models(), strict=True))
    for one in PACKETS:
        packet = bytes.fromhex(one.written)
        ours, theirs = one.read(packet), sig.parse_characteristic(one.uuid, packet)
        model = second.get(one.uuid)
        others = None if model is None else model._deserialize(io.BytesIO(packet))
        for own, named, their, vector in one.fields:
            yield Row(
                f"0x{one.uuid} `{one.written}`",
                own,
                _get(ours, own),
                _get(theirs, named),
                _get(others, their),
                vector,
            )


def _get(value: Any, path: str) -> Any:
    if value is None or not path:
        return NOTHING
    for part in path.split("."):
        value = value[int(part)] if part.isdigit() else getattr(value, part)
    return value


def markdown() -> str:
    """The table, as the README has it."""
    lines = [
        "| packet | field | ours | bluetooth-sig | pyftms | by the specification |",
        "|---|---|---|---|---|---|",
    ]
    for row in table():
        values = (_shown(value) for value in row[2:])
        lines.append(f"| {row.packet} | {row.field} | {' | '.join(values)} |")
    return "\n".join(lines)


def _shown(value: object) -> str:
    return f"{value:.5g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    print(markdown())
