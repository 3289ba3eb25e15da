"""The processor kept for the measuring: who runs where, one program at a time, all given back."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable

import pytest

from shared import cores
from shared.cores import Reserve, Share, share_out, threads


@pytest.mark.parametrize(
    ("processors", "share"),
    [
        ((), None),
        ((5,), None),
        ((0, 1), Share(measuring=frozenset({1}), rest=frozenset({0}))),
        ((2, 7), Share(measuring=frozenset({7}), rest=frozenset({2}))),
        ((0, 1, 2), Share(measuring=frozenset({2}), rest=frozenset({0, 1}))),
        ((0, 1, 2, 3), None),
        (range(16), None),
    ],
)
def test_the_last_of_few_measures(processors: tuple[int, ...], share: Share | None) -> None:
    assert share_out(frozenset(processors)) == share


def place_in_a_thread(within: Callable[[], None] = lambda: None) -> set[int]:
    found: set[int] = set()

    def look() -> None:
        within()
        found.update(os.sched_getaffinity(0))

    thread = threading.Thread(target=look)
    thread.start()
    thread.join()
    return found


def test_all_keeps_off_but_those_put_first(two: Share) -> None:
    before = os.sched_getaffinity(0)
    end = threading.Event()
    early = threading.Thread(target=end.wait)
    early.start()
    assert early.native_id is not None
    with contextlib.closing(Reserve()) as reserve:
        assert os.sched_getaffinity(0) == two.rest
        assert place_in_a_thread() == two.rest
        told = subprocess.run(
            [sys.executable, "-c", "import os; print(*os.sched_getaffinity(0))"],
            capture_output=True,
            text=True,
            check=True,
        )
        assert set(map(int, told.stdout.split())) == two.rest
        first = place_in_a_thread(lambda: reserve.put_first([threading.get_native_id()]))
        assert first == two.measuring
        assert os.sched_getaffinity(early.native_id) == before  # was there before, and not placed
        reserve.put_first([early.native_id, 2**22])  # no such thread here: passed over
        assert os.sched_getaffinity(early.native_id) == two.measuring
    assert os.sched_getaffinity(0) == os.sched_getaffinity(early.native_id) == before
    end.set()
    early.join()


def test_threads_of_other_programs_are_not_touched(two: Share) -> None:
    other = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    with contextlib.closing(Reserve()) as reserve, other:
        before = os.sched_getaffinity(other.pid)
        reserve.put_first([other.pid])
        assert os.sched_getaffinity(other.pid) == before
        other.kill()


def test_the_second_has_to_share_until_the_first_is_closed(two: Share) -> None:
    before = os.sched_getaffinity(0)
    first = Reserve()
    assert first.share == two
    first.close()
    first.close()
    code = (
        "import sys, shared.cores as cores\n"
        f"cores._TAKEN = {cores._TAKEN!r}\n"
        f"cores.share_out = lambda _: cores.{two!r}\n"
        "reserve = cores.Reserve()\n"
        "print(reserve.share is not None, flush=True)\n"
        "input()"
    )
    other = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    with other:
        assert other.stdout is not None
        assert other.stdout.readline().strip() == "True"
        second = Reserve()
        second.put_first([threading.get_native_id()])
        assert (second.share, os.sched_getaffinity(0)) == (None, before)
        second.close()
        other.send_signal(signal.SIGKILL)
        other.wait()
    with contextlib.closing(Reserve()) as third:
        assert third.share == two
    assert os.sched_getaffinity(0) == before


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells them")
def test_its_own_threads() -> None:
    assert {threading.get_native_id(), os.getpid()} <= threads()
