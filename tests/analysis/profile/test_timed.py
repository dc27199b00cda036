"""Events of sips and means over time, against hand calculation, scipy and enumeration."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.analysis.core import OptionError, TableError
from kikichoko.analysis.profile import (
    dominance,
    dominance_thirds,
    mean_curves,
    mean_thirds,
    time_intensity,
    timed_sips,
)
from kikichoko.analysis.profile.sips_of_table import HELD, held
from scipy import integrate, stats

EVENTS = ["assessor", "sample", "replicate", "part", "run", "state", "time", "event", "attribute",
          "score", "seconds", "offered"]  # fmt: skip
POINTS = ["assessor", "sample", "replicate", "attribute", "time", "score"]


def events() -> pd.DataFrame:
    """T1 followed two parts and began one again; T2 named nothing and moved no mark."""
    rows = []
    for who, said in (("T1", [(2.0, "word", "sweet"), (12.0, "word", None)]), ("T2", [])):
        told = [(0.0, "sip", None), *said, (30.0, "end", "time")]
        rows += [(who, "A", 1, "dominance", 1, "counted", time, event, name, None, 30, "sour|sweet")
                 for time, event, name in told]  # fmt: skip
    told = [(0.0, "sip", None, None), (3.0, "level", "sweet", 6.0), (20.0, "end", "early", None)]
    rows += [("T1", "A", 1, "intensity", 2, "counted", time, event, name, score, 30, None)
             for time, event, name, score in told]  # fmt: skip
    rows.append(("T1", "A", 1, "intensity", 1, "begun again", 0.0, "sip", None, None, 30, None))
    rows += [("T2", "A", 1, "intensity", 1, "counted", time, event, None, None, 30, None)
             for time, event in ((0.0, "sip"), (30.0, "end"))]  # fmt: skip
    return pd.DataFrame(rows, columns=EVENTS)


def test_events_by_hand():
    found = timed_sips(events())
    assert found.dominance[["assessor", "time", "attribute"]].to_numpy().tolist() == [
        ["T1", 2.0, "sweet"], ["T1", 12.0, ""], ["T1", 30.0, ""], ["T2", 30.0, ""]
    ]  # fmt: skip
    assert found.intensity[["time", "score"]].to_numpy().tolist() == [
        [0, 0], [2.75, 0], [3, 6], [19.75, 6], [20, 0], [30, 0]
    ]  # fmt: skip
    assert (found.silent, found.unmarked, found.left_out) == (1, 1, {"begun again": 1})
    assert (found.words, found.seconds) == (("sour", "sweet"), 30.0)
    shares = dominance(found.dominance, attributes=found.words).limits
    assert shares["n"].tolist() == [2], "a sip in which nothing was named is one of the two"
    (row,) = time_intensity(found.intensity).parameters.to_dict("records")
    assert row["auc"] == pytest.approx(6 * 17, abs=0.01), "6 points for 17 s"


def test_faulty_tables_are_refused():
    with pytest.raises(TableError, match="state"):
        timed_sips(events().drop(columns="state"))
    with pytest.raises(TableError, match="Row 2"):
        timed_sips(events().assign(time=[0, -1, *[0] * (len(events()) - 2)]))
    with pytest.raises(OptionError):
        mean_curves(timed_sips(events()).intensity, step=0)


MOVES = st.tuples(st.integers(1, 29_000), st.integers(0, 100))


@given(moves=st.lists(MOVES, max_size=12, unique_by=lambda move: move[0]))
def test_a_mark_stands_where_it_was_left(moves: list[tuple[int, int]]):
    """Against the step function itself, at moments that lie away from the moves (enumeration)."""
    moves = sorted(moves)
    points = held([ms / 1000 for ms, _ in moves], [level / 10 for _, level in moves], 30, 30)
    times, levels = np.array(points).T
    assert (np.diff(times) > 0).all()
    for at in range(0, 30_000, 500):
        near = [ms for ms, _ in moves if -1 <= at - ms < 1000 * HELD or 0 <= ms - at <= 1000 * HELD]
        if near:
            continue
        stood = [level / 10 for ms, level in moves if ms <= at]
        assert np.interp(at / 1000, times, levels) == pytest.approx(stood[-1] if stood else 0.0)


def curves(seed: int = 3) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    rows = [
        (f"T{who}", sample, turn, "sweet", time, float(level))
        for who in range(5)
        for sample in "AB"
        for turn in (1, 2)
        for time, level in zip((0, 4, 11, 25, 30), (0, *rng.uniform(2, 8, 4)), strict=True)
    ]
    return pd.DataFrame(rows, columns=POINTS)


def test_limits_against_scipy():
    """Mean and limits at a moment and in a third are those of scipy's one-sample t interval."""
    table = curves()
    own = table[table["sample"] == "A"]
    per = own.groupby(["assessor", "replicate"])
    at = per.apply(lambda c: np.interp(7.5, c["time"], c["score"]), include_groups=False)
    area = per.apply(
        lambda c: integrate.quad(
            lambda x: np.interp(x, c["time"], c["score"]), 10, 20, points=[11], epsabs=1e-10
        )[0] / 10,
        include_groups=False,
    )  # fmt: skip
    moments = mean_curves(table).set_index(["sample", "time"]).loc[("A", 7.5)]
    thirds = mean_thirds(table, 30).set_index(["sample", "third"]).loc[("A", "middle")]
    for values, found in ((at, moments), (area, thirds)):
        each = values.groupby("assessor").mean()
        limits = stats.ttest_1samp(each, 0).confidence_interval(0.95)
        assert found["n"] == 5
        assert found["mean"] == pytest.approx(each.mean())
        assert found["low"] == pytest.approx(limits.low)
        assert found["high"] == pytest.approx(limits.high)


def test_limits_where_there_are_none_and_at_the_ends_of_the_scale():
    one = curves()[lambda t: t["assessor"] == "T0"]
    assert mean_curves(one)["low"].isna().all(), "one assessor"
    alike = pd.concat([one, one.assign(assessor="T9")])
    assert mean_curves(alike)["high"].isna().all(), "no scatter, no interval without width"
    wide = mean_thirds(curves(8), 30, level=0.9999)
    assert wide["low"].min() == 0
    assert wide["high"].max() == 10


def test_shares_of_thirds_by_enumeration():
    """Against counting every 0.1 s; what is named and what is not add up to the whole."""
    rng = np.random.default_rng(11)
    rows = []
    for who in range(4):
        times = np.sort(rng.choice(np.arange(5, 295, 10), 6, replace=False)) / 10
        rows += [(f"T{who}", "A", 1, time, str(rng.choice(["x", "y", ""]))) for time in times]
        rows.append((f"T{who}", "A", 1, 30.0, ""))
    table = pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "time", "attribute"])
    found = dominance_thirds(table, 30).set_index(["third", "attribute"])["share"]
    counted = dominance(table, attributes=["x", "y"], step=0.1).curves
    for third, start in (("first", 0), ("middle", 10), ("last", 20)):
        inside = counted[(counted["time"] > start + 1e-9) & (counted["time"] < start + 10.01)]
        for name in "xy":
            share = inside.loc[inside["attribute"] == name, "share"].mean()
            assert found[third, name] == pytest.approx(share, abs=0.011)
