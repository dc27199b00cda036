"""How far is each student from the expert, and what should they practise?

The expert is a person too: how well the expert agrees with themselves is the
ceiling, and is shown. Sameness is claimed only when it is shown, within a
margin stated beforehand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from ..core.errors import NotEstimable, OptionError
from ..core.options import at_least, share_of
from ..core.ratings_matrix import Floats, guess_scale
from ..core.result import Result, copies
from ..core.tidy_table import Tidy, as_tidy
from ..core.wording import short
from ..core.words import Sentence
from .class_summary import by_attribute, by_bottle, by_word
from .student_result import Student
from .teaching_measures import (
    LINE_COLUMNS,
    ceiling,
    cell_table,
    detection,
    fault_calls,
    line_measures,
    recognises_repeat,
    rmse_interval,
    word_agreement,
    word_counts,
)

FAULT = "fault:"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Teaching(Result):
    """A class against its expert or experts.

    Attributes
    ----------
    students : dict of str to Student
    experts : list of str
    ceiling : DataFrame
        ``attribute, repeatability, low, high, df, ceiling`` of the experts.
    by_attribute : DataFrame
        The class without names: ``attribute, n_students, n_within`` (shown to be
        within the margin), ``rmse_median, bias_mean, bias_low, bias_high``.
    by_word, by_bottle : DataFrame
        The class without names: words missed and invented by how many; of each
        spiked or clean bottle how many named it right, wrong, not, or falsely.
    margin, level : float
    sessions : list of str
    seed : int
        Of the permutations about the repeated bottle.
    """

    students: dict[str, Student]
    experts: list[str]
    ceiling: pd.DataFrame
    by_attribute: pd.DataFrame
    by_word: pd.DataFrame
    by_bottle: pd.DataFrame
    margin: float
    level: float
    sessions: list[str]
    seed: int

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the class has in common; nobody is named."""
        said = [
            Sentence.of("teaching.class", n=len(self.students), margin=f"{self.margin:g}"),
        ]
        one_sided = self.by_attribute[
            (self.by_attribute["bias_low"] > 0) | (self.by_attribute["bias_high"] < 0)
        ]
        for row in one_sided.to_dict("records"):
            way = "above" if row["bias_mean"] > 0 else "below"
            said.append(
                Sentence.of(
                    f"teaching.class_{way}",
                    attribute=row["attribute"],
                    bias=short(abs(row["bias_mean"])),
                )
            )
        for row in self.by_bottle.to_dict("records"):
            key = "teaching.class_spiked" if row["truth"] else "teaching.class_clean"
            said.append(Sentence.of(key, **{str(k): v for k, v in row.items()}))
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the class tables, and one row a student in the order of codes."""
        rows = [
            {
                "student": code,
                "rmse": one.distance["rmse"],
                "low": one.distance["low"],
                "high": one.distance["high"],
                "within_margin": len(one.near()),
                "word_kappa": (one.word_agreement or {}).get("kappa"),
                "d_prime": (one.detection or {}).get("d_prime"),
            }
            for code, one in sorted(self.students.items())
        ]
        return copies(
            **{
                "teaching.heading_students": pd.DataFrame(rows),
                "teaching.heading_class": self.by_attribute,
                "teaching.heading_ceiling": self.ceiling,
                "teaching.heading_bottles": self.by_bottle,
            }
        )


def teaching(
    table: Tidy | pd.DataFrame,
    experts: Sequence[str],
    *,
    students: Sequence[str] | None = None,
    margin: float = 1.0,
    spiked: Mapping[str, str] | None = None,
    clean: Sequence[str] = (),
    repeats: Mapping[str, str] | None = None,
    level: float = 0.95,
    seed: int = 1,
) -> Teaching:
    """Compare students with one or more experts on the same bottles.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores on lines; ticks (0/1); faults as attributes ``fault:NAME`` (0 = not named).
    experts : sequence of str
        Their mean is the reference.
    students : sequence of str, optional
        Everybody else by default.
    margin : float
        Distance from the expert in scale points that would still be good
        enough; state it before tasting.
    spiked : mapping of sample to fault attribute, optional
        Bottles known to carry a fault.
    clean : sequence of str
        Bottles known to carry none.
    repeats : mapping of sample to sample, optional
        Names that hide the same bottle, e.g. ``{"F": "B"}``.
    level : float
    seed : int

    Returns
    -------
    Teaching

    Raises
    ------
    OptionError
        For codes or bottles that are not in the table.
    NotEstimable
        Without an expert or a student in the table.
    """
    share_of("level", level)
    at_least("margin", margin, strictly=True)
    checked = as_tidy(table)
    people = checked.assessors
    learning = [who for who in people if who not in experts] if students is None else list(students)
    unknown = [who for who in [*experts, *learning] if who not in people]
    if unknown:
        raise OptionError("teaching.unknown", found=unknown, have=people)
    if not experts or not learning:
        raise NotEstimable("teaching.nobody")
    bottles = [*(spiked or {}), *clean, *(repeats or {}), *(repeats or {}).values()]
    strange = [name for name in bottles if name not in checked.samples]
    if strange:
        raise OptionError("teaching.unknown", found=strange, have=checked.samples)
    faults = [name for name in checked.attributes if name.startswith(FAULT)]
    odd = [name for name in (spiked or {}).values() if name not in faults]
    if odd:
        raise OptionError("teaching.unknown", found=odd, have=faults)
    rows = _same_bottle(checked.data, repeats or {})
    lines, words = _kinds(checked, faults)
    pooled = rows.assign(sample=_by_session(rows))
    best = ceiling(pooled, experts, lines, level)
    reference = cell_table(pooled, experts)
    compared = {
        who: _student(
            who, rows, pooled, reference, experts,
            lines=lines, words=words, faults=faults, best=best, margin=margin,
            spiked=spiked or {}, clean=clean, level=level, seed=seed,
        )
        for who in learning
    }  # fmt: skip
    return Teaching(
        students=compared,
        experts=list(experts),
        ceiling=best,
        by_attribute=by_attribute(compared, lines, level),
        by_word=by_word(compared),
        by_bottle=by_bottle(compared),
        margin=margin,
        level=level,
        sessions=[str(name) for name in sorted(rows["session"].unique())],
        seed=seed,
        warnings=_notes(best, reference, len(experts)),
    )


def _same_bottle(rows: pd.DataFrame, repeats: Mapping[str, str]) -> pd.DataFrame:
    """Give pours of one bottle one name, numbered as its replicates."""
    if not repeats:
        return rows
    named = rows.assign(
        first=rows["sample"],
        sample=rows["sample"].map(lambda name: repeats.get(name, name)),
        replicate=rows["replicate"].astype("Int64").fillna(1),
    )
    keys = ["assessor", "session", "sample", "first", "replicate"]
    pours = named[keys].drop_duplicates().sort_values(keys)
    pours["pour"] = pours.groupby(["assessor", "session", "sample"]).cumcount() + 1
    merged = named.merge(pours, on=keys, how="left")
    merged["replicate"] = merged["pour"].astype("Int64")
    return merged[list(rows.columns)]


def _by_session(rows: pd.DataFrame) -> pd.Series[str]:
    if rows["session"].nunique() < 2:
        return rows["sample"]
    return rows["session"].astype(str) + " · " + rows["sample"].astype(str)


def _kinds(checked: Tidy, faults: list[str]) -> tuple[list[str], list[str]]:
    lines: list[str] = []
    words: list[str] = []
    for name in checked.attributes:
        if name in faults:
            continue
        ticks = guess_scale(checked.of(name)["score"].to_numpy(float)) == "nominal"
        (words if ticks else lines).append(name)
    return lines, words


def _student(
    who: str,
    rows: pd.DataFrame,
    pooled: pd.DataFrame,
    reference: pd.DataFrame,
    experts: Sequence[str],
    *,
    lines: list[str],
    words: list[str],
    faults: list[str],
    best: pd.DataFrame,
    margin: float,
    spiked: Mapping[str, str],
    clean: Sequence[str],
    level: float,
    seed: int,
) -> Student:
    own = cell_table(pooled, [who])
    blank = pd.Series(dtype=float)
    compared = pd.DataFrame(
        [
            line_measures(own.get(name, blank), reference.get(name, blank), name, margin, level)
            for name in lines
        ],
        columns=list(LINE_COLUMNS),
    )
    compared["slope_expected"] = [
        _expected(reference.get(name, blank), best, name) for name in lines
    ]
    gaps = _gaps(own, reference, lines)
    far = rmse_interval(gaps, level) if gaps.size else None
    known = best["ceiling"].to_numpy(float)
    listed, agreed = None, None
    if words:
        listed, counts = word_counts(own, reference, words)
        agreed = word_agreement(counts, level)
    calls = fault_calls(rows, who, faults, spiked, clean) if spiked or clean else None
    sessions, change = _progress(rows, who, experts, lines, level)
    return Student(
        student=who,
        lines=compared,
        distance={
            "rmse": float(np.sqrt(np.nanmean(gaps**2))) if gaps.size else None,
            "low": far.low if far else None,
            "high": far.high if far else None,
            "n_samples": len(gaps),
            "ceiling": float(np.sqrt(np.nanmean(known**2))) if np.isfinite(known).any() else None,
        },
        words=listed,
        word_agreement=agreed,
        faults=calls,
        detection=detection(calls, level) if calls is not None and len(calls) else None,
        repeat=recognises_repeat(rows, who, lines, seed) if lines else None,
        progress=sessions,
        change=change,
        margin=margin,
        level=level,
    )


def _expected(expert: pd.Series, best: pd.DataFrame, attribute: str) -> float:
    """Return the slope on the expert that an equal would have: the expert's reliability."""
    ceiling_of = float(best.loc[best["attribute"] == attribute, "ceiling"].iloc[0])
    spread = float(expert.var(ddof=1)) if len(expert) > 1 else 0.0
    if np.isnan(ceiling_of) or not spread > 0:
        return 1.0
    return float(np.clip(1 - ceiling_of**2 / 2 / spread, 0.0, 1.0))


def _gaps(own: pd.DataFrame, reference: pd.DataFrame, lines: Sequence[str]) -> Floats:
    """Return differences, samples in rows; samples and attributes without any are left out."""
    names = [name for name in lines if name in own and name in reference]
    samples = own.index.intersection(reference.index)
    gaps = (own.loc[samples, names] - reference.loc[samples, names]).to_numpy(float)
    return gaps[(~np.isnan(gaps)).any(axis=1)] if gaps.size else np.empty((0, 0))


def _progress(
    rows: pd.DataFrame, who: str, experts: Sequence[str], lines: list[str], level: float
) -> tuple[pd.DataFrame, dict[str, float] | None]:
    """Return the distance by session, and the ratio of last to first (log scale, Welch)."""
    table, parts = [], []
    for name in sorted(rows["session"].unique()):
        now = rows[rows["session"] == name]
        gaps = _gaps(cell_table(now, [who]), cell_table(now, experts), lines)
        if not gaps.size:
            continue
        limits = rmse_interval(gaps, level)
        rmse = float(np.sqrt(np.nanmean(gaps**2)))
        table.append(
            (str(name), rmse, limits.low if limits else np.nan, limits.high if limits else np.nan)
        )
        if limits is not None:
            df = len(gaps) - 1
            half = (np.log(limits.high) - np.log(limits.low)) / 2
            parts.append((np.log(rmse), half / float(stdtrit(df, (1 + level) / 2)), df))
    sessions = pd.DataFrame(table, columns=["session", "rmse", "low", "high"])
    if len(parts) < 2 or len(parts) < len(table):
        return sessions, None
    (first, se1, df1), (last, se2, df2) = parts[0], parts[-1]
    variance = se1**2 + se2**2
    df = variance**2 / (se1**4 / df1 + se2**4 / df2)
    half = float(stdtrit(df, (1 + level) / 2)) * np.sqrt(variance)
    ratio, low, high = np.exp([last - first, last - first - half, last - first + half]).tolist()
    return sessions, {"ratio": ratio, "low": low, "high": high}


def _notes(best: pd.DataFrame, reference: pd.DataFrame, experts: int) -> tuple[Sentence, ...]:
    notes = []
    if not np.isfinite(best["ceiling"].to_numpy(float)).any():
        notes.append(Sentence.of("teaching.no_ceiling"))
    if len(reference) < 6:
        notes.append(Sentence.of("teaching.few_samples", n=len(reference)))
    if experts == 1:
        notes.append(Sentence.of("teaching.one_expert"))
    return tuple(notes)
