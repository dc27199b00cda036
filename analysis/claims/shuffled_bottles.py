"""The bottles shuffled on paper: what every question would show if bottles were alike.

Within each assessor the bottles' labels are permuted, the same way for all
questions, so that questions that go together stay together. Cells that an
assessor did not fill take no part. Where a table is so small that there are
few permutations, scores are rotated at random instead (exact under equal,
normal errors) and words and faults are not tested. Scores written in whole
steps are first spread evenly over their steps, for a rotation takes two equal
numbers for a sign of great precision.

A bottle over which assessors scatter more than over the others (in most
scales: how much is estimated from all of them together, anew in each shuffle)
gets wider standard errors; the others keep the common one. Of three bottles one
does only where it scatters more than the widest does in four of five shuffles.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations, product

import numpy as np
import numpy.typing as npt
from scipy.linalg import block_diag

from ..core.ratings_matrix import Floats
from ..core.two_way import centred, inverse, normal_matrix
from .claim_members import MEASURED, Member
from .closed_pairs import LISTED, THREE, pairs_of, spread_tail
from .studentized_range import range_tail

Keys = npt.NDArray[np.float64]
FEWEST = 400
"""With fewer permutations than this, scores are rotated."""
CLEAR = 0.8
"""Share of shuffles whose widest bottle one of three has to exceed to get wider errors."""
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

    @property
    def own_variances(self) -> Floats:
        """Of three bottles: what each adds to the variances of its two pairs."""
        v = self.pair_variances
        return np.asarray(v.sum() / 2 - v[::-1])


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
        What the pairs are judged by: difference over standard error (in
        rotations: of the scores spread over their steps).
    df : float
        inf for words and faults.
    variance : float
        Of a cell, from the assessor x bottle interaction, not below its floor.
    pair_variances : ndarray, shape (pairs,)
        Variances of the differences in units of it.
    n : int
        Assessors who count.
    """

    effects: Floats
    columns: npt.NDArray[np.int_]
    se: Floats
    t: Floats
    df: float
    variance: float
    pair_variances: Floats
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
        p values by the studentized range (three bottles: by F; words and faults: by
        chi square), to weigh questions against each other.
    widest : ndarray, shape (shuffles,)
        How much more than the mean bottle the bottle with most scatter is taken to
        scatter (variances).
    observed : dict of int to Observed
    """

    kind: str
    tested: list[int]
    p: Floats
    widest: Floats
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
        return Shuffled("random shuffles", [], np.empty((1, 0)), np.ones(1), {})
    reference = _reference(groups, shuffles, rng)
    rotated = reference.keys is None
    able = [n for n, member in enumerate(members) if not rotated or member.kind in MEASURED]
    drawn = []
    for group in groups:
        chosen = [n for n in group.members if n in able and _varies(members[n], group)]
        if chosen:
            drawn.append(_drawn(members, chosen, group, reference))
    wider = _wider(drawn, members)
    made = [_tests(members, one, wider) for one in drawn]
    tested = [n for one in drawn for n in one.chosen]
    order = np.argsort(tested, kind="stable")
    p = np.concatenate([part for part, _ in made], axis=1) if made else np.empty((1, 0))
    seen = [one for _, part in made for one in part]
    return Shuffled(
        reference.kind,
        [tested[n] for n in order],
        p[:, order],
        wider.max(axis=1),
        dict(zip(tested, seen, strict=True)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Reference:
    """How the reference is made; keys of all shuffles, shape (shuffles, assessors, bottles)."""

    kind: str
    keys: Keys | None
    shuffles: int
    rng: np.random.Generator


def coarse(permutations: int) -> bool:
    """Tell whether so few permutations are too coarse to test by."""
    return permutations < FEWEST


def _reference(groups: Sequence[Layout], shuffles: int, rng: np.random.Generator) -> _Reference:
    """Choose all permutations where they are few, random ones, or rotations."""
    tasted = np.any([group.filled for group in groups], axis=0)
    whole = bool(tasted[tasted.any(axis=1)].all()) and len(groups) == 1
    sizes = tasted.sum(axis=1)
    number = math.prod(math.factorial(int(size)) for size in sizes)
    distinct = number // math.factorial(int(sizes.max())) if whole else number
    if coarse(distinct):
        return _Reference("rotations", None, shuffles, rng)
    if distinct <= shuffles + 1:
        keys = np.array(list(_all_keys(tasted, whole=whole)))
        return _Reference("all shuffles", keys, shuffles, rng)
    keys = rng.random((shuffles + 1, *tasted.shape))
    keys[0] = np.arange(tasted.shape[1])
    return _Reference("random shuffles", keys, shuffles, rng)


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """Sums and sums of squares of centred cells, shape (shuffles, bottles, members).

    `plain_sums` and `plain_total` are those of the data before they were spread.
    """

    chosen: list[int]
    group: Layout
    sums: Floats
    squares: Floats
    total: Floats
    plain_sums: Floats
    plain_total: Floats


def _drawn(
    members: Sequence[Member], chosen: list[int], group: Layout, reference: _Reference
) -> _Drawn:
    """Deal out the cells of some members of one layout."""
    rows = _rows(group)
    filled = group.filled[rows]
    plain = np.stack([centred(members[n].cells[rows], filled) for n in chosen], axis=-1)
    values = plain
    if reference.keys is None:
        width = np.sqrt(12 * np.array([members[n].floor for n in chosen]))
        noise = width * (reference.rng.random(plain.shape) - 0.5)
        values = plain + np.stack(
            [centred(noise[..., k], filled) for k in range(len(chosen))], axis=-1
        )
    plain, values = plain[:, group.columns], values[:, group.columns]
    dealt = (
        _rotated(values, group, reference.shuffles, reference.rng)
        if reference.keys is None
        else _permuted(values, group, reference.keys)
    )
    totals = ((part**2).sum(axis=(0, 1)) for part in (values, plain))
    total, plain_total = totals
    return _Drawn(chosen, group, *dealt, total, plain.sum(axis=0), plain_total)


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


def _permuted(values: Floats, group: Layout, keys: Keys) -> tuple[Floats, Floats]:
    """Return the bottles' sums of centred cells, and of their squares, under every shuffle.

    An assessor's filled cells are dealt out in the order of their keys.
    """
    used = group.filled[_rows(group)][:, group.columns]
    own = keys[:, _rows(group)][:, :, group.columns]
    sums = np.zeros((len(keys), len(group.columns), values.shape[2]))
    squares = np.zeros_like(sums)
    for row, filled in enumerate(used):
        cells = np.flatnonzero(filled)
        order = np.argsort(own[:, row, cells], axis=1, kind="stable")
        dealt = values[row, cells][order]
        if filled.all():
            sums += dealt
            squares += dealt**2
        else:
            sums[:, cells] += dealt
            squares[:, cells] += dealt**2
    return sums, squares


def _rotated(
    values: Floats, group: Layout, shuffles: int, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Return the same under random rotations of all that varies within assessors.

    Langsrud 2005, Stat. Comput. 15:53-60.
    """
    used = group.filled[_rows(group)][:, group.columns]
    places = [(row, column) for row, filled in enumerate(used) for column in np.flatnonzero(filled)]
    basis = block_diag(*(_helmert(int(filled.sum())) for filled in used))
    row, column = np.array(places).T
    z = basis @ values[row, column]
    turn, upper = np.linalg.qr(rng.standard_normal((shuffles, len(z), len(z))))
    turn *= np.sign(np.diagonal(upper, axis1=1, axis2=2))[:, None, :]
    turned = np.concatenate([z[None], turn @ z])
    cells = basis.T @ turned
    at = np.zeros((used.shape[1], len(places)))
    at[column, np.arange(len(places))] = 1
    return at @ cells, at @ cells**2


def _helmert(n: int) -> Floats:
    """Return n - 1 orthonormal contrasts."""
    rows = np.tril(np.ones((n - 1, n)), 0)
    for row in range(n - 1):
        rows[row, row + 1] = -(row + 1)
        rows[row] /= np.sqrt((row + 1) * (row + 2))
    return np.asarray(rows)


def _wider(drawn: Sequence[_Drawn], members: Sequence[Member]) -> Floats:
    """Return how much more each bottle scatters, over all scales, under every shuffle.

    Returns
    -------
    ndarray, shape (shuffles, bottles)
        Variance of a bottle's cells over the mean of the bottles'; 1 where it
        cannot be told (two bottles, or none of the scales), and with three bottles
        where it is not `clearly_more`.

    Notes
    -----
    In a whole table of J bottles the residuals of bottle j have the variance
    ``v_j (1 - 2 / J) + mean(v) / J``. Grubbs 1948, JASA 43:243-264.
    """
    bottles = members[0].cells.shape[1]
    total = np.zeros((len(drawn[0].sums) if drawn else 1, bottles))
    count = np.zeros(bottles)
    for one in drawn:
        own = [k for k, n in enumerate(one.chosen) if members[n].kind in {"scale", "balance"}]
        j = len(one.group.columns)
        n = one.group.filled.sum(axis=0)[one.group.columns]
        if j <= 2 or not own or n.min() < 2:
            continue
        inside = one.squares[..., own] - one.sums[..., own] ** 2 / n[:, None]
        inside /= (n - 1)[:, None]
        middle = inside.mean(axis=1, keepdims=True)
        share = np.divide(inside, middle, out=np.ones_like(inside), where=middle > _TINY)
        total[:, one.group.columns] += ((share * (j - 1) / j - 1 / j) / (1 - 2 / j)).sum(axis=2)
        count[one.group.columns] += len(own)
    found = np.where(count > 0, total / np.maximum(count, 1), 1.0)
    return np.where(clearly_more(found), found, 1.0) if bottles == THREE else found


def clearly_more(wider: Floats) -> npt.NDArray[np.bool_]:
    """Tell which bottles scatter more than the widest does in four of five shuffles."""
    return np.asarray(wider > np.quantile(wider.max(axis=1), CLEAR))


def by_spread(member: Member, bottles: int) -> bool:
    """Tell whether a question is judged by how much all bottles vary, not by its widest pair."""
    return bottles == THREE if member.kind in MEASURED else bottles <= LISTED


def _tests(members: Sequence[Member], one: _Drawn, wider: Floats) -> tuple[Floats, list[Observed]]:
    """Return p by range or spread under every shuffle, and what the data show."""
    group, sums = one.group, one.sums
    chosen = [members[n] for n in one.chosen]
    bottles = len(group.columns)
    effects = group.covariance @ sums
    scored = np.array([member.kind in MEASURED for member in chosen])
    floor = np.array([member.floor for member in chosen])
    variance = _variance(one, sums, one.total, scored, floor)
    plain_effects = group.covariance @ one.plain_sums
    plain_variance = _variance(one, one.plain_sums[None], one.plain_total, scored, floor)[0]
    first, second = pairs_of(bottles).T
    v = group.pair_variances
    scale = _pair_scale(group, wider[:, group.columns])
    gaps = effects[:, first] - effects[:, second]
    p = np.empty_like(variance)
    observed = []
    for k, member in enumerate(chosen):
        df = float(group.df) if scored[k] else np.inf
        wide = v * (scale if scored[k] else np.ones((1, len(v))))
        t = gaps[..., k] / np.sqrt(wide * variance[:, k, None])
        if member.pair is not None:
            pair = _place(member, group)
            p[:, k] = range_tail(np.abs(t[:, pair]) * np.sqrt(2), 2, df) if pair >= 0 else 1.0
        elif not by_spread(member, bottles):
            p[:, k] = range_tail(np.abs(t).max(axis=1) * np.sqrt(2), bottles, df)
        else:
            between = (
                _between_three(gaps[..., k], wide)
                if bottles == THREE
                else (sums[..., k] * effects[..., k]).sum(axis=1)
            )
            p[:, k] = spread_tail(between / variance[:, k], bottles - 1, df)
        observed.append(
            Observed(
                plain_effects[:, k],
                group.columns,
                np.sqrt(plain_variance[k] * wide[0]),
                t[0],
                df,
                float(plain_variance[k]),
                wide[0],
                int(_rows(group).sum()),
            )
        )
    return p, observed


def _pair_scale(group: Layout, wider: Floats) -> Floats:
    """Return how much more the pairs vary than if all bottles scattered alike; never less."""
    first, second = pairs_of(len(group.columns)).T
    if len(group.columns) == THREE:
        own = group.own_variances * np.maximum(wider, 1.0)
        return np.asarray((own[:, first] + own[:, second]) / group.pair_variances)
    return np.maximum((wider[:, first] + wider[:, second]) / 2, 1.0)


def _between_three(gaps: Floats, pair_variances: Floats) -> Floats:
    """Return the weighted sum of squares of three bottles' effects, out of their pairs.

    Parameters
    ----------
    gaps : ndarray, shape (shuffles, 3)
        In the order of `pairs_of`.
    pair_variances : ndarray, shape (shuffles or 1, 3)

    Notes
    -----
    With bottles' own variances u a pair has u_i + u_j, and the sum of squares
    about the mean weighted by 1 / u is the sum of u_k d_ij^2 over
    u_1 u_2 + u_1 u_3 + u_2 u_3, which one of the u may leave at 0.
    """
    rest = pair_variances.sum(axis=1, keepdims=True) / 2 - pair_variances
    a, b, c = rest.T
    return np.asarray((rest * gaps**2).sum(axis=1) / (a * b + a * c + b * c))


def _variance(
    one: _Drawn, sums: Floats, total: Floats, scored: npt.NDArray[np.bool_], floor: Floats
) -> Floats:
    """Return each member's variance of a cell under every shuffle, shape (shuffles, members).

    For scales it is what bottles and assessors leave, not below its floor; for
    words and faults all that varies within assessors.
    """
    between = (sums * (one.group.covariance @ sums)).sum(axis=1)
    error = np.maximum((total - between) / one.group.df, np.maximum(floor, _TINY * total))
    return np.where(scored, error, np.maximum(total / one.group.df_total, _TINY))


def _place(member: Member, group: Layout) -> int:
    """Return the number of the one pair that is in question; -1 if it was not compared."""
    for number, ends in enumerate(pairs_of(len(group.columns))):
        if set(group.columns[ends]) == set(member.pair or ()):
            return number
    return -1
