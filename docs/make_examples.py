"""Draw the tables that the documents use, from an invented scenario, into demo_sessions/examples.

Run by hand when a table has to change; the tables themselves are kept, and what the documents
say of them is tested. Points are of lines from 0 to 10, marked to the nearest half.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

TABLES = Path(__file__).parents[1] / "demo_sessions" / "examples"
RNG = np.random.default_rng(2026)
PANEL = ["M1", "E1", "T1", "T2", "T3", "T4", "T5", "T6"]
BOTTLES = {  # fraction, raw or heated, then means of the five attributes
    "free-run": ("free-run", "raw", (7.0, 4.0, 4.6, 3.8, 2.6)),
    "free-run heated": ("free-run", "heated", (5.6, 4.2, 4.6, 4.0, 2.8)),
    "cloudy": ("cloudy", "raw", (5.0, 6.4, 4.8, 7.0, 2.8)),
    "cloudy heated": ("cloudy", "heated", (4.2, 6.2, 4.6, 7.0, 3.4)),
}
ATTRIBUTES = ["aroma_intensity", "sweetness", "acidity", "body", "bitterness"]


def marked(value: float, low: float = 0, high: float = 10) -> float:
    """Mark a value on a line, to the nearest half."""
    return float(min(max(round(2 * value) / 2, low), high))


def scores() -> pd.DataFrame:
    """Eight assessors, four bottles, twice; T5 scatters, M1 likes the cloudy ones sweeter."""
    rows = []
    level = dict(zip(PANEL, RNG.normal(0, 0.7, len(PANEL)), strict=True))
    view = {
        (who, what): RNG.normal(0, 0.5, 5) + (what.startswith("cloudy") and who == "M1") * 0.8
        for who in PANEL
        for what in BOTTLES
    }
    for replicate in (1, 2):
        for who in PANEL:
            order = list(BOTTLES)
            RNG.shuffle(order)
            for place, what in enumerate(order, 1):
                fraction, heated, means = BOTTLES[what]
                noise = RNG.normal(0, 1.6 if who == "T5" else 0.6, 5)
                marks = [
                    marked(mean + level[who] + own + one)
                    for mean, own, one in zip(means, view[who, what], noise, strict=True)
                ]
                rows.append((who, what, fraction, heated, replicate, place, *marks))
    columns = ["assessor", "sample", "fraction", "heat", "replicate", "position"]
    table = pd.DataFrame(rows, columns=[*columns, *ATTRIBUTES])
    table.loc[[11, 40], "bitterness"] = np.nan
    return table


def words() -> pd.DataFrame:
    """Ten assessors tick words for three bottles; two replicates of nothing."""
    chance = {
        "pear": (0.8, 0.5, 0.1),
        "steamed_rice": (0.1, 0.3, 0.9),
        "banana": (0.3, 0.3, 0.2),
        "yoghurt": (0.0, 0.1, 0.7),
    }
    return pd.DataFrame(
        [
            {
                "assessor": f"T{who}",
                "sample": what,
                **{word: int(RNG.random() < p[place]) for word, p in chance.items()},
                "quality": marked(6.2 - 0.4 * place + RNG.normal(0, 1)),
            }
            for who in range(1, 11)
            for place, what in enumerate(("free-run", "clear", "cloudy"))
        ]
    )


def severity() -> pd.DataFrame:
    """Twelve assessors on the raw-stale note of three bottles, 0 (none) to 3 (strong)."""
    cuts = {"free-run": (0.7, 0.95, 1), "clear": (0.6, 0.9, 1), "cloudy": (0.2, 0.6, 0.9)}
    rows = [
        (f"T{who}", what, int(np.searchsorted(cut, RNG.random())))
        for who in range(1, 13)
        for what, cut in cuts.items()
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "raw_stale"])


def triangle() -> pd.DataFrame:
    """Twenty-four triangles: raw against once pasteurised."""
    right = [1] * 14 + [0] * 10
    RNG.shuffle(right)
    return pd.DataFrame({"assessor": [f"G{i}" for i in range(1, 25)], "correct": right})


def ranks() -> pd.DataFrame:
    """Nine assessors rank three bottles by sweetness, 1 the least."""
    rows = []
    for who in range(1, 10):
        felt = RNG.normal((0.0, 0.6, 2.0), 1.0)
        order = felt.argsort().argsort() + 1
        names = ("free-run", "clear", "cloudy")
        rows += [(f"T{who}", what, int(r)) for what, r in zip(names, order, strict=True)]
    return pd.DataFrame(rows, columns=["assessor", "sample", "sweetness"])


def steps() -> pd.DataFrame:
    """Seven assessors, six steps of an invented off-note among blanks, three cups each."""
    rows = []
    for who in range(1, 8):
        own = RNG.normal(3.2, 0.8)
        for step in range(6):
            tells = 1 / (1 + np.exp(-2.0 * (step - own)))
            right = RNG.random() < 1 / 3 + 2 / 3 * tells
            rows.append((f"T{who}", 0.05 * 2.0**step, int(right)))
    return pd.DataFrame(rows, columns=["assessor", "ug_per_l", "correct"])


def events() -> pd.DataFrame:
    """Eight assessors say for two bottles what dominates from which second on."""
    path = {"free-run": ["sweet", "umami", "bitter"], "cloudy": ["sour", "sweet", "sweet"]}
    rows = []
    for who in range(1, 9):
        for what, words_ in path.items():
            time = 0.0
            for word in words_:
                time += RNG.gamma(4, 1.5)
                taken = word if RNG.random() < 0.8 else str(RNG.choice(["umami", "bitter"]))
                rows.append((f"T{who}", what, round(time, 1), taken))
            rows.append((f"T{who}", what, round(time + 12 + RNG.gamma(4, 1.5), 1), ""))
    return pd.DataFrame(rows, columns=["assessor", "sample", "time", "attribute"])


def times() -> pd.DataFrame:
    """Six assessors follow two sips of three bottles each, as telephones tell it; T6 broke one off.

    Sweetness comes at once and goes (free-run), stays (clear), or comes last, behind acidity
    (cloudy). Drawn apart from the other tables, with a seed of its own.
    """
    rng = np.random.default_rng(16)
    struck = {
        "free-run": (("sweetness", 1.0), ("acidity", 9.0), ("bitterness", 19.0)),
        "clear": (("sweetness", 1.2), ("umami", 11.0), ("sweetness", 20.0)),
        "cloudy": (("acidity", 1.0), ("umami", 8.0), ("sweetness", 17.0)),
    }
    levels = {"free-run": (7.0, 4.0, 1.5), "clear": (6.0, 5.5, 4.5), "cloudy": (3.0, 4.5, 6.5)}
    names = ("sweetness", "acidity", "umami", "bitterness")
    rows: list[tuple[object, ...]] = []
    for who in range(1, 7):
        for place, bottle in enumerate(rng.permutation(list(struck)), 1):
            where = ("spring", f"T{who}", str(bottle), 1, place)
            broken = (who, str(bottle)) == (6, "cloudy")
            part = (*where, "dominance", 1, "broken off" if broken else "counted")
            offered = "|".join(rng.permutation(names))
            rows.append((*part, 0.0, "sip", "", None, 30, offered))
            for word, at in struck[str(bottle)][: 1 if broken else 3]:
                told = word if rng.random() < 0.85 else str(rng.choice(names))
                after = round(at + float(rng.gamma(4, 0.4)), 1)
                rows.append((*part, after, "word", told, None, 30, ""))
            if not broken:
                rows.append((*part, 30.0, "end", "time", None, 30, ""))
            part = (*where, "intensity", 1, "counted")
            rows.append((*part, 0.0, "sip", "", None, 30, ""))
            for third, level in enumerate(levels[str(bottle)]):
                after = round(10 * third + float(rng.gamma(4, 0.3)), 1)
                score = marked(level + rng.normal(0, 0.8))
                rows.append((*part, after, "level", "sweetness", score, 30, ""))
            rows.append((*part, 30.0, "end", "time", None, 30, ""))
    columns = ["session", "assessor", "sample", "replicate", "position", "part", "run", "state",
               "time", "event", "attribute", "score", "seconds", "offered"]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


def school() -> pd.DataFrame:
    """Six students and an expert on six bottles twice; s5 is spiked; S3 high, S5 narrow."""
    means = RNG.uniform(2, 8, (6, 3))
    rows = []
    for who in ("E1", "S1", "S2", "S3", "S4", "S5", "S6"):
        noise = 0.4 if who == "E1" else 0.9
        for cup in (1, 2):
            for bottle in range(6):
                own = means[bottle] + RNG.normal(0, noise, 3)
                if who == "S3":
                    own += [2.5, 0, 0]
                if who == "S5":
                    own = 5 + 0.35 * (own - 5)
                seen = {"E1": 1.0, "S4": 0.1}.get(who, 0.75)
                noted = int(RNG.random() < (seen if bottle == 4 else 0.03))
                rows.append((who, f"s{bottle + 1}", cup, *map(marked, own), noted))
    names = ["assessor", "sample", "replicate", "sweetness", "acidity", "body", "fault:buttery"]
    return pd.DataFrame(rows, columns=names)


def two() -> pd.DataFrame:
    """Two people, three bottles, twice."""
    means = {"free-run": (4.0, 6.8), "middle": (4.4, 6.0), "press-end": (6.0, 3.8)}
    rows = [
        (who, what, cup, *(marked(m + own + RNG.normal(0, 0.4)) for m in mean))
        for who, own in (("M1", 1.0), ("E1", -0.8))
        for what, mean in means.items()
        for cup in (1, 2)
    ]
    names = ["assessor", "sample", "replicate", "bitterness", "aroma_intensity"]
    return pd.DataFrame(rows, columns=names)


def tanks() -> tuple[pd.DataFrame, pd.DataFrame]:
    """Ten tanks of one season and what six assessors found in them."""
    n = 10
    meter, acid = RNG.uniform(-6, 8, n).round(1), RNG.uniform(1.2, 2.2, n).round(2)
    bottles = pd.DataFrame(
        {
            "bottle": [f"tank {i}" for i in range(1, n + 1)],
            "tank": range(1, n + 1),
            "abv": RNG.uniform(15, 17, n).round(1),
            "meter_value": meter,
            "acidity": acid,
        }
    )
    rows = []
    for who in range(1, 7):
        level = RNG.normal(0, 0.6)
        for tank in range(n):
            sweet = 5.5 - 0.25 * meter[tank] - 1.2 * (acid[tank] - 1.6) + level
            sour = 4 + 2.2 * (acid[tank] - 1.6) + level
            rows.append(
                (
                    f"T{who}",
                    f"tank {tank + 1}",
                    marked(sweet + RNG.normal(0, 0.8)),
                    marked(sour + RNG.normal(0, 0.8)),
                )
            )
    return pd.DataFrame(rows, columns=["assessor", "sample", "sweetness", "acidity"]), bottles


def season() -> pd.DataFrame:
    """Five assessors over six evenings; T2 scatters on the last."""
    rows = []
    for evening in range(1, 7):
        for who in range(1, 6):
            noise = 2.0 if (who, evening) == (2, 6) else 0.45
            rows += [
                (
                    f"2026-0{evening}-12",
                    f"T{who}",
                    f"b{bottle}",
                    cup,
                    marked(1.5 + bottle + RNG.normal(0, noise)),
                )
                for bottle in range(1, 7)
                for cup in (1, 2)
            ]
    return pd.DataFrame(rows, columns=["date", "assessor", "sample", "replicate", "acidity"])


def bottles() -> pd.DataFrame:
    """Return the numbers of the three fractions of one tank."""
    return pd.DataFrame(
        {
            "bottle": ["free-run", "clear", "cloudy"],
            "abv": [16.6, 16.9, 16.8],
            "meter_value": [1.5, 1.0, -4.0],
            "acidity": [1.5, 1.6, 1.8],
            "glucose": [1.9, 2.0, 2.6],
        }
    )


def main() -> None:
    """Draw all tables, always in this order."""
    tank_scores, tank_bottles = tanks()
    for name, table in {
        "scores": scores(),
        "words": words(),
        "severity": severity(),
        "triangle": triangle(),
        "ranks": ranks(),
        "steps": steps(),
        "events": events(),
        "times": times(),
        "class": school(),
        "two": two(),
        "tank-scores": tank_scores,
        "tank-bottles": tank_bottles,
        "season": season(),
        "bottles": bottles(),
    }.items():
        table.to_csv(TABLES / f"{name}.csv", index=False, lineterminator="\n")


if __name__ == "__main__":
    main()
