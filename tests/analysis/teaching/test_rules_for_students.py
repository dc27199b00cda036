"""What is said of students, experts and classes, on both sides of the thresholds."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import tidy
from kikichoko.analysis.teaching import student_tests, teaching
from kikichoko.analysis.teaching import turns as turns_file
from kikichoko.analysis.teaching.against_expert import _notes
from kikichoko.analysis.teaching.class_result import Teaching
from kikichoko.analysis.teaching.class_scores import Scatter
from kikichoko.analysis.teaching.expert_ground import (
    _look_exchanged,
    _slips,
    _steadied,
    _tells_apart,
)
from kikichoko.analysis.teaching.spiked_cups import (
    ALARMS,
    FEW_CUPS,
    LINES,
    LOUD,
    false_alarms,
    lines,
    missed_faults,
    named_rightly,
)
from kikichoko.analysis.teaching.student_findings import (
    PARTS,
    WHOLE_CARD,
    _contradicts,
    _surely_named,
    parts_of,
    share_of_alpha,
    shown_courses,
    together,
)
from kikichoko.analysis.teaching.student_result import APART, Student, _share
from kikichoko.analysis.teaching.student_tests import (
    ALONE,
    LENT,
    _level_tests,
    _Line,
    _of_level,
    _outside,
    _scatter_of_correlated,
)
from kikichoko.analysis.teaching.student_tests import (
    _steadied as _steadied_error,
)
from kikichoko.analysis.teaching.turns import Turn
from scipy.stats import chi2, f, fisher_exact, halfnorm
from scipy.stats import t as t_of


def student(**facts: object) -> Student:
    """Return one of whom little is known but the facts that are told."""
    plain: dict[str, object] = {
        "student": "S1", "sessions": ["1", "2", "3"], "absent": [], "joined": False, "counted": [],
        "lines": pd.DataFrame(
            columns=["attribute", "state", "n_samples", "slope", "rmse", "rmse_low", "ceiling"]
        ),
        "findings": pd.DataFrame({"finding": [], "attribute": []}), "follows": [],
        "follows_whole": False, "turns": [], "same": [], "distance": {}, "cups": None,
        "spread": None,
        "words": None, "word_agreement": None, "faults": None, "detection": None, "repeat": None,
        "progress": pd.DataFrame(), "courses": [], "watched": None, "experts": 1, "parted": [],
        "alike": [], "ways": [], "slips": [], "unsettled": False, "experts_missed": (0, 0),
        "cells": (12, 12), "borrowed": False, "margin": 1.0, "level": 0.95,
    }  # fmt: skip
    return Student(**(plain | facts))  # type: ignore[arg-type]


def keys(said) -> list[str]:
    return [one.key.partition(".")[2] for one in said]


@pytest.mark.parametrize(("p", "told"), [(0.05, True), (0.051, False)])
def test_a_repeated_bottle_is_recognised_at_five_per_cent(p: float, told: bool):
    found = student(repeat={"share": 0.9, "p": p}).went_well()
    assert ("recognised" in keys(found)) is told


@pytest.mark.parametrize(
    ("first", "outcomes"), [("b", ("found", "missed")), ("a", ("missed", "found"))]
)
def test_the_fault_that_is_missed_most_is_worked_on_first(first: str, outcomes: tuple[str, str]):
    """Both missed in the last session; before it one of them was found."""
    faults = pd.DataFrame(
        {
            "session": ["1", "1", "2", "2"],
            "truth": ["a", "b", "a", "b"],
            "outcome": [*outcomes, "missed", "missed"],
            "named": [[]] * 4,
        }
    )
    assert next(truth for truth, _ in missed_faults(faults)) == first


def test_words_found_are_told_with_their_chances():
    """A word of the list counts once a bottle: twelve of 22 chances are not twelve words."""
    one = student(word_agreement={"found": 12, "missed": 10, "invented": 4})
    (said,) = (text for text in one.went_well() if text.key == "teaching.words_found")
    assert said.to("en").endswith("list in 12 of 22 chances.")


@pytest.mark.parametrize(("given", "few"), [(31, True), (32, False)])
def test_below_a_third_of_the_places_nothing_is_made_of_them(given: int, few: bool):
    one = student(cells=(given, 96))
    assert one.few is few
    step = [text for _, text in one.to_work_on()]
    assert keys(step) == ["do_mark" if few else "do_more"]


@pytest.mark.parametrize(
    ("slope", "state", "leans"),
    [(-0.1, "open", True), (0.1, "open", False), (-0.1, "alike", False), (-0.1, "follows", False)],
)
def test_no_repair_is_not_said_where_few_marks_lean_the_other_way(slope, state, leans):
    row = {"attribute": "sour", "state": state, "n_samples": 4, "slope": slope, "rmse": 1.0,
           "rmse_low": 0.5, "ceiling": 1.0}  # fmt: skip
    ((_, said),) = student(lines=pd.DataFrame([row])).to_work_on()
    assert keys([said]) == ["do_more_leaning" if leans else "do_more"]
    assert ("on sour your few marks lean the other way" in said.to("en")) is leans
    assert ("too few to settle it" in said.to("en")) is leans


@pytest.mark.parametrize(("given", "told"), [(95, True), (96, False)])
def test_places_left_open_are_counted(given: int, told: bool):
    assert ("cells" in keys(student(cells=(given, 96)).about())) is told


@pytest.mark.parametrize(("n", "told"), [(0, "blank"), (1, "open")])
def test_a_line_that_nobody_marked_does_not_take_more_cups(n: int, told: str):
    lines = pd.DataFrame({"attribute": ["acidity"], "state": ["open"], "n_samples": [n]})
    said = keys(student(lines=lines).cannot_say())
    assert {"blank", "open"} & set(said) == {told}


@pytest.mark.parametrize(("sessions", "told"), [(2, True), (3, False)])
def test_fewer_than_three_sessions_are_early(sessions: int, told: bool):
    found = student(sessions=[str(place) for place in range(sessions)]).cannot_say()
    assert ("early" in keys(found)) is told


@pytest.mark.parametrize(
    ("high", "key"), [(0.49, "cups_close"), (0.5, "cups_fair"), (0.99, "cups_fair"), (1.0, "cups")]
)
def test_own_cups_agree_below_half_a_margin_and_fairly_below_a_whole_one(high: float, key: str):
    said = student(cups={"high": high, "apart": 0.3})._cups_said()
    assert keys([said]) == [key]


def ticks(hits: int, n_spiked: int, false_alarms: int, n_clean: int) -> dict[str, object]:
    """Return counts with the p that scipy gives for them (Fisher, one-sided)."""
    table = [[hits, n_spiked - hits], [false_alarms, n_clean - false_alarms]]
    p = fisher_exact(table, alternative="greater").pvalue
    return {"hits": hits, "n_spiked": n_spiked, "false_alarms": false_alarms, "n_clean": n_clean,
            "p": p}  # fmt: skip


@pytest.mark.parametrize(
    ("counts", "praised", "key"),
    [((12, 12, 60, 60), False, "do_ticks_all"), ((11, 12, 60, 60), False, "do_ticks"),
     ((6, 12, 30, 60), False, "do_ticks"), ((10, 12, 30, 60), True, None),
     ((9, 12, 30, 60), False, "do_ticks"), ((0, 12, 0, 60), False, None),
     ((1, 12, 19, 60), False, "do_ticks"), ((1, 12, 18, 60), False, None)],
)  # fmt: skip
def test_ticks_are_praised_where_spiked_cups_are_shown_to_have_more(
    counts: tuple[int, int, int, int], praised: bool, key: str | None
):
    """Fisher's p is 0.033 for 10 of 12 against 30 of 60, 0.103 for 9; Wilson's lower limit of
    19 of 60 is 0.213, of 18 of 60 0.199 (statsmodels)."""
    found = student(detection=ticks(*counts))
    assert ("detected" in keys(found.went_well())) is praised
    said = {one for one in keys(text for _, text in found.to_work_on()) if "ticks" in one}
    assert said == ({key} if key else set())
    assert ("detected" in keys(found.plainly())) is (not praised and key is None)


@pytest.mark.parametrize(
    ("ratio", "alarms", "found"), [(1.01, 0, True), (0.99, 0, False), (0.99, 6, True)]
)
def test_nothing_is_shown_goes_with_nobody_who_went_away_or_ticked_every_cup(
    ratio: float, alarms: int, found: bool
):
    one = student(courses=[SimpleNamespace(ratio=ratio)], detection=ticks(2, 2, alarms, 6))
    result = SimpleNamespace(findings=[], students={"S1": one})
    assert Teaching._anything_found(result) is found  # type: ignore[arg-type]


@pytest.mark.parametrize(("late", "told"), [(["right", "missed"], True), (["right"] * 2, False)])
def test_a_fault_is_practised_where_half_of_the_later_cups_went_by(late: list[str], told: bool):
    """Three sessions of one cup: the later half are the last two."""
    outcomes = ["missed", *late]
    faults = pd.DataFrame({"truth": "stale", "outcome": outcomes, "session": ["1", "2", "3"],
                           "named": [[] for _ in outcomes]})  # fmt: skip
    assert bool(missed_faults(faults)) is told


@pytest.mark.parametrize(("cups", "few"), [(FEW_CUPS - 1, True), (FEW_CUPS, False)])
def test_few_cups_are_called_few(cups: int, few: bool):
    # By hand: who notices every second one misses four in a row in 6, five in 3 of 100 cases.
    assert 0.5**FEW_CUPS < 0.05 < 0.5 ** (FEW_CUPS - 1)
    faults = pd.DataFrame({"truth": "stale", "outcome": "missed", "session": "1",
                           "named": [[] for _ in range(cups)]})  # fmt: skip
    ((_, said),) = missed_faults(faults)
    assert ("a few cups are few" in str(said)) is few


@pytest.mark.parametrize(
    ("first", "last", "clean", "told"),
    [(1, 1, 8, True),  # the two of eight
     (0, 1, 4, False),  # one alone
     (1, 1, 9, False),  # less than a quarter
     (2, 0, 8, False)],  # left behind
)  # fmt: skip
def test_false_alarms_that_stand_out_are_a_thing_to_work_on(
    first: int, last: int, clean: int, told: bool
):
    # By hand: who calls one clean cup in 20 faulty has two or more of eight in 6 of 100 cases.
    assert (ALARMS, LOUD) == (2, 0.25)
    two_or_more = 1 - 0.95**8 - 8 * 0.05 * 0.95**7
    assert two_or_more == pytest.approx(0.057, abs=0.001)
    half = clean // 2
    wrong = [at < first for at in range(half)] + [at < last for at in range(clean - half)]
    faults = pd.DataFrame({
        "truth": "", "session": ["1"] * half + ["2"] * (clean - half), "sample": "b",
        "outcome": ["false alarm" if one else "clean" for one in wrong],
        "named": [["vinegar"] if one else [] for one in wrong],
    })  # fmt: skip
    said = false_alarms(faults)
    assert bool(said) is told
    assert false_alarms(None) == []
    if told:
        ((about, sentence),) = said
        assert about == ""
        assert "2 of 8 clean cups (vinegar). Smell" in str(sentence)
        assert "8 杯のうち 2 杯" in sentence.to("ja")


@pytest.mark.parametrize(
    ("outcomes", "key"),
    [(["missed", "missed"], "do_fault"), (["missed", "wrong"], "do_fault_both"),
     (["wrong", "right"], "do_fault_name")],
)  # fmt: skip
def test_a_fault_called_by_another_name_did_not_go_by_unnoticed(outcomes: list[str], key: str):
    named = [["solvent"] if one == "wrong" else [] for one in outcomes]
    faults = pd.DataFrame({"truth": "stale", "outcome": outcomes, "session": "1", "named": named})
    ((_, said),) = missed_faults(faults)
    assert keys([said]) == [key]
    assert ("solvent" in str(said)) is ("wrong" in outcomes)


@pytest.mark.parametrize(("alarms", "line"), [(LINES, "clean_alarm"), (LINES + 1, "clean_alarms")])
def test_many_false_alarms_share_a_line_a_session(alarms: int, line: str):
    rows = [("1", f"b{at}", "", ["stale"], "false alarm") for at in range(alarms)]
    faults = pd.DataFrame(rows, columns=["session", "sample", "truth", "named", "outcome"])
    assert set(keys(lines(faults))) == {line}


def cups(*rows: tuple[int, str, list[str]]) -> pd.DataFrame:
    """Return so many cups each of a fault ("" for clean) and what it was called."""
    made = [
        ("1", f"b-{truth}", truth, named,
         ("right" if truth in named else "wrong" if named else "missed") if truth
         else ("false alarm" if named else "clean"))
        for n, truth, named in rows
        for _ in range(n)
    ]  # fmt: skip
    return pd.DataFrame(made, columns=["session", "sample", "truth", "named", "outcome"])


@pytest.mark.parametrize(
    ("rows", "praised"),
    [
        ([(1, "stale", ["stale"]), (18, "", [])], False),  # p = 1 / 19
        ([(1, "stale", ["stale"]), (20, "", [])], True),  # p = 1 / 21
        ([(2, "stale", ["stale"]), (2, "stale", []), (40, "", [])], False),  # half is not more
        ([(3, "stale", ["stale"]), (2, "stale", []), (40, "", [])], True),
        ([(2, "stale", ["stale"]), (2, "vinegar", []), (5, "", [])], False),  # 1 / 36, two faults
        ([(2, "stale", ["stale"]), (2, "vinegar", []), (6, "", [])], True),  # 1 / 45, two faults
        ([(4, "stale", ["stale"]), (8, "", ["stale"])], False),  # every cup is called the same
        ([(4, "stale", ["stale"])], False),  # no other cup to tell it from
    ],
)
def test_a_name_is_praised_where_it_goes_with_the_fault(rows: list, praised: bool):
    said = named_rightly(cups(*rows), 0.95)
    assert keys(said) == (["named_rightly"] if praised else [])
    assert ("named_rightly" in keys(student(faults=cups(*rows)).went_well())) is praised


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ([(1, "stale", ["stale"])], "carried stale: you named it rightly."),
        ([(1, "stale", ["stale"]), (1, "stale", ["glue"])],
         "you noticed something in 2 of 2 cups, and named it rightly in 1."),
        ([(1, "stale", ["glue"])], "you noticed something and called it glue."),
        ([(1, "stale", [])], "it went by you."),
        ([(1, "", ["vinegar"])], "was clean: you called it vinegar."),
        ([(1, "", ["vinegar"]), (1, "", [])], "named a fault in 1 of 2 cups (vinegar)."),
    ],
)  # fmt: skip
def test_a_cup_is_told_with_what_it_was_called(rows: list, told: str):
    assert told in " ".join(map(str, lines(cups(*rows))))


@pytest.mark.parametrize(("own", "key"), [(0.99, "together"), (1.0, "nothing")])
def test_marks_lie_close_together_below_half_of_the_expert_s_distances(own: float, key: str):
    assert keys([student(spread={"own": own, "expert": 2.0})._of_marks()]) == [key]


@pytest.mark.parametrize(("p", "praised"), [(0.05, True), (0.051, False)])
def test_own_cups_are_praised_only_where_they_tell_bottles_apart(p: float, praised: bool):
    one = student(cups={"high": 0.4, "apart": 0.3, "p": p})
    assert ("cups_close" in keys(one.went_well())) is praised
    assert ("cups" in keys(one.plainly())) is not praised


def spikes(sessions: int) -> pd.DataFrame:
    """Return controls of some sessions: the spiked one found, the clean one called clean."""
    rows = [
        (str(place), "b1", truth, named, outcome)
        for place in range(sessions)
        for truth, named, outcome in (("stale", ["stale"], "right"), ("", [], "clean"))
    ]
    return pd.DataFrame(rows, columns=["session", "sample", "truth", "named", "outcome"])


@pytest.mark.parametrize(("sessions", "key"), [(3, "clean_right"), (4, "spikes_halves")])
def test_halves_of_the_course_are_compared_from_four_spiked_sessions_on(sessions: int, key: str):
    said = set(keys(lines(spikes(sessions))))
    assert said & {"clean_right", "spikes_halves", "spikes_learned"} == {key}


def test_two_cups_lie_apart_by_the_mean_of_a_normal_difference():
    """The difference of two cups has root two of their deviation; its size is half normal."""
    assert pytest.approx(halfnorm(scale=np.sqrt(2)).mean()) == APART


@pytest.mark.parametrize(
    ("slope", "word"),
    [
        (0.29, "quarter"), (0.30, "third"), (0.41, "third"), (0.42, "half"), (0.58, "half"),
        (0.59, "two_thirds"), (0.70, "two_thirds"), (0.71, "most"), (0.9, "most"),
    ],
)  # fmt: skip
def test_a_part_of_the_scale_is_called_by_the_nearest_word(slope: float, word: str):
    assert _share(slope) == word


def a_test(value: float, aspect: str = "level", attribute: int = WHOLE_CARD, **more: float):
    return SimpleNamespace(aspect=aspect, value=value, attribute=attribute, **more)


@pytest.mark.parametrize(("same", "told"), [(3, True), (2, False)])
def test_the_whole_card_is_spoken_of_where_three_of_four_go_its_way(same: int, told: bool):
    each = {place: {"level": a_test(1.0 if place < same else -1.0)} for place in range(4)}
    whole = {WHOLE_CARD: {"level": a_test(-9.0)}}  # is no attribute, and is not asked
    assert together(a_test(1.0), each | whole) is told


@pytest.mark.parametrize(
    ("value", "low", "end", "sure"),
    [(1.26, -1, 0.1, True), (1.25, -1, 0.1, False), (1.0, 0.01, 0.1, True), (1.0, 0, 0.1, False),
     (1.0, -1, 0.0, True)],
)  # fmt: skip
def test_a_width_has_its_name_for_certain(value: float, low: float, end: float, sure: bool):
    assert _surely_named(a_test(value, low=low, limits=lambda _: (end, 9.0))) is sure


@pytest.mark.parametrize(
    ("kind", "limits", "told"),
    [
        ("wide", (0.9, 1.24), True), ("wide", (0.9, 1.25), False),
        ("narrow", (0.81, 1.0), True), ("narrow", (0.8, 1.0), False),
        ("reversed", (0.01, 1.0), True), ("reversed", (0.0, 1.0), False),
    ],
)  # fmt: skip
def test_the_latest_session_contradicts_a_finding(kind: str, limits, told: bool):
    assert _contradicts(kind, a_test(1.0, limits=lambda _: limits)) is told


@pytest.mark.parametrize(("p", "shown"), [(0.999, True), (1.001, False)])
def test_a_course_is_shown_at_its_part_of_the_budget(p: float, shown: bool):
    """Two courses: the smaller p counts twice (Holm 1979)."""
    part = 0.05 / len(PARTS)
    one, other = SimpleNamespace(p=p * part / 2), SimpleNamespace(p=0.9)
    found = shown_courses({"S1": [one], "S2": [other]}, part)
    assert found == {"S1": [one] if shown else [], "S2": []}


@pytest.mark.parametrize(("df", "own"), [(6, True), (5, False)])
def test_an_attribute_has_a_scatter_of_its_own_from_six_repeats_on(df: int, own: bool):
    found = _steadied({"sweet": Scatter(0.5, df), "sour": Scatter(1.0, 20)})
    assert (found["sweet"].sd == 0.5) is own
    whole = np.sqrt((df * 0.25 + 20) / (df + 20))
    assert found["sweet"].sd == pytest.approx(0.5 if own else whole)


@pytest.mark.parametrize(("p", "apart"), [(0.0099, True), (0.0101, False)])
def test_an_expert_tells_bottles_apart_at_one_per_cent(p: float, apart: bool):
    """Two bottles, one degree of freedom: half the squared gap over the error has this F."""
    gap = np.sqrt(2 * f.isf(p, 1, 10))
    scores = SimpleNamespace(session=np.zeros(2, dtype=int))
    assert _tells_apart(scores, np.array([0.0, gap]), 1.0, 10) is apart


def slips(students: int = 3, bottles: int = 9, off: int = 1, by: float = 2.0) -> int:
    """Count slips where every student parts from the expert by as much on some bottles."""
    away = np.zeros((bottles, 2))
    away[:off] = by
    scores = SimpleNamespace(
        sessions=["1"], session=np.zeros(bottles, dtype=int), of=lambda _: away,
        bottles=[("1", f"b{place}") for place in range(bottles)],
    )  # fmt: skip
    people = [f"S{place}" for place in range(students)]
    found = _slips(
        scores, np.zeros((bottles, 2)), people, np.full(2, 0.01), [0, 1], margin=1.0, alpha=0.01
    )
    return len(found)


@pytest.mark.parametrize(("students", "found"), [(1, 0), (2, 1), (3, 1)])
def test_two_students_may_stand_against_their_expert_and_one_needs_an_exchange(students, found):
    assert slips(students=students) == found


@pytest.mark.parametrize(("second", "exchanged"), [(0.90, False), (0.91, True)])
def test_two_bottles_look_exchanged_where_that_halves_their_distance(
    second: float, exchanged: bool
):
    """By hand: marks 0 and b, expert 2 and 0: (b - 2)² is a quarter of 4 + b² at b = 0.9028."""
    scores = SimpleNamespace(
        bottles=[("1", "a"), ("1", "b"), ("1", "c")], session=np.zeros(3, dtype=int)
    )
    means, own = np.array([[2.0], [0.0], [1.0]]), np.array([[0.0], [second], [1.0]])
    assert _look_exchanged(scores, means, own, "1", ["a", "b"]) is exchanged
    assert not _look_exchanged(scores, means, own, "1", ["a"])


@pytest.mark.parametrize(("experts", "told"), [(2, False), (3, True)])
def test_the_experts_on_one_s_side_are_counted_from_three_on(experts: int, told: bool):
    """The last expert turns the order; the student goes with the first."""
    rng = np.random.default_rng(4)
    people = [f"E{at}" for at in range(1, experts + 1)]
    rows = [
        ("1", who, f"b{bottle}", cup, "sweet",
         5 + (-1 if who == people[-1] else 1) * (bottle - 3.5) + rng.normal(0, 0.3))
        for who in [*people, "S1"] for bottle in range(1, 7) for cup in (1, 2)
    ]  # fmt: skip
    heads = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    found = teaching(tidy(pd.DataFrame(rows, columns=heads)), people)
    assert found.parted == ["sweet"]
    assert found.students["S1"].ways == ([("sweet", 2, 1)] if told else [])
    assert found.sides["expert"].tolist() == (["E3"] if told else [])


@pytest.mark.parametrize(("times", "shown"), [(1.001, True), (0.999, False)])
def test_a_turn_is_shown_at_the_rate_of_the_class(times: float, shown: bool, monkeypatch):
    """Two attributes: the smaller p counts twice (Holm 1979)."""
    made = [
        Turn(name, ["1"], ["2", "3"], True, a_test(1.0), p)
        for name, p in (("sweet", 0.01), ("sour", 0.9))
    ]
    monkeypatch.setattr(turns_file, "_turns_of", lambda *_: made)
    found = turns_file.turns(None, None, {"S1": ["1", "2", "3"]}, 0.02 * times)
    assert [turn.attribute for turn in found["S1"]] == (["sweet"] if shown else [])
    assert turns_file.turns(None, None, {"S1": ["1", "2"]}, 0.05) == {"S1": []}


@pytest.mark.parametrize(("others", "told"), [(1, False), (2, True)])
def test_who_missed_sessions_is_set_beside_two_others_or_more(others: int, told: bool):
    def far(code: str, rmse: float) -> Student:
        return student(student=code, progress=pd.DataFrame({"session": ["1"], "rmse": [rmse]}),
                       sessions=["1"])  # fmt: skip

    people = [far("S1", 1.0), *(far(f"S{at + 2}", 0.5 + at / 10) for at in range(others))]
    result = SimpleNamespace(students={one.student: one for one in people})
    said = Teaching._beside(result, people[0])  # type: ignore[arg-type]
    text = "In these, S1 lies 1.0 points from the expert; the 2 others who were there lie "
    assert [str(one) for one in said] == ([text + "0.50 to 0.60."] if told else [])


@pytest.mark.parametrize(("by", "found"), [(1.5, 0), (1.51, 1)])
def test_a_slip_lies_more_than_a_margin_and_a_half_away(by: float, found: int):
    assert slips(by=by) == found


@pytest.mark.parametrize(("off", "found"), [(3, 3), (4, 0)])
def test_more_than_a_third_of_the_bottles_are_no_slip(off: int, found: int):
    assert slips(off=off) == found


@pytest.mark.parametrize(("bottles", "told"), [(5, True), (6, False)])
def test_fewer_than_six_bottles_are_told(bottles: int, told: bool):
    ground = SimpleNamespace(borrowed=False, means=np.ones((bottles, 2)))
    assert ("few_samples" in keys(_notes(ground, 2, 2))) is told


def test_a_level_has_the_room_of_half_a_margin():
    """At the room of half a margin p is a half and a little; beyond it falls as t (Hodges)."""
    line = _Line(
        x=np.array([-1.0, 1.0]), rest=np.array([0.1, -0.1]), gap=np.array([0.8, 0.8]), n=2,
        slope=1.0, sxx=2.0, df=2, expected=1.0,
    )  # fmt: skip
    ground = SimpleNamespace(level_room={"sweet": 0.0})
    found = _level_tests({0: line}, ground, ["sweet"], 1.0, ALONE)[0]
    both = t_of.sf(0.3 / found.se, found.df) + t_of.sf(1.3 / found.se, found.df)
    assert found.p == pytest.approx(both)
    assert _of_level(0, 0.5, 0.1, 9, 0.5).p == pytest.approx(0.5 + t_of.sf(10, 9))
    assert _of_level(0, 0.0, 0.1, 9, 0.5).p == 1.0


@pytest.mark.parametrize("end", [0.8, 1.25])
def test_an_interval_is_left_at_its_ends_as_often_as_is_said(end: float):
    """Hodges and Lehmann (1954): at an end of the interval, p is uniform; the t is drawn."""
    rng = np.random.default_rng(7)
    error, scatter = rng.standard_t(9, size=4000), 0.2
    p = np.array([_outside(end + scatter * one, 0.8, 1.25, scatter, 9) for one in error])
    for level in (0.01, 0.05, 0.2):
        spread = np.sqrt(level * (1 - level) / 4000)
        assert abs(float((p <= level).mean()) - level) < 4 * spread


def test_a_class_steadies_how_far_attributes_move_together():
    """By hand: (4 x 2.5 + 8 x 1.25) / 12 = 5/3 with 12 df; a ratio below 1 changes nothing."""
    assert LENT == 8
    assert _steadied_error(0.3, 24, (2.5, 4), (1.25, 8)) == pytest.approx(
        (0.3 * np.sqrt(5 / 3), 12)
    )
    assert _steadied_error(0.3, 9, (2.5, 4), (1.25, 8))[1] == 9
    assert _steadied_error(0.3, 24, (0.5, 4), (1.0, 8)) == (0.3, 24)
    assert _steadied_error(0.3, 24, (2.5, 4), (1.0, 0)) == pytest.approx((0.3 * np.sqrt(2.5), 4))


@pytest.mark.parametrize(("times", "alone"), [(0.999, False), (1.001, True)])
def test_who_moves_otherwise_than_the_class_stands_alone(times: float, alone: bool):
    """At 5 %, the F of scipy with the same degrees of freedom."""
    ratio = float(f.isf(0.05, 4, 8)) * times
    assert (_steadied_error(0.3, 24, (ratio, 4), (1.0, 8))[1] == 4) is alone


@pytest.mark.parametrize(("value", "room"), [(1.2, 1.0), (1.3, 1.3 - 0.1 * 2.306)])
def test_who_surely_uses_much_of_the_line_may_scatter_as_much_more(value: float, room: float):
    # 2.306: two-sided 5 % point of t with 8 df (from memory).
    assert student_tests.SURELY == 0.95
    card = [
        student_tests.Test("width", place, 0.5, size, se=0.1, df=8.0)
        for place, size in ((WHOLE_CARD, value), (0, 9.0))
    ]
    assert student_tests.stretch(card) == pytest.approx(room, abs=1e-3)


def test_correlated_attributes_count_as_fewer():
    """Independent ones add their degrees of freedom, equal ones have those of one (chi-square)."""
    own = np.array([[1.0, -1, 1, -1], [1, 1, -1, -1], [1, -1, -1, 1]])
    assert _scatter_of_correlated(12, 2.0, own) == pytest.approx(chi2.sf(24, 12))
    same = np.repeat(own[:1], 3, axis=0)
    assert _scatter_of_correlated(12, 2.0, same) == pytest.approx(chi2.sf(8, 4))


@pytest.mark.parametrize("shared", [0.0, 0.6])
def test_scatter_at_the_margin_is_called_noisy_as_seldom_as_is_said(shared: float):
    """4,000 students whose cups scatter by just a margin, on six attributes, six bottles twice."""
    rng = np.random.default_rng(3)
    z = rng.normal(size=(4000, 6, 6)) * np.sqrt(1 - shared)
    z = z + rng.normal(size=(4000, 1, 6)) * np.sqrt(shared)
    p = np.array([_scatter_of_correlated(36, float((one**2).mean()), one) for one in z])
    assert float((p <= 0.01).mean()) <= 0.01 + 3 * np.sqrt(0.01 * 0.99 / 4000)


@pytest.mark.parametrize(
    ("sessions", "experts", "students", "gone"),
    [
        (2, 2, 5, {"course"}), (3, 2, 5, set()), (3, 1, 5, {"experts"}),
        (3, 2, 4, {"class"}), (3, 2, 2, {"class"}), (3, 2, 3, {"class"}),
    ],
)  # fmt: skip
def test_the_budget_is_shared_by_what_a_class_can_show(sessions, experts, students, gone):
    parts = parts_of(sessions=sessions, experts=experts, students=students)
    assert set(PARTS) - set(parts) == gone
    assert share_of_alpha(0.05, parts) == pytest.approx(0.05 / len(parts))


def test_limits_of_a_slope_hold_in_ninety_nine_per_cent():
    found = _of_level(0, 0.0, 1.0, 9, 0.5)
    assert (found.low, found.high) == pytest.approx(t_of.interval(0.99, 9))
