"""Classes drawn by another mechanism than make_class.py: whole points from a curve with two ends.

Written on 2026-11-26 from the issue and the documents, before the code of teaching was run on
it, to be measured once. What is expected stands in unlike.md.

    python tests/outside/classes/unlike.py CLASS DRAWS FIRST_SEED

A bottle has a strength on each attribute; strengths share one cause, as in sake (what is rich is
sweet and long). A taster sees it through an S-shaped curve and writes whole points from 0 to 10,
so that differences shrink towards the ends. Cups scatter with heavy tails, the first cup of an
evening stands higher, a hasty cup is off on all lines, evenings have levels of their own, and one
cup of twenty-five has no answers.
"""

from __future__ import annotations

import json
import re
import sys

import numpy as np
import pandas as pd

LINES = ["sweetness", "acidity", "umami", "bitterness", "body", "length", "aroma"]
LOADS = np.array([0.8, -0.5, 0.7, 0.2, 0.8, 0.6, -0.3])
KINDS = {
    "Ordinary": {},
    "Turned": {"line": "acidity"},
    "Dice": {"dice": True},
    "Shy": {"slope": 0.35},
    "Bold": {"slope": 2.2},
    "Shaky": {"scatter": 0.9},
    "High": {"up": 0.9},
    "Growing": {"grows": True},
}
CLASSES = {
    "clean": (["Ordinary"] * 6, 3),
    "odd": (["Turned", "Dice", "Shy", "Ordinary", "Ordinary", "Ordinary"], 3),
    "odd too": (["Bold", "Shaky", "High", "Ordinary", "Ordinary", "Ordinary"], 3),
    "growing": (["Growing", "Ordinary", "Ordinary", "Ordinary"], 6),
}
SOUGHT = {
    "Turned": r"^acidity: your order runs the other way",
    "Dice": r"your scores do not follow the bottles",
    "Shy": r"you use a small part of the line",
    "Bold": r"you use much of the line|your distances are about",
    "Shaky": r"cups of one bottle often differ by a good deal",
    "High": r"you put everything about|you sit about .* higher",
    "Growing": r"you came clearly closer|came to agree better",
}
FAULTS = re.compile(
    r"runs the other way|do not follow the bottles|small part of the line|range\b|much of the line"
    r"|distances are about|differ by a good deal|higher than|lower than|clearly closer"
    r"|agree better|first sessions were closer|agreed better|whole class differs|it ran the other",
    re.IGNORECASE,
)


def draw(kinds: list[str], sessions: int, seed: int) -> pd.DataFrame:
    """Draw one class as a tidy table; the expert is E1, the students T1, T2, …"""
    rng = np.random.default_rng(seed)
    people = [("E1", {"scatter": 0.15, "expert": True})]
    people += [(f"T{place}", KINDS[kind]) for place, kind in enumerate(kinds, start=1)]
    own = {who: float(rng.uniform(0.9, 1.1)) for who, _ in people}
    taste = {who: rng.normal(0, 0.1, len(LINES)) for who, _ in people}
    rows = []
    for session in range(1, sessions + 1):
        cause = rng.normal(0, 1, 6)
        strength = cause[:, None] * LOADS + rng.normal(0, 0.8, (6, len(LINES)))
        for who, kind in people:
            share = (session - 1) / max(sessions - 1, 1)
            slope = kind.get("slope", 1.0) * (1.0 if kind.get("expert") else own[who])
            scatter = kind.get("scatter", 0.25)
            if kind.get("grows"):
                slope, scatter = 0.15 + 0.85 * share, 0.8 - 0.55 * share
            evening = 0.0 if kind.get("expert") else rng.normal(0, 0.12)
            order = [(b, cup) for cup in (1, 2) for b in rng.permutation(6)]
            for place, (b, cup) in enumerate(order):
                if rng.random() < 0.04 and not kind.get("expert"):
                    continue
                seen = strength[b] * slope
                if "line" in kind:
                    seen = np.where(np.array(LINES) == kind["line"], -seen, seen)
                if kind.get("dice"):
                    seen = rng.normal(0, 1, len(LINES))
                hasty = rng.normal(0, 0.6) if rng.random() < 0.02 else 0.0
                noise = rng.logistic(0, scatter * np.sqrt(3) / np.pi, len(LINES))
                up = kind.get("up", 0.0) + evening + hasty + (0.2 if place == 0 else 0.0)
                lent = 0.0 if kind.get("expert") else taste[who]
                score = np.round(10 / (1 + np.exp(-(seen + noise + up + lent))))
                rows += [(str(session), who, f"b{session}{b}", cup, line, float(value))
                         for line, value in zip(LINES, score, strict=True)]  # fmt: skip
    columns = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    return pd.DataFrame(rows, columns=columns)


def main(name: str, draws: int, first: int) -> None:
    """Print one line of JSON a draw: who was told what was sought, and what else was told."""
    from kikichoko.analysis.core import tidy
    from kikichoko.analysis.teaching import teaching

    kinds, sessions = CLASSES[name]
    for seed in range(first, first + draws):
        found = teaching(tidy(draw(kinds, sessions, seed)), ["E1"])
        told, false = {}, []
        for place, kind in enumerate(kinds, start=1):
            texts = [text.to("en") for text in found.students[f"T{place}"].sentences()]
            sought = SOUGHT.get(kind)
            if sought:
                told[kind] = any(re.search(sought, text, re.IGNORECASE) for text in texts)
            false += [
                f"{kind}: {text}"
                for text in texts
                if FAULTS.search(text) and not (sought and re.search(sought, text, re.IGNORECASE))
            ]
        print(json.dumps({"class": name, "seed": seed, "told": told, "false": false}), flush=True)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
