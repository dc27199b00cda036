"""Measure the reading of photographed sheets on simulated hands and cameras.

    python benchmarks/photo_reading.py run PAGES SEED > pages.jsonl
    python benchmarks/photo_reading.py sum pages.jsonl ...
    python benchmarks/photo_reading.py rough PAGES SEED [CONDITION ...] > rough.jsonl
    python benchmarks/photo_reading.py rough-sum rough.jsonl ...

The first writes one line a page as it goes, so it can be stopped at any time and
several can run beside each other with different seeds. The second adds lines up:
how many clear marks were read wrong or sent to review, how many ambiguous ones were
sent, how far lines were missed, and the processor time a page. The other two do so for
paper in rough hands, condition by condition (`tests/tools/rough_paper.py`): read, right, sent
to review, and silently wrong, which is another answer, a missing or a zero without review. The
outcome is stated in docs/paper.md.
"""

from __future__ import annotations

import importlib.util
import json
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
DPI = (100, 150, 200, 300)
TROUBLE = 0.06
TWO = "two sheets a picture"
KEEP = os.environ.get("KEEP_PICTURES", "")  # a folder in which pictures are left to be looked at


def load(name: str):
    """Load a file of the tests' folder, which is no package."""
    spec = importlib.util.spec_from_file_location(name, HERE.parent / "tests/tools" / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def sheets_printed(simulator) -> list:
    """Print four sheets: both languages, both papers, long labels."""
    make = load("paper_sheets").sheet_maker()
    prints = []
    for language, wide, paper in (
        ("en", False, "A4"), ("ja", False, "A4"), ("en", False, "Letter"), ("ja", True, "Letter"),
    ):  # fmt: skip
        sheet = make(language, wide=wide, assessor=f"{language}{paper}{wide:d}")
        prints.append((sheet, simulator.printed(sheet, paper)))
    return prints


def run(pages: int, seed: int) -> None:
    from kikichoko.forms.photo.photo_reader import read_photos

    simulator = load("simulator")
    rng = np.random.default_rng(seed)
    prints = sheets_printed(simulator)
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
            spent = time.process_time() - start
            path.unlink()
            label = f"{seed}/{number} {dpi} dpi, {hand.tool}, {hand.box}/{hand.line}"
            tally = simulator.Tally()
            tally.page(paper.marks, page, reading, label)
            line = {"dpi": dpi, "seconds": spent} | {
                name: getattr(tally, name)
                for name in (
                    "clear", "wrong", "sent", "ambiguous", "guessed", "errors", "refused",
                )
            }  # fmt: skip
            print(json.dumps(line, default=str), flush=True)


def add_up(files: list[str]) -> None:
    lines = [json.loads(line) for name in files for line in Path(name).read_text().splitlines()]
    groups = {f"{dpi} dpi": [one for one in lines if one["dpi"] == dpi] for dpi in DPI}
    groups["150 dpi and better"] = [one for one in lines if one["dpi"] >= 150]
    groups["all"] = lines
    for name, group in groups.items():
        counts = {k: sum(one[k] for one in group) for k in ("clear", "ambiguous", "seconds")}
        lists = {
            k: [told for one in group for told in one[k]]
            for k in ("wrong", "sent", "guessed", "errors", "refused")
        }
        misses = lists["errors"] or [0.0]
        print(
            f"{name}: {len(group)} pages, {len(lists['refused'])} refused; "
            f"clear marks {counts['clear']}: wrong {len(lists['wrong'])}, "
            f"sent {len(lists['sent']) / max(1, counts['clear']):.2%}; "
            f"ambiguous {counts['ambiguous']}: "
            f"sent {1 - len(lists['guessed']) / max(1, counts['ambiguous']):.2%}; "
            f"line miss median {np.median(misses):.2f}, 99 % {np.quantile(misses, 0.99):.2f}, "
            f"largest {max(misses):.2f} mm; "
            f"{counts['seconds'] / max(1, len(group)):.2f} s a page"
        )
    for name in ("wrong", "guessed", "refused"):
        for one in lines:
            for told in one[name]:
                print("  ", name, *told)


def run_rough(pages: int, seed: int, names: list[str]) -> None:
    """Read pages of each condition in turn; a page's picture depends on its seed and number."""
    from kikichoko.forms.photo.photo_reader import read_photos

    simulator = load("simulator")
    rough = load("rough_paper")
    prints = sheets_printed(simulator)
    names = names or [*rough.CONDITIONS, TWO]
    with tempfile.TemporaryDirectory() as folder:
        for number in range(pages):
            name = names[number % len(names)]
            rng = np.random.default_rng([seed, number])
            sheet, printed = prints[rng.integers(len(prints))]
            path = Path(folder) / str(number)
            if name == TWO:
                chosen = rng.choice(np.arange(1, len(printed)), 2, replace=False)
                made = rough.two_sheets([printed[at] for at in chosen], rng, path)
            else:
                page, picture = printed[rng.integers(1, len(printed))]
                made = rough.CONDITIONS[name](page, picture, rng, path)
            start = time.process_time()
            reading = read_photos([made.path], [sheet])
            spent = time.process_time() - start
            if KEEP:
                shutil.copy(made.path, Path(KEEP) / f"{seed}-{number}{made.path.suffix}")
            made.path.unlink()
            for paper in made.papers:
                tally = simulator.Tally()
                tally.page(paper.marks, paper.page, reading, f"{seed}/{number} {name}")
                line = {"condition": name, "seconds": spent, "clear": tally.clear} | {
                    part: getattr(tally, part) for part in ("wrong", "sent", "refused", "errors")
                }
                print(json.dumps(line, default=str), flush=True)


def add_up_rough(files: list[str]) -> None:
    lines = [json.loads(line) for name in files for line in Path(name).read_text().splitlines()]
    print("| condition | pages | read | marks | right | review | silently wrong | seconds |")
    print("|---|---|---|---|---|---|---|---|")
    for name in dict.fromkeys(one["condition"] for one in lines):
        group = [one for one in lines if one["condition"] == name]
        read = [one for one in group if not one["refused"]]
        marks = sum(one["clear"] for one in read)
        wrong, sent = (sum(len(one[part]) for one in read) for part in ("wrong", "sent"))
        print(
            f"| {name} | {len(group)} | {len(read)} | {marks:,} | "
            f"{(marks - wrong - sent) / max(1, marks):.2%} | {sent / max(1, marks):.2%} | "
            f"{wrong} | {sum(one['seconds'] for one in group) / len(group):.2f} |"
        )
    for one in lines:
        for told in (*one["wrong"], *one["refused"]):
            print("  ", *told)


if __name__ == "__main__":
    if sys.argv[1] == "run":
        run(int(sys.argv[2]), int(sys.argv[3]))
    elif sys.argv[1] == "rough":
        run_rough(int(sys.argv[2]), int(sys.argv[3]), sys.argv[4:])
    elif sys.argv[1] == "rough-sum":
        add_up_rough(sys.argv[2:])
    else:
        add_up(sys.argv[2:])
