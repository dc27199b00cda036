"""`anova` on an incomplete panel against R: tests/reference/anova.R says versions and models.

R's search was tightened to 1e-14 in the criterion; both then agree to 1e-6.
lmerTest differentiates its criterion numerically, so its degrees of freedom
carry an error of about 1e-6 as well: 2e-5 relative is asked for throughout.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import anova
from kikichoko.analysis.anova.whole_table import Anova
from kikichoko.analysis.core import Tidy, tidy

FOLDER = Path(__file__).parents[2] / "reference"
METHODS = {"Satterthwaite": "satterthwaite", "Kenward-Roger": "kenward-roger"}
TIGHT = {"rel": 2e-5}


@pytest.fixture(scope="module")
def wide() -> pd.DataFrame:
    return pd.read_csv(FOLDER / "anova_panel.csv", comment="#")


@pytest.fixture(scope="module")
def panel(wide: pd.DataFrame) -> Tidy:
    return tidy(wide, scores=["interaction", "agreeing", "carried"])


@pytest.fixture(scope="module")
def from_r() -> pd.DataFrame:
    return pd.read_csv(FOLDER / "anova.csv", comment="#")


def of(table: pd.DataFrame, model: str, attribute: str, method: str) -> pd.DataFrame:
    """Return R's values of one model, one row a name, one column a kind."""
    kept = table[
        (table["model"] == model) & (table["attribute"] == attribute) & (table["method"] == method)
    ]
    return kept.pivot_table(index="name", columns="what", values="value")


def check_test(found: Anova, attribute: str, ours: str, theirs: pd.Series) -> None:
    one = found[attribute]
    test = one.sample if ours == "sample" else one.effects[ours]
    assert test.df_num == theirs["NumDF"]
    assert pytest.approx(theirs["F value"], **TIGHT) == test.F
    assert test.df_den == pytest.approx(theirs["DenDF"], **TIGHT)
    assert test.p == pytest.approx(theirs["Pr(>F)"], rel=1e-4)


def check_components(found: Anova, attribute: str, table: pd.DataFrame, model: str) -> None:
    values = of(table, model, attribute, "both")["component"].dropna()
    for name, value in values.items():
        ours = "residual" if name == "Residual" else name
        component = found[attribute].components[ours]
        assert component == pytest.approx(value, rel=2e-5, abs=1e-6), name


@pytest.mark.parametrize("method", list(METHODS))
@pytest.mark.parametrize("attribute", ["interaction", "agreeing"])
def test_samples_against_r(panel: Tidy, from_r: pd.DataFrame, attribute: str, method: str):
    found = anova(panel, attributes=[attribute], df=METHODS[method], boundary="drop")
    values = of(from_r, "samples", attribute, method)
    check_test(found, attribute, "sample", values.loc["sample"])
    check_components(found, attribute, from_r, "samples")
    for row in found[attribute].means.itertuples():
        mean = values.loc[row.sample]
        assert [row.mean, row.se, row.df, row.low, row.high] == pytest.approx(
            mean[["Estimate", "Std. Error", "df", "lower", "upper"]].to_list(), **TIGHT
        )
    for row in found[attribute].differences.itertuples():
        one, other = sorted((row.sample, row.against))
        pair = values.loc[f"{one} - sample{other}"]
        assert row.difference == pytest.approx(abs(pair["Estimate"]), **TIGHT)
        assert [row.se, row.df] == pytest.approx([pair["Std. Error"], pair["df"]], **TIGHT)


@pytest.mark.parametrize("attribute", ["interaction", "agreeing"])
def test_design_rule_changes_nothing_inside(panel: Tidy, from_r: pd.DataFrame, attribute: str):
    """Where no variance is at its bound both answers are R's; else only "drop" is."""
    found = anova(panel, attributes=[attribute])
    theirs = of(from_r, "samples", attribute, "Satterthwaite").loc["sample", "DenDF"]
    if attribute == "interaction":
        check_components(found, attribute, from_r, "samples")
        assert found[attribute].sample.df_den == pytest.approx(theirs, **TIGHT)
    else:
        assert theirs > 100
        assert found[attribute].sample.df_den == 35, "(8 - 1)(6 - 1)"
        assert [note.key for note in found[attribute].warnings] == [
            "anova.not_settled",
            "anova.held_fallback",
        ]


@pytest.mark.parametrize("method", list(METHODS))
@pytest.mark.parametrize("attribute", ["interaction", "agreeing"])
def test_factorial_against_r(
    panel: Tidy, wide: pd.DataFrame, from_r: pd.DataFrame, attribute: str, method: str
):
    factors = wide[["sample", "fraction", "pasteurised"]].drop_duplicates()
    found = anova(
        panel, attributes=[attribute], df=METHODS[method], boundary="drop", factors=factors
    )
    values = of(from_r, "factorial", attribute, method)
    for effect in ("fraction", "pasteurised", "fraction:pasteurised"):
        one, theirs = found[attribute].effects[effect], values.loc[effect]
        assert pytest.approx(theirs["F value"], **TIGHT) == one.F
        # lmerTest writes contrasts of marginal effects in another basis, on which the joint
        # number depends a little when data are incomplete
        rel = 2e-5 if theirs["NumDF"] == 1 or method == "Kenward-Roger" else 2e-3
        assert one.df_den == pytest.approx(theirs["DenDF"], rel=rel)
    check_components(found, attribute, from_r, "factorial")


@pytest.mark.parametrize("method", list(METHODS))
@pytest.mark.parametrize(
    ("model", "options", "names"),
    [
        (
            "order",
            {"position": "linear", "carry_over": True},
            {"sample": "sample", "position": "place", "carry_over": "carry_over"},
        ),
        ("places", {"position": "each"}, {"sample": "sample", "position": "at"}),
        ("session fixed", {"sessions": "fixed"}, {"sample": "sample", "session": "session"}),
        (
            "session random",
            {"random": ("assessor", "assessor:sample", "session", "assessor:session")},
            {"sample": "sample"},
        ),
    ],
)
def test_order_and_sessions_against_r(
    panel: Tidy,
    from_r: pd.DataFrame,
    *,
    model: str,
    options: dict,
    names: dict,
    method: str,
):
    found = anova(panel, attributes=["carried"], df=METHODS[method], boundary="drop", **options)
    values = of(from_r, model, "carried", method)
    for ours, theirs in names.items():
        check_test(found, "carried", ours, values.loc[theirs])
    check_components(found, "carried", from_r, model)


def test_order_effects_against_r(panel: Tidy, from_r: pd.DataFrame):
    found = anova(
        panel, attributes=["carried"], position="linear", carry_over=True, boundary="drop"
    )["carried"]
    shown = found.order.set_index(["effect", "level"])["estimate"]
    theirs = of(from_r, "order", "carried", "both")["coefficient"]
    assert shown.loc[("position", "slope")] == pytest.approx(theirs["place"], **TIGHT)
    carried = [theirs[f"carry_over{i}"] for i in range(1, 6)]
    assert shown.loc["carry_over"].to_list() == pytest.approx([*carried, -sum(carried)], **TIGHT)
    assert "anova.order" in found.tables()


def test_the_predecessor_counts_even_when_it_was_not_scored(wide: pd.DataFrame):
    """Rows without a score still say what was served: as R's column `before`."""
    from kikichoko.analysis.mixed_model.order_effects import Order

    checked = tidy(wide, scores=["carried"])
    samples = tuple(checked.samples)
    order = Order.of(checked.data, checked.dropped, samples)
    joined = checked.data.merge(
        wide.astype({"session": str})[["session", "assessor", "sample", "before"]],
        on=["session", "assessor", "sample"],
    )
    names = np.array(["none", *samples])
    assert names[order.before].tolist() == joined["before"].tolist()
    assert len(checked.dropped) == 14
