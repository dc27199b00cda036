"""What came back and was not understood, told beside the numbers: both sides of its rule."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from kikichoko.forms.answers.answer import Fault
from kikichoko.panel.report.asked import MOST_UNREAD, _unread


def told(*faults: Fault, language: str = "en") -> list[str]:
    status = SimpleNamespace(faults=dict(enumerate(faults, 1)))
    marks = [(f.assessor, "b", f.attribute, f.found) for f in faults if f.attribute and f.found]
    context = SimpleNamespace(
        status=status, language=language, attributes=lambda *_: ["acidity"], unread=marks
    )
    return [line if isinstance(line, str) else line.to(language) for line in _unread(context)]


def unreadable(cup: int) -> Fault:
    return Fault(kind="not_a_number", file="T1.xlsx", place=f"1-{cup}!D9", assessor="T1",
                 code=str(cup), attribute="acidity", found="6?", expected="0–10")  # fmt: skip


@pytest.mark.parametrize("more", [0, 1])
def test_each_is_told_whole_up_to_a_number_and_the_rest_is_counted(more: int):
    lines = told(*(unreadable(100 + n) for n in range(MOST_UNREAD + more)))
    assert lines[0].startswith(f"{MOST_UNREAD + more} places on what came back")
    assert lines[1].startswith("In T1.xlsx, 1-100!D9: acidity for cup 100: '6?' is not one number")
    assert lines[1:][MOST_UNREAD:] == ["1 more stands in kikichoko status."] * more


def test_one_code_in_several_rows_is_one_matter():
    rows = [Fault(kind="unknown_code", file="n.csv", place=f"row {row}, code", assessor="N2",
                  found="807", expected="123, 456") for row in (7, 8)]  # fmt: skip
    first, what, also, linked = told(*rows)
    assert first.startswith("2 places")
    assert what.startswith("In n.csv, row 7, code: There is no cup with the code '807'")
    assert also == "The same at: row 8, code."
    assert linked.startswith("Until the code “807” is corrected, what N2 wrote under it is missing")
    assert "a look of N2 that is told as missing" in linked
    assert not any("is corrected" in line for line in told(unreadable(100)))
    japanese = told(*rows, language="ja")
    assert japanese[0].startswith("戻ったもののうち")
    assert "7 行目" in japanese[1] or "7行" in japanese[1]


def test_the_smaller_count_is_told_within_the_larger():
    """What the findings count as unreadable marks are some of these places, not others beside."""
    unknown = Fault(kind="unknown_code", file="n.csv", place="row 7, code", assessor="N2",
                    found="807", expected="123, 456")  # fmt: skip
    within = "1 of these places is a mark on a scale, which is also told with the marks."
    assert told(unreadable(100), unknown)[:2] == [told(unknown, unknown)[0], within]
    assert within not in told(unreadable(100))  # one and the same count
    assert within not in told(unknown)


@pytest.mark.parametrize(("attribute", "said"), [
    ("acidity", []),
    ("choice", ["1 answer that is no mark on a scale is blank; blank marks are counted apart."]),
])  # fmt: skip
def test_a_blank_mark_is_counted_among_the_marks_alone(attribute: str, said: list[str]):
    blank = Fault(kind="missing", file="T1.xlsx", place="D9", assessor="T1", code="100",
                  attribute=attribute)  # fmt: skip
    cup = Fault(kind="empty_cup", file="T1.xlsx", assessor="T1", code="101")
    assert told(blank, cup) == said
