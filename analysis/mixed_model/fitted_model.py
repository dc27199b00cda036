"""Fit the mixed models of a design: which terms, which error, what at the boundary.

The rule at the boundary. A variance of assessor x sample that comes out below
0 means that assessors agreed more than chance alone lets expect. Setting it to
0 would test samples against the residual, with many more degrees of freedom,
because of a number that is known least of all. With ``boundary="design"``
estimates may be negative, so that each test keeps the error term that the
design gives it (in balanced data, its mean square), and the component is shown
as 0 with a warning; ``boundary="drop"`` sets it to 0 and takes it as known.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from ..core.errors import OptionError
from ..core.wording import term_words
from ..core.words import Sentence
from .balanced_squares import mean_squares
from .block_layout import Array, CellSums, RandomTerm, Whole
from .denominator_df import Inference, inference
from .mixed_design import Design
from .reml import fit

RANDOM_SESSIONS = ("session", "assessor:session", "sample:session")
"""Random terms of sessions that stand for sessions in general."""
_FLOOR = 0.1  # below this a few full cells would carry all weight


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Estimates:
    """A fitted model of one attribute.

    Attributes
    ----------
    inference : Inference
        Of the samples present, then the other fixed columns.
    index : int
        Which response of `inference` it is.
    samples : tuple of int
        Samples present.
    variances : dict of str to float
        Variance of each random term as estimated, maybe negative; the residual last.
    held : tuple of str
        Terms that were held at 0.
    exact : bool
        Whether mean squares were taken, and not REML.
    notes : tuple of Sentence
    """

    inference: Inference
    index: int
    samples: tuple[int, ...]
    variances: dict[str, float]
    held: tuple[str, ...] = ()
    exact: bool = False
    notes: tuple[Sentence, ...] = ()


@dataclass(slots=True)
class FittedAttributes:
    """Fitted attributes, and those that had to be refused."""

    fitted: dict[str, Estimates] = field(default_factory=dict)
    refused: dict[str, Sentence] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Signature:
    """What attributes must share to be fitted together."""

    samples: tuple[int, ...]
    terms: tuple[str, ...]
    balanced: tuple[int, ...] = ()  # assessors present and, last, replicates
    single: bool = False  # replicates were identical: one score per cell is left


def fit_attributes(
    plan: Design,
    wanted: list[int],
    *,
    random: tuple[str, ...] | None,
    method: str,
    boundary: str,
) -> FittedAttributes:
    """Fit all attributes, those of one structure in one call.

    Parameters
    ----------
    plan : Design
    wanted : list of int
        Attributes that can be fitted.
    random : tuple of str, optional
        Random terms; those that the design calls for by default.
    method : {'satterthwaite', 'kenward-roger'}
    boundary : {'design', 'drop'}
    """
    groups: dict[_Signature, list[int]] = {}
    known: dict[tuple[bytes, bool], _Signature] = {}  # most attributes have the same holes
    for a in wanted:
        single = _one_score_a_cell(plan, a)
        holes = plan.cells.counts[a].tobytes(), single
        if holes not in known:
            known[holes] = _signature(plan, a, random, single=single)
        groups.setdefault(known[holes], []).append(a)
    outcome = FittedAttributes()
    for signature, members in groups.items():
        rest = members
        if signature.balanced:
            rest = _by_mean_squares(plan, signature, members, boundary, outcome)
        if rest:
            _by_reml(plan, signature, rest, outcome, method=method, boundary=boundary)
    return outcome


def _plain(plan: Design) -> bool:
    """Tell whether cells are assessors x samples, and samples the only fixed part."""
    return len(plan.sample) == plan.filled[0].size and not plan.effects


def _one_score_a_cell(plan: Design, a: int) -> bool:
    """Tell whether all replicates of an attribute are identical."""
    return _plain(plan) and bool((plan.filled[a] > 1).any()) and bool(plan.cells.within[a] <= 1e-20)


def _signature(plan: Design, a: int, random: tuple[str, ...] | None, *, single: bool) -> _Signature:
    filled = plan.filled[a]
    samples = tuple(int(i) for i in np.flatnonzero(filled.sum(axis=0)))
    who = np.flatnonzero(filled.sum(axis=1))
    inner = filled[np.ix_(who, np.array(samples))]
    terms = _terms(plan, a, random, single=single)
    balanced: tuple[int, ...] = ()
    if _plain(plan) and random is None and (inner == inner[0, 0]).all() and _crossed(plan, samples):
        balanced = (*(int(i) for i in who), int(inner[0, 0]))
    return _Signature(samples, terms, balanced, single and not balanced)


def _crossed(plan: Design, samples: tuple[int, ...]) -> bool:
    """Tell whether the samples are the full cross of the factors, once each."""
    if not len(plan.factors.columns):
        return True
    there = plan.factors.iloc[list(samples)]
    sizes = [there[name].nunique() for name in there]
    return bool(np.prod(sizes) == len(there)) and not there.duplicated().any() and min(sizes) > 1


def _terms(
    plan: Design, a: int, random: tuple[str, ...] | None, *, single: bool
) -> tuple[str, ...]:
    """Choose the random terms, leaving out those that the residual holds already."""
    wanted = random
    if wanted is None:
        names = [str(name) for name in plan.factors]
        sets = [c for size in range(1, len(names) + 1) for c in combinations(names, size)]
        wanted = ("assessor", *(":".join(("assessor", *c)) for c in sets), "assessor:sample")
        if plan.session.any():
            fixed = any(effect.name == "session" for effect in plan.effects)
            wanted += ("assessor:session",) if fixed else RANDOM_SESSIONS
    if single:
        wanted = tuple(name for name in wanted if name != "assessor:sample")
    if random is None and wanted == ("assessor", "assessor:sample"):
        return wanted if (plan.filled[a] > 1).any() else wanted[:1]
    counts = plan.cells.counts[a]
    if single:
        counts = np.minimum(counts, 1.0)
    there = counts > 0
    kept: dict[str, np.ndarray] = {}
    for name in wanted:
        levels = np.unique(plan.term(name).codes[there], return_inverse=True)[1]
        alone = np.bincount(levels, counts[there]).max() <= 1
        twin = next((other for other, had in kept.items() if _same(levels, had)), None)
        if levels.max() == 0 or alone or twin:
            if random is not None:
                key = "anova.term_alone" if alone else "anova.term_same"
                raise OptionError(
                    key,
                    term=name,
                    attribute=plan.attributes[a],
                    other=twin or Sentence.of("term.mean"),
                )
            if twin and name == "assessor:sample":
                kept[name] = kept.pop(twin)
            continue
        kept[name] = levels
    return tuple(kept)


def _same(one: np.ndarray, other: np.ndarray) -> bool:
    """Tell whether two factors divide the cells alike."""
    joint = len(np.unique(one * (int(other.max()) + 1) + other))
    return joint == int(one.max()) + 1 == int(other.max()) + 1


def _by_mean_squares(
    plan: Design,
    signature: _Signature,
    members: list[int],
    boundary: str,
    outcome: FittedAttributes,
) -> list[int]:
    """Take balanced attributes from their mean squares; return those that REML must fit."""
    *who, replicates = signature.balanced
    samples = np.array(signature.samples)
    factors = plan.factors.iloc[samples]
    names = [str(name) for name in factors]
    order = np.arange(len(samples))
    levels: tuple[int, ...] = (len(samples),)
    if names:
        codes = np.stack([np.unique(factors[n], return_inverse=True)[1] for n in names])
        order = np.lexsort(codes[::-1])
        levels = tuple(int(c.max()) + 1 for c in codes)
    grid = plan.cells.means[members].reshape(len(members), *plan.filled[0].shape)
    found = mean_squares(
        grid[:, who][:, :, samples[order]], plan.cells.within[members], replicates, levels
    )
    total = found.squares @ found.df
    judged = (found.squares[:, 1:] > 1e-18 * total[:, None]).all(axis=1)
    for row in np.flatnonzero(~judged):
        attribute = plan.attributes[members[row]]
        outcome.refused[attribute] = Sentence.of("anova.no_error", attribute=attribute)
    rows = np.flatnonzero(judged)
    back = np.argsort(order)
    made = found.inference.take(rows)
    phi = made.phi[:, back][:, :, back]
    made = replace(
        made,
        beta=made.beta[:, back],
        phi=phi,
        adjusted=phi,
        first=made.first[:, :, back][:, :, :, back],
    )
    left = []
    for index, row in enumerate(rows):
        variances: dict[str, float] = {}
        for stratum in found.strata:
            if len(stratum) == len(levels):
                name = "assessor:sample" if replicates > 1 else "residual"
            else:
                name = ":".join(("assessor", *(names[f] for f in stratum)))
            variances[name] = float(found.components[stratum][row])
        if replicates > 1:
            variances["residual"] = float(found.error[row])
        if boundary == "drop" and min(variances.values()) < 0:
            left.append(members[row])
        else:
            outcome.fitted[plan.attributes[members[row]]] = Estimates(
                inference=made,
                index=index,
                samples=signature.samples,
                variances=variances,
                exact=True,
            )
    return left


def _by_reml(
    plan: Design,
    signature: _Signature,
    members: list[int],
    outcome: FittedAttributes,
    *,
    method: str,
    boundary: str,
) -> None:
    """Fit attributes of one structure by REML."""
    kept = np.flatnonzero(np.isin(plan.sample, signature.samples))
    fixed = np.concatenate(
        [
            (plan.sample[kept][:, None] == np.array(signature.samples)).astype(float),
            *(effect.columns[kept] for effect in plan.effects),
        ],
        axis=1,
    )
    terms = []
    for name in signature.terms:
        codes = plan.term(name).codes[kept]
        terms.append(RandomTerm(name, np.unique(codes, return_inverse=True)[1].astype(np.int64)))
    counts = plan.cells.counts[members][:, kept]
    notes: list[Sentence] = []
    if signature.single:
        counts = np.minimum(counts, 1.0)
        notes.append(Sentence.of("anova.identical_replicates"))
    cells = CellSums(counts, plan.cells.means[members][:, kept], plan.cells.within[members])
    sound = _sound(plan, members, fixed, cells, outcome)
    sound = sound[
        _left_over(plan, [members[i] for i in sound], (fixed, terms, cells.take(sound)), outcome)
    ]
    members = [members[i] for i in sound]
    if not members:
        return
    cells = cells.take(sound)
    found = fit(fixed, terms, cells, negative=boundary == "design")
    settled = found.converged & (found.floor >= _FLOOR)
    first = np.flatnonzero(settled)
    if len(first):
        found = found.take(first)
        made = inference(found, method)
        for row, which in enumerate(first):
            outcome.fitted[plan.attributes[members[which]]] = Estimates(
                inference=made,
                index=row,
                samples=signature.samples,
                variances=_named(found.names, found.theta[row], signature.terms),
                held=_held(found.names, found.free[row]),
                notes=tuple(notes),
            )
    again = np.flatnonzero(~settled)
    if not len(again):
        return
    found = fit(fixed, terms, cells.take(again), negative=False)
    steady = found.converged & (found.theta[:, -1] > 1e-10 * found.theta.sum(axis=1))
    for which in again[~steady]:
        attribute = plan.attributes[members[which]]
        outcome.refused[attribute] = Sentence.of("anova.no_error", attribute=attribute)
    again, found = again[steady], found.take(np.flatnonzero(steady))
    if not len(again):
        return
    made = inference(found, method)
    filled = plan.filled[[members[which] for which in again]] > 0
    df = filled.sum(axis=(1, 2)) - filled.any(axis=1).sum(axis=1) - filled.any(axis=2).sum(axis=1)
    made = replace(made, ceiling=np.maximum(df + 1.0, 1.0))
    for row, which in enumerate(again):
        outcome.fitted[plan.attributes[members[which]]] = Estimates(
            inference=made,
            index=row,
            samples=signature.samples,
            variances=_named(found.names, found.theta[row], signature.terms),
            held=_held(found.names, found.free[row]),
            notes=(*notes, Sentence.of("anova.not_settled", df=int(made.ceiling[row]))),
        )


def _left_over(
    plan: Design,
    members: list[int],
    parts: tuple[Array, list[RandomTerm], CellSums],
    outcome: FittedAttributes,
) -> list[bool]:
    """Tell of each attribute whether scores are left over for the residual; refuse it if not.

    Where fixed columns and the levels of the random terms are as many as the
    scores, the error is not in the data: the search then ends anywhere.
    """
    fixed, terms, cells = parts
    ranks: dict[bytes, int] = {}
    left = []
    for a, counts in zip(members, cells.counts, strict=True):
        there = counts > 0
        if there.tobytes() not in ranks:
            ranks[there.tobytes()] = _rank(fixed[there], [term.codes[there] for term in terms])
        scores = int(counts.sum())
        left.append(scores > ranks[there.tobytes()])
        if not left[-1]:
            attribute = plan.attributes[a]
            outcome.refused[attribute] = Sentence.of(
                "anova.saturated",
                attribute=attribute,
                n=scores,
                terms=[term_words(term.name) for term in terms],
            )
    return left


def _rank(fixed: Array, terms: list[Whole]) -> int:
    """Return the rank of fixed columns and the levels of random terms together."""
    columns = [fixed]
    for codes in terms:
        levels = np.unique(codes, return_inverse=True)[1]
        if levels.max() + 1 == len(fixed):
            return len(fixed)
        columns.append(np.eye(int(levels.max()) + 1)[levels])
    return int(np.linalg.matrix_rank(np.concatenate(columns, axis=1)))


def _sound(
    plan: Design, members: list[int], fixed: Array, cells: CellSums, outcome: FittedAttributes
) -> np.ndarray:
    """Find the attributes whose fixed part can be estimated and leaves something over."""
    good = []
    for row, a in enumerate(members):
        attribute = plan.attributes[a]
        there = cells.counts[row] > 0
        columns = fixed[there]
        if plan.effects and np.linalg.matrix_rank(columns) < columns.shape[1]:
            outcome.refused[attribute] = Sentence.of(
                "anova.confounded",
                attribute=attribute,
                effects=[term_words(effect.name) for effect in plan.effects],
            )
            continue
        good.append(row)
    rows = np.array(good, dtype=np.intp)
    if not len(rows):
        return rows
    weight = cells.counts[rows]
    mean = cells.means[rows]
    squares = (weight @ (fixed[:, :, None] * fixed[:, None, :]).reshape(len(fixed), -1)).reshape(
        len(rows), fixed.shape[1], fixed.shape[1]
    )
    beta = np.linalg.solve(squares, ((weight * mean) @ fixed)[..., None])[..., 0]
    rest = (weight * (mean - beta @ fixed.T) ** 2).sum(axis=1) + cells.within[rows]
    size = (weight * mean**2).sum(axis=1)
    nothing = rest <= 1e-20 * np.maximum(size, 1e-300)
    for row in rows[nothing]:
        attribute = plan.attributes[members[row]]
        outcome.refused[attribute] = Sentence.of("anova.no_error", attribute=attribute)
    return np.asarray(rows[~nothing])


def _named(names: tuple[str, ...], theta: Array, order: tuple[str, ...]) -> dict[str, float]:
    """Name the variances, terms in the order they were asked for and the residual last."""
    found = dict(zip(names, (float(v) for v in theta), strict=True))
    return {name: found[name] for name in (*order, "residual")}


def _held(names: tuple[str, ...], free: np.ndarray) -> tuple[str, ...]:
    return tuple(name for name, is_free in zip(names, free, strict=True) if not is_free)
