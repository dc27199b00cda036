"""Kill every command that writes at random moments, and check what is left.

    python benchmarks/crashes.py [KILLS_A_COMMAND] [SEED] [COMMAND ...]

See `tests/tools/crash_runs.py` for what must be so; the result stands in docs/promises.md.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests/tools"))
import crash_runs


def main() -> int:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    with tempfile.TemporaryDirectory() as made:
        place = Path(made)
        wanted = sys.argv[3:]
        crash_runs.prepare(place, "marks" if wanted and "report" not in wanted else "reported")
        crash_runs.warm_up(place)
        chosen = [one for one in crash_runs.cases() if not wanted or one.name in wanted]
        tallies = crash_runs.run(place, kills, seed, chosen, print)
    for tally in tallies.values():
        for one in tally.broken:
            print("BROKEN", one)
    print(f"{sum(one.kills for one in tallies.values())} kills, seed {seed}, "
          f"{sum(len(one.broken) for one in tallies.values())} broken")  # fmt: skip
    return int(any(one.broken for one in tallies.values()))


if __name__ == "__main__":
    raise SystemExit(main())
