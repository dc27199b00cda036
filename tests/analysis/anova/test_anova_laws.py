"""What must hold for every table, and the engine against plain dense algebra."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.anova import anova
from kikichoko.analysis.anova.whole_table import AttributeAnova
from kikichoko.analysis.mixed_model.balanced_squares import mean_squares
from kikichoko.analysis.mixed_model.block_layout import CellSums, RandomTerm
from kikichoko.analysis.mixed_model.denominator_df import inference
from kikichoko.analysis.mixed_model.reml import RemlFit, fit

settings.register_profile("anova", deadline=None, max_examples=10, derandomize=True)
settings.load_profile("anova")
SEEDS = st.integers(0, 10_000)


def panel(
    seed: int, assessors: int = 6, samples: int = 4, replicates: int = 2, holes: float = 0.15
) -> pd.DataFrame:
    """Simulate a panel with assessor and interaction effects and some scores missing."""
    rng = np.random.default_rng(seed)
    i, j, k = (part.ravel() for part in np.indices((assessors, samples, replicates)))
    score = (
        5
        + rng.normal(size=assessors)[i]
        + np.linspace(0, 1, samples)[j]
        + 0.8 * rng.normal(size=(assessors, samples))[i, j]
        + rng.normal(size=i.size)
    )
    score[rng.random(i.size) < holes] = np.nan
    return pd.DataFrame(
        {
            "assessor": [f"T{n}" for n in i],
            "sample": [f"S{n}" for n in j],
            "replicate": k + 1,
            "score": score,
        }
    )


def numbers(one: AttributeAnova) -> np.ndarray:
    """Return test, components and means in one array."""
    return np.array(
        [
            one.sample.F,
            one.sample.df_den,
            one.sample.p,
            *np.nan_to_num(list(one.components.values())),
            *one.means[["mean", "se", "df"]].to_numpy().ravel(),
        ]
    )


@given(SEEDS)
def test_order_of_rows_does_not_matter(seed: int):
    table = panel(seed)
    mixed = table.sample(frac=1, random_state=seed)
    assert numbers(anova(mixed)["score"]) == pytest.approx(numbers(anova(table)["score"]), rel=1e-6)


@given(SEEDS)
def test_names_do_not_matter(seed: int):
    """Names of assessors never; of samples up to the basis of the joint degrees of freedom."""
    table = panel(seed)
    one = anova(table)["score"]
    other_people = table["assessor"].map(lambda name: f"Z{9 - int(name[1:])}")
    assert numbers(anova(table.assign(assessor=other_people))["score"]) == pytest.approx(
        numbers(one), rel=1e-6
    )
    other_bottles = table["sample"].map(lambda name: f"Z{9 - int(name[1:])}")
    turned = anova(table.assign(sample=other_bottles))["score"]
    assert pytest.approx(one.sample.F, rel=1e-6) == turned.sample.F
    assert turned.sample.df_den == pytest.approx(one.sample.df_den, rel=2e-2)
    columns = ["mean", "se", "df", "low", "high"]
    assert turned.means[columns].to_numpy()[::-1] == pytest.approx(
        one.means[columns].to_numpy(), rel=1e-6
    )


@given(SEEDS, st.floats(-50, 50), st.sampled_from([-3.0, -1.0, 0.01, 20.0]))
def test_shift_and_scale_of_scores(seed: int, shift: float, scale: float):
    table = panel(seed)
    one = anova(table)["score"]
    other = anova(table.assign(score=shift + scale * table["score"]))["score"]
    assert (other.sample.F, other.sample.df_den) == pytest.approx(
        (one.sample.F, one.sample.df_den), rel=1e-5
    )
    assert other.means["mean"].to_numpy() == pytest.approx(
        shift + scale * one.means["mean"].to_numpy(), rel=1e-6, abs=1e-6
    )
    assert np.nan_to_num(list(other.components.values())) == pytest.approx(
        scale**2 * np.nan_to_num(list(one.components.values())), rel=1e-4, abs=1e-9
    )
    gaps = one.differences.set_index(["sample", "against"])["panel_sds"]
    turned = other.differences.set_index(["sample", "against"])["panel_sds"]
    if scale < 0:
        turned.index = turned.index.swaplevel()
    assert turned.sort_index().to_numpy() == pytest.approx(gaps.sort_index().to_numpy(), rel=1e-5)


@given(SEEDS)
def test_dropping_an_assessor_is_never_having_had_that_assessor(seed: int):
    table = panel(seed)
    silent = table.assign(score=table["score"].where(table["assessor"] != "T2"))
    never = table[table["assessor"] != "T2"]
    assert numbers(anova(silent)["score"]) == pytest.approx(
        numbers(anova(never)["score"]), rel=1e-6
    )


@given(SEEDS, st.integers(3, 7), st.integers(2, 5), st.integers(2, 3))
def test_balanced_reml_is_exact_mean_squares(
    seed: int, assessors: int, samples: int, replicates: int
):
    """The engine knows nothing of balance; also where a component is below 0."""
    table = panel(seed, assessors, samples, replicates, holes=0)
    cells = table.groupby(["assessor", "sample"])["score"]
    means = cells.mean().to_numpy()
    within = np.array([(cells.var() * (replicates - 1)).sum()])
    found = mean_squares(means.reshape(1, assessors, samples), within, replicates, (samples,))
    sample = np.tile(np.arange(samples), assessors)
    terms = [
        RandomTerm("assessor", np.repeat(np.arange(assessors), samples)),
        RandomTerm("assessor:sample", np.arange(assessors * samples)),
    ]
    counts = np.full((1, assessors * samples), float(replicates))
    fitted = fit(
        np.eye(samples)[sample], terms, CellSums(counts, means[None], within), negative=True
    )
    assert fitted.converged.all()
    exact = [found.components[()][0], found.components[(0,)][0], found.error[0]]
    assert fitted.theta[0] == pytest.approx(exact, rel=1e-6, abs=1e-6)
    weights = np.eye(samples)[1:] - np.eye(samples)[:1]
    for method in ("satterthwaite", "kenward-roger"):
        made = inference(fitted, method)
        assert [part[0] for part in made.test(weights)] == pytest.approx(
            [part[0] for part in found.inference.test(weights)], rel=1e-6
        )
        for ours, theirs in zip(
            made.contrasts(np.eye(samples)),
            found.inference.contrasts(np.eye(samples)),
            strict=True,
        ):
            assert ours == pytest.approx(theirs, rel=1e-6)
    df = (samples - 1) * (assessors - 1)
    assert found.inference.test(weights)[1][0] == pytest.approx(df)


@given(SEEDS)
def test_balanced_replicates_may_be_averaged(seed: int):
    """F rests on cell means alone: with and without replicates it is the same."""
    table = panel(seed, holes=0)
    averaged = table.groupby(["assessor", "sample"], as_index=False)["score"].mean()
    one, other = anova(table)["score"], anova(averaged)["score"]
    assert one.sample[:4] == pytest.approx(other.sample[:4], rel=1e-9)
    assert other.sample.error_term == "residual"
    assert np.isnan(other.components["assessor:sample"])
    assert one.differences["p"].to_numpy() == pytest.approx(
        other.differences["p"].to_numpy(), rel=1e-6, abs=1e-9
    )


@given(SEEDS)
def test_attributes_do_not_see_each_other(seed: int):
    """Fitted together or alone, with different holes: the same numbers."""
    one, other = panel(seed), panel(seed + 1, holes=0.3)
    both = pd.concat([one.assign(attribute="one"), other.assign(attribute="other")])
    together = anova(both)
    for name, table in (("one", one), ("other", other)):
        alone = anova(table.assign(attribute=name))[name]
        assert numbers(together[name]) == pytest.approx(numbers(alone), rel=1e-6)


# ------------------------------------------------------------------ plain dense algebra


def dense(
    theta: np.ndarray, y: np.ndarray, fixed: np.ndarray, groups: list[np.ndarray]
) -> tuple[float, np.ndarray, np.ndarray]:
    """Return criterion, fixed effects and their covariance as the textbook writes them."""
    V = theta[-1] * np.eye(len(y))
    for variance, group in zip(theta, groups, strict=False):
        V += variance * (group[:, None] == group[None, :])
    inverse = np.linalg.inv(V)
    squares = fixed.T @ inverse @ fixed
    phi = np.linalg.inv(squares)
    beta = phi @ fixed.T @ inverse @ y
    rest = y - fixed @ beta
    criterion = (
        np.linalg.slogdet(V)[1]
        + np.linalg.slogdet(squares)[1]
        + rest @ inverse @ rest
        + (len(y) - fixed.shape[1]) * np.log(2 * np.pi)
    )
    return float(criterion), beta, phi


def crossed(seed: int) -> tuple[RemlFit, np.ndarray, np.ndarray, list[np.ndarray]]:
    """Fit a panel over three sessions, random, with holes: blocks, border and repeated cells."""
    rng = np.random.default_rng(seed)
    i, j, s = (part.ravel() for part in np.indices((7, 3, 4)))
    keep = rng.random(i.size) > 0.2
    i, j, s = i[keep], j[keep], s[keep]
    names = ("assessor", "assessor:sample", "session", "assessor:session")
    groups = [i, i * 3 + j, s, i * 4 + s]
    y = 4 + rng.normal(size=i.size) + sum(rng.normal(size=g.max() + 1)[g] for g in groups)
    fixed = np.eye(3)[j]
    terms = [
        RandomTerm(name, np.unique(group, return_inverse=True)[1])
        for name, group in zip(names, groups, strict=True)
    ]
    found = fit(fixed, terms, CellSums(np.ones((1, len(y))), y[None], np.zeros(1)), negative=True)
    order = [found.names.index(name) for name in (*names, "residual")]
    arranged = [np.array(groups[names.index(n)]) for n in found.names[:-1]]
    assert sorted(order) == list(range(5))
    return found, y, fixed, arranged


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_engine_against_dense_algebra(seed: int):
    """Criterion, estimates and every derivative, by central differences of the textbook form."""
    found, y, fixed, groups = crossed(seed)
    assert found.converged.all()
    theta = found.theta[0]
    criterion, beta, phi = dense(theta, y, fixed, groups)
    assert found.criterion[0] == pytest.approx(criterion, rel=1e-10)
    assert found.beta[0] == pytest.approx(beta, rel=1e-8)
    assert found.phi[0] == pytest.approx(phi, rel=1e-8)
    step = 1e-4
    unit = np.eye(len(theta)) * step

    def at(move: np.ndarray) -> tuple[float, np.ndarray]:
        value = dense(theta + move, y, fixed, groups)
        return value[0], value[2]

    for a in range(len(theta)):
        up, down = at(unit[a]), at(-unit[a])
        assert (up[0] - down[0]) / (2 * step) == pytest.approx(0, abs=1e-4)
        assert found.phi_first[0, a] == pytest.approx((up[1] - down[1]) / (2 * step), abs=1e-6)
        for b in range(len(theta)):
            corners = [at(s * unit[a] + t * unit[b]) for s in (1, -1) for t in (1, -1)]
            signs = (1, -1, -1, 1)
            second = sum(s * c[0] for s, c in zip(signs, corners, strict=True)) / (4 * step**2)
            assert found.observed[0, a, b] == pytest.approx(second, rel=1e-3, abs=1e-3)
            bend = sum(s * c[1] for s, c in zip(signs, corners, strict=True)) / (4 * step**2)
            assert found.phi_second[0, a, b] == pytest.approx(bend, rel=1e-2, abs=1e-4)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_expected_curvature_against_dense_algebra(seed: int):
    """tr(P G_a P G_b), as Kenward & Roger 1997 write it."""
    found, _, fixed, groups = crossed(seed)
    theta = found.theta[0]
    shares = [(g[:, None] == g[None, :]).astype(float) for g in groups] + [np.eye(len(fixed))]
    inverse = np.linalg.inv(sum(t * G for t, G in zip(theta, shares, strict=True)))
    P = inverse - inverse @ fixed @ np.linalg.inv(fixed.T @ inverse @ fixed) @ fixed.T @ inverse
    for a, one in enumerate(shares):
        for b, other in enumerate(shares):
            assert found.expected[0, a, b] == pytest.approx(np.trace(P @ one @ P @ other), rel=1e-8)


def test_kenward_roger_covariance_against_dense_algebra():
    """Phi_A with P_a and Q_ab as Kenward & Roger 1997 write them."""
    found, _, fixed, groups = crossed(4)
    theta, phi = found.theta[0], found.phi[0]
    shares = [(g[:, None] == g[None, :]).astype(float) for g in groups] + [np.eye(len(fixed))]
    inverse = np.linalg.inv(sum(t * G for t, G in zip(theta, shares, strict=True)))
    W = np.linalg.inv(found.expected[0] / 2)
    inner = np.zeros_like(phi)
    for a, one in enumerate(shares):
        for b, other in enumerate(shares):
            Pa = -fixed.T @ inverse @ one @ inverse @ fixed
            Pb = -fixed.T @ inverse @ other @ inverse @ fixed
            Q = fixed.T @ inverse @ one @ inverse @ other @ inverse @ fixed
            inner += W[a, b] * (Q - Pa @ phi @ Pb)
    expected = phi + 2 * phi @ inner @ phi
    assert inference(found, "kenward-roger").adjusted[0] == pytest.approx(expected, rel=1e-7)


def test_equal_blocks_share_their_algebra():
    """Sixty assessors with few patterns of holes: stored once, the same numbers as dense."""
    rng = np.random.default_rng(11)
    i, j = (part.ravel() for part in np.indices((60, 3)))
    counts = rng.choice([1.0, 2.0], p=[0.3, 0.7], size=i.size)
    counts[rng.random(i.size) < 0.1] = 0
    rows = np.repeat(np.arange(i.size), counts.astype(int))
    y = (
        3
        + rng.normal(size=60)[i[rows]]
        + rng.normal(size=i.size)[rows]
        + rng.normal(size=rows.size)
    )
    sums = np.bincount(rows, y, minlength=i.size)
    means = sums / np.maximum(counts, 1)
    within = ((y - means[rows]) ** 2).sum()
    cells = CellSums(counts[None], means[None], np.array([within]))
    terms = [RandomTerm("assessor", i), RandomTerm("assessor:sample", np.arange(i.size))]
    found = fit(np.eye(3)[j], terms, cells)
    criterion, beta, phi = dense(found.theta[0], y, np.eye(3)[j[rows]], [i[rows], rows])
    assert found.names == ("assessor", "assessor:sample", "residual")
    assert found.criterion[0] == pytest.approx(criterion, rel=1e-10)
    assert found.beta[0] == pytest.approx(beta, rel=1e-8)
    assert found.phi[0] == pytest.approx(phi, rel=1e-8)
    assert found.gradient[0] == pytest.approx(0, abs=1e-4)
