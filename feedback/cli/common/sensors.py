"""The treadmill and the straps that a command was told to listen to."""

from __future__ import annotations

import argparse

from shared.sensor_values import SensorKind


def wanted_sensors(options: argparse.Namespace) -> dict[SensorKind, str]:
    """Their names, by kind; empty where none was asked for."""
    named = {kind: getattr(options, kind.value) for kind in SensorKind}
    return {kind: name for kind, name in named.items() if name is not None}
