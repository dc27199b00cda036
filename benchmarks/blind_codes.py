"""Do codes, orders and open files tell anything about the bottles? Asked of 10,000 plans.

    python benchmarks/blind_codes.py [PLANS] [REPLICATES]

Each plan is drawn with a secret of its own, as `kikichoko plan` draws it: six bottles,
twelve assessors. From each plan one cup is taken by lot, so that the rows are
independent; what an outsider can see of it (feature) stands against the place of its
bottle in bottles.csv. Asked are

- a chi-square test of each table (alarm below 1e-4, and again with new plans below 1e-3);
- the mutual information in bits, less its bias (k-1)(l-1)/(2 n ln 2) (Miller-Madow, from memory);
- a guessing game: on half of the plans the commonest bottle of each value of all features
  together (a linear model on their indicators, least squares) is learned, on the other
  half bottles are guessed; hits beyond 1/6 + 4 standard errors would be a leak.

Each is first shown to find a leak that was planted: in 3 % of the plans the codes lie in the
order of the bottles.
"""

from __future__ import annotations

import math
import sys
import tempfile
from pathlib import Path

import numpy as np
from kikichoko.panel.plan.plan_file import halves
from kikichoko.panel.plan.planning import make
from kikichoko.panel.plan.pours import Plan
from kikichoko.panel.plan.sealing import seal
from kikichoko.panel.session import load
from scipy.stats import chi2_contingency

BOTTLES, ASSESSORS = 6, 12
SETTINGS = 'name = "many"\ndate = 2026-03-14\n[serving]\nreplicates = {}\nappearance = "off"\n'


def session_folder(replicates: int) -> Path:
    """Write the session that is planned."""
    folder = Path(tempfile.mkdtemp())
    (folder / "session.toml").write_text(SETTINGS.format(replicates), "utf-8")
    bottles = [f"b{number},{number},40" for number in range(1, BOTTLES + 1)]
    (folder / "bottles.csv").write_text("\n".join(["bottle,tank,available", *bottles]), "utf-8")
    people = [f"T{number},trained" for number in range(1, ASSESSORS + 1)]
    (folder / "assessors.csv").write_text("\n".join(["assessor,role", *people]), "utf-8")
    return folder


def features(plan: Plan, code: str) -> dict[str, int]:
    """Return what an outsider sees of a code: whole numbers."""
    open_half, key = halves(plan, "2026-03-14T12:00:00+00:00")
    codes = sorted({pour.code for pour in plan.pours})
    pours = open_half["pours"]
    number = int(code)

    def place(assessor: str) -> int:
        return next(
            pour["presentation"]
            for pour in pours
            if (pour["assessor"], pour["code"]) == (assessor, code)
        )

    firsts = sum(pour["presentation"] == 1 and pour["code"] == code for pour in pours)
    return {
        "rank of the code": codes.index(code),
        "first digit": number // 100,
        "last digit": number % 10,
        "parity": number % 2,
        "rest of 3": number % 3,
        "rest of 7": number % 7,
        "rest of 11": number % 11,
        "digit sum": sum(map(int, code)) // 3,
        "place, first assessor": place("T1"),
        "place, last assessor": place(f"T{ASSESSORS}"),
        "times first": firsts,
        "place in the open file": list(dict.fromkeys(p["code"] for p in pours)).index(code),
        "first bits of the seal": int(seal(key)[0], 16),
        "first bits of a sheet's mark": int(plan.sheets[0].fingerprint[0], 16),
    }


def table(plans: int, replicates: int, rng: np.random.Generator, planted: float = 0.0):
    """Return features (one row a plan), their names, and the places of the bottles."""
    session = load(session_folder(replicates))
    rows, bottles = [], []
    for _ in range(plans):
        plan = make(session)
        cups = {pour.code: pour.bottle for pour in plan.pours}
        if rng.random() < planted:
            cups = dict(zip(sorted(cups), sorted(cups.values()), strict=True))
        code = sorted(cups)[rng.integers(len(cups))]
        seen = features(plan, code)
        rows.append(list(seen.values()))
        bottles.append(int(cups[code][1:]) - 1)
    return np.array(rows), list(seen), np.array(bottles)


def counted(column: np.ndarray, bottles: np.ndarray) -> np.ndarray:
    """Count values of a feature against bottles; values seen less than 30 times go together."""
    values, index, often = np.unique(column, return_inverse=True, return_counts=True)
    rare = often < 30
    label = np.where(rare, len(values), np.arange(len(values)))[index]
    _, label = np.unique(label, return_inverse=True)
    made = np.zeros((label.max() + 1, BOTTLES))
    np.add.at(made, (label, bottles), 1)
    return made


def information(made: np.ndarray) -> float:
    """Return the mutual information in bits, less its bias."""
    share = made / made.sum()
    free = share.sum(1, keepdims=True) * share.sum(0, keepdims=True)
    there = share > 0
    bits = float((share[there] * np.log2(share[there] / free[there])).sum())
    return bits - (made.shape[0] - 1) * (made.shape[1] - 1) / (2 * made.sum() * math.log(2))


def guessed(rows: np.ndarray, bottles: np.ndarray) -> tuple[float, float]:
    """Return the share of bottles guessed right on the second half, and its limit."""
    shown = [(rows[:, [at]] == np.unique(rows[:, at])[None, :]) for at in range(rows.shape[1])]
    x = np.hstack([np.ones((len(rows), 1)), *shown]).astype(float)
    half = len(rows) // 2
    weights, *_ = np.linalg.lstsq(x[:half], np.eye(BOTTLES)[bottles[:half]], rcond=None)
    hits = float(((x[half:] @ weights).argmax(1) == bottles[half:]).mean())
    chance = 1 / BOTTLES
    return hits, chance + 4 * math.sqrt(chance * (1 - chance) / (len(rows) - half))


def told(rows: np.ndarray, names: list[str], bottles: np.ndarray) -> dict[str, tuple[float, float]]:
    """Return p and bits of each feature that has more than one value."""
    found = {}
    for at, name in enumerate(names):
        made = counted(rows[:, at], bottles)
        if len(made) > 1:
            found[name] = (float(chi2_contingency(made, correction=False)[1]), information(made))
    return found


def main() -> int:
    """Print the figures; return 1 where something leaks or the tests could not find a leak."""
    plans = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    replicates = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    rng = np.random.default_rng(20261126)
    rows, names, bottles = table(plans, replicates, rng)
    found = told(rows, names, bottles)
    alarms = [name for name, (p, _) in found.items() if p < 1e-4]
    if alarms:
        again = told(*table(plans, replicates, rng))
        alarms = [name for name in alarms if again[name][0] < 1e-3]
    for name, (p, bits) in found.items():
        print(f"{name:32} p {p:7.4f}   {bits:+.5f} bits")
    hits, limit = guessed(rows, bottles)
    print(f"{plans} plans: bottles guessed right {hits:.4f}, limit {limit:.4f}")
    planted, names, bottles = table(plans, replicates, rng, planted=0.03)
    finds = told(planted, names, bottles)["rank of the code"]
    print(f"planted in 3 % of the plans: p {finds[0]:.2g}, {finds[1]:+.5f} bits")
    leaks = bool(alarms) or hits > limit or max(bits for _, bits in found.values()) > 0.003
    print("leaks: " + (", ".join(alarms) or "guesses or bits" if leaks else "none found"))
    return int(leaks or finds[0] > 1e-4)


if __name__ == "__main__":
    sys.exit(main())
