"""A wide table needs no names of attributes where it is plain which columns are; else it asks."""

from __future__ import annotations

import pandas as pd
import pytest
from kikichoko.analysis.core import TableError, tidy

WIDE = pd.DataFrame(
    {
        "assessor": ["A", "A", "B", "B"],
        "sample": ["x", "y", "x", "y"],
        "fraction": ["free-run", "press", "free-run", "press"],
        "note": ["fresh", "", "", "heavy"],
        "sweet": [3.0, 5.0, 4.0, 6.5],
        "sour": [2.0, 2.5, 3.0, None],
    }
)


def test_columns_of_numbers_are_attributes_and_text_is_left_aside():
    checked = tidy(WIDE)
    assert checked.attributes == ["sweet", "sour"]
    assert len(checked.dropped) == 1


@pytest.mark.parametrize(
    ("column", "values"),
    [
        ("polishing", [60, 50, 60, 50]),  # one value a sample
        ("age", [41, 41, 35, 35]),  # one value an assessor
        ("cup", [4, 2, 3, 1]),  # numbers the rows
        ("code", [212, 317, 418, 418]),
        ("bitter", ["2.5", "6?", "3", "4"]),  # text among numbers
    ],
)
def test_a_column_that_may_be_something_else_is_asked_about(column: str, values: list[object]):
    with pytest.raises(TableError, match="--scores sweet,sour") as told:
        tidy(WIDE.assign(**{column: values}))
    assert column in str(told.value)
    assert tidy(WIDE.assign(**{column: values}), scores=["sweet"]).attributes == ["sweet"]


def test_what_is_missing_is_still_told():
    with pytest.raises(TableError, match="no column 'sweeet'"):
        tidy(WIDE, score="sweeet")
    with pytest.raises(TableError, match="no column 'score'"):
        tidy(WIDE[["assessor", "sample", "note"]])
    with pytest.raises(TableError, match="no column 'assessor'"):
        tidy(WIDE.rename(columns={"assessor": "judge"}))
    long = WIDE.rename(columns={"fraction": "attribute"})
    with pytest.raises(TableError, match="no column 'score'"):
        tidy(long)
