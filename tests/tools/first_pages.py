"""Is one page one page? ``python tests/tools/first_pages.py OUT``.

Invented sessions that have much to tell, with 2 to 6 bottles (short names and long ones), 1 to 30
assessors, in English and Japanese: our own PDF of the first page, and the whole report printed by
a browser, on A4 and Letter. OUT gets the pages; what runs over is written out.
"""

from __future__ import annotations

import argparse
import itertools
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from corpus_sessions import report_of, session_files
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.panel.report import asked as what_was_served
from kikichoko.panel.report import build
from kikichoko.panel.report.page_room import goes_on
from kikichoko.panel.report.pdf import pdfs
from kikichoko.panel.report.spelling import Spelling
from pdf_words import bare, words
from report_rules import Told

PAPERS = ("A4", "Letter")
NAMES = {
    ("en", False): ("free-run", "clear", "cloudy", "press-end", "raw", "tank 7"),
    ("en", True): (
        "free-run of tank 4, raw and unfiltered",
        "clear middle pressing, heated in the bottle",
        "cloudy, raw, second filling of March",
        "last pressing, filtered through charcoal",
        "trial of the new yeast, tank 7, heated once",
        "house blend as it was sold last autumn",
    ),
    ("ja", False): ("荒走り", "中取り", "にごり", "責め", "生酒", "七号"),
    ("ja", True): (
        "荒走り無濾過生原酒（四号タンク）",
        "中取り純米大吟醸（瓶火入れ一回）",
        "活性にごり生酒（三月二本目詰め）",
        "責めの部分（炭素濾過した四合瓶）",
        "新しい酵母の試験（七号、一回火入れ）",
        "昨年秋に出荷した定番の調合酒",
    ),
}
FRACTIONS = ("free-run", "middle", "cloudy", "press-end", "middle", "")
QUESTION = {
    "en": "Which of these goes out in spring under our own label, which is kept for blending, and "
    "does the cloudy one bear being sent?",
    "ja": "春に自社の銘柄で出荷するのはどれか、調合に回すのはどれか、にごりは発送に耐えるか。",
}
SEEN = ("clarity", "colour")
"""What stands in opaque cups is not looked at."""
SPREAD, OWN, ROUND = 1.6, 0.5, 0.6
"""Points between bottles, between assessors and between repeats: much can be told."""


def drawn(
    n: int,
    assessors: int,
    language: str,
    *,
    long: bool,
    asked: int | None = None,
    much: bool = True,
) -> tuple[Any, ...]:
    """Draw settings, people, bottles, orders and cells of a session with much to tell.

    Of the card's lines all are `asked`, or so many, quality among them. Without `much` bottles
    differ a third as far, words half as often, and one bottle alone has a fault.
    """
    rng = np.random.default_rng([n, assessors, long])
    card = default_scorecard()
    names = NAMES[language, long][:n]
    roles = ("maker", "trained", "expert", "student")
    tastes = ("liker", "", "disliker", "")
    people = [
        {"id": f"P{k + 1}", "role": roles[k % 4], "taste": tastes[k % 4]} for k in range(assessors)
    ]
    bottles = [
        {
            "id": name, "batch": f"T{k // 3 + 1}", "fraction": FRACTIONS[k],
            "treatment": "raw" if k % 2 == 0 else "pasteurised", "meter_value": 2 - k,
            "acidity": 1.4 + 0.1 * k, "amino_acidity": 1.1 + 0.1 * k, "abv": 16.5 + 0.2 * k,
        }
        for k, name in enumerate(names)
    ]  # fmt: skip
    lines = [one.key for one in card if one.kind == "line" and one.key not in SEEN]
    lines = lines[-asked:] if asked else lines
    spread, named = (SPREAD, 0.9) if much else (SPREAD / 3, 0.45)
    cells = {}
    for name in lines:
        middle = rng.permutation(np.linspace(5 - spread * n / 4, 5 + spread * n / 4, n))
        for who in people:
            level = rng.normal(0, OWN)
            for at, bottle in enumerate(names):
                for replicate in (1, 2):
                    value = np.clip(middle[at] + level + rng.normal(0, ROUND), 0, 10)
                    cells[who["id"], bottle, replicate, name] = round(float(value), 1)
    words = ("apple", "pear", "steamed_rice", "yoghurt", "chestnut", "caramel")
    faults = ("buttery", "vinegar", "sulphur")
    for who, (at, bottle), replicate in itertools.product(people, enumerate(names), (1, 2)):
        key = who["id"], bottle, replicate
        cells[*key, "sweetness_balance"] = int(np.clip(round(rng.normal(at - n / 2, 0.7)), -2, 2))
        for k, word in enumerate(words):
            cells[*key, f"word_{word}"] = int(rng.random() < (named if k % n == at else 0.1))
        for k, fault in enumerate(faults):
            found = rng.random() < (0.8 if k == at and (much or k == 0) else 0.05 * much)
            cells[*key, f"fault_{fault}"] = int(rng.integers(1, 4)) if found else 0
    orders = {
        (who["id"], replicate): [names[at] for at in rng.permutation(n)]
        for who in people
        for replicate in (1, 2)
    }
    settings = {
        "id": f"page-{n}-{assessors}-{'long' if long else 'short'}-{language}",
        "attributes": [*lines, "sweetness_balance"], "words": list(words), "faults": list(faults),
        "lo": 0, "hi": 10, "replicates": 2, "order": "random", "seed": 1 + n,
    }  # fmt: skip
    return settings, people, bottles, orders, cells


def reported(
    n: int,
    assessors: int,
    language: str,
    folder: Path,
    *,
    long: bool,
    asked: int | None = None,
    much: bool = True,
) -> Told:
    """Take such a session through plan, typed table, store and report, with its figures."""
    made = drawn(n, assessors, language, long=long, asked=asked, much=much)
    session_files(made, folder, language)
    toml = folder / "session.toml"
    text = toml.read_text("utf-8").replace("What do these bottles tell?", QUESTION[language])
    toml.write_text(text, "utf-8")
    page_and_next = (*build.SECTIONS[:2], what_was_served.section)
    with patch.object(build, "SECTIONS", page_and_next):
        return report_of(made[0], folder, language, figures=True)


def next_title(told: Told) -> str:
    """Return the heading that follows the first page, without blanks."""
    keys = [section.key for section in told.report.sections]
    following = told.report.sections[keys.index(told.report.page_end) + 1]
    return bare(Spelling(told.report).line(following.title))


def pages_before(title: str, pages: list[str]) -> int:
    """Count the pages before the one with a heading: what stands in a line by itself."""
    return next(
        place
        for place, text in enumerate(pages)
        if title in (bare(line) for line in text.splitlines())
    )


def main() -> int:
    """Make and count the first pages; return how many run over."""
    from playwright.sync_api import sync_playwright
    from report_looks import FLAGS, printed, seen

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("out", type=Path)
    options.add_argument("--bottles", type=int, nargs="*", default=list(range(2, 7)))
    given = options.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    over, tried = 0, 0
    with sync_playwright() as driver, tempfile.TemporaryDirectory() as place:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for n, many, long, language in itertools.product(
            given.bottles, (1, 2, 3, 4, 12, 30), (False, True), ("en", "ja")
        ):
            told = reported(n, many, language, Path(place) / f"{tried}", long=long)
            page = given.out / f"{told.name}.html"
            page.write_text(told.page, "utf-8")
            for paper in PAPERS:
                tried += 1
                own = given.out / f"{told.name}-own-{paper}.pdf"
                own.write_bytes(pdfs(told.report, "MARK", paper)["page.pdf"])
                with seen(browser, page, "desk", "light") as shown:
                    by_browser = printed(shown, paper, given.out / f"{told.name}-{paper}.pdf")
                found = len(words(own)), pages_before(next_title(told), by_browser)
                if found != (1, 0 if goes_on(told.report) else 1):
                    over += 1
                    sys.stdout.write(f"{told.name} {paper}: own {found[0]}, printed {found[1]}\n")
                    sys.stdout.flush()
        browser.close()
    sys.stdout.write(f"{tried} first pages, {over} run over\n")
    return over


if __name__ == "__main__":
    sys.exit(1 if main() else 0)
