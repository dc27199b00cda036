"""A cup that was half filled in is told in one sentence."""

import pytest
from kikichoko.forms.answers.answer import Fault
from kikichoko.forms.answers.told_together import SEVERAL, numbered, numbers_of, told_together


def missing(n: int, **other: str) -> list[Fault]:
    told = {"file": "A.xlsx", "assessor": "A", "code": "123", "kind": "missing"} | other
    return [Fault(**told, place=f"1-123!D{7 + nth}", attribute=f"own_{nth}") for nth in range(n)]


def test_on_both_sides_of_the_threshold():
    few = list(told_together(enumerate(missing(SEVERAL - 1), 1)))
    assert [numbers for numbers, _ in few] == [(n, n) for n in range(1, SEVERAL)]
    several = list(told_together(enumerate(missing(SEVERAL), 1)))
    assert [numbers for numbers, _ in several] == [(1, SEVERAL)]
    assert all(f"own_{n} (D{7 + n})" in several[0][1] for n in range(SEVERAL))


@pytest.mark.parametrize("other", [{"code": "456"}, {"assessor": "B"}, {"file": "B.xlsx"}])
def test_only_of_one_cup_of_one_assessor_in_one_file(other: dict[str, str]):
    found = list(told_together(enumerate(missing(5) + missing(5, **other), 1)))
    assert [numbers for numbers, _ in found] == [(1, 5), (6, 10)]


def test_other_faults_and_gaps_in_the_numbers_part_them():
    odd = Fault(kind="not_a_number", file="A.xlsx", place="1-123!D12", assessor="A", code="123")
    found = list(told_together(enumerate([*missing(5), odd, *missing(5)], 1)))
    assert [numbers for numbers, _ in found] == [(1, 5), (6, 6), (7, 11)]
    gap = list(zip([1, 2, 3, 4, 6, 7, 8, 9], missing(8), strict=True))
    assert [numbers for numbers, _ in told_together(gap)] == [(1, 4), (6, 9)]


def test_every_fault_is_told_once_whatever_its_place():
    rows = [
        Fault(kind="missing", file="t.csv", place=f"row 4, own_{n}", assessor="A", code="123",
              attribute=f"own_{n}")
        for n in range(4)
    ]  # fmt: skip
    ((_, told),) = told_together(enumerate(rows), "ja")
    assert "4 件" in told
    assert all(f"own_{n}（4 行目の列「own_{n}」）" in told for n in range(4))


def test_numbers_as_they_are_shown():
    assert list(numbers_of(numbered(3, 9))) == list(range(3, 10))
    assert list(numbers_of("3\u20139")) == list(range(3, 10))
    for wrong in ("", "a", "9-3", "-3", "3-x", "1,2"):
        with pytest.raises(ValueError, match=r"int|9-3"):
            numbers_of(wrong)


def test_what_a_terminal_would_obey_is_shown():
    faults = missing(SEVERAL, file="a\x1b[31m\nb.csv")
    ((_, told),) = told_together(enumerate(faults))
    assert told.startswith("a␛[31m␊b.csv, 1-123: 4 answers")
