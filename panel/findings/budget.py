"""What the error budget of this report allows to claim, and what it leaves as a hint.

All questions of a report share 5 %: nearly all goes to what `claims` judges
(bottles, majorities, the maker), a small part to findings on single assessors.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ...analysis.claims.claim_members import Named, gap_name
from ...analysis.claims.claims_result import Claims
from ...analysis.claims.one_budget import claims
from ...analysis.core.errors import AnalysisError
from ...analysis.core.p_values import holds
from ...forms.questions.question_types import Kind
from ..session.primary_questions import Primary
from .evidence import BALANCE, Evidence

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping

    import pandas as pd

WHOLE = 0.05
"""Chance of any false claim in a report."""
ASSESSORS = 0.002
"""The part of it for findings on single assessors, where they can be compared."""
HINT = 0.20
"""Adjusted p up to which something not claimed is named as a hint: by the same
step-down, at most one report in five about identical bottles holds any."""
COMPARED = 3
"""People and products from which on single assessors can be compared with the rest."""
_NAMED = {
    "scale": "scale",
    "balance": "balance",
    "word": "word",
    "fault": "fault",
    "promise": "gap",
    "expected": "gap",
    "majority": "majority",
    "maker": "maker",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One question with its verdict.

    Attributes
    ----------
    kind, about : str
        As `Claims.table`; majority, maker and effect (of crossed factors) besides.
    p, adjusted : float
        Alone, and on the scale of the whole budget: claimed at `WHOLE` or below.
    pairs : tuple of (higher, lower)
        The pairs that are claimed.
    sample : str
        For a majority; of an effect its factors, as "temperature_c:fraction".
    side : str
        For a majority: too_sweet, too_dry, or "" for none.
    shift, low, high : float
        For a maker, with the limits of the shift; for an effect, its size.
    levels : tuple of (str, str)
        For an effect, which levels of its factors are set against each other.
    tested : bool
    """

    kind: str
    about: str
    p: float
    adjusted: float
    pairs: tuple[tuple[str, str], ...] = ()
    sample: str = ""
    side: str = ""
    shift: float = 0.0
    low: float = float("nan")
    high: float = float("nan")
    levels: tuple[tuple[str, str], ...] = ()
    tested: bool = True

    @property
    def away(self) -> tuple[float, float, float]:
        """A shift and its limits, turned so that the shift is not negative."""
        if self.shift < 0:
            return -self.shift, -self.high, -self.low
        return self.shift, self.low, self.high

    @property
    def bottles(self) -> tuple[str, ...]:
        """The bottles in the claimed pairs."""
        return tuple(dict.fromkeys(name for pair in self.pairs for name in pair))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Budget:
    """All questions of a report, judged together.

    Attributes
    ----------
    found : Claims or None
        None where nothing could be asked of these tables.
    judged : tuple of Weighed
        In the order of the scorecard.
    alpha : float
        Chance of a false claim about bottles and maker.
    majority_from : int or None
        Assessors, all of one mind, that a majority takes to be claimed.
    """

    found: Claims | None
    judged: tuple[Weighed, ...]
    alpha: float
    majority_from: int | None

    def claimed(self, *kinds: str) -> list[Weighed]:
        """Return what is claimed of some kinds, the surest first."""
        mine = [one for one in self.judged if one.kind in kinds and holds(one.adjusted, WHOLE)]
        return sorted(mine, key=lambda one: (one.adjusted, one.p))

    def hinted(self, *kinds: str) -> list[Weighed]:
        """Return what is too weak to be claimed, and strong enough to be named."""
        return [
            one
            for one in self.judged
            if not holds(one.adjusted, WHOLE)
            and holds(one.adjusted, HINT)
            and one.kind in (kinds or ("scale", "balance"))
        ]

    def pair(self, kind: str, about: str, bottles: Iterable[str]) -> tuple[float, float] | None:
        """Return p and adjusted p of one pair, if it was compared."""
        if self.found is None:
            return None
        rows = self.found.pairs
        rows = rows[(rows["kind"] == kind) & (rows["about"] == about)]
        for row in rows.to_dict("records"):
            if {row["sample_a"], row["sample_b"]} == set(bottles):
                return float(row["p"]), float(row["p_adjusted"])
        return None

    def of(self, kind: str, about: str) -> Weighed | None:
        """Return one question, if it was asked."""
        return next((one for one in self.judged if (one.kind, one.about) == (kind, about)), None)


def judge(evidence: Evidence) -> Budget:
    """Judge all questions of a session together."""
    alpha = WHOLE - (ASSESSORS if _assessors_compared(evidence) else 0.0)
    faults = evidence.attributes(Kind.FAULTS)
    words = evidence.attributes(Kind.TICKS)
    balances = evidence.attributes(Kind.BALANCE)
    scales = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    asked = (evidence.promise_pair, evidence.expected_pair)
    gaps = [(found, first) for first, found in (pair for pair in asked if pair)]
    wanted = [*scales, *balances, *words, *faults]
    besides = [name for pair in gaps for name in pair if name not in wanted]
    try:
        found = claims(
            evidence.tidy([*wanted, *besides], everybody=True),
            scales=scales,
            balances=balances,
            words=words,
            faults=faults,
            gaps=gaps,
            makers=evidence.makers if evidence.maker_apart else (),
            assessors=evidence.counted,
            samples=evidence.compared,
            named=[
                _named(one, evidence) for one in evidence.primary if _askable(one, evidence, wanted)
            ],
            alpha=alpha,
            factors=evidence.factors,
            shuffles=evidence.shuffles,
            seed=evidence.seed,
        )
    except AnalysisError:
        return Budget(found=None, judged=(), alpha=alpha, majority_from=None)
    found = _on_the_whole(found)
    return Budget(
        found=found,
        judged=tuple(_judged(found)),
        alpha=alpha,
        majority_from=found.smallest_panel if BALANCE in balances else None,
    )


def _on_the_whole(found: Claims) -> Claims:
    """Write adjusted p on the scale of the whole budget: what has at most `WHOLE` is claimed."""

    def scaled(table: pd.DataFrame) -> pd.DataFrame:
        p = table["p_adjusted"]
        whole = (p * (WHOLE / found.alpha)).clip(upper=1.0)
        return table.assign(p_adjusted=whole.mask(p <= found.alpha, whole.clip(upper=WHOLE)))

    return replace(
        found,
        table=scaled(found.table),
        pairs=scaled(found.pairs),
        majority=scaled(found.majority),
        shifts=scaled(found.shifts),
        effects=scaled(found.effects),
    )


def _assessors_compared(evidence: Evidence) -> bool:
    return min(len(evidence.people), len(evidence.products)) >= COMPARED


def _named(one: Primary, evidence: Evidence) -> Named:
    kind = _NAMED[one.kind]
    if kind == "gap":
        return Named(kind=kind, about=gap_of(one.kind, evidence))
    if kind == "majority":
        return Named(kind=kind, about=one.attribute, sample=one.bottles[0])
    pair = (one.bottles[0], one.bottles[1]) if len(one.bottles) == 2 else None
    return Named(kind=kind, about=one.attribute, pair=pair)


def gap_of(kind: str, evidence: Evidence) -> str:
    """Name the gap in question: of the "promise" or of what was "expected"; "" if not asked."""
    pair = evidence.promise_pair if kind == "promise" else evidence.expected_pair
    return gap_name(pair[1], pair[0]) if pair else ""


def _askable(one: Primary, evidence: Evidence, wanted: Iterable[str]) -> bool:
    """Tell whether anybody answered what was named beforehand."""
    if one.kind in ("promise", "expected"):
        return bool(gap_of(one.kind, evidence))
    there = one.attribute in set(wanted) and set(one.bottles) <= set(evidence.products)
    return there and (one.kind != "maker" or evidence.maker_apart)


def _judged(found: Claims) -> Iterable[Weighed]:
    pairs: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for row in found.pairs[found.pairs["claimed"]].to_dict("records"):
        pairs.setdefault((row["kind"], row["about"]), []).append(_directed(row))
    for row in found.table.to_dict("records"):
        yield Weighed(
            kind=row["kind"],
            about=row["about"],
            p=float(row["p"]),
            adjusted=float(row["p_adjusted"]),
            pairs=tuple(pairs.get((row["kind"], row["about"]), ())),
            tested=bool(row["tested"]),
        )
    for row in found.majority.to_dict("records"):
        yield Weighed(
            kind="majority",
            about=row["attribute"],
            p=float(row["p"]),
            adjusted=float(row["p_adjusted"]),
            sample=str(row["sample"]),
            side=str(row["side"]),
        )
    for row in found.shifts.to_dict("records"):
        yield Weighed(
            kind="maker",
            about=row["attribute"],
            p=float(row["p"]),
            adjusted=float(row["p_adjusted"]),
            sample=str(row["maker"]),
            shift=float(row["shift"]),
            low=float(row["low"]),
            high=float(row["high"]),
        )
    for row in found.effects.to_dict("records"):
        yield Weighed(
            kind="effect",
            about=row["attribute"],
            p=float(row["p"]),
            adjusted=float(row["p_adjusted"]),
            sample=str(row["effect"]),
            levels=tuple(row["levels"]),
            shift=float(row["estimate"]),
            low=float(row["low"]),
            high=float(row["high"]),
        )


def _directed(row: Mapping[Hashable, object]) -> tuple[str, str]:
    first, second, higher = str(row["sample_a"]), str(row["sample_b"]), str(row["higher"])
    return (first, second) if higher == first else (second, first)
