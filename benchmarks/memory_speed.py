"""Time of learning from 1,000 session folders beside one that is reported.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/memory_speed.py [SESSIONS]

Writes invented session folders of three assessors, three bottles and the lines of the full card
into a temporary folder (not timed), then times reading them and learning, in this one process.
"""

from __future__ import annotations

import os
import resource
import shutil
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
from kikichoko.forms.questions.question_types import Kind
from kikichoko.panel.key.earlier_sessions import earlier_sessions
from kikichoko.panel.returns.store import FILE, Store
from kikichoko.panel.session.session_folder import card_of, settings_of

ASSESSORS, BOTTLES, POOL = 3, 3, 6
SETTINGS = """name = "session-{number}"
title = "Tasting"
date = {date}
question = "?"
[questions]
card = "full"
"""


def write(folder: Path, number: int, rng: np.random.Generator, store: Path) -> None:
    """Write one session with an opened key."""
    folder.mkdir()
    date = np.datetime64("2000-01-01") + 7 * number
    (folder / "session.toml").write_text(SETTINGS.format(number=number, date=date), "utf-8")
    bottles = [f"bottle {k}" for k in range(BOTTLES)]
    fractions = ("free-run", "clear", "cloudy")
    lines = [f"{name},sample,{fractions[k]},1" for k, name in enumerate(bottles)]
    (folder / "bottles.csv").write_text(
        "\n".join(["bottle,use,fraction,available", *lines, ""]), "utf-8"
    )
    who = [f"T{k}" for k in rng.choice(POOL, ASSESSORS, replace=False)]
    people = ["assessor,role", *(f"{one},trained" for one in who), ""]
    (folder / "assessors.csv").write_text("\n".join(people), "utf-8")
    card = card_of(settings_of(folder))
    asked = [one.key for one in card if one.kind is Kind.LINE and not one.aside]
    a, i, j = (part.ravel() for part in np.indices((len(asked), ASSESSORS, BOTTLES)))
    level = rng.normal(5, 0.6, (len(asked), BOTTLES))[a, j]
    pd.DataFrame(
        {
            "session": f"session-{number}",
            "assessor": np.array(who)[i],
            "sample": np.array(bottles)[j],
            "replicate": 1,
            "position": j + 1,
            "attribute": np.array(asked)[a],
            "score": np.round(2 * rng.normal(level, 1.4).clip(0, 10)) / 2,
        }
    ).to_csv(folder / "scores.csv", index=False)
    shutil.copy(store, folder / FILE)


def main() -> None:
    """Write, learn and tell."""
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    rng = np.random.default_rng(1)
    with tempfile.TemporaryDirectory() as place:
        root = Path(place)
        empty = root / "opened"
        empty.mkdir()
        with Store(empty) as store:
            store.note_opening("report", sheets_out=0)
        house = root / "house"
        house.mkdir()
        for number in range(sessions):
            write(house / f"{number:05d}", number, rng, empty / FILE)
        started, wall = time.process_time(), time.perf_counter()
        found = earlier_sessions(house)
        used, passed = time.process_time() - started, time.perf_counter() - wall
    if found.memory is None:
        raise SystemExit("nothing learned")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(
        f"{len(found.dates)} sessions, {len(found.memory.spreads)} attributes,"
        f" {len(found.memory.widths)} assessors: {used:.1f} s of processor time"
        f" ({passed:.1f} s passed), peak {peak:.0f} MB, {os.cpu_count()} cores, one used"
    )


if __name__ == "__main__":
    main()
