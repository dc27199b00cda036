"""How long does a command take to start? ``python benchmarks/start_of_commands.py``.

Runs ``kikichoko --help`` some times and prints the shortest and the middle time; on an
idle machine the shortest is to be under 0.15 s. Exit code 1 where it is not.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import time
from pathlib import Path

LIMIT = 0.15
"""Seconds, on an idle machine."""


def main() -> int:
    """Measure, print, and say whether the limit is held."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--runs", type=int, default=15)
    options.add_argument("command", nargs="*", default=["--help"])
    given = options.parse_args()
    program = Path(sys.executable).with_name("kikichoko")
    times = []
    for _ in range(given.runs):
        begun = time.perf_counter()
        subprocess.run([program, *given.command], capture_output=True, check=True)
        times.append(time.perf_counter() - begun)
    shortest = min(times)
    print(f"shortest {shortest:.3f} s, middle {statistics.median(times):.3f} s, limit {LIMIT} s")
    return int(shortest >= LIMIT)


if __name__ == "__main__":
    sys.exit(main())
