"""Several answers for one cell: one is taken once, different ones are all withheld."""

from __future__ import annotations

import pytest
from kikichoko.forms.answers.answer import Answer, Reading
from kikichoko.forms.answers.settling import settle


@pytest.mark.parametrize(
    ("values", "kept", "told"),
    [((4.0,), [4.0], 0), ((4.0, 4.0), [4.0], 0), ((4.0, 4.1), [], 1), ((4.0, 4.0, 5.0), [], 1)],
)
def test_only_one_value_for_a_cell_is_kept(sheets, values, kept, told):
    who, sheet = next(iter(sheets.items()))
    readings = [
        Reading(
            (
                Answer(
                    session=sheet.session, assessor=who, code=sheet.presentations[0].name,
                    attribute="sweetness", value=value, file=f"{place}.xlsx", place="B2",
                    written=str(value),
                ),
            ),
            (),
        )
        for place, value in enumerate(values)
    ]  # fmt: skip
    for order in (readings, readings[::-1]):
        found = settle(order, sheets)
        assert [answer.value for answer in found.answers] == kept
        assert [fault.kind for fault in found.faults] == ["two_answers"] * told
