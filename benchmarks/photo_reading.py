"""Measure the reading of photographed sheets on simulated hands and cameras.

    python benchmarks/photo_reading.py run PAGES SEED > pages.jsonl
    python benchmarks/photo_reading.py sum pages.jsonl ...
    python benchmarks/photo_reading.py rough PAGES SEED [many | CONDITION ...] > rough.jsonl
    python benchmarks/photo_reading.py rough-sum rough.jsonl ...

The first writes one line a page as it goes, so it can be stopped at any time and
several can run beside each other with different seeds. The second adds lines up:
how many clear marks were read wrong or sent to review, how many ambiguous ones were
sent, how far lines were missed, and the processor time a page. The other two do so for
paper in rough hands, condition by condition (`tests/tools/rough_paper.py`): read, right, sent
to review, and silently wrong, which is another answer, a missing or a zero without review; "many"
is half of pages bent, and WORKERS says how many processes read. The outcome is stated in
docs/paper.md.
"""

from __future__ import annotations

import importlib.util
import json
import multiprocessing
import os
import shutil
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

import numpy as np
from scipy.stats import beta

HERE = Path(__file__).parent
DPI = (100, 150, 200, 300)
TROUBLE = 0.06
TWO = "two sheets a picture"
# Conditions of the long run: half of all pages bent, three sixteenths flat, one of each other kind.
_BENT = tuple(
    f"{paper}{hands}"
    for paper in ("cockled 0.35", "cockled 0.6", "folded in three", "folded in four")
    for hands in ("", ", odd hands")
)
_OTHER = (
    "cockled 1.0", "rings", "rings alone", "struck", "stained", "coloured table", "fingers",
    "16-bit", "CMYK", "palette", "fax, pen", "fax, light pencil", "110 dpi, light pencil",
    "messenger, 1600", TWO,
)  # fmt: skip
MANY = [
    name
    for part in range(3)
    for name in (*_BENT, "flat", "flat", "flat", *_OTHER[5 * part : 5 * part + 5])
]
WORK: dict = {}  # what a process keeps between pages
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


def start_worker(names: list[str]) -> None:
    """Print the sheets once for all pages that a process is going to make."""
    WORK["simulator"], WORK["rough"] = load("simulator"), load("rough_paper")
    WORK["prints"], WORK["names"] = sheets_printed(WORK["simulator"]), names


def rough_page(seed: int, number: int) -> list[str]:
    """Make and read one page; what it looks like depends on seed, number and condition alone."""
    from kikichoko.forms.photo.photo_reader import read_photos

    simulator, rough, names = WORK["simulator"], WORK["rough"], WORK["names"]
    name = names[number % len(names)]
    rng = np.random.default_rng([seed, number])
    sheet, printed = WORK["prints"][rng.integers(len(WORK["prints"]))]
    lines = []
    with tempfile.TemporaryDirectory() as folder:
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
    for paper in made.papers:
        tally = simulator.Tally()
        tally.page(paper.marks, paper.page, reading, f"{seed}/{number} {name}")
        drawn = sum(
            mark.value is not None and (mark.kind, mark.value) != ("tick", 0.0)
            for mark in paper.marks
        )
        line = {"condition": name, "seconds": spent, "clear": tally.clear, "drawn": drawn} | {
            part: getattr(tally, part) for part in ("wrong", "sent", "refused", "errors")
        }
        lines.append(json.dumps(line, default=str))
    return lines


def run_rough(pages: int, seed: int, names: list[str]) -> None:
    """Read pages of each condition in turn, by as many processes as WORKERS says."""
    load("simulator")
    rough = load("rough_paper")
    names = MANY if names == ["many"] else names or [*rough.CONDITIONS, TWO]
    workers = int(os.environ.get("WORKERS", "1"))
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, context, start_worker, (names,)) as pool:
        todo = [pool.submit(rough_page, seed, number) for number in range(pages)]
        for done in as_completed(todo):
            print("\n".join(done.result()), flush=True)


def limits(found: int, of: int) -> str:
    """Return the 95 % limits of a share as "1 in N", the worse first (Clopper, Pearson)."""
    if not of:
        return "–"
    worst = float(beta.ppf(0.975, found + 1, of - found)) if found < of else 1.0
    best = float(beta.ppf(0.025, found, of - found + 1)) if found else 0.0
    return f"1 in {1 / worst:,.0f}" + (f" to 1 in {1 / best:,.0f}" if best else " at most")


def add_up_rough(files: list[str]) -> None:
    lines = [json.loads(line) for name in files for line in Path(name).read_text().splitlines()]
    names = [*dict.fromkeys(MANY), *dict.fromkeys(one["condition"] for one in lines)]
    groups = {name: [one for one in lines if one["condition"] == name] for name in names}
    bent = [one for one in lines if one["condition"] in _BENT]
    groups |= {
        "bent, plain hands": [one for one in bent if "odd" not in one["condition"]],
        "bent, odd hands": [one for one in bent if "odd" in one["condition"]],
        "bent": bent,
        "all else": [one for one in lines if one["condition"] not in _BENT],
        "all": lines,
    }
    print(
        "| what | pages | read | 80 % read | marks | right | review | silently wrong | 95 % | "
        "seconds: mean, 95 %, longest |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    for name, group in groups.items():
        if not group:
            continue
        read = [one for one in group if not one["refused"]]
        enough = sum(len(one["sent"]) <= 0.2 * one["clear"] for one in read)
        marks = sum(one["clear"] for one in read)
        wrong, sent = (sum(len(one[part]) for one in read) for part in ("wrong", "sent"))
        spent = [one["seconds"] for one in group]
        print(
            f"| {name} | {len(group)} | {len(read)} | {enough} | {marks:,} | "
            f"{(marks - wrong - sent) / max(1, marks):.1%} | {sent / max(1, marks):.1%} | "
            f"{wrong} | {limits(wrong, marks)} | "
            f"{np.mean(spent):.2f}, {np.quantile(spent, 0.95):.2f}, {max(spent):.2f} |"
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
