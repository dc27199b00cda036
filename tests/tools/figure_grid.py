"""Every figure over a grid of sizes, names and languages: ``python tests/tools/figure_grid.py``.

2, 3, 6 and 12 samples; 3, 12 and 40 attributes; names as they are and long ones; English and
Japanese. What `figure_overlaps.faults` finds is written out: words on one another, outside of the
canvas or under 7 pt as printed on A4, lines beyond their field; and letters that the face lacks.
"""

from __future__ import annotations

import argparse
import itertools
import sys
import warnings
from collections import Counter
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "analysis" / "core"))

import numpy as np
import test_look as figures
from figure_overlaps import faults
from kikichoko.panel.base.report_face import set_figures_in_own_face

SAMPLES, ATTRIBUTES = (2, 3, 6, 12), (3, 12, 40)
SEED = 21
SAMPLE_NAMES = {
    "en": """free-run of the first pressing|clear, pasteurised in the bottle
        |cloudy, raw, second filling|last pressing, charcoal filtered""",
    "ja": """荒走り無濾過生原酒（斗瓶囲い）|中取り純米大吟醸（瓶火入れ）
        |活性にごり・生酒（二本目）|責め（炭素濾過）四合瓶""",
}
ATTRIBUTE_NAMES = {
    "en": """sweetness on the palate|acidity against sweetness|body and viscosity
        |length of the aftertaste|ginjo aroma in the nose""",
    "ja": """口に含んだときの甘味|甘味と酸味とのつり合い|ふくらみととろみ
        |後味の長さと消え方|上立ち香の吟醸香""",
}
"""As long as breweries write them."""
MOST_ATTRIBUTES = {
    "draw_assessor_charts": 6,
    "draw_balances": 0,
    "draw_conditions": 4,
    "draw_control_charts": 3,
    "draw_counts": 0,
    "draw_course": 0,
    "draw_differences": 0,
    "draw_dominance": 8,
    "draw_intensity": 0,
    "draw_limits_curve": 0,
    "draw_plane": 0,
    "draw_power_curves": 0,
    "draw_rank_sums": 0,
    "draw_residuals": 3,
    "draw_shares": 0,
    "draw_size_curves": 0,
    "draw_stages": 0,
    "draw_threshold": 0,
}
"""Attributes from which on `test_look` draws the same figure: it is drawn once."""


def _listed(names: dict[str, str]) -> dict[str, list[str]]:
    return {key: [name.strip() for name in text.split("|")] for key, text in names.items()}


def drawings(only: set[str]) -> list[tuple[str, str, bool, tuple[int, int]]]:
    """Return every figure to draw, mixed, so that a run that is broken off is a fair sample."""
    sizes = list(itertools.product(ATTRIBUTES, SAMPLES))
    every = itertools.product(figures.DRAWN, ("en", "ja"), (False, True), sizes)
    wanted = [one for one in every if not only or one[0] in only]
    return [wanted[place] for place in np.random.default_rng(SEED).permutation(len(wanted))]


def main() -> int:
    """Draw all that the list does not hold yet; return how many figures have a fault."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--list", type=Path, help="a line a figure; what it holds is not redrawn")
    options.add_argument("only", nargs="*", help="names of figures, all by default")
    given = options.parse_args()
    set_figures_in_own_face()
    plain = figures.BOTTLES, figures.ATTRIBUTES
    long_ones = _listed(SAMPLE_NAMES), _listed(ATTRIBUTE_NAMES)
    known = {}
    if given.list and given.list.exists():
        lines = given.list.read_text("utf-8").splitlines()
        known = dict(line.split(": ", 1) for line in lines)
    wanted = drawings(set(given.only))
    wrong = Counter[str]()
    for name, language, long, size in wanted:
        own = min(size[0], MOST_ATTRIBUTES.get(name, size[0])), size[1]
        told = f"{name} {language} {'long' if long else 'short'} {own[0]} x {own[1]}"
        if told not in known:
            figures.BOTTLES, figures.ATTRIBUTES = long_ones if long else plain
            with warnings.catch_warnings():
                warnings.filterwarnings("error", message=".*[Gg]lyph.*")
                found = faults(figures.DRAWN[name](language, size))
            known[told] = f"{len(found)} {found[0] if found else ''}".strip()
            if given.list:
                with given.list.open("a", encoding="utf-8") as out:
                    out.write(f"{told}: {known[told]}\n")
        if known[told] != "0":
            wrong[name] += 1
            sys.stdout.write(f"{told}: {known[told]}\n")
            sys.stdout.flush()
    sys.stdout.write(f"{len(wanted)} figures, {wrong.total()} with a fault: {dict(wrong)}\n")
    return wrong.total()


if __name__ == "__main__":
    sys.exit(1 if main() else 0)
