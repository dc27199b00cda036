"""Do codes, orders and open files tell anything about the bottles? Asked of 10,000 plans.

    python benchmarks/blind_codes.py [PLANS] [REPLICATES]

Each plan is drawn with a secret of its own, as `kikichoko plan` draws it: six bottles,
twelve assessors. From each plan one cup is taken by lot, so that the rows are
independent; what an outsider can see of it (feature) stands against the place of its
bottle in bottles.csv. Asked are

- a chi-square test of each table (alarm below 1e-4, and again with new plans below 1e-3);
- the mutual information in bits, less its bias (k-1)(l-1)/(2 n ln 2) (Miller-Madow, from memory);
- the codes and the orders by themselves: each code equally often; each of the 720 orders of the
  codes over the bottles, and of the bottles on the first assessor's sheet, equally often;
- with replicates: whether two codes of one bottle lie nearer to each other than two codes of two
  bottles (Kolmogorov and Smirnov's D of two samples; limit 1.3 * 1.95 sqrt(2 / n));
- a guessing game: on half of the plans the commonest bottle of each value of all features
  together (a linear model on their indicators, least squares) is learned, on the other
  half bottles are guessed; hits beyond 1/6 + 4 standard errors would be a leak.

Each is shown to find a leak that was planted: in 5 % of the plans codes and orders go as the
bottles do in their table, one code comes too often, and codes of one bottle are neighbours.
"""

from __future__ import annotations

import math
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from kikichoko.panel.plan.code_draw import PLAIN
from kikichoko.panel.plan.plan_file import halves
from kikichoko.panel.plan.planning import make
from kikichoko.panel.plan.pours import Plan
from kikichoko.panel.plan.sealing import seal
from kikichoko.panel.session import load
from scipy.stats import chi2_contingency, chisquare, ks_2samp

BOTTLES, ASSESSORS, PLANTED = 6, 12, 0.05
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


@dataclass
class Drawn:
    """What was drawn: one row a plan, and of each plan what hangs on all of its codes."""

    rows: np.ndarray
    names: list[str]
    bottles: np.ndarray
    codes: Counter[str]
    ranks: Counter[tuple[int, ...]]
    orders: Counter[tuple[str, ...]]
    pairs: np.ndarray
    """Distance of two codes of one bottle, and of two bottles; no rows without replicates."""


def table(plans: int, replicates: int, rng: np.random.Generator, planted: float = 0.0) -> Drawn:
    """Draw plans; a share of them leaks."""
    session = load(session_folder(replicates))
    rows, bottles, pairs = [], [], []
    codes: Counter[str] = Counter()
    ranks: Counter[tuple[int, ...]] = Counter()
    orders: Counter[tuple[str, ...]] = Counter()
    for _ in range(plans):
        plan = make(session)
        cups = {pour.code: pour.bottle for pour in plan.pours}
        leaks = rng.random() < planted
        if leaks:
            cups = dict(zip(sorted(cups), sorted(cups.values()), strict=True))
        code = sorted(cups)[rng.integers(len(cups))]
        seen = features(plan, code)
        rows.append(list(seen.values()))
        bottles.append(int(cups[code][1:]) - 1)
        codes.update(["102"] if leaks else list(cups))
        first = {}
        for one in sorted(cups) if leaks else cups:
            first.setdefault(cups[one], one)
        ranks[tuple(sorted(first, key=first.__getitem__))] += 1
        poured = [p.bottle for p in plan.pours if p.assessor == "T1" and p.replicate == 1]
        orders[tuple(sorted(poured) if leaks else poured)] += 1
        if replicates > 1:
            near, far = _distances(cups, rng)
            pairs.append((1 if leaks else near, far))
    return Drawn(
        np.array(rows), list(seen), np.array(bottles), codes, ranks, orders, np.array(pairs)
    )


def _distances(cups: dict[str, str], rng: np.random.Generator) -> tuple[int, int]:
    """Return how far two codes of one bottle lie apart, and two codes of two bottles."""
    code = list(cups)[rng.integers(len(cups))]
    same = [one for one in cups if one != code and cups[one] == cups[code]]
    other = [one for one in cups if cups[one] != cups[code]]
    return tuple(abs(int(code) - int(them[rng.integers(len(them))])) for them in (same, other))


def evenness(drawn: Drawn) -> dict[str, float]:
    """Return p of codes and orders being equally often."""
    found = {}
    for name, counts, classes in (
        ("codes equally often", drawn.codes, len(PLAIN)),
        ("orders of the codes", drawn.ranks, math.factorial(BOTTLES)),
        ("orders of the first assessor", drawn.orders, math.factorial(BOTTLES)),
    ):
        often = [*counts.values(), *[0] * (classes - len(counts))]
        found[name] = float(chisquare(often).pvalue)
    return found


def nearness(drawn: Drawn) -> tuple[float, float]:
    """Return D between codes of one bottle and of two, and its limit."""
    apart = ks_2samp(drawn.pairs[:, 0], drawn.pairs[:, 1]).statistic
    return float(apart), 1.3 * 1.95 * math.sqrt(2 / len(drawn.pairs))


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


def told(drawn: Drawn) -> dict[str, tuple[float, float]]:
    """Return p and bits of each feature that has more than one value."""
    found = {}
    for at, name in enumerate(drawn.names):
        made = counted(drawn.rows[:, at], drawn.bottles)
        if len(made) > 1:
            found[name] = (float(chi2_contingency(made, correction=False)[1]), information(made))
    return found


def main() -> int:
    """Print the figures; return 1 where something leaks or the tests could not find a leak."""
    plans = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    replicates = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    rng = np.random.default_rng(20261126)
    drawn = table(plans, replicates, rng)
    found, even = told(drawn), evenness(drawn)
    alarms = [name for name, (p, _) in found.items() if p < 1e-4]
    alarms += [name for name, p in even.items() if p < 1e-4]
    if alarms:
        anew = table(plans, replicates, rng)
        again = {name: p for name, (p, _) in told(anew).items()} | evenness(anew)
        alarms = [name for name in alarms if again[name] < 1e-3]
    for name, (p, bits) in found.items():
        print(f"{name:32} p {p:7.4f}   {bits:+.5f} bits")
    for name, p in even.items():
        print(f"{name:32} p {p:7.4f}")
    hits, limit = guessed(drawn.rows, drawn.bottles)
    print(f"{plans} plans, {replicates} replicates: guessed right {hits:.4f}, limit {limit:.4f}")
    most = max(bits for _, bits in found.values())
    if hits > limit or most > 0.003:
        alarms.append("guesses or bits")
    leak = table(plans, replicates, rng, planted=PLANTED)
    (p, bits), also = told(leak)["rank of the code"], evenness(leak)
    print(f"planted in {PLANTED:.0%} of the plans: p {p:.2g}, {bits:+.5f} bits, " + ", ".join(
        f"{name} {value:.2g}" for name, value in also.items()))  # fmt: skip
    missed = p > 1e-4 or max(also.values()) > 1e-4
    if replicates > 1:
        apart, most_apart = nearness(drawn)
        planted_apart, _ = nearness(leak)
        print(f"two codes of one bottle: D {apart:.4f}, limit {most_apart:.4f}, "
              f"planted {planted_apart:.4f}")  # fmt: skip
        alarms += ["two codes of one bottle"] if apart > most_apart else []
        missed = missed or planted_apart < most_apart
    print("leaks: " + (", ".join(alarms) or "none found") + ("; a leak was missed" * missed))
    return int(bool(alarms) or missed)


if __name__ == "__main__":
    sys.exit(main())
