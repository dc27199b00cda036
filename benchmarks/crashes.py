"""Kill every command that writes at random moments, and check what is left.

    python benchmarks/crashes.py [KILLS_A_COMMAND] [SEED] [COMMAND ...]

The commands take turns, four kills each, so that a run that is stopped tells something of
all; those that take seconds are killed once where the others are killed four times. See
`tests/tools/crash_runs.py` for what must be so; the result stands in docs/promises.md.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests/tools"))
import crash_names
import crash_runs

TURN = 4


def main() -> int:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 24
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    done: dict[str, int] = {}
    broken: list[str] = []
    with tempfile.TemporaryDirectory() as made:
        place = Path(made)
        wanted = sys.argv[3:]
        chosen = [one for one in crash_runs.cases() if not wanted or one.name in wanted]
        late = ("handed", "noted", "faulty")
        reported = any(one.name == "report" or one.stage in late for one in chosen)
        crash_runs.prepare(place, "reported" if reported else "marks")
        if any(one.stage == crash_names.STAGE for one in chosen):
            crash_names.stage(place)
        for turn in range(-(-kills // TURN)):
            for case in chosen:
                times = 1 if case.dear else min(TURN, kills - TURN * turn)
                tally = crash_runs.run(place, times, f"{seed}.{turn}", [case], _tell)[case.name]
                done[case.name] = done.get(case.name, 0) + tally.kills
                broken += tally.broken
                for one in tally.broken:
                    _tell(f"BROKEN {one}")
            _tell(f"{sum(done.values())} kills so far, {len(broken)} broken: {done}")
    _tell(f"{sum(done.values())} kills, seed {seed}, {len(broken)} broken")
    return int(bool(broken))


def _tell(line: str) -> None:
    print(line, flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
