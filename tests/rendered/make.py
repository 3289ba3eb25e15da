"""Make rendered clips: `python -m tests.rendered.make --list | CASE ... | --all --out DIR`."""

import argparse
import time
from pathlib import Path

from tests.rendered import demo
from tests.rendered.cases import CASES
from tests.rendered.clip import Case, make_clip


def all_cases() -> dict[str, Case]:
    """Every case by name; the demo's two as demo/side and demo/behind."""
    return {c.name: c for c in CASES} | {f"demo/{c.name}": c for c in demo.CASES}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="CASE")
    parser.add_argument("--list", action="store_true", help="show the cases and stop")
    parser.add_argument("--all", action="store_true", help="every case but the demo's")
    parser.add_argument("--again", action="store_true", help="also draw clips that are there")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent / "clips")
    asked = parser.parse_args()
    cases = all_cases()
    names = asked.names or [n for n in cases if asked.all and not n.startswith("demo/")]
    if asked.list or not names:
        for name, case in cases.items():
            apart = "kept apart" if case.kept_apart else ""
            print(f"{name:28} {case.view.view:7} {case.duration_s:5.1f} s {apart}")
        return
    for name in names:
        if name not in cases:
            parser.error(f"no case called {name}; --list shows them")
        path = asked.out / f"{cases[name].name}.mp4"
        if path.exists() and not asked.again:  # done, or being drawn by another process
            print(f"{name}: there already")
            continue
        start = time.monotonic()
        truth = make_clip(cases[name], asked.out)
        print(
            f"{name}: {len(truth.frame_time_s)} frames, {path.stat().st_size // 1000} kB,"
            f" {time.monotonic() - start:.0f} s",
            flush=True,
        )


if __name__ == "__main__":
    main()
