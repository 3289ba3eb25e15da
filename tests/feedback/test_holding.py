"""What the source of the pictures means for a session: a living runner, a video, a drawn runner."""

from __future__ import annotations

import pytest

from feedback.cli import build_parser
from feedback.commands.holding import is_drawn, is_recorded


@pytest.mark.parametrize("command", [["run"], ["session", "heron.toml"], ["baseline"]])
@pytest.mark.parametrize(
    ("source", "recorded", "drawn"),
    [
        (["--camera", "1"], False, False),
        (["--file", "somebody.mp4"], True, False),
        (["--clip", "side"], True, True),
    ],
)
def test_a_video_has_nobody_on_a_belt_and_only_the_bundled_clip_shows_nobody(
    command: list[str], source: list[str], recorded: bool, drawn: bool
) -> None:
    athlete = [] if command[0] == "session" else ["--athlete", "heron"]
    options = build_parser().parse_args([*command, *athlete, *source])
    assert is_recorded(options) is recorded
    assert is_drawn(options) is drawn
