"""Kill every command that writes at random moments, and check what is left.

    python benchmarks/crashes.py [KILLS_A_COMMAND] [SEED] [COMMAND ...]

The commands take turns, four kills each, so that a run that is stopped tells something of
all. See `tests/tools/crash_runs.py` for what must be so; the result stands in
docs/promises.md.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests/tools"))
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
        crash_runs.prepare(place, "marks" if wanted and "report" not in wanted else "reported")
        chosen = [one for one in crash_runs.cases() if not wanted or one.name in wanted]
        for turn in range(-(-kills // TURN)):
            for name, tally in crash_runs.run(
                place, min(TURN, kills - TURN * turn), f"{seed}.{turn}", chosen, _tell
            ).items():
                done[name] = done.get(name, 0) + tally.kills
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
