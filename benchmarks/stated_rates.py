"""How often single procedures err, each against the rate that it states.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 nice -n 5 python benchmarks/stated_rates.py [PART ...]

Every part prints what is stated, what was found and of how many, as rows of the table in
docs/stated_rates.md. Seeds are fixed; parts without a number of runs are enumerated exactly.
"""

from __future__ import annotations

import sys
import time
import warnings
from collections.abc import Iterator
from types import SimpleNamespace

import numpy as np
import pandas as pd
from kikichoko.analysis.agreement import icc
from kikichoko.analysis.citations import descriptors
from kikichoko.analysis.citations.fault_rule import false_notes, fault_errors
from kikichoko.analysis.claims.most_people import binomial_tail
from kikichoko.analysis.difference.forced_choice import exact_limits, likelihood_limits
from kikichoko.analysis.difference.psychometric import TESTS
from kikichoko.analysis.performance import assessors, history, stability
from kikichoko.panel.findings.budget import ASSESSORS
from kikichoko.panel.findings.evidence import SCALED
from scipy import stats

Row = tuple[str, str, str, str]
"""Procedure, what is stated, what was found, of how many."""


def d_prime() -> Iterator[Row]:
    """Count coverage of the limits of d' by enumeration, n = 6 to 48, d' = 0 to 4."""
    names = ("triangle", "duo-trio", "tetrad", "3-afc", "paired")
    for how, limits in (("exact", exact_limits), ("likelihood", likelihood_limits)):
        worst, where = 1.0, ""
        held, places = 0.0, 0
        for name in names:
            choice = TESTS[name]
            for n in range(6, 49, 3 if how == "exact" else 6):
                ends = np.array([limits(choice, x, n)[:2] for x in range(n + 1)])
                for d in np.linspace(0, 4, 41):
                    mass = stats.binom.pmf(np.arange(n + 1), n, choice.p_correct(d))
                    inside = (ends[:, 0] - 1e-6 <= d) & (d <= ends[:, 1] + 1e-6)
                    cover = float(mass[inside].sum())
                    held, places = held + cover, places + 1
                    if cover < worst:
                        worst, where = cover, f"{name}, n = {n}, d' = {d:.1f}"
        stated = "at least 95 %" if how == "exact" else "none"
        found = f"{100 * worst:.1f} % at worst ({where}), {100 * held / places:.1f} % on average"
        yield f"limits of d', {how}", stated, found, f"{places} designs and d', enumerated"


def threshold_rule(runs: int = 200) -> Iterator[Row]:
    """Simulate panels of 24, 12 and 8: does the interval of the best estimate hold the truth?"""
    x = 0.1 * 2.0 ** np.arange(8)
    for people in (24, 12, 8):
        rng = np.random.default_rng(679)
        held = own = 0
        logs, ends = [], []
        for run in range(runs):
            at = rng.normal(0.0, 0.25, people)
            p = 1 / 3 + 2 / 3 / (1 + np.exp(-8 * (np.log10(x)[None] - at[:, None])))
            right = rng.random(p.shape) < p
            rows = [(f"T{i}", c, int(right[i, k])) for i in range(people) for k, c in enumerate(x)]
            table = pd.DataFrame(rows, columns=["assessor", "concentration", "correct"])
            if run < (runs if people == 24 else runs // 2):
                low, high = _best(table)
                held += low <= 0 <= high
                logs.append((low + high) / 2)
                ends.append((low, high))
        middle = float(np.mean(logs))
        own = sum(low <= middle <= high for low, high in ends)
        n = len(ends)
        yield (
            f"best estimate of a threshold, {people} assessors",
            "95 % of what the rule gives in other panels; of the true one 74 % (24 assessors)",
            f"its own value {100 * own / n:.0f} %, the true threshold {100 * held / n:.0f} %",
            f"{n} panels",
        )


def _best(table: pd.DataFrame) -> tuple[float, float]:
    from kikichoko.analysis.difference.thresholds import best_estimates

    wide = table.pivot_table(index="assessor", columns="concentration", values="correct")
    logs = np.log10(best_estimates(wide.columns.to_numpy(float), wide.to_numpy(float)))
    half = stats.t.ppf(0.975, len(logs) - 1) * logs.std(ddof=1) / np.sqrt(len(logs))
    return float(logs.mean() - half), float(logs.mean() + half)


def _histories(
    runs: int, sessions: int, attributes: int, ageing: float = 0.0, bottle: float = 0.0
) -> Iterator[object]:
    """Simulate histories of a reference and a second bottle, six assessors."""
    start = pd.Timestamp("2024-01-01")
    dates = [start + pd.Timedelta(days=round(365.25 / 12 * s)) for s in range(sessions)]
    names = [f"s{s:02d}" for s in range(sessions)]
    table = pd.DataFrame({"session": names, "date": dates})
    known = pd.DataFrame({"sample": ["house", "kura"], "batch": ["H", "T1"]})
    s, a, w, b = (one.ravel() for one in np.indices((sessions, attributes, 6, 2)))
    frame = pd.DataFrame({
        "session": np.array(names)[s], "attribute": np.char.mod("a%d", a),
        "assessor": np.char.mod("p%d", w), "sample": np.array(["house", "kura"])[b],
        "replicate": 1,
    })  # fmt: skip
    for run in range(runs):
        rng = np.random.default_rng([7870, run, sessions, attributes])
        levels = rng.normal(0, 0.8, (attributes, 6))[a, w]
        day = rng.normal(0, 0.2, (sessions, attributes))[s, a]
        moved = np.where(b == 0, ageing * s, bottle * s) * (a == 0)
        scores = 5 + levels + day + moved + rng.normal(0, 0.6, len(s))
        yield history(frame.assign(score=scores), table, known, reference="house")


def charts(runs: int = 100) -> Iterator[Row]:
    """Count histories of 18 steady attributes with any signal."""
    for sessions in (12, 20):
        signals = sum(
            bool((one.chart["signal"] != "").any()) for one in _histories(runs, sessions, 18)
        )
        yield (
            f"control charts, 18 steady attributes, {sessions} sessions",
            "any signal in at most 5 %",
            f"{100 * signals / runs:.1f} %",
            f"{runs} histories",
        )


def ageing(runs: int = 60) -> Iterator[Row]:
    """Let the reference age while the other bottle does not, and count changes claimed of it."""
    for slope, label in ((0.0, "steady"), (0.1, "ages 0.1 a month"), (0.3, "ages 0.3 a month")):
        false = sum(bool(one.store["holds"].any()) for one in _histories(runs, 12, 3, ageing=slope))
        yield (
            f"change in store, reference {label}, the bottle steady",
            "a change claimed in at most 5 %",
            f"{100 * false / runs:.1f} %",
            f"{runs} histories",
        )
    found = sum(bool(one.store["holds"].any()) for one in _histories(runs, 12, 3, bottle=0.3))
    yield (
        "change in store, the bottle moves 0.3 a month",
        "(found)", f"{100 * found / runs:.0f} %", f"{runs} histories",
    )  # fmt: skip


def words(runs: int = 50) -> Iterator[Row]:
    """Count false words and the one true word, 20 words, 5 x 4 and 6 x 3, Holm over Tarone's."""
    for people, bottles in ((5, 4), (6, 3), (9, 6)):
        false = found = plain = 0
        for run in range(runs):
            rng = np.random.default_rng([1990, run, people])
            use = np.clip(rng.beta(1.2, 4, 20), 0.02, 0.7)
            ticks = rng.random((20, people, bottles)) < use[:, None, None]
            chance = np.where(np.arange(bottles) == 0, 0.8, 0.05)
            ticks[0] = rng.random((people, bottles)) < chance
            k, i, j = (one.ravel() for one in np.indices(ticks.shape))
            table = pd.DataFrame({
                "assessor": np.char.mod("T%d", i), "sample": np.char.mod("b%d", j),
                "attribute": np.char.mod("w%02d", k), "score": ticks[k, i, j].astype(int),
            })  # fmt: skip
            tests = descriptors(table).tests.set_index("attribute")
            told = tests["holds"]
            false += bool(told.drop("w00", errors="ignore").any())
            found += bool(told.get("w00", False))
            asked = tests["p"].dropna()
            plain += bool(asked.get("w00", 1.0) * len(asked) <= 0.05)
        yield (
            f"words, {people} × {bottles}, Holm over those that could differ (Tarone)",
            "any false word in at most 5 %",
            (
                f"false {100 * false / runs:.1f} %; the true one in {100 * found / runs:.0f} %, "
                f"counted among all words in {100 * plain / runs:.0f} %"
            ),
            f"{runs} tables",
        )


def leave_one_out(runs: int = 30) -> Iterator[Row]:
    """Set what is said with one assessor left out beside the claims of the same report."""
    import calibration
    from kikichoko.panel.across.people import _by_budget

    rng = np.random.default_rng(33)
    design = calibration.Design(assessors=7, bottles=3, replicates=2)
    against = firm = 0
    for run in range(runs):
        made = calibration.session(design, (0, 1, 3, 5)[run % 4], rng)
        found = calibration.findings(made, 499)
        context = SimpleNamespace(findings=found)
        scaled = found.evidence.attributes(*SCALED)
        left = stability(found.evidence.tidy(scaled), judge=_by_budget(context))
        claimed = {one.about for one in found.budget.claimed("scale", "balance")}
        said = left.table[left.table["stable"] & left.table["shown"]]["attribute"]
        against += set(left.table[left.table["shown"]]["attribute"]) != claimed
        against += not set(said) <= claimed
        firm += bool(len(said))
    yield (
        "leaving one assessor out", "never against the report's claims", f"{against} against them",
        f"{runs} reports, in {firm} of them something stands whoever is left out",
    )  # fmt: skip


def _card(
    rng: np.random.Generator, people: int, bottles: int, widths: np.ndarray | float, apart: float
) -> pd.DataFrame:
    """Simulate 18 attributes twice: levels sd .8, interaction .4, replicates .7."""
    a, k = 18, 2
    mix = np.linalg.cholesky(np.full((a, a), 0.3) + 0.7 * np.eye(a))
    profile = apart * rng.normal(size=(a, 1, bottles))
    inner = 0.4 * np.einsum("ab,bij->aij", mix, rng.normal(size=(a, people, bottles)))
    left = 0.7 * np.einsum("ab,bijk->aijk", mix, rng.normal(size=(a, people, bottles, k)))
    level = 0.8 * rng.normal(size=(a, people, 1, 1))
    wide = np.broadcast_to(widths, people)[None, :, None, None]
    scores = np.clip(5 + level + wide * ((profile + inner)[..., None] + left), 0, 10)
    q, i, j, r = (one.ravel() for one in np.indices(scores.shape))
    return pd.DataFrame({
        "assessor": np.char.mod("T%02d", i), "sample": np.char.mod("b%d", j), "replicate": r + 1,
        "attribute": np.char.mod("s%02d", q), "score": np.round(2 * scores[q, i, j, r]) / 2,
    })  # fmt: skip


def single_assessors(runs: int = 100) -> Iterator[Row]:
    """Count clean panels, and panels of unequal widths, in which anybody is named."""
    for people, bottles, spread, apart in (
        (6, 3, 0.0, 0.0), (12, 3, 0.0, 1.5), (12, 3, 0.25, 1.5), (12, 6, 0.3, 1.5),
    ):  # fmt: skip
        named = false = 0
        n = runs if not spread else runs // 2
        for run in range(n):
            rng = np.random.default_rng([11132, run, people, bottles, int(100 * spread)])
            logs = spread * rng.normal(size=people)
            table = _card(rng, people, bottles, np.exp(logs), apart)
            others = (logs.sum() - logs) / (people - 1)
            wider = dict(zip([f"T{i:02d}" for i in range(people)], logs > others, strict=True))
            found = assessors(table, alpha=ASSESSORS).findings
            told = found[found["shown"].astype(bool)]
            pairs = list(zip(told["assessor"], told["finding"], strict=True))
            named += bool(pairs)
            false += any(
                what not in {"wide", "narrow", "noisy", "crossing"}
                or (what == "narrow") == bool(wider[who])
                or not spread
                for who, what in pairs
            )
        kind = "alike" if not spread else f"log-SD {spread:g}"
        differ = "bottles alike" if not apart else f"bottles SD {apart:g}"
        yield (
            f"single assessors, {people} × {bottles} × 2, widths {kind}, {differ}",
            f"anybody falsely in at most {100 * ASSESSORS:g} % of reports",
            f"named in {100 * named / n:.0f} %, falsely in {100 * false / n:.0f} %", f"{n} panels",
        )  # fmt: skip


def one_width(runs: int = 40) -> Iterator[Row]:
    """Let one assessor use 0.7 or 1.3 of the others' width: how often is it told, at two risks?"""
    for people, bottles in ((12, 3), (12, 6)):
        for width in (0.7, 1.3):
            told = dict.fromkeys((0.05, ASSESSORS), 0)
            others, stated = 0, []
            for run in range(runs):
                rng = np.random.default_rng([1530, run, people, bottles, int(10 * width)])
                widths = np.r_[width, np.ones(people - 1)]
                table = _card(rng, people, bottles, widths, 1.5)
                for alpha in told:
                    made = assessors(table, alpha=alpha)
                    shown = made.findings[made.findings["shown"].astype(bool)]
                    named = shown["finding"].isin(("wide", "narrow")) & (shown["assessor"] == "T00")
                    told[alpha] += bool(named.any())
                    if alpha == ASSESSORS:
                        others += bool((shown["assessor"] != "T00").any())
                    else:
                        stated.append(made.smallest_scale)
            report = 100 * told[ASSESSORS] / runs
            yield (
                f"one of {people}, {bottles} bottles twice, width {width:g} of the others'",
                f"(found; a factor of 1 ± {np.median(stated):.2f} in 80 %, at a risk of 5 %)",
                (
                    f"named in {100 * told[0.05] / runs:.0f} % at 5 %, in {report:.0f} % by a "
                    f"report; somebody else in {100 * others / runs:.0f} %"
                ),
                f"{runs} panels",
            )


def just_right() -> Iterator[Row]:
    """Enumerate majorities where exactly half of the people find every bottle too sweet."""
    for people, bottles, maker in ((5, 3, False), (12, 3, False), (12, 6, False), (24, 3, True)):
        share = 0.048 * 0.1 / (2 if maker else 1)
        k = np.arange(people + 1)
        p = np.array([2 * binomial_tail(int(one), people) for one in k])
        told = p * bottles <= share
        one = float(stats.binom.pmf(k[told], people, 0.5).sum())
        found = float(stats.binom.pmf(k[told], people, 0.95).sum())
        yield (
            f"a majority too sweet, {people} × {bottles}{', with a maker' if maker else ''}",
            f"any false one in at most {100 * share:g} %",
            (
                f"{100 * (1 - (1 - one) ** bottles):.3f} % where half say so; found in "
                f"{100 * found:.0f} % where 95 % say so"
            ),
            "enumerated",
        )


def faults(runs: int = 4000) -> Iterator[Row]:
    """Count false flags and misses in simulated sessions beside what the report counts out."""
    for people, bottles, asked, times, rate in (
        (8, 3, 12, 2, 0.01), (6, 3, 12, 1, 0.01), (8, 3, 12, 2, 0.03), (12, 6, 15, 1, 0.01),
    ):  # fmt: skip
        known = false_notes(round(rate * 10_000), 10_000)
        said = fault_errors(people, bottles, asked, replicates=times, false=known)
        rule = said.rule
        rng = np.random.default_rng([55, people, times])
        flagged = held = missed = unheld = 0
        for _ in range(runs):
            cups = rng.random((bottles, asked, people, times)) < rate
            own = cups.any(axis=-1).sum(axis=-1)
            again = cups.sum(axis=(-1, -2)) >= (rule.recheck_from or 2)
            hold = own >= rule.needed(people)
            flagged += int((again | hold).any(axis=1).sum())
            held += bool(hold.any())
            there = rng.random((people, times)) < 0.5
            k = int(there.any(axis=-1).sum())
            half = k >= max(2, np.ceil(rule.hold_share * people))
            missed += not (there.sum() >= (rule.recheck_from or 2) or half)
            unheld += not half
        table = said.table.set_index("decision")
        out = said.missed.set_index("share").loc[0.5]
        yield (
            f"faults, {people} × {bottles} × {times}, {asked} faults, false notes {100 * rate:g} %",
            (
                f"{table.loc['recheck', 'flagged']:.3f} bottles flagged; held in at most "
                f"{100 * table.loc['hold', 'any_flagged']:.2f} %; missed "
                f"{100 * out['recheck']:.1f} % and {100 * out['hold']:.1f} %"
            ),
            (
                f"{flagged / runs:.3f}; {100 * held / runs:.2f} %; {100 * missed / runs:.1f} % and "
                f"{100 * unheld / runs:.1f} %"
            ),
            f"{runs} sessions",
        )


def intraclass(runs: int = 300) -> Iterator[Row]:
    """Count coverage of the limits of ICC, and set estimates with holes beside MixedLM's."""
    import statsmodels.formula.api as smf

    for bottles, people, holes in ((6, 8, 0.0), (6, 8, 0.15), (3, 7, 0.1), (10, 5, 0.3)):
        held = np.zeros(2)
        apart, compared, worse, done = 0.0, 0, 0, 0
        for run in range(runs):
            rng = np.random.default_rng([1996, run, bottles])
            table = rng.normal(0, 1, (bottles, people)) + rng.normal(0, 2**0.5, (bottles, 1))
            table += rng.normal(0, 1, (1, people))
            table[rng.random(table.shape) < holes] = np.nan
            if not (~np.isnan(table)).any(axis=0).all():
                continue
            found = icc(table)
            done += 1
            for place, (name, truth) in enumerate((("ICC(A,1)", 0.5), ("ICC(C,1)", 2 / 3))):
                low, high, _ = found.interval(name)
                held[place] += low <= truth <= high
            if holes and run < 25:
                row, column = np.nonzero(~np.isnan(table))
                long = pd.DataFrame({"t": row, "j": column, "y": table[row, column], "all": 1})
                model = smf.mixedlm(
                    "y ~ 1", long, groups="all",
                    vc_formula={"sample": "0 + C(t)", "assessor": "0 + C(j)"},
                )  # fmt: skip
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    other = model.fit(reml=True, method="lbfgs")
                own = [found.components[one] for one in ("sample", "assessor", "residual")]
                assessor, sample = other.vcomp
                theirs = [sample, assessor, other.scale]
                ours, best = (_unlikely(one, long) for one in (own, theirs))
                worse += ours > best + 1e-4
                if abs(ours - best) <= 1e-4:
                    share = sample / sum(theirs)
                    apart = max(apart, abs(share - found.estimate("ICC(A,1)")))
                compared += 1
        held *= 100 / done
        told = (
            f"; less likely than MixedLM's REML in {worse} of {compared} tables, as likely and "
            f"apart by {apart:.4f} at most"
        )
        yield (
            f"limits of ICC(A,1) and ICC(C,1), {bottles} × {people}, {100 * holes:.0f} % holes",
            "95 %" if not holes else "95 %, approximate",
            f"{held[0]:.1f} and {held[1]:.1f} %{told if compared else ''}",
            f"{done} tables",
        )


def _unlikely(variances: list[float], long: pd.DataFrame) -> float:
    """Return minus twice the restricted log-likelihood of crossed variances, but for a constant."""
    one = np.ones(len(long))
    parts = [np.equal.outer(one_of, one_of) for one_of in long[["t", "j"]].to_numpy().T]
    parts.append(np.eye(len(long)))
    v = sum(size * part for size, part in zip(variances, parts, strict=True))
    inverse = np.linalg.inv(v)
    weight = one @ inverse @ one
    rest = long["y"].to_numpy() - (one @ inverse @ long["y"].to_numpy()) / weight
    return float(np.linalg.slogdet(v)[1] + np.log(weight) + rest @ inverse @ rest)


PARTS = {
    one.__name__: one
    for one in (
        d_prime, threshold_rule, charts, ageing, words, leave_one_out, single_assessors,
        one_width, just_right, faults, intraclass,
    )
}  # fmt: skip


def main() -> None:
    """Print the rows of the parts asked for."""
    for name in sys.argv[1:] or PARTS:
        began = time.process_time()
        for row in PARTS[name]():
            print("| " + " | ".join(row) + " |", flush=True)
        print(f"<!-- {name}: {time.process_time() - began:.0f} s -->", flush=True)


if __name__ == "__main__":
    main()
