"""Read mutated files with all readers, under limits of time and memory.

    python benchmarks/mutated_inputs.py [SHARE_OF_20000] [SEED] [FOLDER]

FOLDER keeps the files that broke something; said again with it, a run that was stopped goes
on. See `tests/tools/mutated_runs.py` for what may come of a file; the result stands in
docs/promises.md. Linux only: it reads the peak of memory from /proc.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests/tools"))
import mutated_runs


def main() -> int:
    share = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    keep = Path(sys.argv[3]) if len(sys.argv) > 3 else None
    if keep is not None:
        keep.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as made:
        bench = mutated_runs.prepare(Path(made))
        done, broken, longest, largest = mutated_runs.run(bench, share, seed, keep, _tell)
    for one in broken:
        print(f"BROKEN {one.name} by {one.how}: {one.what} [{one.digest}]")
    print(f"{sum(done.values())} inputs, seed {seed}: {len(broken)} broken; longest "
          f"{longest:.1f} s of CPU, most memory {largest:.0f} MB above idle")  # fmt: skip
    return int(bool(broken))


def _tell(line: str) -> None:
    print(line, flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
