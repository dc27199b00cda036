"""What sessions teach of a house: another integration, values by hand, put back, coverage."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import TableError
from kikichoko.analysis.memory import HouseMemory, remember
from kikichoko.analysis.memory.assessors_remembered import width_of
from kikichoko.analysis.memory.house_spreads import house_spreads
from kikichoko.analysis.memory.session_statistics import statistics
from kikichoko.analysis.performance import Spreads, default_spreads, small_panel
from kikichoko.analysis.performance.spreads import integrate, two_way
from kikichoko.analysis.performance.usual_spreads import wide_spreads
from scipy.linalg import helmert
from scipy.stats import chi2, norm, pearsonr

SIX = ("T0", "T1", "T2", "T3", "T4", "T5")


def house(
    rng: np.random.Generator,
    n: int,
    *,
    assessors: int = 3,
    samples: int = 3,
    attributes: int = 1,
    replicates: int = 1,
    error: tuple[float, float] = (0.06, 0.13),
    spread: float = 0.08,
    widths: np.ndarray | None = None,
) -> pd.DataFrame:
    """Draw sessions of a house; `error` is assessor x sample and replicates."""
    shape = (n, attributes, assessors, samples, replicates)
    s, a, i, j, _ = np.indices(shape)
    who = np.array([rng.choice(len(SIX), assessors, replace=False) for _ in range(n)])
    width = (np.ones(len(SIX)) if widths is None else widths)[who][:, None, :, None, None]
    tau = spread * np.exp(0.4 * rng.normal(size=(n, attributes, 1, 1, 1)))
    sigma = np.exp(0.2 * rng.normal(size=(n, attributes, 1, 1, 1)))
    score = (
        rng.normal(size=(n, attributes, assessors, 1, 1))
        + width * tau * rng.normal(size=(n, attributes, 1, samples, 1))
        + sigma * error[0] * rng.normal(size=(*shape[:4], 1))
        + sigma * error[1] * rng.normal(size=shape)
    )
    return pd.DataFrame(
        {
            "session": s.ravel(),
            "attribute": [f"a{k}" for k in a.ravel()],
            "assessor": np.array(SIX)[who[s.ravel(), i.ravel()]],
            "sample": [f"s{k}" for k in j.ravel()],
            "score": score.ravel(),
        }
    )


@pytest.fixture(scope="module")
def large() -> tuple[HouseMemory, np.ndarray]:
    """Return the memory of 150 sessions with two replicates, and the true widths."""
    widths = np.array([0.7, 0.85, 1.0, 1.05, 1.15, 1.25])
    table = house(np.random.default_rng(3), 150, attributes=2, replicates=2, widths=widths)
    return remember(table), widths


def test_by_another_integration():
    # Three sessions: each one's likelihood from the normal density of its contrasts, its own
    # deviations by a plain sum over a dense lattice, the house by one over another.
    table = house(np.random.default_rng(7), 3, error=(0.0, 0.14))
    usual = default_spreads("taste", 1.0)
    ours = house_spreads(statistics(table)["a0"], usual, wide_spreads("taste", 1.0))
    x, y = np.linspace(-4.2, 0.2, 111), np.linspace(-8.5, 1.5, 141)
    e, b = np.exp(2 * x)[:, None], np.exp(2 * y)
    log = np.log(
        0.2 * norm.pdf(x, np.log(0.145), 0.35)[:, None] * norm.pdf(y, np.log(0.055), 0.85)
        + 0.8 * norm.pdf(x, np.log(0.203), 1.0)[:, None] * norm.pdf(y, np.log(0.077), 1.2)
    )
    blur_x = norm.pdf(x[:, None], x, 0.2) * (x[1] - x[0])
    blur_y = norm.pdf(y[:, None], y, 0.4) * (y[1] - y[0])
    for _, one in table.groupby("session"):
        scores = one["score"].to_numpy().reshape(3, 3)
        left, right = helmert(3, full=True), helmert(3)
        turned = left @ scores @ right.T  # rows: mean of assessors x sqrt(3), two contrasts
        likelihood = np.prod(
            [norm.pdf(z, 0, np.sqrt(3 * b + e)) for z in turned[0]], axis=0
        ) * np.prod([norm.pdf(z, 0, np.sqrt(e + 0 * b)) for z in turned[1:].ravel()], axis=0)
        log += np.log(blur_x @ likelihood @ blur_y.T)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    for nodes, ours_side, axis, theirs in (
        (ours.log_error, ours.weight.sum(1), x, weight.sum(1)),
        (ours.log_sample, ours.weight.sum(0), y, weight.sum(0)),
    ):
        assert ours_side @ nodes == pytest.approx(theirs @ axis, abs=2e-3)
        sd = np.sqrt(ours_side @ nodes**2 - (ours_side @ nodes) ** 2)
        assert sd == pytest.approx(np.sqrt(theirs @ axis**2 - (theirs @ axis) ** 2), abs=5e-3)
    # What the next session takes from it: mean of a difference and its probability, to 1e-3.
    plain = Spreads(
        log_error=x,
        log_sample=y,
        weight=weight,
        error_blur=0.2,
        sample_blur=0.4,
        interaction_share=0.2,
    )
    data = two_way(np.array([[0.5, 0.7, 0.6], [0.4, 0.5, 0.7]]))
    pair = np.array([[-1.0, 0.0, 1.0]])
    found = [
        integrate(data, ((one, 0.8), (wide_spreads("taste", 1.0), 0.2))) for one in (ours, plain)
    ]
    for name in ("mean", "above", "low", "high"):
        mine, theirs = (float(one.summary(pair, 0.95)[name][0]) for one in found)
        assert mine == pytest.approx(theirs, abs=1e-3)
    assert found[0].kept == pytest.approx(found[1].kept, abs=1e-3)


def test_what_was_put_in_comes_back(large):
    memory, widths = large
    assert len(memory.sessions) == 150
    for row in memory.house.to_dict("records"):
        assert row["sample_low"] < 0.08 < row["sample_high"]
        # A session's own error varies by a log SD of 0.2: on average 4 % above its median.
        assert row["error_low"] < np.hypot(0.06, 0.13) < row["error_high"]
        assert row["replicate_sd"] == pytest.approx(0.13 * np.exp(0.04), rel=0.06)
        assert row["interaction_sd"] == pytest.approx(0.06 * np.exp(0.04), rel=0.3)
        assert row["replicate_low"] < row["replicate_sd"] < row["replicate_high"]
    z = (memory.widths["width"] - widths / widths.mean()) / memory.widths["error"]
    assert (z.abs() < 3).all()
    said = [str(one) for one in memory.sentences()]
    assert said[0].startswith("150 sessions taught 2 attributes and 6 assessors")
    assert any(
        one.startswith("T0 uses the scale less widely than usual, by a factor of 0.")
        for one in said
    )
    assert any(
        one.startswith("T5 uses the scale more widely than usual, by a factor of 1.")
        for one in said
    )
    json.dumps(memory.to_dict(), allow_nan=False)


def test_limits_of_widths_cover():
    # 16 houses of 20 sessions with three attributes; Monte-Carlo sd of 96 is 0.022.
    rng = np.random.default_rng(5)
    # Six of one house share what their widths have in common: there it is about 0.05.
    inside, of_people = [], []
    for _ in range(16):
        widths = 1 + 0.25 * rng.normal(size=6)
        memory = remember(house(rng, 20, attributes=3, widths=widths))
        found = memory.widths
        true = widths[[SIX.index(one) for one in found["assessor"]]]
        against_others = true / widths.mean()
        inside += ((found["low"] < against_others) & (against_others < found["high"])).tolist()
        width, error = np.array(list(memory.width_of().values())).T
        of_people += (np.abs(width - true) < 1.96 * error).tolist()
    assert np.mean(inside) == pytest.approx(0.95, abs=3 * 0.022)
    assert np.mean(of_people) >= 0.95 - 3 * 0.05


def test_what_all_widths_have_in_common_stays_unknown():
    table = pd.DataFrame({"assessor": ["A", "B"], "width": [1.1, 0.9], "error": [0.25, 0.0]})
    # 0.25 / sqrt(2); together with an error of its own no more than is usual.
    assert width_of(table) == {"A": (1.1, 0.25), "B": (0.9, pytest.approx(0.1767767))}


def test_by_hand():
    rows = [
        (session, who, sample, "body", score)
        for session, table in (
            ("one", {"A": (0.5, 0.7, 0.6, 0.8), "B": (0.3, 0.4, 0.6, 0.5)}),
            ("two", {"A": (0.4, 0.9, 0.5, 0.6), "B": (0.3, 0.6, 0.2, 0.6)}),
        )
        for who, scores in table.items()
        for sample, score in zip("wxyz", scores, strict=True)
    ]
    table = pd.DataFrame(rows, columns=["session", "assessor", "sample", "attribute", "score"])
    styles = pd.DataFrame(
        [("one", "z", "cloudy"), ("two", "z", "cloudy")]
        + [(session, sample, "clear") for session in ("one", "two") for sample in "wxy"],
        columns=["session", "sample", "style"],
    )
    found = remember(table, styles=styles)
    a = found.assessors.set_index("assessor").loc["A"]
    # A less B: 0.2, 0.3, 0, 0.3 and 0.1, 0.3, 0.3, 0: 0.2 and 0.175 on average; t with one
    # degree of freedom at 97.5 % is 12.706 (Student's table).
    assert a["shift"] == pytest.approx(0.1875)
    assert a["shift_high"] - a["shift"] == pytest.approx(12.706 * 0.0125, rel=1e-4)
    assert np.isnan(a["repeat_sd"])
    cells = table["score"].to_numpy().reshape(2, 2, 4)
    pair = (cells - cells.mean(axis=2, keepdims=True)).swapaxes(0, 1).reshape(2, 8)
    assert a["agreement"] == pytest.approx(pearsonr(*pair)[0])
    # Fisher's z: eight answers less two sessions' levels leave as much as a sample of seven.
    z = np.arctanh(a["agreement"])
    assert np.arctanh(a["agreement_high"]) - z == pytest.approx(1.959964 / np.sqrt(4))
    cloudy = found.styles.query("assessor == 'A' and style == 'cloudy'").iloc[0]
    # On the cloudy one 0.3 and 0, on the others 1/6 and 0.7/3.
    assert cloudy["shift"] == pytest.approx(np.mean([0.3 - 0.5 / 3, 0 - 0.7 / 3]))


def test_scatter_of_repeats_by_hand():
    # Repeats of A: 0.4, 0.6 and 0.5, 0.5: sum of squares 0.02 on two degrees of freedom.
    table = pd.DataFrame(
        [("s", "A", "x", 0.4), ("s", "A", "x", 0.6), ("s", "A", "y", 0.5), ("s", "A", "y", 0.5)]
        + [("s", "B", what, score) for what in "xy" for score in (0.2, 0.2)],
        columns=["session", "assessor", "sample", "score"],
    ).assign(attribute="body")
    a = remember(table).assessors.set_index("assessor").loc["A"]
    assert a["repeat_sd"] == pytest.approx(0.1)
    assert a["repeat_low"] == pytest.approx(np.sqrt(0.02 / chi2.ppf(0.975, 2)))
    assert a["repeat_high"] == pytest.approx(np.sqrt(0.02 / chi2.ppf(0.025, 2)))


def test_order_and_names_change_nothing():
    table = house(np.random.default_rng(2), 4, attributes=2)
    one = remember(table)
    shuffled = table.sample(frac=1, random_state=1)
    other = remember(shuffled.assign(assessor="Z" + shuffled["assessor"]))
    for attribute in ("a0", "a1"):
        mine, theirs = one.known(attribute, 10), other.known(attribute, 10)
        assert mine.spreads.error_sd == pytest.approx(theirs.spreads.error_sd)
        assert mine.spreads.sample_sd == pytest.approx(theirs.spreads.sample_sd)
    assert {f"Z{who}": value[0] for who, value in one.width_of().items()} == pytest.approx(
        {who: value[0] for who, value in other.width_of().items()}
    )


def test_nothing_is_remembered_of_what_was_not_asked():
    memory = remember(house(np.random.default_rng(2), 2))
    assert memory.known("smoke") is None
    with pytest.raises(TableError, match="'sample'"):
        remember(pd.DataFrame({"session": [], "assessor": [], "attribute": [], "score": []}))


def test_a_house_twice_as_wide_as_usual_is_learned_and_used():
    # Houses of twice the usual spreads, two assessors and three bottles: 150 sessions with the
    # memory of 12 each, highest less lowest. The default covers 89 % there
    # (benchmarks/memory.py), the memory about 94; Monte-Carlo sd 0.019.
    rng = np.random.default_rng(8)
    usual, wide = default_spreads("taste", 1.0), wide_spreads("taste", 1.0)
    covered = []
    for _ in range(30):
        past = house(rng, 12, assessors=2, error=(0.1, 0.27), spread=0.11)
        prior = house_spreads(statistics(past)["a0"], usual, wide)
        for _ in range(5):
            true = 0.11 * np.exp(0.4 * rng.normal()) * rng.normal(size=3)
            sigma = np.hypot(0.1, 0.27) * np.exp(0.2 * rng.normal())
            data = two_way(true + sigma * rng.normal(size=(2, 3)))
            pair = np.zeros((1, 3))
            pair[0, data.effects.argmax()], pair[0, data.effects.argmin()] = 1, -1
            found = integrate(data, ((prior, 0.8), (wide, 0.2))).summary(pair, 0.95)
            covered.append(found["low"][0] < (pair @ true)[0] < found["high"][0])
    assert np.mean(covered) >= 0.94 - 3 * 0.019


def test_a_small_panel_takes_what_is_remembered():
    memory = remember(house(np.random.default_rng(8), 12, error=(0.02, 0.03), spread=0.2))
    known = memory.known("a0", length=10)
    assert known.sessions == 12
    scores = pd.DataFrame({"assessor": ["T0"] * 3 + ["T1"] * 3, "sample": list("xyz") * 2}).assign(
        score=[3.0, 5.0, 6.5, 4.0, 6.0, 7.0]
    )
    found = small_panel(scores, prior=known.spreads, widths=memory.width_of())
    assert found.source == "memory"
    assert found.error_sd < 0.7 < small_panel(scores).error_sd
    assert found.differences["claimed"].iloc[0]
    assert "what earlier sessions taught" in str(found.sentences()[0])
    # One scatters five times as much as the house: the memory is discounted, and that is said.
    other = scores.assign(score=[3.0, 9.0, 4.5, 8.0, 2.0, 6.0])
    against = small_panel(other, prior=known.spreads)
    assert against.conflict
    assert any("the memory was discounted" in str(one) for one in against.warnings)
