"""What each reading of the computer means for a session."""

from __future__ import annotations

import pytest

from feedback.cli.selfcheck import judge
from feedback.cli.selfcheck.judge import Finding, Standing, exit_status


@pytest.mark.parametrize(
    ("frame_ms", "standing", "says"),
    [
        (10.0, Standing.GOOD, "fast enough for 60"),
        (13.4, Standing.GOOD, "fast enough for 30"),
        (26.0, Standing.GOOD, "fast enough for 30"),
        (27.0, Standing.DOUBTFUL, "fast enough for 15"),
        (53.0, Standing.DOUBTFUL, "fast enough for 15"),
        (54.0, Standing.BROKEN, "54.0 ms a frame"),
    ],
)
def test_speed_against_each_rate(frame_ms: float, standing: Standing, says: str) -> None:
    """Four fifths of the time between two frames: 13.3, 26.7 and 53.3 ms."""
    found = judge.model(frame_ms, 2)
    assert found.standing is standing
    assert says in found.found
    assert (found.do == "") is (standing is Standing.GOOD)


def test_whatever_is_wrong_comes_with_what_to_do() -> None:
    """No finding that is not good goes without advice."""
    wrong = [
        judge.camera([], []),
        judge.camera([], ["camera 0"]),
        judge.camera([("camera 0", 640, 480, 9.0)], []),
        judge.sound(None, "There is no sound output."),
        judge.display([], "no display was found"),
        judge.network([], can_search=True),
        judge.network(["192.168.1.7"], can_search=False),
        judge.bluetooth([], service=True),
        judge.bluetooth(["hci0"], service=False),
        judge.clock(0.0, "The clock was set back."),
        judge.clock(0.01, ""),
        judge.model(None, 2, "it has not been built yet"),
        judge.disk(20.0, 5.0),
        judge.disk(200.0, 5.0),
        judge.disk(20_000.0, 900.0),
        judge.folder("/x", "writing there is not allowed", open_to_others=False),
        judge.folder("/x", "", open_to_others=True),
    ]
    assert all(one.do and one.standing is not Standing.GOOD for one in wrong)


def test_all_well() -> None:
    """And what is well needs none."""
    well = [
        judge.camera([("camera 0", 1280, 720, 29.8)], []),
        judge.sound("the system's"),
        judge.display([(1366, 768)]),
        judge.network(["192.168.1.7"], can_search=True),
        judge.bluetooth(["hci0"], service=True),
        judge.clock(0.0002, ""),
        judge.disk(20_000.0, 5.0),
        judge.folder("/x", "", open_to_others=False),
    ]
    assert all(one.standing is Standing.GOOD and not one.do for one in well)
    assert "1280 x 720, 30 frames a second" in well[0].found


@pytest.mark.parametrize(("standing", "code"), [(s, int(s is Standing.BROKEN)) for s in Standing])
def test_exit_status(standing: Standing, code: int) -> None:
    """Only what no session goes without makes a script stop."""
    found = Finding(part="sound", standing=standing, found="")
    good = Finding(part="disk", standing=Standing.GOOD, found="")
    assert exit_status([good, found]) == code
