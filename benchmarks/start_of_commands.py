"""How long does a command take to start? ``python benchmarks/start_of_commands.py``.

Runs ``kikichoko --help``, or what is given, some times and prints the shortest time on the
clock and of the processor; ``--all`` does so for the help of every command. On an idle machine
the two are nearly the same. On a busy one only the processor's tells something, so that is what
is held to the limit: exit code 1 where the shortest is not below it.

26 November 2026, two cores with a load of 14: ``--help`` 0.11 s of processor time, the help of
each of the 32 commands 0.08 to 0.09 s.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from pathlib import Path

LIMIT = 0.15
"""Seconds."""
PROGRAM = Path(sys.executable).with_name("kikichoko")


def used() -> float:
    """Return the processor time of all children so far."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return children.ru_utime + children.ru_stime


def shortest(words: list[str], runs: int) -> tuple[float, float]:
    """Return the shortest time of the processor and on the clock."""
    cpu, clock = [], []
    for _ in range(runs):
        before, begun = used(), time.perf_counter()
        subprocess.run([PROGRAM, *words], capture_output=True, check=True)
        cpu.append(used() - before)
        clock.append(time.perf_counter() - begun)
    return min(cpu), min(clock)


def main() -> int:
    """Measure, print, and say whether the limit is held."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--runs", type=int, default=15)
    options.add_argument("--all", action="store_true", help="the help of every command")
    options.add_argument("command", nargs="*", default=["--help"])
    given = options.parse_args()
    wanted = [given.command]
    if given.all:
        from click import Context
        from kikichoko.panel.cli import kikichoko

        names = kikichoko.list_commands(Context(kikichoko))
        wanted += [[name, "--help"] for name in names]
    late = 0
    for words in wanted:
        cpu, clock = shortest(words, given.runs)
        print(f"{' '.join(words)}: {cpu:.3f} s of the processor, {clock:.3f} s on the clock")
        late += cpu >= LIMIT
    print(f"{late} of {len(wanted)} at or above {LIMIT} s")
    return int(late > 0)


if __name__ == "__main__":
    sys.exit(main())
