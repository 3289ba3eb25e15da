"""The search for a second person holds up nobody who must not wait, however long it takes."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from live.pose import people
from live.pose.people import LATE_NS, LOOK_TAKES_NS, PeopleCounter
from shared.flow import Frame
from shared.units import NS_PER_S

NOTHING = np.zeros((4, 4, 3), np.uint8)


class SlowSearch:
    """Stands in for the library's landmarker: finds so many people, once it is let."""

    def __init__(self) -> None:
        self.let = threading.Event()
        self.found = 2

    def detect(self, _image: object) -> SimpleNamespace:
        assert self.let.wait(30)
        return SimpleNamespace(pose_landmarks=[None] * self.found)

    def close(self) -> None:
        pass


@pytest.fixture
def search(monkeypatch: pytest.MonkeyPatch) -> Iterator[SlowSearch]:
    made = SlowSearch()
    monkeypatch.setattr(people, "open_landmarker", lambda *_, **__: made)
    yield made
    made.let.set()


def frame(at_ns: int) -> Frame:
    return Frame(NOTHING, at_ns, at_ns * 30 // NS_PER_S)


def test_a_search_that_does_not_end_holds_up_no_frame_and_is_told(search: SlowSearch) -> None:
    counter = PeopleCounter(Path("any"))
    counter.waits = False
    told: dict[int, tuple[bool, bool]] = {}

    def work() -> None:
        for at_ns in range(0, 5 * NS_PER_S, NS_PER_S // 10):
            told[at_ns] = (counter.several(frame(at_ns)), counter.late)

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    thread.join(10)
    assert not thread.is_alive(), "it waits for a search that does not end"
    assert not any(several for several, _ in told.values())
    assert {at_ns for at_ns, (_, late) in told.items() if late} == {
        at_ns for at_ns in told if at_ns >= LATE_NS
    }
    search.let.set()  # once it goes on, what was found counts, and the next search agrees
    for at_ns in range(5 * NS_PER_S, 8 * NS_PER_S, NS_PER_S // 10):
        several = counter.several(frame(at_ns))
        counter.settle()
        if counter._search is not None:
            counter._search.result(10)
    assert several
    assert not counter.late
    counter.close()


def test_of_a_file_it_is_waited_for(search: SlowSearch) -> None:
    counter = PeopleCounter(Path("any"))
    counter.several(frame(0))
    threading.Timer(0.3, search.let.set).start()
    counter.several(frame(LOOK_TAKES_NS))
    assert search.let.is_set()
    counter.close()
