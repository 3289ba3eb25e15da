"""The volume asked for by a clinician, as it is heard from a real station's real sound output."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from feedback.link.local_client import LinkClient
from feedback.sound.speaker import Speaker
from shared.changes import Answered, SetVolume
from shared.clock import now_ns
from shared.flow import Cue, CueKind, View
from shared.messages import Role, StopReason
from tests.feedback import station_bench
from tests.feedback.station_bench import FRAMES_PER_S, RUNNER, Bench, wait_until
from tests.live.virtual_runner import take
from tests.pulse import PulseServer

pytestmark = pytest.mark.sound

SOFTER_PERCENT = 20


class AtOnce(Speaker):
    """Has no soft beginning, which is another reason why what comes later is not as loud."""

    def begin_softly(self) -> None:
        pass


def a_cue() -> Cue:
    """One that is no alert, and long enough to be measured."""
    at_ns = now_ns()
    return Cue(
        kind=CueKind.OUT_OF_BAND, measure="cadence", side=None, sound="out_low", words="",
        step_number=1, captured_ns=at_ns, decided_ns=at_ns,
    )  # fmt: skip


def test_what_sounds_after_it_was_turned_down_is_softer_and_every_screen_is_told(
    tmp_path: Path, sound_output: PulseServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    # one second again and again: nobody looks at how it is run here
    poses = 60 * take(RUNNER, View.SIDE, 1.0, FRAMES_PER_S).poses
    monkeypatch.setattr(station_bench, "run_of_poses", lambda: poses)
    speaker = AtOnce()
    speaker.open()
    bench = Bench(tmp_path, speaker=speaker)
    server = bench.station._link
    port = server.start()
    clients = [
        LinkClient(port, server.issue_token("panel"), role) for role in (Role.PANEL, Role.PANEL)
    ]
    panel = clients[0]
    answers: list[Answered] = []
    asked_ns: list[int] = []

    def wait(true: Callable[[], bool]) -> None:
        pinged_ns = 0

        def look() -> bool:
            nonlocal pinged_ns
            if now_ns() - pinged_ns > 300_000_000:  # without signs of life a screen is let go
                pinged_ns = now_ns()
                for client in clients:
                    client.ping()
            return true()

        wait_until(look)

    def cue_is_played() -> None:
        until_ns = now_ns() + 700_000_000
        speaker.play(a_cue())
        wait(lambda: now_ns() > until_ns)

    def answered() -> bool:
        answers.extend(panel.take_answers())
        return bool(answers)

    def turn_it_down() -> None:
        for client in clients:
            client.start()
        try:
            wait(lambda: _percent(panel) == 100)
            cue_is_played()
            asked_ns.append(now_ns())
            panel.ask(SetVolume(id=5, percent=SOFTER_PERCENT))
            wait(answered)
            for client in clients:
                wait(lambda c=client: _percent(c) == SOFTER_PERCENT)  # type: ignore[misc]
            cue_is_played()
        finally:
            asked_ns.append(now_ns())
            bench.station._stop(StopReason.QUIT, "the test")

    with sound_output.recorder() as recorder:
        bench.run(turn_it_down)
        heard = recorder.finish()
    for client in clients:
        client.close()
    assert answers == [Answered(id=5, done=True)]
    turned, over = (heard.frame_at(at_ns) for at_ns in asked_ns)
    before = float(np.max(np.abs(heard.samples[:turned])))
    after = float(np.max(np.abs(heard.samples[turned:over])))
    assert before > 0.02, "the first cue is heard"
    assert 0.5 < after / before / (SOFTER_PERCENT / 100) < 1.5, (before, after)


def _percent(client: LinkClient) -> int | None:
    snapshot = client.status().snapshot
    return None if snapshot is None else snapshot.volume_percent
