"""How threads share two cores: what is set before numpy is imported, and who steps aside."""

from __future__ import annotations

import os
import subprocess
import sys
import threading

import pytest

from shared.threads import step_aside

TELL = "import {0}, sys, os; print('numpy' in sys.modules, os.environ['OPENBLAS_NUM_THREADS'])"


@pytest.mark.parametrize("package", ["shared", "live", "feedback"])
@pytest.mark.parametrize(("before", "after"), [(None, "1"), ("2", "2")])
def test_numpy_is_told_before_it_comes(package: str, before: str | None, after: str) -> None:
    environment = {name: value for name, value in os.environ.items() if "_THREADS" not in name}
    if before is not None:
        environment["OPENBLAS_NUM_THREADS"] = before
    told = subprocess.run(
        [sys.executable, "-c", TELL.format(package)],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    assert told.stdout.split() == ["False", after]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux can do it by thread")
def test_a_thread_steps_aside_with_those_it_begins_and_no_others() -> None:
    niceness: dict[str, int] = {}

    def note(name: str) -> None:
        niceness[name] = os.getpriority(os.PRIO_PROCESS, threading.get_native_id())

    def aside() -> None:
        step_aside(3)
        note("aside")
        child = threading.Thread(target=note, args=("its own",))
        child.start()
        child.join()

    note("before")
    thread = threading.Thread(target=aside)
    thread.start()
    thread.join()
    note("after")
    assert niceness["after"] == niceness["before"]
    assert niceness["aside"] == niceness["its own"] == min(niceness["before"] + 3, 19)
