"""Measure the reading of photographed sheets on simulated hands and cameras.

    python benchmarks/photo_reading.py PAGES [SEED]

Prints one table per resolution: how many clear marks were read wrong or sent to
review, how many ambiguous ones were sent, how far lines were missed, and the
processor time a page. The outcome is stated in docs/paper.md.
"""

from __future__ import annotations

import importlib.util
import json
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
DPI = (100, 150, 200, 300)
TROUBLE = 0.06


def load(name: str):
    """Load a file of the tests' folder, which is no package."""
    spec = importlib.util.spec_from_file_location(name, HERE.parent / "tests/paper" / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def main(pages: int, seed: int) -> None:
    from kikichoko.forms.photo import read_photos

    simulator = load("simulator")
    make = load("conftest").sheet_maker()
    rng = np.random.default_rng(seed)
    prints = []
    for language, wide, paper in (
        ("en", False, "A4"), ("ja", False, "A4"), ("en", False, "Letter"), ("ja", True, "Letter"),
    ):  # fmt: skip
        sheet = make(language, wide=wide, assessor=f"{language}{paper}{wide:d}")
        prints.append((sheet, simulator.printed(sheet, paper)))
    tallies = {dpi: simulator.Tally() for dpi in DPI}
    spent = dict.fromkeys(DPI, 0.0)
    with tempfile.TemporaryDirectory() as folder:
        for number in range(pages):
            dpi = DPI[number % len(DPI)]
            sheet, printed = prints[rng.integers(len(prints))]
            page, picture = printed[rng.integers(1, len(printed))]
            hand = simulator.Hand(rng, trouble=TROUBLE)
            paper = simulator.fill_in(page, picture, hand)
            scanned = rng.random() < 0.2
            camera = (simulator.Camera.scanner if scanned else simulator.Camera.any)(rng, dpi)
            path = Path(folder) / f"{number}.jpg"
            path.write_bytes(camera.jpeg(paper.picture))
            start = time.process_time()
            reading = read_photos([path], [sheet])
            spent[dpi] += time.process_time() - start
            path.unlink()
            label = f"{seed}/{number} {dpi} dpi, {hand.tool}, {hand.box}/{hand.line}"
            tallies[dpi].page(paper.marks, page, reading, label)
            if number % 50 == 49:
                print(number + 1, "pages", file=sys.stderr, flush=True)
    for dpi, tally in tallies.items():
        shares = tally.shares() | {"seconds a page": spent[dpi] / max(1, tally.pages)}
        print(dpi, "dpi:", json.dumps({name: round(value, 5) for name, value in shares.items()}))
        for name in ("wrong", "guessed", "sent", "refused"):
            for told in getattr(tally, name)[:40]:
                print("   ", name, *told)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
