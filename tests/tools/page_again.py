"""The demonstration's report worked out again from its files: numpy, pandas, scipy, statsmodels.

No line of this program is used. `Again` holds the numbers; `fragments` writes each sentence's
numbers as the page must, `cells` those of its tables; KINDS names the numbers that are no results
(dates, codes, settings, sources, and the constants of rules in docs/decisions.md).
"""

from __future__ import annotations

import json
import sqlite3
import tomllib
from collections import Counter
from collections.abc import Callable
from functools import cached_property
from pathlib import Path

import claims_again
import numpy as np
import pandas as pd
from claims_again import PAIRS, Question
from scipy import optimize, stats

BOTTLES = ["free-run", "clear", "cloudy"]
ASIDE = ("release", "sweetness_expected", "fault_unsure:cannot_tell")
"""What a taster advises, expects or cannot tell: no property of the bottle, no line of its own."""
GAPS = (("flavour_intensity", "aroma_intensity"), ("sweetness", "sweetness_expected"))
"""What is set against what: palate and nose, sweetness found and expected."""
BUDGET, WHOLE = 0.9 * 0.048, 0.05
"""Of 5 %, 0.2 are kept for single assessors, and a tenth of the rest for majorities and maker."""
LABELS = {
    "quality": "Overall quality", "finish_length": "Left after a minute", "body": "Fullness",
    "aroma_intensity": "Smell of the still cup",
    "colour": "Depth of colour", "clean_cut": "Clean cut-off", "texture": "Smoothness",
    "flavour_intensity": "Aroma in the mouth", "cloying": "Tiring",
    "sweetness_first": "First sweetness", "sweetness_after": "Sweetness that stays",
    "bitterness_after": "Bitterness that comes",
    "sweetness_balance": "Sweetness against acidity",
}  # fmt: skip
WORDS = {
    "aroma:muscat": "muscat grape", "aroma:flower": "flowers", "aroma:milk": "fresh milk",
    "aroma:herb": "green herbs", "aroma:nut": "nuts",
}  # fmt: skip
MENTIONS = {
    "free-run": {"pear": ("pear", "洋梨"), "light": ("light", "軽い"), "clean taste": ("clean",)},
    "clear": {"rice and grain": ("a little rice",), "round, mellow": ("round",),
              "balance": ("バランスがよい",)},
    "cloudy": {"tiring": ("tiring",), "heavy": ("重い",), "steamed rice": ("steamed rice",),
               "sweet": ("甘くて",), "yoghurt": ("ヨーグルト",)},
}  # fmt: skip
"""Words of the demonstration's notes, as a person reads them."""
UNREAD = ("gone quickly",)
KINDS = {
    "date": r"\d{4}-\d{2}-\d{2}(?: \d{2}:\d{2} UTC)?",
    "code": r"the code “\d{3}”|(?:[A-Z0-9]{4}-){3,}[A-Z0-9]{4}|\b[MTEN]\d\b|[Tt]ank 4\b|plan 1\b",
    "version": r"kikichoko 0\.1\.0|(?:Python|numpy|scipy|pandas) \d+(?:\.\d+)+|SHA-256",
    "source": r"\((?:1974|Koo and Li 2016[^)]*)\)|Koo and Li 2016, J\. Chiropr\. Med\. 15:155|"
    r"J\. Brew\. Soc\. Japan 69, 774–777|ISO 11132 and ISO 8586|index of 1974",
    "formula": r"ICC\([CA],1\)|193593 / \(1443 \+ meter value\) − 1\.16 × acidity − 132\.57|"
    r"about −3 to \+3|about 17 % alcohol|1 is perfect|1 if all make|0 or below if they|"
    r"below 0 are held at 0",
    "level": r"95 % (?:interval|limits?)s?|with a chance of 95 in 100|power 80 %|"
    r"one-sided 95 %|8 of 10 (?:tastings|such tastings)|in 95 of 100 shuffled",
    "rule": r"Named where p is 0\.05 or less|Hints go up to p = 0\.20 in the budget|"
    r"hint has an adjusted p of at most 0\.2: at most 20 of 100|One in five|"
    r"where 50 % of the|or 33 %, two at least, at severity 2|fewer than 5 assessors|"
    r"noted in 1 %|assumed in 1 % of the answers|below 0\.5 poor, to 0\.75 moderate, to 0\.9 good|"
    r"at most 0\.2 of 100 panels|clear of 0 (?:and|each|or)",
    "setting": r"2000 shuffles, seed 1|drawn again 500 times \(seed 1\)",
    "law": r"article 86-5|Notification No\. 8 of 22 November 1989, amended by No\. (?:10 of 2003|"
    r"30 of 2022)|drinking by minors \(1989\)|Rice Traceability Act \(Act No\. 26 of 2009",
    "served": r"smell and taste were judged at 18 °C",
    "care": r"(?:at|to|:) (?:0 to )?5 °C",
}
"""Numbers that are no results. A changed rule or setting changes its text here, too."""


def label(attribute: str) -> str:
    """Return what people read for an attribute."""
    plain = attribute.replace("_", " ").capitalize()
    return LABELS.get(attribute, WORDS.get(attribute, plain.removeprefix("Aroma:")))


def alike(table: pd.DataFrame, field: str) -> pd.Series:
    """Write a column with the decimals of its longest number."""
    digits = max(len(f"{value:g}".partition(".")[2]) for value in table[field])
    return table[field].map(lambda value: f"{value:.{digits}f}".replace("-", "−"))


def plainly(value: float, digits: int = 1) -> str:
    """Write a number, half away from zero, with a true minus and no minus before 0."""
    steps = np.floor(abs(value) * 10**digits + 0.5 + 1e-7)
    return f"{'−' if value < 0 and steps else ''}{steps / 10**digits:.{digits}f}"


def signed(value: float, digits: int = 1) -> str:
    """Write a difference with its sign; nothing has none."""
    text = plainly(value, digits)
    return f"+{text}" if value > 0 and text.strip("0.") else text


def edge(value: float, write: Callable[[float, int], str] = plainly) -> str:
    """Write a limit: with two or three decimals where one would make it 0."""
    return next((text for more in (1, 2, 3) if (text := write(value, more)).strip("0.")), "0.0")


def percent(share: float) -> str:
    value = 100 * share
    near = 0 < value < 0.95 or 99.05 < value < 100
    return f"{value:.1f} %" if near else f"{value:.0f} %"


def coefficient(value: float) -> str:
    return "below 0" if value < -0.005 else f"{max(value, 0.0):.2f}"


def reml(y: np.ndarray, fixed: np.ndarray, *random: np.ndarray) -> dict[str, np.ndarray]:
    """Fit variances by REML on dense matrices; Satterthwaite's degrees of freedom for effects.

    Patterson & Thompson 1971; Satterthwaite as in Kuznetsova et al. 2017, with derivatives by
    differences.
    """
    parts = [np.equal.outer(one, one).astype(float) for one in random] + [np.eye(len(y))]

    def effects(theta: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
        v = sum(t * part for t, part in zip(theta, parts, strict=True))
        solved = np.linalg.solve(v, np.column_stack([fixed, y]))
        left = fixed.T @ solved[:, :-1]
        beta = np.linalg.solve(left, fixed.T @ solved[:, -1])
        rest = y - fixed @ beta
        minus2 = np.linalg.slogdet(v)[1] + np.linalg.slogdet(left)[1]
        return beta, np.linalg.inv(left), minus2 + float(rest @ np.linalg.solve(v, rest))

    def minus2(theta: np.ndarray) -> float:
        v = sum(t * part for t, part in zip(theta, parts, strict=True))
        whole = np.linalg.eigvalsh(v)[0] > 1e-6 * y.var()
        return effects(theta)[2] if whole else np.inf

    # A component may come out below 0, as from mean squares, while the whole stays positive.
    theta = np.full(len(parts), y.var() / len(parts))
    for _ in range(3):
        theta = optimize.minimize(
            minus2, theta, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12},
        ).x  # fmt: skip
    moves = np.diag(np.maximum(abs(theta), 0.05 * y.var()) * 1e-3)

    def at(move: np.ndarray) -> float:
        return effects(theta + move)[2]

    bend = np.array([
        [(at(a + b) - at(a - b) - at(b - a) + at(-a - b)) / (4 * a.sum() * b.sum()) for b in moves]
        for a in moves
    ])  # fmt: skip
    slopes = np.array([
        (effects(theta + a)[1] - effects(theta - a)[1]) / (2 * a.sum()) for a in moves
    ])  # fmt: skip
    beta, phi, _ = effects(theta)
    return {"beta": beta, "phi": phi, "theta": theta, "W": 2 * np.linalg.inv(bend), "D": slopes}


class Again:
    """Everything that the page prints, from the files of the demonstration.

    Parameters
    ----------
    folder : Path
        Of the session, with ``scores.csv`` and the report.
    shuffles, seed : int
        Of the shuffles of our own.
    """

    def __init__(self, folder: Path, shuffles: int = 5999, seed: int = 20261126) -> None:
        self.folder = folder
        self.everybody = pd.read_csv(folder / "scores.csv")
        self.scores = self.everybody[self.everybody["assessor"] != "M1"]
        self.bottles = pd.read_csv(folder / "bottles.csv").set_index("bottle").loc[BOTTLES]
        people = pd.read_csv(folder / "assessors.csv").set_index("assessor")
        self.planned = people
        self.people = people.loc[sorted(set(self.everybody["assessor"]))]
        self.settings = tomllib.loads((folder / "session.toml").read_text("utf-8"))
        self.cells = self.scores.groupby(["attribute", "sample", "assessor"])["score"].mean()
        self.means = self.cells.groupby(level=["attribute", "sample"]).mean()
        names = [one for one in dict.fromkeys(self.scores["attribute"]) if one not in ASIDE]
        self.words = [one for one in names if one.startswith("aroma:")]
        self.faults = [one for one in names if one.startswith("fault:")]
        self.lines = [one for one in names if ":" not in one and one != "sweetness_balance"]
        self.scaled = [*self.lines, "sweetness_balance"]
        self.shuffles, self.seed = shuffles, seed

    @cached_property
    def tables(self) -> dict[str, pd.DataFrame]:
        """Assessors by bottles of each attribute, the maker among them: means of the cells."""
        keys = ["attribute", "assessor"]
        every = self.everybody.pivot_table(index=keys, columns="sample", values="score")
        return dict(tuple(every[BOTTLES].groupby(level="attribute")))

    def everybodys(self, attribute: str) -> pd.DataFrame:
        """Return assessors by bottles, the maker among them."""
        return self.tables[attribute].droplevel("attribute")

    def wide(self, attribute: str, *, noted: bool = False) -> pd.DataFrame:
        """Return assessors by bottles without the maker; 0 and 1 for what was ever noted."""
        table = self.everybodys(attribute).drop("M1").dropna(how="all")
        return (table > 0).astype(float).where(table.notna()) if noted else table

    def floor(self, attribute: str) -> float:
        """Return the variance of a cell that writing in steps makes, the maker aside."""
        return self._floor(self.scores, attribute)

    def floor_all(self, attribute: str) -> float:
        """Return the same with the maker."""
        return self._floor(self.everybody, attribute)

    @staticmethod
    def _floor(rows: pd.DataFrame, attribute: str) -> float:
        own = rows[rows["attribute"] == attribute]
        count = own.groupby(["assessor", "sample"]).size()
        return claims_again.step(own["score"].to_numpy()) ** 2 / 12 * float((1 / count).mean())

    @cached_property
    def questions(self) -> list[Question]:
        """All questions under the shuffles, that whether bottles differ at all last."""
        made = []
        kinds = {"scale": self.lines, "balance": ["sweetness_balance"]}
        for kind, names in (kinds | {"word": self.words, "fault": self.faults}).items():
            for name in names:
                cells = self.wide(name, noted=kind == "fault").to_numpy()
                if np.nanmax(np.ptp(cells, axis=1)) > 0:
                    floor = self.floor(name) if kind in kinds else 0.0
                    made.append(Question(kind, name, cells, floor, claims_again.WEIGHTS[kind]))
        for more, less in GAPS:
            gap = (self.wide(more) - self.wide(less)).to_numpy()
            floor = self.floor(more) + self.floor(less)
            made.append(Question("gap", f"{more}-{less}", gap, floor))
        widest = claims_again.judge(made, self.shuffles, self.seed)
        return [*made, claims_again.overall(made, widest)]

    def question(self, kind: str, about: str) -> Question:
        return next(one for one in self.questions if (one.kind, one.about) == (kind, about))

    @cached_property
    def adjusted(self) -> dict[tuple[str, str], tuple[float, np.ndarray]]:
        """Adjusted p of questions and pairs, on the scale of the whole budget."""
        scale = WHOLE / BUDGET
        return {
            key: (min(p * scale, 1.0), np.minimum(pairs * scale, 1.0))
            for key, (p, pairs) in claims_again.step_down(self.questions).items()
        }

    def claimed(self, *kinds: str) -> list[tuple[str, str]]:
        return [key for key, (p, _) in self.adjusted.items() if key[0] in kinds and p <= WHOLE]

    def pairs_claimed(self, kind: str, about: str) -> list[tuple[str, str]]:
        """Return the claimed pairs, higher first."""
        effects = self.question(kind, about).effects
        found = []
        for (a, b), p in zip(PAIRS, self.adjusted[kind, about][1], strict=True):
            if p <= WHOLE:
                high, low = (a, b) if effects[a] > effects[b] else (b, a)
                found.append((BOTTLES[high], BOTTLES[low]))
        return found

    @cached_property
    def first(self) -> float:
        """The level that a question of weight 1 needs first."""
        return claims_again.first_step(self.questions, BUDGET)

    def detected(self, one: Question) -> tuple[float, float]:
        """Return the difference that is found, not named and named beforehand."""
        plain = claims_again.detected(one, self.first)
        held, one.weight = one.weight, claims_again.NAMED
        raised = claims_again.first_step(self.questions, BUDGET) * one.weight
        one.weight = held
        return plain, claims_again.detected(one, raised)

    @cached_property
    def limits(self) -> dict[str, tuple[float, float]]:
        """`detected` of every scale."""
        return {
            one.about: self.detected(one)
            for one in self.questions
            if one.kind in claims_again.JUDGED_BY_T
        }

    @cached_property
    def mean_limits(self) -> dict[tuple[str, str], tuple[float, float, float]]:
        """Mean, low and high of each attribute and bottle, assessors and bottles in a mixed model.

        Full tables by mean squares, others by REML; t by Satterthwaite.
        """
        found = {}
        for name in (*self.scaled, "sweetness_expected"):
            own = self.scores[self.scores["attribute"] == name]
            size = own.groupby(["assessor", "sample"]).size()
            if len(size) == 21 and (size == size.iloc[0]).all():
                cells = self.wide(name).to_numpy()
                level = cells - cells.mean(axis=0)
                across = 3 * size.iloc[0] * (level.mean(axis=1) ** 2).sum() / 6
                inner = level - level.mean(axis=1, keepdims=True)
                inside = size.iloc[0] * (inner**2).sum() / 12
                parts = np.array([across, 2 * inside])
                se = np.full(3, np.sqrt(parts.sum() / (21 * size.iloc[0])))
                df = np.full(3, parts.sum() ** 2 / (parts**2 / [6, 12]).sum())
                beta = cells.mean(axis=0)
            else:
                fixed = (own["sample"].to_numpy()[:, None] == np.array(BOTTLES)).astype(float)
                who = own["assessor"].to_numpy()
                inner = [who + own["sample"].to_numpy()] if (size > 1).any() else []
                fit = reml(own["score"].to_numpy(), fixed, who, *inner)
                beta, variance = fit["beta"], np.diag(fit["phi"])
                slope = np.array([np.diag(one) for one in fit["D"]])
                df = 2 * variance**2 / np.einsum("ij,ik,kj->j", slope, fit["W"], slope)
                se = np.sqrt(variance)
            half = stats.t.ppf(0.975, df) * se
            for bottle, mean, reach in zip(BOTTLES, beta, half, strict=True):
                found[name, bottle] = (float(mean), float(mean - reach), float(mean + reach))
        return found

    def index(self, bottle: str) -> float:
        """Return the sweet-dry index of Sato, Kawashima & Maruyama 1974."""
        row = self.bottles.loc[bottle]
        return 193593 / (1443 + row["meter_value"]) - 1.16 * row["acidity"] - 132.57

    def paired(self, first: str, second: str, bottle: str) -> tuple[float, float, float, int]:
        """Return mean difference within assessors, its t limits and their number."""
        gap = (self.cells[first, bottle] - self.cells[second, bottle]).dropna()
        limits = stats.ttest_1samp(gap, 0).confidence_interval(0.95)
        return float(gap.mean()), float(limits.low), float(limits.high), len(gap)

    @cached_property
    def given(self) -> pd.DataFrame:
        """Assessors who gave each word in at least half of the tastings, word by bottle."""
        own = self.cells[self.cells.index.get_level_values("attribute").isin(self.words)]
        counted = (own >= 0.5).groupby(level=["attribute", "sample"]).sum().rename("k")
        keys = {"index": "attribute", "columns": "sample", "values": "k"}
        return counted.reset_index().pivot_table(**keys)[BOTTLES].astype(int)

    @cached_property
    def sides(self) -> dict[str, tuple[int, int, int, int]]:
        """Too dry, just right, too sweet, wavering, by bottle."""
        own = self.scores[self.scores["attribute"] == "sweetness_balance"]
        found = {}
        for bottle in BOTTLES:
            marks = own[own["sample"] == bottle].groupby("assessor")["score"]
            counts = [
                int((marks.apply(lambda x, side=side: (np.sign(x) == side).mean()) > 0.5).sum())
                for side in (-1, 0, 1)
            ]
            found[bottle] = (*counts, marks.ngroups - sum(counts))
        return found

    @cached_property
    def noted(self) -> pd.DataFrame:
        """Every fault that anybody noted: where, by whom, how strongly, of how many."""
        own = self.everybody[self.everybody["attribute"].isin(self.faults)]
        worst = own.groupby(["attribute", "sample", "assessor"])["score"].max().reset_index()
        total = worst.groupby(["attribute", "sample"]).size()
        seen = worst[worst["score"] > 0]
        rows = seen.groupby(["attribute", "sample"]).agg(
            k=("score", "size"), severity=("score", "mean"), who=("assessor", list)
        )
        return rows.assign(n=total.loc[rows.index]).reset_index()

    @cached_property
    def agreement(self) -> dict[str, tuple[float, float, float, float]]:
        """ICC(C,1) with limits, and ICC(A,1), of every line (McGraw & Wong 1996).

        With a hole by REML; limits from F of the mean squares that both factors leave each other.
        """
        return {name: icc(self.wide(name)) for name in self.lines}

    @cached_property
    def plane(self) -> np.ndarray:
        """Shares of the principal components of the means, in units of the spread inside."""
        return self.squares[:2] / self.squares.sum()

    def plane_sizes(self) -> list[float]:
        """Return the sums of squares of the bottles' places on either axis."""
        return [float(one) for one in self.squares[:2]]

    @cached_property
    def squares(self) -> np.ndarray:
        """Squares of the singular values of that table."""
        columns = []
        for name in self.scaled:
            wide = self.wide(name)
            cells = wide.to_numpy().copy()
            row, column = np.nonzero(np.isnan(cells))
            if len(row):
                cells[row, column] = _expected(cells)[row, column]
            cells -= cells.mean(axis=1, keepdims=True)
            columns.append(cells.mean(axis=0) / cells.std())
        table = np.array(columns).T
        return np.asarray(np.linalg.svd(table - table.mean(axis=0), compute_uv=False) ** 2)

    def empty_cells(self, *, maker: bool = False) -> int:
        """Count assessor, bottle and attribute without an answer, for line scales."""
        rows = self.everybody if maker else self.scores
        n = rows["assessor"].nunique() * 3
        own = rows[rows["attribute"].isin(self.lines)]
        seen = own.groupby("attribute")[["assessor", "sample"]].apply(
            lambda part: len(part.drop_duplicates())
        )
        return int((n - seen).sum())

    def open_things(self) -> int:
        """Count faults of returned files that nobody has settled."""
        with sqlite3.connect(self.folder / "answers.sqlite") as store:
            found = store.execute("select count(*) from faults").fetchone()[0]
            return int(found - store.execute("select count(*) from settled").fetchone()[0])

    def unread(self) -> list[dict[str, str]]:
        """Return what stood on returned files and was not understood."""
        names = ("place", "code", "found", "expected")
        with sqlite3.connect(self.folder / "answers.sqlite") as store:
            rows = store.execute("select place, code, found, expected from faults").fetchall()
        return [dict(zip(names, map(str, row), strict=True)) for row in rows]

    def log(self) -> int:
        """Count the entries of the log up to the opening."""
        lines = (self.folder / "log.jsonl").read_text("utf-8").splitlines()
        acts = [json.loads(line)["act"] for line in lines]
        return acts.index("open") + 1

    def notes(self) -> dict[str, list[str]]:
        """Return what was written about each bottle, as the workbook keeps it."""
        rows = pd.read_excel(
            self.folder / "report/tables.xlsx", sheet_name="words", engine="openpyxl"
        )
        return {one: rows.loc[rows["sample"] == one, "text"].tolist() for one in BOTTLES}


def _expected(cells: np.ndarray) -> np.ndarray:
    """Return what assessor and bottle let expect: least squares of both."""
    row, column = np.nonzero(~np.isnan(cells))
    design = np.hstack([np.eye(cells.shape[0])[row], np.eye(cells.shape[1])[column]])
    both = np.linalg.lstsq(design, cells[row, column], rcond=None)[0]
    return both[: cells.shape[0], None] + both[None, cells.shape[0] :]


def icc(wide: pd.DataFrame) -> tuple[float, float, float, float]:
    """Return ICC(C,1), its limits, and ICC(A,1) of assessors by bottles."""
    cells = wide.to_numpy()
    row, column = np.nonzero(~np.isnan(cells))
    y = cells[row, column]
    people, things = np.eye(cells.shape[0])[row], np.eye(cells.shape[1])[column]

    def left(*parts: np.ndarray) -> float:
        design = np.hstack([np.ones((len(y), 1)), *parts])
        return float(((y - design @ np.linalg.lstsq(design, y, rcond=None)[0]) ** 2).sum())

    n, k = cells.shape[1], cells.shape[0]
    df = len(y) - n - k + 1
    error, bottles = left(people, things) / df, (left(people) - left(people, things)) / (n - 1)
    assessors = (left(things) - left(people, things)) / (k - 1)
    if len(y) == n * k:
        sample, assessor = (bottles - error) / k, (assessors - error) / n
        per = float(k)
        absolute = sample / (sample + assessor + error)
        consistent = sample / (sample + error)
    else:
        sample, assessor, rest = reml(y, np.ones((len(y), 1)), column, row)["theta"]
        consistent, absolute = sample / (sample + rest), sample / (sample + assessor + rest)
        # Henderson's third method: assessors a bottle in the expectation of its mean square
        shares = people / people.sum(axis=0)
        per = float(np.trace(things.T @ (things - shares @ (people.T @ things)))) / (n - 1)
    f = bottles / error
    ends = f / stats.f.isf(0.025, n - 1, df), f * stats.f.isf(0.025, df, n - 1)
    low, high = ((x - 1) / (x + per - 1) for x in ends)
    return consistent, low, high, absolute


def levels_of(wide: pd.DataFrame) -> pd.Series:
    """Return each assessor's level: the effect beside the bottles', by least squares."""
    cells = wide.to_numpy()
    row, column = np.nonzero(~np.isnan(cells))
    design = np.hstack([np.eye(len(cells))[row], np.eye(3)[column][:, 1:]])
    both = np.linalg.lstsq(design, cells[row, column], rcond=None)[0]
    return pd.Series(both[: len(cells)], index=wide.index)


def t_limits(values: pd.Series) -> tuple[float, float, float]:
    """Return a mean and its 95 % limits."""
    limits = stats.ttest_1samp(values, 0).confidence_interval(0.95)
    return float(values.mean()), float(limits.low), float(limits.high)


def tango(cells: np.ndarray) -> tuple[float, float]:
    """Return 95 % score limits of the difference of two paired shares (Tango 1998)."""
    n = len(cells)
    more = int(((cells[:, 0] == 1) & (cells[:, 1] == 0)).sum())
    less = int(((cells[:, 0] == 0) & (cells[:, 1] == 1)).sum())

    def score(gap: float) -> float:
        # the share of "less" that is likeliest at this gap
        a, b = 2 * n, -more - less + (2 * n - more + less) * gap
        c = -less * gap * (1 - gap)
        share = (np.sqrt(max(b * b - 4 * a * c, 0)) - b) / (2 * a)
        variance = n * (2 * share + gap * (1 - gap))
        return float((more - less - n * gap) / np.sqrt(max(variance, 1e-300)))

    z, middle = stats.norm.ppf(0.975), (more - less) / n
    low = optimize.brentq(lambda g: score(g) - z, -1 + 1e-12, middle - 1e-12) if middle > -1 else -1
    high = optimize.brentq(lambda g: score(g) + z, middle + 1e-12, 1 - 1e-12) if middle < 1 else 1
    return float(low), float(high)


def cells(one: Again) -> dict[tuple[str, str, str, str], str]:
    """Return what cells must hold: (section, a column of the table, row, column) to text."""
    want: dict[tuple[str, str, str, str], str] = {}
    heads = {"abv": "Alcohol %", "meter_value": "Meter value", "acidity": "Acidity",
             "amino_acidity": "Amino acidity", "glucose": "Glucose g/100 mL",
             "polishing": "Polishing %"}  # fmt: skip
    for bottle, row in one.bottles.iterrows():
        want["asked", "Lot", bottle, "Tank"] = f"{row['tank']}"
        want["asked", "Lot", bottle, "Lot"] = f"{row['lot']}"
        for field, head in heads.items():
            want["asked", "Lot", bottle, head] = alike(one.bottles, field)[bottle]
        for head, text in {
            "Meter value": alike(one.bottles, "meter_value")[bottle],
            "Acidity": alike(one.bottles, "acidity")[bottle],
            "Sweet–dry index": plainly(one.index(bottle), 2),
            "Glucose − acidity": plainly(row["glucose"] - row["acidity"], 2),
            "Perceived sweetness": plainly(one.means["sweetness", bottle]),
            "Tiring": plainly(one.means["cloying", bottle]),
        }.items():  # fmt: skip
            want["sweetness", "Sweet–dry index", bottle, head] = text
        gap, low, high, n = one.paired("flavour_intensity", "aroma_intensity", bottle)
        for head, text in {
            "Assessors": f"{n}", "Nose": plainly(one.means["aroma_intensity", bottle]),
            "Palate": plainly(one.means["flavour_intensity", bottle]), "Difference": plainly(gap),
            "95 % interval": f"{edge(low)} to {edge(high)}",
        }.items():  # fmt: skip
            want["nose", "Palate", bottle, head] = text
        gap, low, high, n = one.paired("sweetness", "sweetness_expected", bottle)
        for head, text in {
            "Assessors": f"{n}", "Expected": plainly(one.means["sweetness_expected", bottle]),
            "Found": plainly(one.means["sweetness", bottle]), "Difference": plainly(gap),
            "95 % interval": f"{edge(low)} to {edge(high)}",
        }.items():  # fmt: skip
            want["stages", "Found", bottle, head] = text
        for name in ("sweetness_expected", "sweetness_first", "sweetness", "sweetness_after"):
            mean, low, high = one.mean_limits[name, bottle]
            text = f"{plainly(mean)} ({edge(max(low, 0))} to {edge(min(high, 10))})"
            want["stages", "First sweetness", bottle, label(name)] = text
    for (name, bottle), (mean, low, high) in one.mean_limits.items():
        if name not in one.scaled:
            continue
        least, most = (-2, 2) if name == "sweetness_balance" else (0, 10)
        ends = [edge(min(max(x, least), most)) for x in (low, high)]
        text = f"{plainly(mean)} ({ends[0]} to {ends[1]})"
        want["differ", "free-run", label(name), bottle] = text
    for word, row in one.given.iterrows():
        if row.sum():
            for bottle, k in row.items():
                want["aroma", "Word", label(str(word)).lower(), bottle] = f"{k} / 7"
    for name, (consistent, low, high, absolute) in one.agreement.items():
        ends = [coefficient(low), coefficient(high)]
        want["trust", "Levels counted too", label(name), "Agreement on differences"] = coefficient(
            consistent
        )
        want["trust", "Levels counted too", label(name), "95 % interval"] = (
            " to ".join(ends) if ends[0] != ends[1] else "–"
        )
        want["trust", "Levels counted too", label(name), "Levels counted too"] = coefficient(
            absolute
        )
    for name in one.scaled:
        for bottle in BOTTLES:
            mine, rest = beside(one, name, bottle)
            text = f"{plainly(mine)} / {plainly(rest)}"
            want["maker", "free-run", label(name), bottle] = text
    for name, high, low in widest_claimed(one):
        wide = one.everybodys(name)
        gap = wide[high] - wide[low]
        for head, part in (("Without", gap.drop("M1")), ("With", gap)):
            want["maker", "Without", label(name), head] = signed(part.mean())
    taste = one.people["style"]
    quality = one.wide("quality").T
    for who, style in (("likes the style", "likes"), ("dislike the style", "dislikes"),
                       ("the others", "neutral")):  # fmt: skip
        codes = [code for code in quality.columns if taste[code] == style]
        for bottle in BOTTLES:
            own = quality.loc[bottle, codes].mean()
            want["maker", "Who", f"{who} ({len(codes)})", bottle] = plainly(own)
    advice = one.scores[one.scores["attribute"] == "release"]
    unsure = one.scores[one.scores["attribute"] == "fault_unsure:cannot_tell"]
    for bottle in BOTTLES:
        marks = advice.loc[advice["sample"] == bottle, "score"]
        for place, head in enumerate(("Release", "Rest first", "Blend", "Hold back"), start=1):
            want["advice", "Release", bottle, head] = f"{int((marks == place).sum())}"
        marks = unsure.loc[unsure["sample"] == bottle, "score"]
        told = f"{int(marks.sum())} of {len(marks)}"
        want["advice", "Release", bottle, "Faults: cannot tell"] = told
    for row in one.noted.itertuples():
        exact = stats.binomtest(int(row.k), int(row.n)).proportion_ci(0.95, method="exact")
        key = "faults", "Median severity", str(row.sample)
        want[(*key, "Noted by")] = f"{row.k} / {row.n}"
        want[(*key, "95 % interval")] = f"{percent(exact.low)} to {percent(exact.high)}"
        want[(*key, "Median severity")] = f"{row.severity:g}"
        roles = one.people["role"]
        for role in roles.unique():
            k = sum(roles[who] == role for who in row.who)
            told = f"{k} / {(roles == role).sum()}"
            want["faults", "Expert", str(row.sample), role.capitalize()] = told
    return want


def beside(one: Again, name: str, bottle: str) -> tuple[float, float]:
    """Return the maker's mean of a bottle and that of the others."""
    own = one.everybodys(name)[bottle]
    return float(own["M1"]), float(own.drop("M1").mean())


def furthest_maker(one: Again) -> str:
    """Say in which attribute the maker's level lies furthest for how far the others' lie apart.

    Levels by dense least squares of persons and bottles; one more person of the others' kind
    reaches t s sqrt(1 + 1/m) (Hahn & Meeker 1991, section 4.8, from memory).
    """
    found = []
    for name in one.scaled:
        table = one.everybodys(name).dropna(how="all")
        person, bottle = np.nonzero(table.notna().to_numpy())
        i, j = table.shape
        design = np.hstack([np.eye(i)[person], np.eye(j)[bottle] @ (np.eye(j) - 1 / j)])
        fitted = np.linalg.lstsq(design, table.to_numpy()[person, bottle], rcond=None)[0]
        level = pd.Series(fitted[:i], table.index)
        others = level.drop("M1")
        m = len(others)
        spread = max(others.var(ddof=1), one.floor_all(name) / j)
        shift, error = level["M1"] - others.mean(), np.sqrt(spread * (1 + 1 / m))
        reach = stats.t.isf(0.025, m - 1) * error
        found.append((2 * stats.t.sf(abs(shift) / error, m - 1), name, shift, reach))
    _, name, shift, reach = min(found)
    ends = sorted(np.sign(shift) * (shift + side * reach) for side in (-1, 1))
    way = "above" if shift > 0 else "below"
    return (
        f"Of {len(found)} attributes the furthest, for how far single others stand apart: "
        f"{label(name).lower()}, {plainly(abs(shift))} points {way} them, 95 % interval "
        f"{edge(ends[0])} to {edge(ends[1])}, for itself alone."
    )


def widest_claimed(one: Again) -> list[tuple[str, str, str]]:
    """Return the widest claimed pair of each attribute, and the widest in quality."""
    found = []
    for kind, name in one.claimed("scale", "balance"):
        means = one.wide(name).mean()
        pairs = one.pairs_claimed(kind, name)
        found.append((name, *max(pairs, key=lambda pair: means[pair[0]] - means[pair[1]])))
    means = one.wide("quality").mean()
    return [*found, ("quality", str(means.idxmax()), str(means.idxmin()))]


def rows_of_pairs(one: Again) -> set[tuple[str, str, str, str, str, str]]:
    """Return the rows of pairs; of two bottles that are marked alike either way round."""
    rows = set()
    for kind, names in (("scale", one.lines), ("balance", ["sweetness_balance"])):
        for name in names:
            asked = one.question(kind, name)
            half = stats.t.ppf(0.975, asked.df) * asked.se
            wide = one.wide(name)
            for place, pair in enumerate(PAIRS):
                claimed = one.adjusted[kind, name][1][place] <= WHOLE
                for a, b in (pair, pair[::-1]):
                    gap = round(float(asked.effects[a] - asked.effects[b]), 9)
                    if gap < -1e-9:
                        continue
                    own = (wide[BOTTLES[a]] - wide[BOTTLES[b]]).dropna()
                    ways = f"{(own > 0).sum()} : {(own < 0).sum()} / {len(own)}"
                    ends = f"{edge(gap - half[place])} to {edge(gap + half[place])}"
                    rows.add((label(name), f"{BOTTLES[a]} – {BOTTLES[b]}", plainly(abs(gap)), ends,
                              ways, "yes" if claimed else "–"))  # fmt: skip
    return rows


def listed(values: list[str]) -> str:
    return ", ".join(values)


def levels_above(one: Again, kind: str, name: str) -> list[str]:
    """Write what a claim on a scale says: who stands above whom, with means."""
    means = one.means[name]
    above: dict[tuple[str, ...], list[str]] = {}
    for low in BOTTLES:
        high = tuple(a for a in BOTTLES if (a, low) in one.pairs_claimed(kind, name))
        if high:
            above.setdefault(high, []).append(low)
    return [
        f"{listed(list(high))} ({listed([plainly(means[x]) for x in high])}) higher than "
        f"{listed(low)} ({listed([plainly(means[x]) for x in low])})"
        for high, low in above.items()
    ]


def gaps_above(one: Again, name: str) -> str:
    """Write what the claim on sweetness found and expected says, the widest gap first."""
    gap = {b: one.paired(*name.split("-"), b)[0] for b in BOTTLES}
    pairs = one.pairs_claimed("gap", name)
    clauses = []
    for high in sorted({a for a, _ in pairs}, key=lambda b: -gap[b]):
        sides = [high], [b for b in BOTTLES if (high, b) in pairs]
        clauses.append(
            " above ".join(
                f"{listed(side)} ({listed([signed(gap[b]) for b in side])})" for side in sides
            )
        )
    return "; ".join(clauses)


def fragments(one: Again) -> list[str]:
    """Return the sentences' parts with numbers, as the page must write them."""
    people, said = one.people, []
    n, kinds = len(people), people["role"].value_counts()
    said += [
        f"{n} assessors (the maker outside the means) · {len(BOTTLES)} bottles",
        f"{n} assessors answered (",
    ]
    said += [f"{k} × {role}" for role, k in kinds.items()]
    times = one.settings["serving"]["replicates"]
    said.append(f"{len(BOTTLES)} bottles, each meant to be served {times} times")
    said.append(f"({len(one.planned) * times} orders)")
    said.append(f"once in each of {times} rounds")
    said += [f"The {len(BOTTLES)} bottles come from one tank", "The 3 bottles come from one batch"]
    cups = one.everybody[one.everybody["attribute"] == "sweetness"]
    came = cups.groupby("sample").size()[BOTTLES]
    planned = len(one.planned) * times
    by = listed([f"{name} {k}" for name, k in came.items()])
    said.append(f"{came.sum()} of {planned * 3} tastings came back ({by})")
    out = sorted(set(one.planned.index) - set(people.index))
    said += [f"{who} (0 of {3 * times})" for who in out]
    said.append(f"{len(out)} sheet had not come back")
    answered = cups.groupby(["assessor", "sample"]).size()
    acid = one.everybody[one.everybody["attribute"] == "acidity"]
    missing = (answered - acid.groupby(["assessor", "sample"]).size()).loc[lambda x: x > 0]
    (who, bottle), blanks = next(iter(missing.items()))
    said.append(f"{blanks} mark stood there and could not be read ({who}, {bottle}, acidity: “")
    said += [f"acidity: “{fault['found']}”" for fault in one.unread() if fault["code"]]
    looks = one.everybody[one.everybody["attribute"] == "clarity"]
    seen = set(zip(looks["assessor"], looks["sample"], strict=True))
    unseen = [(w, b) for w in sorted(set(cups["assessor"])) for b in BOTTLES if (w, b) not in seen]
    said += [
        f"1 look (2 marks, one a question and cup) is missing whole ({w}: {b})" for w, b in unseen
    ]
    said.append(f"{one.open_things()} places on what came back could not be read")
    said.append(f"{blanks} of these places is a mark on a scale")
    for fault in one.unread():
        said += [fault["place"], f"'{fault['found']}'", fault["expected"]]
        said += [f"for cup {fault['code']}"] if fault["code"] else []
    said.append(f"Log: {one.log()} entries")

    lines = one.scores[one.scores["attribute"].isin(one.lines)]
    own = [
        part["score"].to_numpy() for _, part in lines.groupby(["attribute", "assessor", "sample"])
    ]
    twice = [part for part in own if len(part) > 1]
    within = sum(((part - part.mean()) ** 2).sum() for part in twice) / sum(
        len(part) - 1 for part in twice
    )
    both = np.mean([one.question("scale", name).variance for name in one.lines])
    share = within * np.mean([1 / len(part) for part in own]) / both
    if not 1 / 3 < share < 2 / 3:
        said.append(f"lie {np.mean([np.ptp(part) for part in twice]):.1f} points apart on average")

    # the claims
    scales = one.claimed("scale", "balance")
    said.append(f"The bottles differ in {len(scales)} attributes")
    by_chance = round(len(one.scaled) * 0.05)
    said.append(f"{len(one.scaled)} attributes were looked at")
    said.append(f"at 5 in 100, about {by_chance} would look different by chance")
    said += [part for kind, name in scales for part in levels_above(one, kind, name)]
    for _, word in one.claimed("word"):
        row = one.given.loc[word].sort_values(ascending=False, kind="stable")
        said.append(listed([f"{bottle} {k} of 7" for bottle, k in row.items()]))
    for kind, name in one.claimed("gap"):
        if name != "-".join(GAPS[0]):
            said.append(gaps_above(one, name))
            continue
        gap = {b: one.paired(*GAPS[0], b)[0] for b in BOTTLES}
        pairs = one.pairs_claimed(kind, name)
        high = list(dict.fromkeys(a for a, _ in pairs))
        low = [x for x in BOTTLES if x in {b for _, b in pairs}]
        signs = [f"{listed(x)} ({listed([signed(gap[b]) for b in x])})" for x in (low, high)]
        said.append(f"{signs[0]} fall below {signs[1]}")
    lines = [name for kind, name in scales if kind == "scale"]
    ordered = sorted(lines, key=lambda name: one.agreement[name][0])
    said.append(f"in {len(lines)} attributes in which the bottles differ")
    said += [
        f"{label(name).lower()} ({coefficient(r)}, 95 % interval {coefficient(low)} to "
        f"{coefficient(high)})"
        for name, (r, low, high, _) in ((x, one.agreement[x]) for x in (ordered[0], ordered[-1]))
    ]
    asked = len(one.scaled) + len(one.words) + len(one.faults) + len(GAPS) + 1 + 3 + len(one.scaled)
    said.append(f"All {asked} questions of this report")

    # faults
    total = n
    for row in one.noted.itertuples():
        said.append(f"by {row.k} of {row.n}, median severity {row.severity:.0f} of 3")
    said.append(f"({total} assessors each); up to {percent(1 - 0.05 ** (1 / total))} of such")
    unsure = one.scores[one.scores["attribute"] == "fault_unsure:cannot_tell"]
    for bottle in (b for b in BOTTLES if b not in set(one.noted["sample"])):
        k = int(unsure.loc[unsure["sample"] == bottle, "score"].sum())
        said.append(f"nobody of {total} ticked one" + (f"; {k} could not tell" if k else ""))
    notes, flagged = false_notes(one, total)
    said.append(f"taste again from {notes} notes")
    said += flagged

    # sweet and dry
    for bottle, (dry, right, sweet, wavering) in one.sides.items():
        all_of_them = dry + right + sweet + wavering
        if max(dry, right, sweet) * 2 > all_of_them:
            said += [
                f"{sweet} of {all_of_them} assessors found it too sweet, {right} just right",
                f"{dry} too dry; {wavering} wavered",
                f"{bottle} too sweet ({sweet} of {all_of_them})",
                f"too sweet: {sweet} of {all_of_them}",
            ]
        else:
            said.append(
                f"{dry} of {all_of_them} assessors found it too dry, {right} just right, {sweet} "
                f"too sweet; {wavering} wavered"
            )
            said.append(
                f"no majority: {dry} too dry, {right} just right, {sweet} too sweet, "
                f"{wavering} wavering, of {all_of_them}"
            )
    share = 0.1 * 0.048 / 2 / len(BOTTLES)
    said.append(f"from {int(np.ceil(np.log2(2 / share)))} assessors on, all of one mind")
    index = {b: plainly(one.index(b), 2) for b in BOTTLES}
    sweet = {b: plainly(one.means["sweetness", b]) for b in BOTTLES}
    for bottle in BOTTLES:
        others = [b for b in BOTTLES if b != bottle]
        rest = listed([f"{b} {index[b]}" for b in others])
        far = bottle != "clear"
        said.append(f"({index[bottle]}; {rest})" if far else f"({index[bottle]})")
        said.append(f"index {index[bottle]}")
        rest = listed([f"{b} {sweet[b]}" for b in others])
        said.append(
            f"sweetness ({sweet[bottle]}; {rest})" if far else f"its sweetness {sweet[bottle]},"
        )
    for field, end, text in (
        ("glucose", max, "the most glucose ({} g/100 mL)"),
        ("glucose", min, "the least glucose ({} g/100 mL)"),
        ("amino_acidity", max, "the highest amino acidity ({} mL)"),
        ("amino_acidity", min, "the lowest amino acidity ({} mL)"),
        ("abv", max, "the most alcohol ({} %)"),
        ("abv", min, "the least alcohol ({} %)"),
    ):
        far = one.bottles[field] == end(one.bottles[field])
        said.append(text.format(alike(one.bottles, field)[far].iloc[0]))

    # nose and palate, quality, words
    for bottle in BOTTLES:
        gap, low, high, who = one.paired("flavour_intensity", "aroma_intensity", bottle)
        way = "above" if gap > 0 else "below"
        palate, nose = (one.means[x, bottle] for x in ("flavour_intensity", "aroma_intensity"))
        said.append(
            f"aroma in the mouth {plainly(abs(gap))} {way} "
            f"smell of the still cup ({plainly(palate)} "
            f"against {plainly(nose)}; 95 % interval of the difference {edge(low)} to "
            f"{edge(high)}, "
            f"{who} assessors)"
        )
        said.append(f"{signed(gap)}, ")
        half = one.given[bottle][one.given[bottle] >= 3.5]
        said += [f"{label(word).lower()} {k} of 7" for word, k in half.items()]
    quality = {b: plainly(one.means["quality", b]) for b in BOTTLES}
    order = sorted(BOTTLES, key=lambda b: one.means["quality", b])
    said += [
        f"{quality[order[-1]]} (highest mean, not shown to differ)",
        f"{quality[order[0]]} (lowest mean, not shown to differ)",
        quality[order[1]],
        "(panel of 7)",
        f"Up to {times} replicates were joined",
    ]
    for bottle, words in MENTIONS.items():
        for word, forms in words.items():
            k = sum(any(form in text for form in forms) for text in one.notes()[bottle])
            said.append(f"{word} ({k})")
    lost = [x for b in BOTTLES for text in one.notes()[b] for x in UNREAD if x in text]
    said.append(f"{len(lost)} pieces of text could not be matched, or not surely")
    same = Counter((b, x, t) for b in BOTTLES for t in one.notes()[b] for x in UNREAD if x in t)
    said += [f"({n} times)" for n in same.values() if n > 1]

    # map, agreement, single assessors, maker, limits
    said.append(furthest_maker(one))
    shares = one.plane
    said.append(
        f"the plane shows {percent(shares.sum())} of the variation ({percent(shares[0])} and "
        f"{percent(shares[1])})"
    )
    many = len(one.claimed("scale", "balance"))
    said.append(f"3 of the {many} attributes shown, the surest first")  # room of the figure: 3
    said += [
        "rest on 7 assessors",
        f"With 3 points two dimensions show everything ({percent(shares.sum())})",
    ]
    holes = one.empty_cells()
    said.append(f"{holes} empty cells were filled with what the rest of the table")
    said.append(f"{one.empty_cells(maker=True)} empty cells were filled with what the other")
    said.append("1 cell is empty")
    said.append(f"Nobody of {n} assessors is shown")
    expert = {x: one.everybodys(x).loc["E1"] for x in one.lines}
    for who in people.index[people["role"] == "student"]:
        gaps = [one.everybodys(x).loc[who] - expert[x] for x in one.lines]
        said.append(f"{who} {signed(float(np.nanmean(np.concatenate(gaps))))}")
    pairs = [(x, *p) for kind, x in scales for p in one.pairs_claimed(kind, x)]
    said.append(f"Of the {len(pairs)} differences of two bottles that this report claims")
    for who in ("E1", *people.index[people["role"] == "student"]):
        gaps = np.array([one.everybodys(x).loc[who, [a, b]].to_numpy() for x, a, b in pairs])
        gaps = (gaps[:, 0] - gaps[:, 1])[~np.isnan(gaps).any(axis=1)]
        whole = "" if len(gaps) == len(pairs) else f"/{len(gaps)}"
        said.append(f"{who} {(gaps > 0).sum()}{whole}")
    apart = {(x, b): np.subtract(*beside(one, x, b)) for x in one.scaled for b in BOTTLES}
    name, bottle = max(apart, key=lambda key: abs(apart[key]))
    mine, rest = beside(one, name, bottle)
    said.append(
        f"{label(name).lower()} of {bottle}: {signed(mine - rest)} points ({plainly(mine)} against "
        f"a mean of {plainly(rest)} from 7 others)"
    )
    return said


def false_notes(one: Again, assessors: int) -> tuple[int, list[str]]:
    """Return the notes that ask for a second tasting, and what the report says of its errors.

    A false note in 1 % of answers; taste again from as many notes as false ones
    reach in at most 20 % of such sessions; hold where a third note it.
    """
    faults, bottles, times, rate = len(one.faults), 3, 2, 0.01
    cups = assessors * times

    def any_bottle(chance: float) -> float:
        return 1 - (1 - chance) ** faults

    notes = 2
    while 1 - (1 - stats.binom.sf(notes - 1, cups, rate)) ** (faults * bottles) > 0.2:
        notes += 1
    third, half = int(np.ceil(assessors / 3)), int(np.ceil(assessors / 2))
    hold = stats.binom.sf(third - 1, assessors, 1 - (1 - rate) ** times)
    again = max(stats.binom.sf(notes - 1, cups, rate), hold)
    hint = bottles * any_bottle(1 - (1 - rate) ** cups)
    held = 1 - (1 - any_bottle(hold)) ** bottles
    noticing = 1 - 0.5**times
    strongly = stats.binom.sf(half - 1, assessors, noticing)
    tasted = max(stats.binom.sf(notes - 1, cups, 0.5), strongly)
    given = f"{hint:.1f} of them a hint or more"
    more = f"{bottles * any_bottle(again):.2g} tasted again or held"
    return notes, [
        f"Were the {bottles} bottles all sound, false notes would give {given} and have {more}",
        f"they would hold any back in at most {percent(held)} of such sessions",
        f"without 'taste again' in {percent(1 - tasted)} of such sessions",
        f"without 'hold back' in {percent(1 - strongly)}",
    ]
