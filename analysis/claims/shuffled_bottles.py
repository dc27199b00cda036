"""The bottles shuffled on paper: what every question would show if bottles were alike.

Within each assessor the bottles' labels are permuted, the same way for all
questions, so that questions that go together stay together. Cells that an
assessor did not fill take no part. Where a table is so small that there are
few permutations, scores are rotated at random instead (exact under equal,
normal errors) and words and faults are not tested.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations, product

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, chdtrc

from ..core.ratings_matrix import Floats
from ..core.two_way import centred, inverse, normal_matrix
from .claim_members import MEASURED, Member
from .closed_pairs import pairs_of
from .studentized_range import range_tail

Keys = npt.NDArray[np.float64]
FEWEST = 400
"""With fewer permutations than this, scores are rotated."""
_TINY = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Members that were filled in the same cells, and how their bottles are compared.

    Attributes
    ----------
    filled : ndarray of bool, shape (assessors, bottles)
        Cells that count; assessors with one cell only do not.
    columns : ndarray of int
        Bottles that were compared.
    covariance : ndarray, shape (bottles compared, bottles compared)
        Of the bottles' effects, in units of a cell's variance.
    df_total, df : int
        Degrees of freedom within assessors, and of the error.
    members : list of int
    """

    filled: npt.NDArray[np.bool_]
    columns: npt.NDArray[np.int_]
    covariance: Floats
    df_total: int
    df: int
    members: list[int]

    @property
    def pair_variances(self) -> Floats:
        """Variances of the differences of pairs, in units of a cell's variance."""
        first, second = pairs_of(len(self.columns)).T
        own = np.diag(self.covariance)
        return np.asarray(own[first] + own[second] - 2 * self.covariance[first, second])


@dataclass(frozen=True, slots=True, eq=False)
class Observed:
    """What the data themselves show about one member.

    Attributes
    ----------
    effects : ndarray
        Of the bottles compared, sum 0.
    columns : ndarray of int
    se : ndarray, shape (pairs,)
        Standard errors of the differences, in the order of `pairs_of`.
    t : ndarray, shape (pairs,)
    df : float
        inf for words and faults.
    F : float
        Of all bottles; Cochran's Q for words and faults.
    variance : float
        Of a cell, from the assessor x bottle interaction, not below its floor.
    n : int
        Assessors who count.
    """

    effects: Floats
    columns: npt.NDArray[np.int_]
    se: Floats
    t: Floats
    df: float
    F: float
    variance: float
    n: int


@dataclass(frozen=True, slots=True, eq=False)
class Shuffled:
    """Questions that could be tested, under all shuffles; shuffle 0 is the data.

    Attributes
    ----------
    kind : str
        "all shuffles", "random shuffles" or "rotations".
    tested : list of int
        Members with a column, in the order of the columns.
    p : ndarray, shape (shuffles, tested)
        p values by the studentized range, to weigh questions against each other.
    log_f : ndarray, shape (shuffles, tested)
        Minus the logarithm of the tail of F or chi-square, for the question whether
        bottles differ at all.
    observed : dict of int to Observed
    """

    kind: str
    tested: list[int]
    p: Floats
    log_f: Floats
    observed: dict[int, Observed]


def layouts(members: Sequence[Member]) -> list[Layout]:
    """Put members with the same cells together; those that cannot be compared are left out."""
    found: dict[bytes, Layout] = {}
    for number, member in enumerate(members):
        filled = ~np.isnan(member.cells)
        filled &= (filled.sum(axis=1) >= 2)[:, None]
        key = filled.tobytes()
        if key in found:
            found[key].members.append(number)
            continue
        columns = np.flatnonzero(filled.any(axis=0))
        used = filled[filled.any(axis=1)][:, columns]
        if len(columns) < 2:
            continue
        covariance, rank = inverse(normal_matrix(used.astype(float)))
        df_total = int(used.sum()) - len(used)
        if rank < len(columns) - 1 or df_total <= rank:
            continue
        found[key] = Layout(filled, columns, covariance, df_total, df_total - rank, [number])
    return list(found.values())


def shuffle(members: Sequence[Member], *, shuffles: int, seed: int) -> Shuffled:
    """Test all members under the same shuffles.

    Parameters
    ----------
    members : sequence of Member
        All with cells of one shape.
    shuffles : int
        Random shuffles to add to the data where not all can be gone through.
    seed : int

    Returns
    -------
    Shuffled
    """
    groups = layouts(members)
    rng = np.random.default_rng(seed)
    if not groups:
        return Shuffled("random shuffles", [], np.empty((1, 0)), np.empty((1, 0)), {})
    tasted = np.any([group.filled for group in groups], axis=0)
    whole = bool(tasted[tasted.any(axis=1)].all()) and len(groups) == 1
    sizes = tasted.sum(axis=1)
    number = math.prod(math.factorial(int(size)) for size in sizes)
    distinct = number // math.factorial(int(sizes.max())) if whole else number
    rotated = distinct < FEWEST
    keys: Keys | None = None
    if rotated:
        kind = "rotations"
    elif distinct <= shuffles + 1:
        kind = "all shuffles"
        keys = np.array(list(_all_keys(tasted, whole=whole)))
    else:
        kind = "random shuffles"
        keys = rng.random((shuffles + 1, *tasted.shape))
        keys[0] = np.arange(tasted.shape[1])
    tested: list[int] = []
    p: list[Floats] = []
    log_f: list[Floats] = []
    observed: dict[int, Observed] = {}
    for group in groups:
        chosen = [n for n in group.members if not rotated or members[n].kind in MEASURED]
        chosen = [n for n in chosen if _varies(members[n], group)]
        if not chosen:
            continue
        rows = _rows(group)
        values = np.stack(
            [centred(members[n].cells[rows], group.filled[rows]) for n in chosen], axis=-1
        )[:, group.columns]
        sums = (
            _rotated(values, group, shuffles, rng)
            if keys is None
            else _permuted(values, group, keys)
        )
        total = (values**2).sum(axis=(0, 1))
        made = _tests([members[n] for n in chosen], group, sums, total)
        tested += chosen
        p.append(made[0])
        log_f.append(made[1])
        observed |= dict(zip(chosen, made[2], strict=True))
    order = np.argsort(tested, kind="stable")
    joined = np.concatenate(p, axis=1) if p else np.empty((1, 0))
    joined_f = np.concatenate(log_f, axis=1) if log_f else np.empty((1, 0))
    return Shuffled(
        kind,
        [tested[n] for n in order],
        joined[:, order],
        joined_f[:, order],
        observed,
    )


def _rows(group: Layout) -> npt.NDArray[np.bool_]:
    return np.asarray(group.filled.any(axis=1))


def _varies(member: Member, group: Layout) -> bool:
    """Tell whether anybody made any distinction."""
    rows = group.filled[_rows(group)]
    return bool(np.any(np.abs(centred(member.cells[_rows(group)], rows)) > _TINY))


def _all_keys(tasted: npt.NDArray[np.bool_], *, whole: bool) -> Iterator[Keys]:
    """Yield the keys of every permutation, the data's own first.

    In a whole table the first assessor's bottles stay: shuffling everybody's
    the same way changes nothing.
    """
    sizes = tasted.sum(axis=1)
    kept = int(np.flatnonzero(sizes)[0])
    orders: list[list[tuple[int, ...]]] = [
        [tuple(range(int(size)))] if whole and row == kept else list(permutations(range(int(size))))
        for row, size in enumerate(sizes)
    ]
    for chosen in product(*orders):
        keys = np.full(tasted.shape, np.inf)
        for row, order in enumerate(chosen):
            keys[row, tasted[row]] = order
        yield keys


def _permuted(values: Floats, group: Layout, keys: Keys) -> Floats:
    """Return the bottles' sums of centred cells under every shuffle, shape (b, bottles, members).

    An assessor's filled cells are dealt out in the order of their keys.
    """
    used = group.filled[_rows(group)][:, group.columns]
    own = keys[:, _rows(group)][:, :, group.columns]
    sums = np.zeros((len(keys), len(group.columns), values.shape[2]))
    for row, filled in enumerate(used):
        cells = np.flatnonzero(filled)
        order = np.argsort(own[:, row, cells], axis=1, kind="stable")
        dealt = values[row, cells][order]
        if filled.all():
            sums += dealt
        else:
            sums[:, cells] += dealt
    return sums


def _rotated(values: Floats, group: Layout, shuffles: int, rng: np.random.Generator) -> Floats:
    """Return the same sums under random rotations of all that varies within assessors.

    Langsrud 2005, Stat. Comput. 15:53-60.
    """
    used = group.filled[_rows(group)][:, group.columns]
    basis, spread = [], []
    for row, filled in enumerate(used):
        cells = np.flatnonzero(filled)
        contrasts = _helmert(len(cells))
        basis.append(contrasts @ values[row, cells])
        part = np.zeros((len(contrasts), used.shape[1]))
        part[:, cells] = contrasts
        spread.append(part)
    z = np.concatenate(basis)
    design = np.concatenate(spread)
    u, s, v = np.linalg.svd(design, full_matrices=False)
    kept = s > 1e-9 * s[0]
    u, back = u[:, kept], s[kept, None] * v[kept]
    frames, upper = np.linalg.qr(rng.standard_normal((shuffles, len(z), u.shape[1])))
    frames *= np.sign(np.diagonal(upper, axis1=1, axis2=2))[:, None, :]
    frames = np.concatenate([u[None], frames])
    return np.asarray(np.einsum("bnr,nk,rj->bjk", frames, z, back, optimize=True))


def _helmert(n: int) -> Floats:
    """Return n - 1 orthonormal contrasts."""
    rows = np.tril(np.ones((n - 1, n)), 0)
    for row in range(n - 1):
        rows[row, row + 1] = -(row + 1)
        rows[row] /= np.sqrt((row + 1) * (row + 2))
    return np.asarray(rows)


def _tests(
    chosen: Sequence[Member], group: Layout, sums: Floats, total: Floats
) -> tuple[Floats, Floats, list[Observed]]:
    """Return p by range and by F under every shuffle, and what the data show."""
    bottles = len(group.columns)
    effects = group.covariance @ sums
    between = (sums * effects).sum(axis=1)
    rank = bottles - 1
    scored = np.array([member.kind in MEASURED for member in chosen])
    floor = np.array([member.floor for member in chosen])
    error = np.maximum((total - between) / group.df, np.maximum(floor, _TINY * total))
    variance = np.where(scored, error, np.maximum(total / group.df_total, _TINY))
    first, second = pairs_of(bottles).T
    v = group.pair_variances
    if np.ptp(v) < 1e-9 * v[0]:
        widest = np.ptp(effects, axis=1) / np.sqrt(v[0])
    else:
        gaps = np.abs(effects[:, first] - effects[:, second]) / np.sqrt(v)[:, None]
        widest = gaps.max(axis=1)
    t = widest / np.sqrt(variance)
    p = np.empty_like(t)
    for flag, df in ((True, float(group.df)), (False, np.inf)):
        here = scored == flag
        if here.any():
            p[:, here] = range_tail(t[:, here] * np.sqrt(2), bottles, df)
    log_f = np.empty_like(t)
    log_f[:, scored] = _minus_log_f((between / error)[:, scored] / group.df, rank, group.df)
    log_f[:, ~scored] = _minus_log_chi2((between / variance)[:, ~scored], rank)
    for k, member in enumerate(chosen):
        if member.pair is not None:
            own = np.broadcast_to(variance[:, k], len(p))
            df = float(group.df) if scored[k] else np.inf
            p[:, k] = _pair_p(member, group, effects[:, :, k], own, df)
    observed = []
    for k in range(len(chosen)):
        se = np.sqrt(variance[0, k] * v)
        gap = effects[0, first, k] - effects[0, second, k]
        observed.append(
            Observed(
                effects[0, :, k],
                group.columns,
                se,
                gap / se,
                float(group.df) if scored[k] else np.inf,
                float(between[0, k] / variance[0, k] / (rank if scored[k] else 1)),
                float(variance[0, k]),
                int(_rows(group).sum()),
            )
        )
    return p, log_f, observed


@lru_cache(maxsize=256)
def _f_table(rank: int, df: int) -> tuple[Floats, Floats]:
    x = np.linspace(0, 24, 1200)
    return x, -np.log(np.maximum(betainc(df / 2, rank / 2, np.exp(-x)), 1e-300))


def _minus_log_f(ratio: Floats, rank: int, df: int) -> Floats:
    """Return minus the log tail of the F whose sums of squares have this ratio.

    Read off a table in the log of one more than the ratio, where it is almost straight.
    """
    x, y = _f_table(rank, df)
    return np.asarray(np.interp(np.log1p(ratio), x, y))


def _minus_log_chi2(q: Floats, rank: int) -> Floats:
    x = np.linspace(0, 300, 3000)
    return np.asarray(np.interp(q, x, -np.log(np.maximum(chdtrc(rank, x), 1e-300))))


def _pair_p(member: Member, group: Layout, effects: Floats, variance: Floats, df: float) -> Floats:
    """Return p of the one pair that is in question; 1 where it was not compared."""
    where = [
        int(np.flatnonzero(group.columns == column)[0]) if column in group.columns else -1
        for column in member.pair or ()
    ]
    if -1 in where:
        return np.ones(len(effects))
    a, b = where
    v = group.covariance[a, a] + group.covariance[b, b] - 2 * group.covariance[a, b]
    gap = np.abs(effects[:, a] - effects[:, b])
    return range_tail(gap / np.sqrt(variance * v) * np.sqrt(2), 2, df)
