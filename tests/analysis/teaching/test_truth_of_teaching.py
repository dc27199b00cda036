"""Rules of teaching on both sides of their thresholds, on classes made for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import tidy
from kikichoko.analysis.performance.assessor_findings import MOST
from kikichoko.analysis.teaching import teaching
from kikichoko.analysis.teaching.class_result import Teaching
from kikichoko.analysis.teaching.class_scores import Scatter
from kikichoko.analysis.teaching.class_summary import SMALLEST, by_word
from kikichoko.analysis.teaching.expert_ground import (
    AGREEING,
    ENOUGH_REPEATS,
    SEPARATES,
    SLIP,
    SLIPS_AT_MOST,
    _steadied,
)
from kikichoko.analysis.teaching.progress_tests import COURSE, PROGRESS_COLUMNS, SLOPE, courses
from kikichoko.analysis.teaching.student_findings import ALPHA, PARTS, latest, share_of_alpha
from kikichoko.analysis.teaching.student_result import AT_MOST, CLOSE, FAIR, absent_or_joined
from kikichoko.analysis.teaching.student_tests import LEVEL_SHARE, LIMITS, NARROW, WIDE
from kikichoko.analysis.teaching.teaching_measures import word_counts

CARD = ("sweet", "sour", "body", "finish")
TRUTH = {
    "sweet": (3.0, 4.2, 5.0, 5.8, 6.6, 7.6),
    "sour": (6.8, 5.6, 4.4, 6.2, 3.2, 3.8),
    "body": (3.2, 4.4, 6.6, 5.0, 6.0, 7.6),
    "finish": (7.4, 6.4, 5.0, 4.4, 3.8, 2.8),
}
Person = Mapping[str, float]


def drawn(
    people: Mapping[str, Person], *, seed: int = 1, sessions: int = 1, cups: int = 2,
    swap: tuple[int, int] | None = None, flat: bool = False,
) -> pd.DataFrame:  # fmt: skip
    """Draw a class: score = 5 + level + gain (truth - 5) + noise; E1 may swap two bottles."""
    rng = np.random.default_rng(seed)
    rows = []
    for session in range(1, sessions + 1):
        for who, own in people.items():
            for bottle in range(6):
                source = bottle
                if swap and who == "E1" and session == 1 and bottle in swap:
                    source = swap[1 - swap.index(bottle)]
                for cup in range(1, int(own.get("cups", cups)) + 1):
                    for name in CARD:
                        truth = 5.0 if flat else TRUTH[name][source]
                        gain = own.get(name, own.get("gain", 1.0))
                        score = 5 + own.get("level", 0.0) + gain * (truth - 5)
                        score += own.get(f"{name} level", 0.0)
                        score += rng.normal(0, own.get("noise", 0.5))
                        rows.append((str(session), who, f"b{bottle}", cup, name, score))
    columns = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    return pd.DataFrame(rows, columns=columns)


EXPERT: Person = {"noise": 0.3}


def taught(students: Mapping[str, Person], **how: object) -> Teaching:
    table = drawn({"E1": EXPERT, **students}, **how)  # type: ignore[arg-type]
    return teaching(tidy(table), ["E1"])


def kinds(found: Teaching, who: str) -> set[tuple[str, str]]:
    table = found.students[who].findings[["attribute", "finding"]]
    return set(table.itertuples(index=False, name=None))


@pytest.fixture(scope="module")
def mixed() -> Teaching:
    """One of each kind in one class, three sessions."""
    people: dict[str, Person] = {
        "S1": {},
        "S2": {"sour": -1.0},
        "S3": {"gain": 0.0, "noise": 1.6},
        "S4": {"gain": 0.35, "noise": 0.2},
        "S5": {"gain": 1.7},
        "S6": {"level": 1.8},
        "S7": {"level": -1.2},
        "S8": {"noise": 1.8},
        "S9": {"body level": 2.5},
    }
    return taught(people, sessions=3)


@pytest.mark.parametrize(
    ("who", "what"),
    [
        ("S1", set()),
        ("S2", {("sour", "reversed")}),
        ("S3", {("", "guessing")}),
        ("S4", {("", "narrow")}),
        ("S5", {("", "wide")}),
        ("S6", {("", "high")}),
        ("S7", {("", "low")}),
        ("S8", {("", "noisy")}),
        ("S9", {("body", "high")}),
    ],
)
def test_kinds_are_told_apart(mixed: Teaching, who: str, what: set[tuple[str, str]]):
    assert kinds(mixed, who) == what


def test_who_turns_the_scale_is_told_to_turn_it_back(mixed: Teaching):
    text = str(mixed.students["S2"]).partition("By attribute")[0]
    assert "sour: your order runs the other way from the expert's in each of 3 sessions" in text
    assert "dare" not in text
    assert "braver" not in text
    assert "follows the expert's on sweet, body, finish" in text
    guesser = str(mixed.students["S3"]).partition("By attribute")[0]
    assert "so far your scores do not follow" in guesser.lower()
    assert "follows the expert's" not in guesser
    narrow = str(mixed.students["S4"])
    assert "about a third of the expert's range" in narrow
    assert "Your order of the bottles follows the expert's" in narrow


def test_small_departures_are_nobody_s_fault():
    # On the ordinary side of each threshold: slope 0.9 and 1.1, level 0.3, scatter 0.8.
    assert (NARROW, WIDE, LEVEL_SHARE, LIMITS, MOST) == (0.8, 1.25, 0.5, 0.99, 0.75)
    people: dict[str, Person] = {
        "S1": {"gain": 0.9}, "S2": {"gain": 1.1}, "S3": {"level": 0.3}, "S4": {"noise": 0.8},
    }  # fmt: skip
    found = taught(people, sessions=3, seed=5)
    assert len(found.findings) == 0
    assert all(one.follows_whole for one in found.students.values())


def test_the_budget_is_shared_evenly():
    assert ALPHA == 0.05
    assert len(PARTS) == 8
    assert share_of_alpha(0.08) == pytest.approx(0.01)


def test_nobody_of_a_clean_class_is_told_anything_false():
    # 12 classes of five who score as the expert does: at 5 % not quite one false class is
    # expected; three or more would come in 2 % of runs.
    people = {f"S{number}": {"noise": 0.6} for number in range(1, 6)}
    wrong = 0
    for seed in range(12):
        found = taught(people, seed=seed)
        wrong += bool(len(found.findings)) or bool(found.by_attribute["shown"].any())
    assert wrong <= 2


def test_experts_who_part_and_experts_who_sit_apart():
    students: dict[str, Person] = {"S1": {}, "S2": {"finish": -1.0}}
    second: Person = {"noise": 0.3, "level": 0.8}
    table = drawn({"E1": EXPERT, "E2": second, **students})
    agreed = teaching(tidy(table), ["E1", "E2"])
    assert agreed.parted == []
    assert "E2 sits 0.8" in " ".join(map(str, agreed.sentences()))
    assert agreed.students["S1"].kinds() == set()
    assert kinds(agreed, "S2") == {("finish", "reversed")}
    table = drawn({"E1": EXPERT, "E2": {**second, "finish": -1.0}, **students})
    parted = teaching(tidy(table), ["E1", "E2"])
    assert parted.parted == ["finish"]
    assert "contradict one another on finish" in " ".join(map(str, parted.sentences()))
    for who in students:
        assert kinds(parted, who) == set()
        assert "On finish the experts do not agree" in str(parted.students[who])
        assert set(parted.students[who].follows) == {"sweet", "sour", "body"}


def test_bottles_that_the_expert_cannot_tell_apart_judge_nobody():
    assert SEPARATES == 0.01
    found = taught({"S1": {"gain": 0.0}, "S2": {}}, flat=True)
    assert found.alike == list(CARD)
    assert len(found.findings) == 0
    assert "the session cannot measure students" in " ".join(map(str, found.sentences()))
    assert "nothing can be said of your order" in str(found.students["S1"])
    assert taught({"S1": {}, "S2": {}}).alike == []


def test_few_repeats_of_an_expert_take_the_scatter_of_the_whole_card():
    # One bottle repeated gives one degree of freedom an attribute, six bottles give six.
    assert ENOUGH_REPEATS == 6
    own = {"a": Scatter(0.2, 6), "b": Scatter(0.8, 1)}
    pooled = float(np.sqrt((6 * 0.04 + 0.64) / 7))
    assert _steadied(own) == {"a": Scatter(0.2, 6), "b": Scatter(pytest.approx(pooled), 7)}
    assert _steadied({"a": Scatter(np.nan, 0)})["a"].df == 0
    table = drawn({"E1": EXPERT, "S1": {}, "S2": {}})
    once = table[
        (table["assessor"] != "E1") | (table["replicate"] == 1) | (table["sample"] == "b0")
    ]
    assert teaching(tidy(once), ["E1"]).alike == []


def test_an_expert_against_a_class_that_agrees():
    assert (SLIP, AGREEING, SLIPS_AT_MOST) == (1.5, 3, 1 / 3)
    people: dict[str, Person] = {f"S{number}": {} for number in range(1, 4)}
    found = taught(people, swap=(0, 4))
    assert found.slips["sample"].tolist() == ["b0", "b4"]
    assert len(found.findings) == 0
    assert "it does not count against you" in str(found.students["S1"])
    two = {who: people[who] for who in ("S1", "S2")}
    of_two = taught(two, swap=(0, 4))
    assert of_two.slips["sample"].tolist() == ["b0", "b4"]
    assert "cannot be said whose it is" in str(of_two.students["S1"])
    of_one = taught({"S1": {}}, swap=(0, 4))
    assert of_one.slips["sample"].tolist() == ["b0", "b4"]
    assert len(taught({"S1": {"gain": 0.3}}).slips) == 0
    assert len(taught(people).slips) == 0


def test_an_expert_without_repeats_is_said_to_be_one():
    found = teaching(tidy(drawn({"E1": {"noise": 0.6, "cups": 1}, "S1": {}, "S2": {}})), ["E1"])
    assert "how steady the expert's scores are is not known" in str(found.students["S1"])
    assert len(found.findings) == 0
    assert found.students["S1"].follows_whole
    assert "not known" not in str(taught({"S1": {}, "S2": {}}).students["S1"])


def test_a_course_takes_three_sessions_and_a_slope_five():
    assert (COURSE, SLOPE) == (3, 5)
    people: dict[str, Person] = {"S1": {}, "S2": {}}
    assert taught(people, sessions=2).students["S1"].watched is None
    three = taught(people, sessions=3).students["S1"]
    assert three.watched is not None
    assert three.watched.low < 1 < three.watched.high
    assert "No change is shown over 3 sessions" in str(three)


@pytest.mark.parametrize(("sessions", "df"), [(4, 20.0), (5, 3.0), (6, 4.0)])
def test_a_line_brings_its_own_scatter_from_five_sessions_on(sessions: int, df: float):
    """Sessions scatter by a factor of 3 around the line, where the cups let expect a tenth."""
    rmse = [1.0, 3.0] * 3
    rows = [(str(k), rmse[k], 0.0, 0.0, np.nan, 0, 6, 0.1, np.nan) for k in range(sessions)]
    progress = {"S1": pd.DataFrame(rows, columns=PROGRESS_COLUMNS)}
    (course,) = courses(progress, 0.95)["S1"]
    assert course.df == df


@pytest.mark.parametrize("seed", [5, 6, 15])
def test_who_follows_nothing_at_first_and_learns_has_turned_nothing_round(seed: int):
    # Wide scatter in session 1, small in the others: the scatter of all together is too small for
    # the first, in which some attribute runs the other way by chance.
    others = {"E1": EXPERT, "S2": {"noise": 0.5}}
    parts = [drawn({**others, "S1": {"gain": 0.1, "noise": 2.0}}, seed=seed)]
    parts += [drawn({**others, "S1": {"noise": 0.3}}, seed=seed + 100 * k) for k in (2, 3)]
    table = pd.concat([part.assign(session=str(k)) for k, part in enumerate(parts, start=1)])
    assert teaching(tidy(table), ["E1"]).students["S1"].turns == []


@pytest.mark.parametrize(("seen", "df"), [(0.117, 108.0), (0.119, 15.0)])
def test_marks_of_one_cup_that_move_together_are_no_cups_of_their_own(seen: float, df: float):
    """36 differences let expect an error of 1/sqrt(72) = 0.118; six bottles may show a larger."""
    rows = [(str(k), 1.0, 0.5, 2.0, 0.7, 36, 6, 0.1, seen) for k in range(COURSE)]
    found = courses({"S1": pd.DataFrame(rows, columns=PROGRESS_COLUMNS)}, 0.95)["S1"]
    (course,) = (one for one in found if one.measure == "repeatability")
    assert course.df == df
    assert course.se == pytest.approx(max(seen, 72**-0.5) * 2 / 2**0.5)


def test_a_cup_that_is_off_on_all_lines_makes_no_course():
    # In session 1 one cup of one bottle stands two points higher on everything: one cup, not four.
    people = {"E1": EXPERT, "S1": {"noise": 0.5}, "S2": {"noise": 0.5}}
    table = drawn(people, seed=1, sessions=3)
    off = (table["assessor"] == "S1") & (table["session"] == "1")
    off &= (table["sample"] == "b1") & (table["replicate"] == 1)
    hasty = table.assign(score=table["score"] + 2.5 * off)
    progress = teaching(tidy(hasty), ["E1"]).students["S1"]
    assert progress.courses == []
    errors = progress.progress["log_error_cups"].to_numpy()
    assert errors[0] > 2 * errors[1:].max()


@pytest.mark.parametrize(("way", "key"), [(1, "nearer"), (-1, "farther")])
def test_who_comes_nearer_and_who_goes_away(way: int, key: str):
    steps = [(0.1, 1.6), (0.4, 1.2), (0.8, 0.8), (1.0, 0.5)][::way]
    parts = []
    for number, (gain, noise) in enumerate(steps, start=1):
        people = {"E1": EXPERT, "S1": {"gain": gain, "noise": noise}, "S2": {}}
        parts.append(drawn(people, seed=number).assign(session=str(number)))
    found = teaching(tidy(pd.concat(parts)), ["E1"])
    one, other = found.students["S1"], found.students["S2"]
    assert {course.measure for course in one.courses} == {"distance", "repeatability"}
    assert all((course.ratio < 1) == (way > 0) for course in one.courses)
    assert one.counted == ["4"]
    assert other.courses == []
    assert other.counted == ["1", "2", "3", "4"]
    text = str(one)
    assert ("You came clearly closer" in text) == (key == "nearer")
    assert ("you have shown that you can do it" in text) == (key == "farther")


def test_advice_is_about_the_latest_third_of_one_who_changes():
    sessions = [str(number) for number in range(1, 7)]
    assert latest(sessions, changing=True) == ["5", "6"]
    assert latest(sessions[:3], changing=True) == ["3"]
    assert latest(sessions, changing=False) == sessions


def test_reversed_at_first_and_mended_at_last_is_praised():
    parts = [
        drawn({"E1": EXPERT, "S1": {"sour": gain}, "S2": {}}, seed=number).assign(
            session=str(number)
        )
        for number, gain in enumerate((-1.0, -1.0, 1.0), start=1)
    ]
    one = teaching(tidy(pd.concat(parts)), ["E1"]).students["S1"]
    assert [(turn.attribute, turn.before, turn.since) for turn in one.turns] == [
        ("sour", ["1", "2"], ["3"])
    ]
    assert one.kinds() == set()
    assert "sour: your order ran the other way in sessions 1, 2; since session 3 it follows" in str(
        one
    )


def test_absent_and_joined():
    assert absent_or_joined(["1", "2", "3"], ["1", "3"]) == (["2"], False)
    assert absent_or_joined(["1", "2", "3"], ["2", "3"]) == (["1"], True)
    assert absent_or_joined(["1", "2"], ["1", "2"]) == ([], False)
    table = drawn({"E1": EXPERT, "S1": {}, "S2": {}}, sessions=3)
    table = table[~((table["assessor"] == "S1") & (table["session"] == "2"))]
    found = teaching(tidy(table), ["E1"])
    assert "You were not there in session 2" in str(found.students["S1"])
    assert len(found.findings) == 0


def test_a_spiked_bottle_with_the_name_of_a_clean_one():
    table = drawn({"E1": EXPERT, "S1": {}, "S2": {}}, sessions=2)
    cups = table[["session", "assessor", "sample", "replicate"]].drop_duplicates()
    here = (cups["session"] == "2") & (cups["sample"] == "b3") & (cups["assessor"] != "S2")
    ticks = cups.assign(attribute="fault:vinegar", score=here.astype(float))
    known = cups[["session", "sample"]].drop_duplicates()
    known = known.assign(
        truth=[
            "fault:vinegar" if (row.session, row.sample) == ("2", "b3") else ""
            for row in known.itertuples()
        ]
    )
    found = teaching(tidy(pd.concat([table, ticks])), ["E1"], controls=known)
    finder, misser = found.students["S1"].detection, found.students["S2"].detection
    assert finder is not None
    assert (finder["hits"], finder["n_spiked"], finder["false_alarms"]) == (2, 2, 0)
    assert misser is not None
    assert (misser["hits"], misser["false_alarms"], misser["n_clean"]) == (0, 0, 22)
    text = str(found.students["S1"])
    assert "b3 (session 2) carried fault:vinegar: you noticed something in 2 of 2" in text
    assert "and named it rightly in 2." in text
    assert "vinegar: you named it rightly in 2 of 2 spiked cups" in text
    assert "b3 was clean in session 1" in text
    assert "2 of 2 spiked cups went by unnoticed" in str(found.students["S2"])
    assert "called every cup faulty" not in str(found)
    every = ticks.assign(score=ticks["score"].where(ticks["assessor"] != "S1", 1.0))
    wolf = teaching(tidy(pd.concat([table, every])), ["E1"], controls=known)
    assert "S1's ticks do not tell spiked cups from clean ones" in str(wolf)
    assert "Nothing is shown" not in str(wolf)
    assert wolf.students["S1"].to_work_on()[0][1].key == "teaching.do_ticks_all"


def test_clean_bottles_tell_nothing_where_no_fault_was_asked():
    # Nobody can have rightly named nothing who was not asked; one spiked bottle, or one answer
    # about a fault in the session, and they were.
    table = drawn({"E1": EXPERT, **{f"S{number}": {} for number in range(1, 6)}}, sessions=2)
    cups = table[["session", "assessor", "sample", "replicate"]].drop_duplicates()
    known = cups[["session", "sample"]].drop_duplicates().assign(truth="")
    unasked = teaching(tidy(table), ["E1"], controls=known)
    assert "clean" not in str(unasked)
    assert unasked.by_bottle.empty
    asked = cups[cups["session"] == "2"].head(1).assign(attribute="fault:vinegar", score=0.0)
    found = teaching(tidy(pd.concat([table, asked])), ["E1"], controls=known)
    assert set(found.by_bottle["session"]) == {"2"}
    assert "Of 60 clean cups 0 were called faulty." in str(found)
    one = known.assign(
        truth=(known["session"] == "1").to_numpy() & (known["sample"] == "b3").to_numpy()
    )
    one["truth"] = one["truth"].map({True: "fault:vinegar", False: ""})
    spiked = teaching(tidy(pd.concat([table, asked])), ["E1"], controls=one)
    assert set(spiked.by_bottle["session"]) == {"1", "2"}


def test_words_of_a_class_are_shares_of_chances():
    # Banana was found in 30 of 40 chances though every student missed it once: 75 %, with limits.
    parts = {}
    for number in range(10):
        own = pd.DataFrame({"banana": [1.0, 1.0, 1.0, 0.0]}, index=list("abcd"))
        expert = pd.DataFrame({"banana": [1.0, 1.0, 1.0, 1.0]}, index=list("abcd"))
        counts, _ = word_counts(own, expert, ["banana"])
        parts[f"S{number}"] = type("One", (), {"words": counts})()
    table = by_word(parts, 0.95)
    row = table.iloc[0]
    assert (row["found"], row["chances"]) == (30, 40)
    # Wilson's limits of 30 of 40, by hand with z = 1.96: 0.598 to 0.858.
    assert (row["low"], row["high"]) == pytest.approx((0.598, 0.858), abs=0.001)
    half = dict(list(parts.items())[:5])
    for one in half.values():
        one.words = one.words.assign(found=4, missed=0)
    clustered = by_word(parts, 0.95).iloc[0]
    assert clustered["found"] == 35
    assert clustered["high"] - clustered["low"] > 0


def test_five_words_are_told_of_a_class_and_only_those_mostly_missed(mixed: Teaching):
    shares = [0.1, 0.2, 0.3, 0.4, 0.49, 0.49, 0.5]
    rows = [(f"w{k}", 20, 5, share, 0.05, 0.6, 0) for k, share in enumerate(shares)]
    for told, kept in ((5, rows), (5, rows[:5]), (4, [*rows[:4], rows[6]])):
        table = pd.DataFrame(kept, columns=mixed.by_word.columns)
        said = replace(mixed, by_word=table).as_a_class()
        words = [dict(one.values)["attribute"] for one in said if one.key == "teaching.class_word"]
        assert words == [f"w{k}" for k in range(told)]


@pytest.mark.parametrize(("part", "told"), [(0.26, True), (0.25, False)])
def test_levels_of_two_experts_are_told_from_a_quarter_of_the_margin(
    mixed: Teaching, part: float, told: bool
):
    row = {"first": "E1", "second": "E2", "attribute": "sour", "level_gap": part * mixed.margin,
           "distance": 0.3, "F": 1.0, "p": 0.5, "parted": False}  # fmt: skip
    said = replace(mixed, between_experts=pd.DataFrame([row])).sentences()
    assert ("teaching.experts_level" in [one.key for one in said]) is told


def test_the_class_is_silent_below_five_and_its_shift_knows_the_expert():
    assert SMALLEST == 5
    shifted: dict[str, Person] = {f"S{number}": {"sour level": 1.2} for number in range(1, 6)}
    found = taught(shifted)
    shown = found.by_attribute.set_index("attribute")["shown"]
    assert shown["sour"]
    assert not shown.drop("sour").any()
    assert "As a class, sour is scored" in " ".join(map(str, found.as_a_class()))
    four = taught({who: shifted[who] for who in list(shifted)[:4]})
    assert four.as_a_class() == []
    assert not four.by_attribute["shown"].any()
    assert "from fewer than 5 each could be worked out" in " ".join(map(str, four.sentences()))


def test_at_most_three_things_and_cups_in_words():
    assert (AT_MOST, CLOSE, FAIR) == (3, 0.5, 1.0)
    found = taught({"S1": {"noise": 0.2}, "S2": {"noise": 0.6}, "S3": {"noise": 1.1}}, sessions=2)
    said = {who: str(one) for who, one in found.students.items()}
    assert "agree closely" in said["S1"]
    assert "agree fairly well" in said["S2"]
    assert "apart on average" in said["S3"]
    assert "agree" not in said["S3"].partition("By attribute")[0].replace("do not agree", "")
    assert all(len(one.to_work_on()) <= AT_MOST for one in found.students.values())


def test_who_never_moves_is_told_no_agreement_and_no_p():
    """No cup told apart: neither praise nor a finding, to the student and to the teacher."""
    table = drawn({"E1": EXPERT, "S1": {}, "S2": {}})
    mine = table["assessor"] == "S1"
    table.loc[mine, "score"] = 5.0
    found = teaching(tidy(table), ["E1"])
    one = found.students["S1"]
    assert one.one_mark_for_all()
    assert one.cups is None
    assert not len(one.findings)
    assert [text.key for _, text in one.to_work_on()] == ["teaching.do_same_card"]
    assert set(one.lines["state"]) == {"same"}
    assert "agree closely" not in str(one)
    said = " ".join(map(str, found.sentences()))
    assert "S1 gave every bottle the same mark on everything" in said
    assert "Nothing is shown" not in said
    table.loc[table.index[mine & (table["attribute"] == "sour")][0], "score"] = 6.0
    moved = teaching(tidy(table), ["E1"]).students["S1"]
    assert not moved.one_mark_for_all()
    assert moved.cups is not None
    assert moved.cups["apart"] > 0


def test_one_mark_for_all_is_told():
    table = drawn({"E1": EXPERT, "S1": {}, "S2": {}})
    table.loc[(table["assessor"] == "S1") & (table["attribute"] == "sour"), "score"] = 5.0
    found = teaching(tidy(table), ["E1"])
    assert found.students["S1"].same == ["sour"]
    assert "sour: every bottle got the same mark" in str(found.students["S1"])
    assert found.students["S2"].same == []
