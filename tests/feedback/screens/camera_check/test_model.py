"""What the camera check says, from its reports, without a window."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.camera_check import model
from feedback.screens.camera_check.model import Going, Memory
from feedback.texts import camera_check as wording_setup
from feedback.texts import home as wording_home
from feedback.texts.camera_check import TEXTS, tell
from shared.flow import View
from shared.pictures import CheckReport, CheckState
from shared.problems.unmeasured import UNMEASURED
from tests.feedback.screens.setup_examples import NOBODY, report

SCREENS = Path(model.__file__).parent


def known(report: CheckReport | None, state: LinkState = LinkState.JOINED) -> LinkStatus:
    return LinkStatus(state, "", None, None, False, report=report)


def after(*reports: CheckReport) -> model.CheckShowing:
    memory = Memory()
    shown = [memory.show(known(one)) for one in reports]
    return shown[-1]


def test_the_first_thing_to_do_is_said_large_and_the_belts_ends_come_last() -> None:
    showing = after(report("light", "square", edges=None))
    assert (showing.heading, showing.text) == (tell("next"), tell("lighter"))
    assert (showing.standing, showing.going) == (CheckState.TO_DO, Going.ON_PURPOSE)
    assert showing.open_count == 3


def test_all_must_have_passed_for_a_while() -> None:
    assert after(report(at_s=10.0)).standing is CheckState.UNKNOWN
    assert after(report(at_s=10.0), report(at_s=11.4)).going is Going.ON_PURPOSE
    assert after(report(at_s=10.0), report(at_s=11.5)).going is Going.FREELY
    broken = after(report(at_s=10.0), report("light", at_s=10.8), report(at_s=11.6))
    assert broken.going is Going.ON_PURPOSE


def test_the_runner_may_walk_to_the_computer_and_draw_the_belts_ends_there() -> None:
    memory = Memory()
    for at_s in (10.0, 11.5):
        showing = memory.show(known(report(at_s=at_s, edges=None)))
    assert showing.text == tell("good_lines")
    assert showing.going is Going.ON_PURPOSE
    showing = memory.show(known(report("person", unknown=NOBODY, at_s=14.0, edges=None)))
    assert showing.text == tell("draw_edges")
    showing = memory.show(known(report("person", unknown=NOBODY, at_s=15.0)))
    assert (showing.text, showing.going) == (tell("was_good_more"), Going.FREELY)


@pytest.mark.parametrize("key", ["still", "camera"])
def test_only_the_camera_itself_makes_it_void(key: str) -> None:
    memory = Memory()
    for at_s in (10.0, 11.5):
        memory.show(known(report(at_s=at_s)))
    good = [memory.was_good]
    memory.show(known(report("distance", "light", at_s=13.0)))
    good.append(memory.was_good)
    showing = memory.show(known(report(key, at_s=14.0)))
    good.append(memory.was_good)
    assert good == [True, True, False]
    assert showing.going is Going.ON_PURPOSE


def test_what_only_the_eye_can_tell_stands_in_nobodys_way() -> None:
    reports = [report(unknown=("level", "square"), at_s=at_s) for at_s in (10.0, 11.5)]
    showing = after(*reports)
    assert showing.going is Going.FREELY
    assert {row.advice for row in showing.rows} >= {tell("level_by_eye"), tell("square_by_eye")}


def test_a_station_that_is_gone_or_not_there_yet() -> None:
    memory = Memory()
    for at_s in (10.0, 11.5):
        memory.show(known(report(at_s=at_s)))
    assert memory.show(known(None, LinkState.CONNECTING)).heading == tell("joining")
    gone = memory.show(known(report(at_s=12.0), LinkState.LOST))
    assert (gone.heading, gone.going) == (tell("gone"), Going.NO)


@pytest.mark.parametrize("view", list(View))
def test_rows_name_what_they_check_in_this_view(view: View) -> None:
    rows = after(report(view=view)).rows
    assert tell(f"check_view_{view}") in [row.title for row in rows]
    values = {row.key: row.value for row in rows}
    assert values["frame_rate"] == "30 per second"
    assert values["level"] == "0°"


_ENDS = r"_(keys|about|side|behind|front|across|low|high|more|how|end|letter)$"
_FAMILIES = r"^(check|standing|value|view|camera|step|steps|scale|anyway)_.*"


def test_every_text_is_used_and_every_advice_has_its_text() -> None:
    room = SCREENS.parents[1]
    own = {wording_setup.__file__, wording_home.__file__}
    paths = [path for path in room.rglob("*.py") if str(path) not in own]
    live = (room.parent / "live" / "setup_checks.py").read_text()
    sources = live + "".join(path.read_text() for path in paths)
    for texts in (wording_setup.TEXTS, wording_home.TEXTS):
        for key in texts:
            stem = re.sub(_FAMILIES, r"\1_", re.sub(_ENDS, "", key))
            assert stem in sources, key
    for advice in re.findall(r'_check\("\w+", [^"]+, "(\w+)"\)', live):
        assert advice in TEXTS


def test_every_reason_why_no_step_is_measured_has_its_advice() -> None:
    at_the_end = {"no_runner", "nobody_runs", "run_short", "steps_few"}
    for code in UNMEASURED - at_the_end:
        assert f"steps_{code}" in TEXTS


_CLINICIANS = (
    "baseline", "cadence", "yaw", "roll", "landmark", "asymmetry", "gait", "biofeedback",
    "treadmill", "adherence", "protocol", "rpe", "emergency",
)  # fmt: skip


def test_no_clinicians_word_is_said_at_home() -> None:
    spoken = " ".join((*wording_home.TEXTS.values(), *wording_setup.TEXTS.values())).lower()
    for word in _CLINICIANS:
        assert not re.search(rf"\b{word}\b", spoken), word
