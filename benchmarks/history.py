"""Time and memory of putting 1,000 sessions, a million answers, together.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/history.py [SESSIONS]

Writes invented session folders into a temporary folder (not timed), then times
reading them and the analysis apart, each in this one process, and prints the
tables' memory and the process's peak.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
from kikichoko.analysis.performance import history
from kikichoko.panel.across.session_history import collect, folders_of

ASSESSORS, SAMPLES, ATTRIBUTES = 10, 5, 20  # 1,000 answers a session
SETTINGS = 'name = "{name}"\ntitle = "Tasting"\ndate = {date}\nquestion = "?"\n'


def write(folder: Path, number: int, rng: np.random.Generator) -> None:
    date = np.datetime64("2000-01-01") + 7 * number
    folder.mkdir()
    settings = SETTINGS.format(name=f"session-{number}", date=date)
    (folder / "session.toml").write_text(settings, "utf-8")
    bottles = ["house sake", *(f"bottle-{number}-{k}" for k in range(SAMPLES - 1))]
    lines = ["bottle,use,lot,tank,meter_value,acidity,available"]
    lines += [f"{name},sample,L{number},{k},{k},1.5,1" for k, name in enumerate(bottles)]
    lines[1] = "house sake,sample,H,0,3,1.4,1"
    (folder / "bottles.csv").write_text("\n".join(lines) + "\n", "utf-8")
    people = [f"A{k}" for k in range(ASSESSORS)]
    lines = ["assessor,role", *(f"{one},trained" for one in people)]
    (folder / "assessors.csv").write_text("\n".join(lines) + "\n", "utf-8")
    a, i, j = (part.ravel() for part in np.indices((ATTRIBUTES, ASSESSORS, SAMPLES)))
    pd.DataFrame(
        {
            "session": f"session-{number}",
            "assessor": np.array(people)[i],
            "sample": np.array(bottles)[j],
            "replicate": 1,
            "position": j + 1,
            "attribute": np.array([f"attribute {k}" for k in range(ATTRIBUTES)])[a],
            "score": np.round(2 * rng.normal(5, 1.5, len(a)).clip(0, 10)) / 2,
        }
    ).to_csv(folder / "scores.csv", index=False)


def main() -> None:
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    rng = np.random.default_rng(1)
    with tempfile.TemporaryDirectory() as place:
        root = Path(place)
        for number in range(sessions):
            write(root / f"{number:05d}", number, rng)
        start, busy = time.perf_counter(), time.process_time()
        collected = collect(folders_of([root]))
        read, read_busy = time.perf_counter() - start, time.process_time() - busy
        start, busy = time.perf_counter(), time.process_time()
        past = history(collected.scores, collected.sessions, collected.bottles)
        analysed, analysed_busy = time.perf_counter() - start, time.process_time() - busy
    memory = collected.scores.memory_usage(deep=True).sum() / 1e6
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(f"{sessions} sessions, {len(collected.scores):,} answers")
    print(f"read {read:.1f} s (processor {read_busy:.1f} s)")
    print(f"analysed {analysed:.1f} s (processor {analysed_busy:.1f} s)")
    print(f"scores take {memory:.0f} MB; peak of the process {peak:.0f} MB")
    print(f"attributes that drift: {int(past.drift['drifts'].sum())} of {len(past.drift)}")


if __name__ == "__main__":
    main()
