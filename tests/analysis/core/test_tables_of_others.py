"""Tables as people have them: their own columns, other libraries, repeats without numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from kikichoko.analysis.anova import anova
from kikichoko.analysis.core import OptionError, TableError, tidy
from kikichoko.analysis.ordinal import ordinal
from kikichoko.analysis.ranking import friedman, rank_test


@pytest.fixture(scope="module")
def own() -> pd.DataFrame:
    rng = np.random.default_rng(1)
    rows = [
        (judge, wine, bottle, *rng.integers(0, 10, 2))
        for judge in "ABCD" for wine in "xyz" for bottle in (1, 2)
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["judge", "wine", "bottle", "sweet", "sour"])


@pytest.fixture(scope="module")
def long(own) -> pd.DataFrame:
    return own.melt(["judge", "wine", "bottle"], var_name="asked", value_name="mark")


CALLED = {"assessor": "judge", "sample": "wine", "replicate": "bottle"}


def test_a_function_takes_the_names_of_columns(own, long):
    standard = anova(tidy(own, **CALLED, scores=["sweet", "sour"]))
    wide = anova(own, **CALLED, scores=["sweet", "sour"])
    other = anova(long, **CALLED, attribute="asked", score="mark")
    for name in ("sweet", "sour"):
        assert standard[name].sample == wide[name].sample == other[name].sample
    one = own[own["bottle"] == 1]
    held = friedman(tidy(one, **CALLED, score="sweet"), "sweet")
    assert friedman(one, "sweet", **CALLED, score="sweet").p == held.p
    assert rank_test(one, **CALLED, score="sweet").p == held.p
    assert ordinal(own, **CALLED, score="sweet").attribute == "sweet"


def test_a_tidy_table_has_its_names(own):
    with pytest.raises(OptionError, match=r"tidy already.*leave assessor, sample out"):
        anova(tidy(own, **CALLED, score="sweet"), assessor="judge", sample="wine")


@pytest.mark.parametrize(
    "turn",
    [
        lambda table: table.convert_dtypes(),
        lambda table: table.convert_dtypes(dtype_backend="pyarrow"),
        lambda table: table.astype({"judge": "category", "wine": "category"}),
        pa.Table.from_pandas,
    ],
    ids=["nullable", "pyarrow", "category", "another library"],
)  # fmt: skip
def test_the_same_answers_however_a_table_is_held(own, turn):
    holes = own.assign(sour=own["sour"].where(own.index != 5))
    expected = tidy(holes, **CALLED, scores=["sweet", "sour"])
    found = tidy(turn(holes), **CALLED, scores=["sweet", "sour"])
    pd.testing.assert_frame_equal(
        found.data.astype(object), expected.data.astype(object), check_dtype=False
    )
    assert len(found.dropped) == 1


def test_what_is_no_table_is_told():
    with pytest.raises(OptionError, match="this is a list"):
        tidy([("A", "x", 3.0)])


def test_repeats_may_be_counted_from_0(own):
    from_0 = tidy(own.assign(bottle=own["bottle"] - 1), **CALLED, score="sweet")
    pd.testing.assert_frame_equal(from_0.data, tidy(own, **CALLED, score="sweet").data)
    with pytest.raises(TableError, match="Row 1, column 'replicate': -1"):
        tidy(own.assign(bottle=own["bottle"] - 2), **CALLED, score="sweet")


def test_repeats_without_a_number_are_numbered_when_asked(own):
    plain = own.drop(columns="bottle")
    called = {"assessor": "judge", "sample": "wine", "scores": ["sweet", "sour"]}
    with pytest.raises(TableError, match=r"\(12 faults\)") as told:
        tidy(plain, **called)
    first = "Rows 1, 2: assessor A answered 2 attributes for sample x more than once."
    assert str(told.value.faults[0]).startswith(first)
    assert "number_repeats=True" in str(told.value.faults[0])
    numbered = tidy(plain, **called, number_repeats=True)
    expected = tidy(own, **CALLED, scores=["sweet", "sour"])
    pd.testing.assert_frame_equal(numbered.data, expected.data)


def test_numbers_that_stand_there_are_not_replaced(own):
    half = own.assign(bottle=own["bottle"].where(own["judge"] == "A"))
    with pytest.raises(TableError, match=r"Rows 7, 8.*Number repeats in a column") as told:
        tidy(half, **CALLED, score="sweet", number_repeats=True)
    assert "number_repeats" not in str(told.value)


def test_all_faults_are_counted_and_the_first_are_told():
    bad = pd.DataFrame({"assessor": "A", "sample": [f"s{n}" for n in range(30)], "score": "much"})
    with pytest.raises(TableError, match=r"\(30 faults\)") as told:
        tidy(bad)
    assert (len(told.value.faults), told.value.more) == (20, 10)
    assert str(told.value).endswith("and 10 more faults of these kinds.")


def test_a_result_says_itself_in_a_line(own):
    found = anova(own, **CALLED, scores=["sweet"])
    assert repr(found).startswith("<Anova: Whether the samples differ in sweet")
    assert "\n" not in repr(found)
    assert repr(found["sweet"]).startswith("<AttributeAnova: ")


def test_a_refusal_is_one_readable_line_in_a_notebook(own):
    with pytest.raises(TableError) as told:
        anova(own)
    shown = told.value._render_traceback_()
    assert shown == [str(told.value)]
