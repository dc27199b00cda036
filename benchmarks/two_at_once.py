"""Let two commands meet on one session, at random moments of the first.

    python benchmarks/two_at_once.py [TIMES_A_PAIR] [SEED] [PAIR ...]

See `tests/tools/two_at_once.py` for what must be so; the result stands in docs/promises.md.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests/tools"))
import two_at_once


def main() -> int:
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    chosen = [one for one in two_at_once.pairs() if not sys.argv[3:] or one.name in sys.argv[3:]]
    with tempfile.TemporaryDirectory() as made:
        place = Path(made)
        two_at_once.prepare(place)
        tallies = two_at_once.run(place, times, seed, chosen, _tell)
    met = sum(tally.kills for tally in tallies.values())
    broken = sum(len(tally.broken) for tally in tallies.values())
    _tell(f"{met} meetings, seed {seed}, {broken} broken")
    return int(bool(broken))


def _tell(line: str) -> None:
    print(line, flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
