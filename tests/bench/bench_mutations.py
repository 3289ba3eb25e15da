"""Broken files of the user's own, read in great number; a script.

Run: python -m tests.bench.bench_mutations [--count 100000] [--seed 1]

Every reader of files is given mutations of a sound file in turn, of its bytes or of one value. Each
must give a value or a problem in plain words, and soon. What did not is printed, one line of JSON
each, with the content in hexadecimal digits; the last line says how many were read.
"""

from __future__ import annotations

import argparse
import json
import logging
import sys
import tempfile
import time
from pathlib import Path

from tests.feedback.storage.mutations import trouble

MOST_SHOWN = 400
"""Bytes of a file."""


def main() -> int:
    """Exit code 1 where something was not borne."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    logging.disable(logging.CRITICAL)  # the readers tell the log of each
    began, found = time.monotonic(), 0
    with tempfile.TemporaryDirectory() as folder:
        for name, came, content in trouble(Path(folder), options.count, options.seed, _tell):
            found += 1
            line = {"file": name, "came": came, "begins": content[:MOST_SHOWN].hex()}
            sys.stdout.write(json.dumps(line) + "\n")
    took_s = round(time.monotonic() - began, 1)
    sys.stdout.write(json.dumps({"read": options.count, "not_borne": found, "s": took_s}) + "\n")
    return int(found > 0)


def _tell(read: int) -> None:
    if read % 5_000 == 0:
        sys.stderr.write(f"{read} read\n")
        sys.stderr.flush()


if __name__ == "__main__":
    sys.exit(main())
