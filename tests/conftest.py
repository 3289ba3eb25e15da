"""Fixtures for all tests."""

from tests.pulse import pulse_server, sound_output, sound_output_to_lose

__all__ = ["pulse_server", "sound_output", "sound_output_to_lose"]
