"""How often the limits of ``kikichoko demo serving`` hold the truth that was put into its answers.

``python benchmarks/serving_demo.py [REPETITIONS] [SEED]`` prints the table of docs/serving.md: the
invented panel of ``demo_sessions/serving`` is drawn again and again, each time with people and
marks of its own, and each effect of the first evening, and each change over the days, is set
beside what ``truth.toml`` says. All limits are 95 % for one effect or change alone.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from kikichoko.analysis.anova import change_over_days
from kikichoko.analysis.claims.cell_table import CellTable
from kikichoko.analysis.claims.factor_effects import crossed_effects, factor_effects
from kikichoko.analysis.core.tidy_table import tidy
from kikichoko.panel.demos._tools import spoken_file, truth
from kikichoko.panel.demos.serving import MARGIN, NAME, Marks
from kikichoko.panel.session.bottles import Bottle, read_bottles

FACTORS = ("temperature_c", "fraction", "pasteurised")
TINY = 1e-9


def bottles_of(day: str) -> list[Bottle]:
    """Return the bottles of one evening."""
    text = spoken_file(NAME, "bottles.csv", "en").decode("utf-8").replace("DAY", day)
    with TemporaryDirectory() as place:
        (Path(place) / "bottles.csv").write_text(text, "utf-8")
        return list(read_bottles(Path(place))[0])


def drawn(known: dict, people: list[str], evenings: dict, seed: int) -> pd.DataFrame:
    """Draw every answer of all evenings, as the demonstration does."""
    panel = Marks(known, np.random.default_rng(seed))
    rows = [
        (f"day-{day}", who, bottle.name, what, panel.score(who, bottle, what, day))
        for day, bottles in evenings.items()
        for who in people
        for bottle in bottles
        for what in known["mean"]
    ]
    return pd.DataFrame(rows, columns=["session", "assessor", "sample", "attribute", "score"])


def main(repetitions: int, seed: int) -> None:
    """Count, and print a row a kind."""
    known = truth(NAME)
    told = spoken_file(NAME, "assessors.csv", "en").decode("utf-8").splitlines()[1:]
    people = [line.split(",")[0] for line in told if ",maker," not in line]
    evenings = {one["day"]: bottles_of(one["day"]) for one in known["evenings"]}
    house = known["reference"]
    first = [one for one in evenings["1"] if one.name != house]
    factors = pd.DataFrame(
        {name: [one.level(name) for one in first] for name in FACTORS},
        index=[one.name for one in first],
    )
    asked = crossed_effects(factors)
    still = Marks(known, np.random.default_rng(0))
    true = {
        (one.name, what): float(one.weights @ [still.mean(b, what, "1") for b in first])
        for one in asked
        for what in known["mean"]
    }
    times = pd.DataFrame(
        [
            (f"day-{day}", one.name, one.name, float(day))
            for day, own in evenings.items()
            for one in own
            if one.name != house
        ],
        columns=["session", "sample", "series", "time"],
    )
    held, all_, sizes = Counter(), Counter(), {}
    for number in range(repetitions):
        scores = drawn(known, people, evenings, seed + number)
        evening = tidy(scores[scores["session"] == "day-1"].assign(replicate=1, position=1))
        panel = CellTable(evening, people, list(factors.index))
        for row in factor_effects(panel, factors, list(known["mean"])).to_dict("records"):
            kind = "two things together" if ":" in row["effect"] else "one thing"
            value = true[row["effect"], row["attribute"]]
            for key in (kind, f"{row['effect']}, {row['attribute']}" if abs(value) > TINY else ""):
                all_[key] += 1
                held[key] += row["low"] - TINY <= value <= row["high"] + TINY
                sizes[key] = value
        changes = change_over_days(scores, times, margin=MARGIN, reference=house).changes
        for row in changes.to_dict("records"):
            bottle = next(one for one in first if one.name == row["series"])
            day = f"{row['time']:g}"
            value = still.mean(bottle, row["attribute"], day) - still.mean(
                bottle, row["attribute"], "1"
            )
            kind = (
                "change over days, raw aroma"
                if abs(value) > TINY
                else "change over days, none put in"
            )
            all_[kind] += 1
            held[kind] += row["low"] - TINY <= value <= row["high"] + TINY
    print(f"{len(people)} assessors, {repetitions} repetitions, seed {seed}")
    for key in sorted(filter(None, all_)):
        size = f" (true {sizes[key]:+.2f})" if "," in key and key in sizes else ""
        print(f"| {key}{size} | {all_[key]} | {100 * held[key] / all_[key]:.1f} % |")


if __name__ == "__main__":
    given = [int(one) for one in sys.argv[1:]]
    main(*(given + [200, 1][len(given) :]))
