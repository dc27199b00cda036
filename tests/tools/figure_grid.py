"""Every figure over a grid of sizes, names and languages: ``python tests/tools/figure_grid.py``.

2, 3, 6 and 12 samples; 3, 12 and 40 attributes; names as they are and long ones; English and
Japanese. What `figure_overlaps.faults` finds is written out: words on one another, outside of the
canvas or under 7 pt as printed on A4, lines beyond their field; and letters that the face lacks.
"""

from __future__ import annotations

import itertools
import sys
import warnings
from collections import Counter
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "analysis" / "core"))

import test_look as figures
from figure_overlaps import faults
from kikichoko.panel.base.report_face import set_figures_in_own_face

SAMPLES, ATTRIBUTES = (2, 3, 6, 12), (3, 12, 40)
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


def _listed(names: dict[str, str]) -> dict[str, list[str]]:
    return {key: [name.strip() for name in text.split("|")] for key, text in names.items()}


def main() -> int:
    """Draw all; return how many figures have a fault."""
    set_figures_in_own_face()
    plain = figures.BOTTLES, figures.ATTRIBUTES
    drawn, wrong = 0, Counter[str]()
    only = set(sys.argv[1:])
    for long, language in itertools.product((False, True), ("en", "ja")):
        if long:
            figures.BOTTLES = _listed(SAMPLE_NAMES)
            figures.ATTRIBUTES = _listed(ATTRIBUTE_NAMES)
        else:
            figures.BOTTLES, figures.ATTRIBUTES = plain
        sizes = itertools.product(ATTRIBUTES, SAMPLES)
        for size, (name, draw) in itertools.product(list(sizes), figures.DRAWN.items()):
            if only and name not in only:
                continue
            with warnings.catch_warnings():
                warnings.filterwarnings("error", message=".*[Gg]lyph.*")
                found = faults(draw(language, size))
            drawn += 1
            if found:
                wrong[name] += 1
                told = f"{name} {language} {'long' if long else 'short'} {size}"
                sys.stdout.write(f"{told}: {len(found)}, {found[0]}\n")
                sys.stdout.flush()
    sys.stdout.write(f"{drawn} figures, {wrong.total()} with a fault: {dict(wrong)}\n")
    return wrong.total()


if __name__ == "__main__":
    sys.exit(1 if main() else 0)
