"""Before any slope: which effects these bottles can tell apart at all.

The unit of chemistry is the batch, not the pour: three fractions of one tank
share everything that happened in it, and any difference between them may come
from pressing as well as from the meter value. So bottles of one batch count as
one when it is asked how many independent values of a measurement there are.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..chemistry.density_scales import extract
from ..core.connected_parts import connected
from ..core.errors import NotEstimable, TableError
from ..core.result import Result, copies
from ..core.wording import itemised
from ..core.words import Sentence

Array = npt.NDArray[np.float64]

LEAST_SPARE = 2
"""Batches that must be left beyond the effects: with fewer an interval says nothing."""
LEAST_UNITS = 5
"""With 4 units all orders number 24, and no exact test can fall below 2/24 = 0.083."""
PER_EFFECT = 5
"""Bottles per effect, rule of thumb (5 to 10), below which a warning is given."""
WORTH = 0.1
"""Where the bottles suffice, one more is proposed if it narrows the widest interval by this."""
TOGETHER = 0.9
"""Correlation above which two measurements are said to move together."""

WIDE = 2.0
"""Standard deviations from the bottles' own relation at which a measurement is proposed."""
USUAL_ABV = 15.5
"""Alcohol taken where none is stated, to see whether a proposed bottle can be brewed."""

TYPICAL: Mapping[str, tuple[float, float]] = {
    "abv": (14.0, 17.5),
    "meter_value": (-4.0, 9.0),
    "acidity": (1.1, 2.1),
    "amino_acidity": (0.8, 1.7),
    "glucose": (0.5, 4.2),
    "polishing_ratio": (40.0, 70.0),
}
_SUGARS = ("sugar", "糖", "extract", "エキス")
_NAMED = {*TYPICAL, "amakarado", "notando", "glucose_minus_acidity"}
"""5 to 95 % of 1,294 declared retail sakes (open catalogue, 2020); glucose from the guide of
2011; polishing ratio common practice, no source. Used to propose bottles, nothing else."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Estimability(Result):
    """Which effects these bottles can tell apart, and which bottles would help.

    Attributes
    ----------
    bottles, batches, sessions : int
        Counts behind everything else; `batches` are the independent units.
    predictors : DataFrame
        ``predictor, values, low, high, sd, inflation, verdict``; `values` counts
        distinct values, `inflation` is the variance inflation by the others,
        `verdict` is one of ``told apart, constant, within one batch, together``.
    together : DataFrame
        ``first, second, correlation`` of predictors that move together.
    usable : tuple of str
        Predictors whose slopes can be estimated side by side.
    spare : int
        Batches beyond the effects.
    possible : bool
        Whether any slope may be estimated at all.
    reasons : tuple of Sentence
        Why not, or why not all.
    wanted : DataFrame
        Bottles that would help most, one column a predictor; where slopes can
        already be estimated also ``gain``, the factor by which the widest
        interval would shrink.
    """

    bottles: int
    batches: int
    sessions: int
    predictors: pd.DataFrame
    together: pd.DataFrame
    usable: tuple[str, ...]
    spare: int
    possible: bool
    reasons: tuple[Sentence, ...]
    wanted: pd.DataFrame

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what can be told apart, why other things cannot, and what to add."""
        counts = {
            name: Sentence.of(f"estimability.count_{name}", n=getattr(self, name))
            for name in ("bottles", "batches", "sessions")
        }
        key = "estimability.possible" if self.possible else "estimability.impossible"
        said = [Sentence.of(key, listed=[measurement(name) for name in self.usable], **counts)]
        said += self.reasons
        said += [
            Sentence.of(
                "estimability.together",
                first=measurement(row["first"]),
                second=measurement(row["second"]),
                r=row["correlation"],
            )
            for row in self.together.to_dict("records")
        ]
        if len(self.wanted):
            said.append(Sentence.of("estimability.wanted", listed=_described(self.wanted.head(3))))
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the predictors and the bottles to add."""
        shown = {"estimability.predictors": self.predictors}
        if len(self.wanted):
            shown["estimability.wanted_heading"] = self.wanted
        return copies(**shown)

    def refuse(self) -> NotEstimable:
        """Return the error that names the reasons and what would help."""
        why = [*self.reasons]
        if len(self.wanted):
            why.append(Sentence.of("estimability.wanted", listed=_described(self.wanted.head(3))))
        return NotEstimable("estimability.refused", why=itemised(why))


def estimability(
    bottles: pd.DataFrame,
    predictors: Sequence[str],
    *,
    batch: str | None = None,
    session: str | None = None,
) -> Estimability:
    """Tell which effects of `predictors` these bottles can tell apart.

    Parameters
    ----------
    bottles : DataFrame
        One row a bottle (and session, if given); columns `predictors` are numbers.
    predictors : sequence of str
        Measurements whose effects are wanted side by side.
    batch : str, optional
        Column that names the tank or batch; each bottle is its own batch without it.
    session : str, optional
        Column that names the session: differences between sessions are not
        taken for chemistry, but sessions that share a bottle are compared through it.

    Raises
    ------
    TableError
        For a missing column or a missing number.

    Examples
    --------
    >>> three = pd.DataFrame({"meter_value": [3.0, 3.0, 3.0], "tank": ["A", "A", "A"]})
    >>> estimability(three, ["meter_value"], batch="tank").possible
    False
    """
    _check(bottles, [*predictors, *(name for name in (batch, session) if name)], predictors)
    units = _units(bottles, predictors, batch, session)
    values = units[list(predictors)].to_numpy(float)
    inside = _without_groups(values, units["group"])
    constant = [
        name
        for name, column in zip(
            predictors, bottles[list(predictors)].to_numpy(float).T, strict=True
        )
        if np.ptp(column) <= _rounding(column)
    ]
    batches, groups = len(units), units["group"].nunique()
    sessions = bottles[session].nunique() if session else 1
    reasons = []
    if batches == 1 and len(bottles) > 1:
        reasons.append(_one_batch(bottles, predictors, batch))
    reasons += [
        Sentence.of(
            "estimability.constant", name=measurement(name), value=float(bottles[name].iloc[0])
        )
        for name in constant
    ]
    usable, dependent = _independent(inside, predictors, values)
    reasons += [
        Sentence.of("estimability.between_sessions", name=measurement(name))
        if not by
        else Sentence.of(
            "estimability.dependent", name=measurement(name), by=[measurement(n) for n in by]
        )
        for name, by in dependent.items()
        if name not in constant and batches > 1
    ]
    spare = batches - groups - len(usable)
    if batches > 1 and batches < LEAST_UNITS:
        reasons.append(
            Sentence.of(
                "estimability.few",
                n=batches,
                p=2 / math.factorial(batches),
                least=LEAST_UNITS,
            )
        )
    elif batches > 1 and usable and spare < LEAST_SPARE:
        reasons.append(
            Sentence.of(
                "estimability.spare", n=batches, effects=len(usable) + groups, spare=LEAST_SPARE
            )
        )
    possible = bool(usable) and batches >= LEAST_UNITS and spare >= LEAST_SPARE
    warnings = []
    if possible and batches < PER_EFFECT * len(usable):
        warnings.append(Sentence.of("estimability.thin", n=batches, k=len(usable), rule=PER_EFFECT))
    return Estimability(
        bottles=bottles["sample"].nunique() if "sample" in bottles else len(bottles),
        batches=batches,
        sessions=sessions,
        predictors=_table(bottles, predictors, inside, constant, usable),
        together=_together(inside, predictors),
        usable=tuple(usable),
        spare=spare,
        possible=possible,
        reasons=tuple(reasons),
        wanted=_wanted(values, predictors, needed=_missing_batches(batches, groups, predictors)),
        warnings=tuple(warnings),
    )


def _check(table: pd.DataFrame, needed: Sequence[str], numbers: Sequence[str]) -> None:
    have = [str(name) for name in table.columns]
    faults = [
        Sentence.of("table.no_column", column=name, have=have)
        for name in needed
        if name not in table
    ]
    for name in numbers:
        if name in table:
            bad = pd.to_numeric(table[name], errors="coerce").isna().to_numpy()
            faults += [
                Sentence.of("estimability.no_number", row=int(place) + 1, column=name)
                for place in np.flatnonzero(bad)
            ]
    if faults:
        raise TableError(tuple(faults))


def _units(
    bottles: pd.DataFrame, predictors: Sequence[str], batch: str | None, session: str | None
) -> pd.DataFrame:
    """Average the bottles of a batch: the independent values, with their group of sessions."""
    table = bottles[list(predictors)].astype(float)
    table["batch"] = (
        bottles[batch].astype(str).to_numpy() if batch else np.arange(len(bottles)).astype(str)
    )
    table["session"] = bottles[session].astype(str).to_numpy() if session else "1"
    table["group"] = connected(table["session"], table["batch"])
    return table.drop(columns="session").groupby("batch", sort=False, as_index=False).mean()


def _without_groups(values: Array, group: pd.Series) -> Array:
    """Take the mean of each group of linked sessions off."""
    frame = pd.DataFrame(values)
    return (frame - frame.groupby(group.to_numpy()).transform("mean")).to_numpy()


def _rounding(column: Array) -> float:
    return 1e-9 * (1 + float(np.abs(column).max()))


def _independent(
    inside: Array, names: Sequence[str], values: Array
) -> tuple[list[str], dict[str, list[str]]]:
    """Keep predictors in their order while they add something; tell what the others repeat."""
    kept: list[int] = []
    dependent: dict[str, list[str]] = {}
    for place, name in enumerate(names):
        column = inside[:, place]
        size = float(np.linalg.norm(column))
        if size <= 1e-9 * (1 + float(np.abs(values[:, place]).max())):
            dependent[name] = []
            continue
        before = inside[:, kept]
        coefficients = np.linalg.lstsq(before, column, rcond=None)[0] if kept else np.zeros(0)
        if float(np.linalg.norm(column - before @ coefficients)) <= 1e-7 * size:
            shares = np.abs(coefficients) * np.linalg.norm(before, axis=0)
            dependent[name] = [
                names[k] for k, share in zip(kept, shares, strict=True) if share > 1e-6 * size
            ]
        else:
            kept.append(place)
    return [names[k] for k in kept], dependent


def _one_batch(bottles: pd.DataFrame, predictors: Sequence[str], batch: str | None) -> Sentence:
    values = [
        Sentence.of(
            "estimability.range",
            name=measurement(name),
            low=float(bottles[name].min()),
            high=float(bottles[name].max()),
        )
        for name in predictors
    ]
    name = str(bottles[batch].iloc[0]) if batch else "1"
    return Sentence.of("estimability.one_batch", n=len(bottles), batch=name, ranges=values)


def _table(
    bottles: pd.DataFrame,
    predictors: Sequence[str],
    inside: Array,
    constant: Sequence[str],
    usable: Sequence[str],
) -> pd.DataFrame:
    places = {name: place for place, name in enumerate(predictors)}
    rows = []
    for name in predictors:
        column = bottles[name].astype(float)
        if name in constant:
            verdict = "constant"
        elif np.linalg.norm(inside[:, places[name]]) <= _rounding(np.asarray(column, dtype=float)):
            verdict = "within one batch"
        else:
            verdict = "told apart" if name in usable else "together"
        others = [places[other] for other in usable if other != name]
        rows.append(
            {
                "predictor": name,
                "values": int(column.nunique()),
                "low": float(column.min()),
                "high": float(column.max()),
                "sd": float(column.std(ddof=1)) if len(column) > 1 else 0.0,
                "inflation": _inflation(inside[:, places[name]], inside[:, others]),
                "verdict": verdict,
            }
        )
    return pd.DataFrame(rows)


def _inflation(column: Array, others: Array) -> float:
    """Return how much the others widen this slope's variance; infinite if they repeat it."""
    size = float(column @ column)
    if size <= 0:
        return math.inf
    if not others.shape[1]:
        return 1.0
    rest = column - others @ np.linalg.lstsq(others, column, rcond=None)[0]
    left = float(rest @ rest) / size
    return math.inf if left <= 1e-12 else 1 / left


def _together(inside: Array, names: Sequence[str]) -> pd.DataFrame:
    rows = []
    for (i, first), (j, second) in itertools.combinations(enumerate(names), 2):
        a, b = inside[:, i], inside[:, j]
        size = float(np.linalg.norm(a) * np.linalg.norm(b))
        r = float(a @ b) / size if size > 1e-12 and len(a) > 2 else 0.0
        if abs(r) >= TOGETHER:
            rows.append({"first": first, "second": second, "correlation": r})
    return pd.DataFrame(rows, columns=["first", "second", "correlation"])


def _missing_batches(batches: int, groups: int, predictors: Sequence[str]) -> int:
    return max(LEAST_UNITS, len(predictors) + groups + LEAST_SPARE) - batches


def _wanted(values: Array, names: Sequence[str], *, needed: int, most: int = 6) -> pd.DataFrame:
    """Choose bottles, one by one, that shrink the widest slope interval most.

    Candidates are bottles that can be brewed (`_candidates`). If there are enough batches, one
    bottle is proposed only where it shrinks the widest interval by a tenth.
    """
    candidates = _candidates(values, names)
    everything = np.vstack([values, candidates])
    low, high = everything.min(axis=0), everything.max(axis=0)
    spread = np.where(high > low, high - low, 1.0)
    design = (values - low) / spread
    placed = (candidates - low) / spread
    chosen, gains = [], []
    for _ in range(min(max(needed, 1), most)):
        before = _widest(design)
        after = np.array([_widest(np.vstack([design, one])) for one in placed])
        best = int(np.argmin(after))
        gain = math.sqrt(before / after[best])
        if needed <= 0 and gain < 1 / (1 - WORTH):
            break
        chosen.append(candidates[best])
        gains.append(gain)
        design = np.vstack([design, placed[best]])
    proposed = pd.DataFrame(chosen, columns=list(names))
    return proposed if needed > 0 else proposed.assign(gain=gains)


def _candidates(values: Array, names: Sequence[str]) -> Array:
    """Return bottles that can be brewed, at the edges of what is usual.

    Measurements with a usual range (`TYPICAL`) stand at either end of it, widened to what was
    seen. Any other measurement stands where these bottles' own relation to the former puts it,
    and `WIDE` standard deviations to either side, within what was seen. No bottle holds more
    of a sugar, whatever its name, than extract.
    """
    usual = [place for place, name in enumerate(names) if name in TYPICAL][:6]
    others = [place for place in range(len(names)) if place not in usual]
    ends = [
        (
            min(TYPICAL[names[place]][0], float(values[:, place].min())),
            max(TYPICAL[names[place]][1], float(values[:, place].max())),
        )
        for place in usual
    ]
    corners = np.array(list(itertools.product(*ends)), dtype=np.float64)
    if not others:
        return _brewable(corners, names)
    seen = np.hstack([np.ones((len(values), 1)), values[:, usual]])
    fitted = np.linalg.lstsq(seen, values[:, others], rcond=None)[0]
    spare = max(len(values) - seen.shape[1], 1)
    scatter = np.sqrt(((values[:, others] - seen @ fitted) ** 2).sum(axis=0) / spare)
    expected = np.hstack([np.ones((len(corners), 1)), corners]) @ fitted
    signs = np.array(list(itertools.product((-WIDE, WIDE), repeat=min(len(others), 6))))
    signs = np.hstack([signs, np.zeros((len(signs), len(others) - signs.shape[1]))])
    candidates = np.empty((len(corners) * len(signs), len(names)), dtype=np.float64)
    candidates[:, usual] = np.repeat(corners, len(signs), axis=0)
    candidates[:, others] = np.clip(
        np.repeat(expected, len(signs), axis=0) + np.tile(signs, (len(corners), 1)) * scatter,
        values[:, others].min(axis=0),
        values[:, others].max(axis=0),
    )
    return _brewable(candidates, names)


def _brewable(candidates: Array, names: Sequence[str]) -> Array:
    """Leave out usual bottles with more sugar than extract, and cap any other sugar there."""
    if "meter_value" not in names:
        return candidates
    bottles = pd.DataFrame(candidates, columns=list(names))
    alcohol = bottles["abv"].clip(lower=0) if "abv" in bottles else [USUAL_ABV] * len(bottles)
    most = np.array(
        [extract(*numbers) for numbers in zip(bottles["meter_value"], alcohol, strict=True)]
    )
    for name in names:
        if name not in TYPICAL and any(word in name.lower() for word in _SUGARS):
            bottles[name] = bottles[name].clip(upper=most)
    if "glucose" in bottles:
        bottles = bottles[bottles["glucose"] <= most]
    return bottles.to_numpy(np.float64)


def _widest(design: Array) -> float:
    """Return the largest slope variance; a small ridge keeps impossible designs comparable."""
    centred = design - design.mean(axis=0)
    information = centred.T @ centred + 1e-4 * np.eye(design.shape[1])
    return float(np.diag(np.linalg.inv(information)).max())


def _described(wanted: pd.DataFrame) -> list[Sentence]:
    """Write each proposed bottle as its numbers, joined by "and"."""
    names = [str(name) for name in wanted.columns if name != "gain"]
    said = []
    for row in wanted.to_dict("records"):
        parts = [
            Sentence.of("estimability.about", name=measurement(name), value=float(row[name]))
            for name in names
        ]
        numbers = reduce(
            lambda left, right: Sentence.of("estimability.and", left=left, right=right), parts
        )
        said.append(Sentence.of("estimability.bottle", numbers=numbers))
    return said


def measurement(name: str) -> Sentence | str:
    """Return the plain name of a measurement that is known by its column."""
    return Sentence.of(f"chemistry.name_{name}") if name in _NAMED else name
