"""From picture to cue on the bundled clips, through the real model and real processes."""

from __future__ import annotations

import itertools
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import platformdirs
import pytest

from feedback.demo import demo_clip, demo_profile
from feedback.journal.entries import CueEntry, MeasureEntry
from feedback.journal.writer import read_journal
from shared.flow import CueKind, View
from shared.messages import StopReason
from tests.pulse import RATE_HZ, PulseServer
from tests.rendered.truth import Truth, load_truth

pytestmark = pytest.mark.model

CADENCE_WITHIN = 3.0


def environment(folder: Path, **more: str) -> dict[str, str]:
    """Data and log folders of the test's own, no display, no sound; the built model as it is."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "QT_", "DISPLAY"))}
    kept.pop("WAYLAND_DISPLAY", None)
    return kept | {
        "XDG_DATA_HOME": str(folder / "data"),
        "XDG_STATE_HOME": str(folder / "state"),
        "XDG_CACHE_HOME": str(Path(platformdirs.user_cache_dir("beltside")).parent),
        "COLUMNS": "100",
        **more,
    }


def beltside(env: dict[str, str], *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "feedback.cli.main", *words],
        env=env,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def truth_of(view: View) -> Truth:
    return load_truth(demo_clip(view).with_suffix(".truth.json.xz"))


def true_cadence(view: View) -> float:
    return float(truth_of(view).meta["cadence_spm"])


def measured(env: dict[str, str], view: View, *more: str) -> list[dict[str, Any]]:
    """The JSON lines of one measuring of a bundled clip."""
    athlete = demo_profile(view).athlete
    done = beltside(
        env,
        *("measure", str(demo_clip(view)), "--view", view.value, "--json"),
        *("--height-cm", f"{athlete.height_cm}", "--belt-kmh", f"{athlete.belt_speed_kmh}", *more),
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
def test_demo_athletes_are_the_runners_in_the_clips(view: View) -> None:
    meta, athlete = truth_of(view).meta, demo_profile(view).athlete
    assert meta["view"] == view.value == athlete.view.value
    assert athlete.height_cm == pytest.approx(100 * float(meta["height_m"]), abs=1.0)
    assert athlete.belt_speed_mps == pytest.approx(float(meta["belt_speed_mps"]), rel=0.01)


@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
def test_measure_gives_the_clips_cadence_by_step(tmp_path: Path, view: View) -> None:
    *lines, last = measured(environment(tmp_path), view)
    events = [line for line in lines if "event" in line]
    measures = [line for line in lines if "measure" in line]
    assert all(0 <= line["at_s"] <= 6.0 for line in lines)
    contacts = [line for line in events if line["event"] == "contact"]
    sides = [line["side"] for line in contacts]
    assert len(contacts) >= 8
    assert all(one != other for one, other in itertools.pairwise(sides))
    cadence = [line["value"] for line in measures if line["measure"] == "cadence"]
    assert cadence
    assert all(abs(value - true_cadence(view)) <= CADENCE_WITHIN for value in cadence)
    first = "strike_ahead" if view is View.SIDE else "pelvic_shift"
    assert {line["side"] for line in measures if line["measure"] == first} == {"left", "right"}
    summary = last["summary"]
    assert summary["frames"] == 180
    assert summary["dropped"] == 0
    for row in summary["measures"]:
        values = [m for m in measures if (m["measure"], m["side"]) == (row["measure"], row["side"])]
        assert row["n"] == len(values)
        assert row["mean"] == pytest.approx(sum(m["value"] for m in values) / row["n"], abs=0.01)


def test_as_live_gives_the_same_kinds_of_values(tmp_path: Path) -> None:
    fast = measured(environment(tmp_path), View.SIDE)
    live = measured(environment(tmp_path), View.SIDE, "--as-live")
    assert kinds(live) == kinds(fast)
    assert live[-1]["summary"]["frames"] + live[-1]["summary"]["dropped"] == 180
    cadence = [line["value"] for line in live if line.get("measure") == "cadence"]
    assert all(abs(value - true_cadence(View.SIDE)) <= CADENCE_WITHIN for value in cadence)


def kinds(lines: list[dict[str, Any]]) -> set[tuple[str, str | None, str]]:
    return {(m["measure"], m["side"], m["unit"]) for m in lines if "measure" in m}


def test_measuring_twice_gives_the_very_same(tmp_path: Path) -> None:
    env = environment(tmp_path)
    assert measured(env, View.BEHIND) == measured(env, View.BEHIND)


def test_table_for_people(tmp_path: Path) -> None:
    done = beltside(
        environment(tmp_path),
        *("measure", str(demo_clip(View.SIDE)), "--view", "side", "--height-cm", "166"),
        *("--report", str(tmp_path / "page.html")),
    )
    assert done.returncode == 0
    assert done.stderr == ""
    assert re.search(r"Cadence .* 1(59|60|61) .* steps/min", done.stdout)
    assert "180 frames in 6.0 s, 0 dropped" in done.stdout
    # The page of its own has the same means, and no folder's name.
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "side.mp4: measured from a video" in page
    assert str(demo_clip(View.SIDE).parent) not in page
    shown = re.search(r"Cadence .* (1(?:59|60|61)) ", done.stdout)
    assert shown is not None
    mean = re.search(r"<td>Cadence \(steps/min\)</td><td>([0-9.]+)", page)
    assert mean is not None
    assert round(float(mean[1])) == int(shown[1])


@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
def test_headless_demo_measures_cues_and_sums_up(tmp_path: Path, view: View) -> None:
    # before it answers; its report is looked at in another test
    words = ("demo", "--headless", "--seconds", "12", "--view", view.value, "--no-report")
    done = beltside(environment(tmp_path, PULSE_SERVER="/nowhere"), *words)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    cadences = [float(n) for n in re.findall(r" s +Cadence +(\d+) steps/min", done.stdout)]
    assert len(cadences) > 10
    assert all(abs(value - true_cadence(view)) <= CADENCE_WITHIN for value in cadences)
    assert re.search(r"CUE +off target", done.stdout)
    mean = re.search(r"Mean cadence ([0-9.]+) steps/min", done.stdout)
    assert mean is not None
    assert float(mean[1]) == pytest.approx(true_cadence(view), abs=CADENCE_WITHIN)
    assert re.search(r"Cues: \d+ off target", done.stdout)
    assert re.search(r"Frame arrival to decision: median [0-9.]+ ms, 99 % within", done.stdout)
    assert not Path(tmp_path / "data").exists()


@pytest.mark.sound
def test_demo_is_heard(tmp_path: Path, pulse_server: PulseServer) -> None:
    names = ("PULSE_SERVER", "PULSE_COOKIE", "PULSE_RUNTIME_PATH")
    output = {name: pulse_server.environment[name] for name in names}
    with pulse_server.recorder() as recorder:
        words = ("demo", "--headless", "--seconds", "12", "--view", "side", "--no-report")
        done = beltside(environment(tmp_path, **output), *words)
        heard = recorder.finish()
    assert done.returncode == 0, done.stderr
    assert "no sound output" not in done.stdout
    starts = np.array([first for first, _ in heard.bursts()]) / RATE_HZ
    # The beat is what comes most often: at the athlete's tempo, apart from cues between.
    apart_s = np.diff(starts)
    beat_s = 60 / (demo_profile(View.SIDE).athlete.targets[0].beat_spm or 0)
    assert np.sum(np.abs(apart_s - beat_s) < 0.002) > 10
    *_, before_last, last = starts
    assert last - before_last > 0.4  # the stop sound, after a silence


def test_demo_without_a_display_goes_on_in_the_terminal(tmp_path: Path) -> None:
    done = beltside(environment(tmp_path), "demo", "--seconds", "5", "--view", "side")
    assert done.returncode == 0, done.stderr
    assert "No window can be opened" in done.stdout
    assert "The demo continues in this terminal." in done.stdout
    assert "Foot ahead of hips at contact" in done.stdout
    assert re.search(r"^Report: .*demo\.html$", done.stdout, re.MULTILINE)


@pytest.mark.window
def test_demo_with_its_screen_plays_both_parts_and_opens_its_report(tmp_path: Path) -> None:
    opener, opened = tmp_path / "bin" / "xdg-open", tmp_path / "opened"
    opener.parent.mkdir()
    opener.write_text(f'#!/bin/sh\nprintf "%s" "$1" > "{opened}"\n')
    opener.chmod(0o755)
    path = f"{opener.parent}{os.pathsep}{os.environ['PATH']}"
    env = environment(tmp_path, QT_QPA_PLATFORM="offscreen", PATH=path)
    old = tmp_path / "data" / "beltside" / "demo" / "old.jsonl"
    old.parent.mkdir(parents=True)
    old.write_text("of the demo before")
    done = beltside(env, "demo", "--seconds", "3", "--windowed")
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("The screen is open.") == 2
    side, behind = (done.stdout.index(part) for part in ("From the side:", "From behind:"))
    assert side < done.stdout.index("The planned time is over.") < behind
    page = Path(opened.read_text())
    assert f"Report, now opening: {page}" in done.stdout
    text = page.read_text(encoding="utf-8")
    assert 0 < text.index("Part 1: from the side") < text.index("Part 2: from behind")
    # All that there is of it stands apart from the records, which know nothing of it.
    assert {one.name for one in (tmp_path / "data" / "beltside").iterdir()} == {"demo"}
    assert not old.exists()
    assert page.stat().st_mode & 0o077 == 0


@pytest.mark.window
def test_session_on_a_video_is_cued_and_saved(tmp_path: Path) -> None:
    """The clip lasts 6 s: the session begins with its first steps and ends with it."""
    env = environment(tmp_path, QT_QPA_PLATFORM="offscreen")
    words = ["--athlete", "heron", "--file", str(demo_clip(View.SIDE))]
    words += ["--cautions-read", "--no-sound", "--windowed"]
    with subprocess.Popen(
        [sys.executable, "-m", "feedback.cli.main", "run", *words],
        env=env,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        saved = wait_for_summary(tmp_path / "data", process)
        # The stopped screen would stay until somebody closes it; Ctrl+C ends the wait for that.
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=30)
    assert process.returncode == 0, err
    assert f"Saved as {saved}" in out
    record = read_journal(saved)
    assert record.summary is not None
    assert record.summary.stop_reason is StopReason.FINISHED
    assert record.header.athlete == demo_profile(View.SIDE).athlete
    cues = [entry.cue for entry in record.entries if isinstance(entry, CueEntry)]
    assert cues[0].kind is CueKind.OUT_OF_BAND
    assert all(0 < cue.decided_ns - cue.captured_ns < 250e6 for cue in cues)
    assert record.summary.decision_ms is not None
    assert 0 < record.summary.decision_ms < 250
    assert {e.measure.name for e in record.entries if isinstance(e, MeasureEntry)} >= {
        "cadence",
        "strike_ahead",
    }
    if os.name == "posix":
        assert saved.stat().st_mode & 0o077 == 0


def wait_for_summary(folder: Path, process: subprocess.Popen[str]) -> Path:
    """The journal in ``folder``, once its summary is on the disk."""
    for _ in range(600):
        for path in folder.rglob("*.jsonl"):
            if '"entry":"summary"' in path.read_text():
                return path
        assert process.poll() is None, process.communicate()
        time.sleep(0.1)
    raise AssertionError("no summary came")
