"""What the source of the pictures means for a session: a living runner, a video, a drawn runner."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedback.cli.common import hold_session as holding
from feedback.cli.common.hold_session import Plot, hold, is_drawn, is_recorded
from feedback.cli.main import build_parser
from feedback.training.goals import as_athlete
from shared.flow import View
from shared.targets import Athlete, Prescription
from tests.feedback.training.making import drill, prescription


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


class _OrderedError(Exception):
    """What would be held is known; nothing is held."""


def test_the_baseline_is_looked_for_once_and_screens_compare_with_that_alone(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    looked: list[Prescription | None] = []

    def known(_athlete: Athlete, _view: View, given: Prescription | None = None) -> None:
        looked.append(given)

    def order(**fields: object) -> None:
        raise _OrderedError(fields["baseline"])

    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setattr(holding, "known_baseline", known)
    monkeypatch.setattr(holding, "StationSetup", order)
    monkeypatch.setattr(holding, "PoseModel", lambda _: None)
    monkeypatch.setattr(holding, "model_path", lambda _: tmp_path)
    given = prescription(drill(), None)
    who = as_athlete(given)
    plot = Plot(athlete=who, view=given.view, course=None, speech=frozenset(), prescription=given)
    words = ["session", "heron.toml", "--clip", "side", "--headless", "--no-sound"]
    with pytest.raises(_OrderedError) as caught:
        hold(build_parser().parse_args(words), plot)
    assert caught.value.args == (None,)
    assert looked == [given]
