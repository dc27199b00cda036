"""Rules that a reader acts on, each on both sides of its threshold."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.forms.questions import default_scorecard
from kikichoko.forms.questions.scorecard import change
from kikichoko.panel.findings import (
    balance,
    camps,
    design,
    differences,
    exchanged,
    factors,
    habits,
    people,
    power,
    primaries,
    promise,
    tainted,
    ticks,
    twins,
    verdicts,
)
from kikichoko.panel.findings.budget import Budget, Weighed, judge
from kikichoko.panel.findings.differences import order_of
from kikichoko.panel.findings.evidence import Evidence
from kikichoko.panel.findings.measured import Places, _surely_at_end, place_of
from kikichoko.panel.findings.statement import Statement, in_short
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.primary_questions import Primary
from kikichoko.panel.session.roster import Assessor
from scipy.stats import t as student

NOTHING = Budget(found=None, judged=(), alpha=0.05, majority_from=None)
SCORES = ["assessor", "sample", "replicate", "position", "attribute", "score"]
STALE = "fault:stale"


def evidence(
    bottles: dict[str, dict[str, str]],
    noted: dict[str, int] | None = None,
    *,
    roles: str = "ttttttt",
    replicates: int = 1,
) -> Evidence:
    """Return a session: `noted` of the assessors noted that a bottle is stale."""
    role = {"t": "trained", "m": "maker"}
    people = tuple(Assessor(code=f"T{n}", role=role[one]) for n, one in enumerate(roles))
    rows = [
        (one.code, name, replicate, place + 1, STALE, int(n < (noted or {}).get(name, 0)))
        for n, one in enumerate(people)
        for place, name in enumerate(bottles)
        for replicate in range(1, replicates + 1)
    ]
    return Evidence(
        scores=pd.DataFrame(rows, columns=SCORES),
        bottles=tuple(Bottle(name=name, **facts) for name, facts in bottles.items()),
        people=people,
        scorecard=default_scorecard(),
        replicates=replicates,
    )


def keys(said: list) -> list[str]:
    return [one.sentence.key.partition(".")[2] for one in said]


@pytest.mark.parametrize(
    ("tanks", "told"),
    [(("4", "4"), True), (("4", "5"), False), (("4", ""), False), (("", ""), False),
     (("4",), False)],
)  # fmt: skip
def test_another_tank_is_advised_where_all_bottles_are_of_one(tanks: tuple[str, ...], told: bool):
    found = evidence({f"b{n}": {"tank": tank} for n, tank in enumerate(tanks)})
    assert ("next_tank" in keys(verdicts._next(found))) is told


@pytest.mark.parametrize(("people", "told"), [(2, True), (3, True), (4, False)])
def test_more_tasters_are_advised_below_four(people: int, told: bool):
    found = evidence({"a": {}, "b": {}}, roles="t" * people)
    assert ("next_more_tasters" in keys(verdicts._next(found))) is told


@pytest.mark.parametrize(("replicates", "told"), [(1, True), (2, False)])
def test_tasting_twice_is_advised_after_one_replicate(replicates: int, told: bool):
    found = evidence({"a": {}, "b": {}}, replicates=replicates)
    assert ("next_twice" in keys(verdicts._next(found))) is told


@pytest.mark.parametrize(("bottles", "key"), [(7, "next_twice"), (8, "next_twice_many")])
def test_where_one_sitting_is_long_already_the_second_taste_is_at_another(bottles: int, key: str):
    found = evidence({f"b{n}": {} for n in range(bottles)})
    said = [one for one in keys(verdicts._next(found)) if one.startswith("next_twice")]
    assert said == [key]


def test_a_control_is_never_released_held_or_advised_on():
    found = evidence(
        {"a": {}, "sound": {"control": "clean"}, "known": {"control": "stale"}},
        {"known": 7},
    )
    assert found.products == ["a"]
    assert tainted.held(found) == []
    said = verdicts.statements(found, NOTHING)
    assert {name for one in said for name in one.about} == {"a"}
    assert {one.sample for one in verdicts.verdicts(found, NOTHING)} == {"a"}


@pytest.mark.parametrize(
    ("noted", "word"), [(0, "pass"), (1, "hint"), (2, "recheck"), (3, "recheck"), (4, "hold")]
)
def test_what_is_done_with_a_bottle_hangs_on_how_many_noted_a_fault(noted: int, word: str):
    """Seven assessors, one fault asked in two bottles: half of them are four."""
    assert verdicts.to_do(evidence({"a": {}, "b": {}}, {"a": noted}), "a") == word


@pytest.mark.parametrize(("second", "key"), [(0, "hint"), (1, "hint_several")])
def test_notes_on_two_faults_are_not_called_one_note(monkeypatch, second: int, key: str):
    rows = pd.DataFrame(
        {"sample": ["a", "a"], "decision": ["hint", "hint" if second else "pass"],
         "k": [1, second]}
    )  # fmt: skip
    monkeypatch.setattr(tainted, "noted", lambda _: SimpleNamespace(table=rows))
    monkeypatch.setattr(tainted, "stands_against_nothing", lambda *_: False)
    assert verdicts._with_taste(evidence({"a": {}, "b": {}}), "a", "hint") == key


@pytest.mark.parametrize(("ticked", "key"), [(0.0, "cell_silent"), (1.0, "cell_silent_unsure")])
def test_who_cannot_tell_stands_beside_nobody_ticked_one(ticked: float, key: str):
    found = evidence({"a": {}, "b": {}}, {"a": 0})
    one = found.scores[found.scores["sample"] == "a"].head(1)
    one = one.assign(attribute=tainted.CANNOT_TELL, score=ticked)
    asked = replace(found, scores=pd.concat([found.scores, one], ignore_index=True))
    assert tainted.cell(asked, "a").key == f"findings.{key}"


@pytest.mark.parametrize(("roles", "word"), [("t", "thin"), ("mm", "maker"), ("mt", "open")])
def test_what_one_tasting_or_the_maker_alone_cannot_pass(roles: str, word: str):
    assert verdicts.to_do(evidence({"a": {}, "b": {}}, roles=roles), "a") == word


@pytest.mark.parametrize(
    ("spiked", "clean", "kinds"),
    [(4, 0, ["found", "clear"]), (3, 1, ["missed", "single"]), (4, 4, ["found", "false"]),
     (4, 3, ["found", "single"])],
)  # fmt: skip
def test_half_of_the_panel_finds_a_spike_or_fails_a_clean_control(spiked, clean, kinds):
    found = evidence(
        {"a": {}, "known": {"control": "stale"}, "sound": {"control": "clean"}},
        {"known": spiked, "sound": clean},
        roles="t" * 8,
    )
    assert [one.kind for one in tainted.controls(found)] == kinds
    assert tainted.worthless(found) == ({STALE} if kinds[1] == "false" else set())


@pytest.mark.parametrize(("roles", "apart"), [("mt", False), ("mtt", True), ("tt", False)])
def test_the_maker_stands_apart_from_two_others_on(roles: str, apart: bool):
    found = evidence({"a": {}, "b": {}}, roles=roles)
    assert found.maker_apart is apart
    assert ("T0" in found.counted) is not apart


@pytest.mark.parametrize(
    ("dry", "sweet", "side", "how"),
    [
        (2, 6, "too_sweet", "split"),  # two, and a quarter of eight
        (1, 6, "too_sweet", "sweet"),
        (2, 7, "too_sweet", "sweet"),  # two, fewer than a quarter of nine
        (0, 3, "", "open"),
        (0, 3, "just_right", "right"),
    ],
)
def test_a_split_panel(dry: int, sweet: int, side: str, how: str):
    n = {(2, 7): 9}.get((dry, sweet), 8)
    row = {"n": n, "too_dry": dry, "too_sweet": sweet, "side": side}
    assert balance.standing(row) == how


@pytest.mark.parametrize(
    ("first", "rest", "told"),
    [
        ((-1, -1), (-1, 0), ("dry", 5)),  # two of four people, five of eight tastings
        ((-1, -1), (0, 0), ("", 0)),  # half is not more than half
    ],
)
def test_most_tastings_are_told_where_no_side_has_most_people(first, rest, told):
    marks = {"T0": first, "T1": (-1, -1), "T2": rest, "T3": (0, 0)}
    rows = [
        (who, "a", cup, 1, balance.BALANCE, score)
        for who, own in marks.items()
        for cup, score in enumerate(own, start=1)
    ]
    found = replace(
        evidence({"a": {}}, roles="tttt", replicates=2), scores=pd.DataFrame(rows, columns=SCORES)
    )
    assert balance.most_tastings([row[-1] for row in rows]) == told
    said = balance.cell(found, "a").to("en")
    assert said.startswith("no majority: 2 too dry")
    assert ("in 5 of 8 tastings too dry" in said) is bool(told[0])


@pytest.mark.parametrize(
    ("marks", "split"),
    [
        ([1, 1, 4, 4], True),  # three of ten points apart
        ([1, 1, 3.9, 3.9], False),
        ([1, 4, 4, 4], False),  # one alone is no camp
        ([1, 2.5, 5.5, 5.5], True),  # closer together than half of the gap
        ([1, 2.6, 5.5, 5.5], False),
    ],
)
def test_two_camps(marks: list[float], split: bool):
    assert (camps.split(pd.Series(marks, index=list("ABCD")), 10.0) is not None) is split


def _cards(spread: float, seed: int) -> list[pd.Series]:
    """Return 48 places of a card, of six assessors each, as shares of the scale."""
    marks = np.random.default_rng(seed).normal(0.5, spread, (48, 6))
    return [pd.Series(row, index=list("ABCDEF")) for row in marks]


def _told(values: list[pd.Series]) -> bool:
    return any(
        (found := camps.split(one, 1.0)) is not None
        and camps.is_no_chance(found, [other for other in values if other is not one], len(values))
        for one in values
    )


def test_scatter_makes_camps_in_one_report_of_a_hundred():
    # With 16 % of the scale between assessors the shape alone is found in a quarter of them.
    cards = [_cards(0.16, seed) for seed in range(150)]
    assert sum(any(camps.split(one, 1.0) for one in card) for card in cards) > 30
    assert sum(map(_told, cards)) <= 6  # a rule that errs in one report of ten fails here


@pytest.mark.parametrize(("high", "told"), [(0.63, False), (0.66, True)])
def test_camps_must_be_more_than_scatter_leaves_somewhere(high: float, told: bool):
    split = pd.Series([0.2, 0.2, 0.2, high, high, high], index=list("ABCDEF"))
    assert camps.split(split, 1.0) is not None
    assert _told([split, *_cards(0.16, 1)[1:]]) is told


@pytest.mark.parametrize(("roles", "alpha"), [("tt", 0.05), ("ttt", 0.048)])
def test_a_report_spends_five_per_cent_in_all(roles: str, alpha: float):
    """Two thousandths of it go to single assessors, where three people and bottles are there."""
    found = replace(evidence({"a": {}, "b": {}, "c": {}}, {"a": 1}, roles=roles), shuffles=99)
    assert judge(found).alpha == pytest.approx(alpha)


@pytest.mark.parametrize(("n", "told"), [(7, False), (8, True)])
def test_many_bottles_are_told(n: int, told: bool):
    found = design._many(evidence({f"b{place}": {} for place in range(n)}))
    assert keys(found) == (["n_many"] if told else [])


@pytest.mark.parametrize(
    ("adjusted", "claimed", "hinted"),
    [(0.05, True, False), (0.0501, False, True), (0.20, False, True), (0.2001, False, False)],
)
def test_a_claim_a_hint_and_nothing(adjusted: float, claimed: bool, hinted: bool):
    one = Weighed(kind="scale", about="sweetness", p=0.01, adjusted=adjusted)
    found = Budget(found=None, judged=(one,), alpha=0.05, majority_from=None)
    assert bool(found.claimed("scale")) is claimed
    assert bool(found.hinted()) is hinted


def scored(marks: dict[str, list[float]], attribute: str = "sweetness", **more) -> Evidence:
    """Return a session: the marks of the assessors, bottle by bottle; None is a blank."""
    n = max(map(len, marks.values()))
    made = evidence({name: {} for name in marks}, roles="t" * n, **more)
    rows = [
        (f"T{k}", name, 1, place + 1, attribute, mark)
        for place, (name, given) in enumerate(marks.items())
        for k, mark in enumerate(given)
    ]
    return replace(made, scores=pd.DataFrame(rows, columns=SCORES))


def sweet(bottles: dict[str, list[float]], noted: dict[str, int] | None = None) -> Evidence:
    """Return a session with marks of sweetness against acidity, and nothing or little noted."""
    marks = scored(bottles, "sweetness_balance")
    n = max(map(len, bottles.values()))
    faults = evidence({name: {} for name in bottles}, noted, roles="t" * n)
    return replace(marks, scores=pd.concat([marks.scores, faults.scores]))


@pytest.mark.parametrize(
    ("marks", "word"), [([1, 1, 1, 0, 0], "pass_sweet"), ([-1, -1, -1, 0, 0], "pass_dry"),
                        ([1, 1, 0, 0, -1], "pass")],
)  # fmt: skip
def test_nothing_is_said_to_stand_against_a_bottle_that_most_found_off_balance(marks, word):
    made = sweet({"a": marks, "b": [0] * 5})
    said = [one for one in keys(verdicts.statements(made, NOTHING)) if one.startswith("do_")]
    assert said == ([f"do_{word}", "do_pass"] if word != "pass" else ["do_pass"])
    assert verdicts.to_do(made, "a") == "pass"
    cell = next(one for one in verdicts.verdicts(made, NOTHING) if one.sample == "a").text
    assert cell.key == f"findings.do_cell_{word}"


@pytest.mark.parametrize(("people", "told"), [(1, False), (2, True)])
def test_one_alone_proposes_no_cure(people: int, told: bool):
    made = sweet({"a": [1] * people, "b": [0] * people})
    assert ("cure_sweet" in keys(verdicts.statements(made, NOTHING))) is told


@pytest.mark.parametrize(("wrong", "word"), [(4, "failed"), (3, "pass")])
def test_a_failed_clean_control_is_no_missed_spike(wrong: int, word: str):
    made = evidence({"a": {}, "sound": {"control": "clean"}}, {"sound": wrong})
    assert verdicts.to_do(made, "a") == word


def test_a_question_named_is_never_said_to_need_more_than_one_that_is_not():
    table = pd.DataFrame(
        [("scale", "x", 4.0, 3.0, 2.0), ("scale", "y", None, 9.0, 8.0), ("scale", "z", None, 8, 7)],
        columns=["kind", "about", "unnamed", "named", "alone"],
    )
    made = scored({"a": [1.0, 2.0, 3.0], "b": [2.0, 3.0, 5.0]})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(power, "detectable", lambda *_: table)
        patch.setattr(power, "span", lambda *_: 10)
        said = power.statements(made, NOTHING)
    assert "had it alone been named before the tasting, it would be about 3.0 points" in str(
        said[1].sentence
    )


@pytest.mark.parametrize(("bottles", "key"), [(3, "two_once"), (4, "two_tasters")])
def test_two_people_once_each_show_nothing_below_twenty_orders(bottles: int, key: str):
    made = evidence({f"b{n}": {} for n in range(bottles)}, roles="tt")  # 3! = 6, 4! = 24
    assert key in keys(design._few(made, NOTHING))


@pytest.mark.parametrize(("back", "key"), [(8, "missing_half"), (9, "missing"), (12, None)])
def test_tastings_missing_go_to_the_box_below_three_quarters(back: int, key: str | None):
    marks = {f"b{n}": [5.0] * 4 for n in range(3)}
    made = scored(marks)
    made = replace(made, scores=made.scores.iloc[:back])
    found = [one for one in keys(design._blanks(made)) if one.startswith("missing")]
    assert found == ([key] if key else [])


def test_bottles_that_rest_on_the_same_few_people_are_not_said_to_rest_on_different_ones():
    made = scored({f"b{n}": [5.0] * 4 for n in range(3)})
    half = replace(made, scores=made.scores[made.scores["assessor"].isin(["T0", "T1"])])
    assert "missing_half_evenly" in keys(design._blanks(half))


@pytest.mark.parametrize(("at_end", "told"), [(4, True), (3, False)])
def test_a_scale_is_too_short_where_four_fifths_stand_at_its_end(at_end: int, told: bool):
    marks = [10.0] * at_end + [6.0] * (5 - at_end)
    found = keys(design._ends(scored({"a": marks, "b": marks})))
    assert ("at_top" in found) is told


@pytest.mark.parametrize(("n", "told"), [(3, False), (4, True)])
def test_three_pairs_are_written_out_and_further_ones_counted(n: int, told: bool):
    pairs = [("a", "x"), ("b", "y"), ("c", "z"), ("d", "w")][:n]
    assert (
        "further_pairs" in [one.key.partition(".")[2] for one in order_of(pairs, list("abcdwxyz"))]
    ) is told


@pytest.mark.parametrize(("second", "end"), [(1.04, ""), (1.06, "b")])
def test_indices_closer_than_reading_allows_are_not_ordered(second: float, end: str):
    found = Places(index={"a": 1.0, "b": second}, perceived={})
    assert found.end("index", sweetest=True) == end


@pytest.mark.parametrize(("least", "little"), [(0.8, True), (0.79, False)])
def test_an_order_by_numbers_over_a_small_span_is_one_by_little(least: float, little: bool):
    """What meter values 1.0 and acidities 0.1 apart make of the index: 0.09 and 0.12."""
    found = Places(index={"a": 1.0, "b": 0.9, "c": least}, perceived={})
    assert found.by_little is little


@pytest.mark.parametrize(
    ("second", "third", "told"),
    [
        (0.96, 0.5, ["among_sweetest", "among_sweetest", "driest"]),
        (0.94, 0.5, ["sweetest", "neither", "driest"]),
        (0.52, 0.5, ["sweetest", "among_driest", "among_driest"]),
        (0.98, 0.97, ["alike", "alike", "alike"]),
    ],
)
def test_bottles_that_share_an_end_are_said_to_share_it(second: float, third: float, told):
    found = Places(index={"a": 1.0, "b": second, "c": third}, perceived={})
    assert [place_of(found, "index", name).key for name in "abc"] == [
        f"findings.place_{one}" for one in told
    ]


@pytest.mark.parametrize(("tanks", "found"), [(1, False), (2, True)])
def test_a_factor_is_told_from_two_pairs_that_go_one_way(tanks: int, found: bool):
    bottles = {
        f"{kind}{tank}": {"fraction": kind, "tank": str(tank)}
        for tank in range(tanks)
        for kind in ("clear", "cloudy")
    }
    pairs = tuple((f"cloudy{tank}", f"clear{tank}") for tank in range(tanks))
    one = Weighed(kind="scale", about="body", p=0.001, adjusted=0.01, pairs=pairs)
    assert bool(factors._followed(evidence(bottles), one, "fraction")) is found


@pytest.mark.parametrize(("value", "key"), [(-0.006, "icc_below"), (-0.005, ""), (-0.004, "")])
def test_agreement_just_below_nought_is_written_as_nought(value: float, key: str):
    said = people.icc_written(value)
    assert (said if isinstance(said, str) else said.key.partition(".")[2]) == (key or "0.00")


@pytest.mark.parametrize(("given", "kept"), [(1, False), (2, True)])
def test_a_word_counts_for_somebody_from_half_of_the_replicates_on(given: int, kept: bool):
    name = evidence({"a": {}}).scorecard["aroma"].attributes[0]
    rows = [("T0", "a", k + 1, 1, name, float(k < given)) for k in range(4)]
    made = replace(
        evidence({"a": {}}, roles="t", replicates=4), scores=pd.DataFrame(rows, columns=SCORES)
    )
    assert bool(ticks.marks(made)[name].iloc[0]) is kept


@pytest.mark.parametrize(("ways", "told"), [(19, True), (20, False)])
def test_fewer_than_twenty_orders_show_nothing(ways: int, told: bool):
    """One in twenty is 5 %."""
    assert design.too_few_orders(ways) is told


@pytest.mark.parametrize(("spiked", "clean", "told"), [(3, 4, True), (3, 3, False), (4, 4, False)])
def test_controls_look_swapped_where_half_note_in_the_clean_what_they_miss_in_the_spiked(
    spiked: int, clean: int, told: bool
):
    found = evidence(
        {"a": {}, "known": {"control": "stale"}, "sound": {"control": "clean"}},
        {"known": spiked, "sound": clean},
        roles="t" * 8,
    )
    assert tainted.swapped(found) is told


def claimed(about: str, kind: str = "scale", adjusted: float = 0.01) -> Budget:
    one = Weighed(kind=kind, about=about, p=0.001, adjusted=adjusted, pairs=(("a", "b"),))
    return replace(NOTHING, judged=(one,))


def test_a_bottle_between_two_others_is_said_to_be_above_and_below():
    found = scored({"a": [8.0, 8.0], "b": [5.0, 5.0], "c": [2.0, 2.0]}, "quality")
    one = Weighed(
        kind="scale", about="quality", p=0.001, adjusted=0.01, pairs=(("a", "b"), ("b", "c"))
    )
    said = differences.quality_of(found, replace(NOTHING, judged=(one,)), "b")
    assert str(said) == "5.0, higher than c, lower than a"


@pytest.mark.parametrize(("about", "key"), [("quality", "above"), ("body", "open_highest")])
def test_quality_is_told_apart_only_where_quality_is_claimed(about: str, key: str):
    found = scored({"a": [8.0, 8.0], "b": [5.0, 5.0]}, "quality")
    said = differences.quality_of(found, claimed(about), "a")
    assert said.key == f"findings.quality_{key}"


@pytest.mark.parametrize(("people", "told"), [(2, True), (3, False)])
def test_what_both_of_two_marked_is_told_and_of_three_no_more(people: int, told: bool):
    found = scored({"a": [8.0] * people, "b": [5.0] * people})
    assert bool(differences._as_marked(found, ["sweetness"])) is told


@pytest.mark.parametrize(("adjusted", "kind"), [(0.05, "claim"), (0.0501, "description")])
def test_a_named_question_is_claimed_at_five_per_cent(adjusted: float, kind: str):
    named = Primary(kind="scale", written="sweetness", attribute="sweetness")
    found = replace(scored({"a": [8.0, 8.0], "b": [5.0, 5.0]}), primary=(named,))
    (said,) = primaries.statements(found, claimed("sweetness", adjusted=adjusted))
    assert said.kind == kind


@pytest.mark.parametrize(("low", "told"), [(4.0, True), (4.1, False)])
def test_levels_a_fifth_of_the_scale_apart_are_a_habit(low: float, told: bool):
    found = habits._levels(scored({"a": [6.0, low], "b": [6.0, low]}))
    assert bool(found) is told


@pytest.mark.parametrize(("p", "key"), [(0.01, "twin_apart"), (0.0101, "twin")])
def test_a_duplicate_is_set_apart_at_one_per_cent(
    monkeypatch: pytest.MonkeyPatch, p: float, key: str
):
    row = {"sample": "a", "twin": "b", "attribute": "sweetness", "n": 5, "mean": 1.0,
           "low": 0.1, "high": 1.9, "apart": 1.0, "p": p}  # fmt: skip
    monkeypatch.setattr(twins, "gaps", lambda _: pd.DataFrame([row]))
    assert keys(twins.statements(evidence({"a": {}, "b": {}}))) == [key]


@pytest.mark.parametrize(
    ("p", "looked", "turned", "told"),
    [
        (0.0099, 1, -0.5, True), (0.0101, 1, -0.5, False),
        (0.0049, 2, -0.5, True), (0.0051, 2, -0.5, False),  # two pairs share the one per cent
        (0.00807, 1, -0.04, True), (0.00807, 1, 0.04, False),  # t = 4: the others 2 steps apart
        (0.0001, 1, 2.99, True), (0.0001, 1, 3.01, False),
    ],
)  # fmt: skip
def test_cups_look_exchanged_far_from_the_others_and_among_them_when_turned(
    p: float, looked: int, turned: float, told: bool
):
    """Five others with mean c and deviation s; t = (c - mine) / (s root 1.2) has 4 df."""
    shape = np.array([-1.0, -1.0, 0.0, 1.0, 1.0])
    step = float(shape.std(ddof=1)) * np.sqrt(1.2)
    reach = float(student.isf(p, 4)) * step
    # Turned it lies so many steps from the centre: reach = c - mine, -mine = c + turned * step.
    centre = (reach - turned * step) / 2
    assert exchanged.looks_exchanged(centre - reach, shape + centre, looked) is told


@pytest.mark.parametrize(("below", "told"), [(0.0, True), (1e-6, False)])
def test_cups_look_exchanged_from_two_steps_apart_on(below: float, told: bool):
    """Sixteen others whose deviation is 2, one of scatter 2 - 1/128: the step is 4 + 1/64."""
    shape = np.array([2.0, -2.0] * 6 + [3.0, -1.0, -1.0, -1.0])
    centre = exchanged.APART * (4 + 1 / 64)
    rest = shape + centre - below
    assert exchanged.looks_exchanged(-centre, rest, 1, noise=2 - 1 / 128) is told


@pytest.mark.parametrize(("noise", "told"), [(0.5, True), (1.0, True), (1.09, True), (1.13, False)])
def test_a_noisy_assessor_is_sooner_apart_by_chance(noise: float, told: bool):
    shape = np.array([-1.0, -1.0, 0.0, 1.0, 1.0])
    step = float(shape.std(ddof=1)) * np.sqrt(1.2)
    # With the panel's scatter p = 0.0075; the limit of 0.01 is met at a noise of 1.11.
    mine = -0.6 * step
    centre = float(student.isf(0.0075, 4)) * step + mine
    assert exchanged.looks_exchanged(mine, shape + centre, 1, noise) is told


@pytest.mark.parametrize(("others", "told"), [(4, False), (5, True)])
def test_cups_are_judged_by_five_other_tastings(others: int, told: bool):
    rng = np.random.default_rng(1)
    rows = []
    for place in range(others + 1):
        who, replicate = f"T{place // 2}", place % 2 + 1
        for bottle, way in (("a", -1.0), ("b", 1.0)):
            way_ = -way if place == 1 else way
            rows += [
                (who, bottle, replicate, 1, name, 5.0 + 2.5 * way_ + 0.1 * rng.normal())
                for name in ("sweetness", "acidity", "body")
            ]
    made = evidence({"a": {}, "b": {}}, roles="t" * ((others + 2) // 2), replicates=2)
    found = exchanged.exchanges(replace(made, scores=pd.DataFrame(rows, columns=SCORES)))
    assert [(one.assessor, one.replicate) for one in found] == ([("T0", 2)] if told else [])


@pytest.mark.parametrize(
    ("role", "attribute", "told"),
    [("consumer", "quality", True), ("consumer", "body", False), ("trained", "quality", False)],
)
def test_camps_of_consumers_in_quality_may_be_two_kinds_of_drinkers(role, attribute, told: bool):
    found = SimpleNamespace(counted=["A"], roles={"A": role})
    assert bool(camps._drinkers(found, attribute)) is told


@pytest.mark.parametrize(("people", "told"), [(1, False), (2, True)])
def test_a_word_for_the_label_is_given_by_two(people: int, told: bool):
    name = evidence({"a": {}}).scorecard["aroma"].attributes[0]
    found = scored({"a": [1.0] * people, "b": [0.0] * people}, name)
    words = ticks.label_words(found, claimed(name, kind="word"))
    assert words == ({"a": [name]} if told else {})
    assert ticks.section_of(found, name) == ticks.SECTION


@pytest.mark.parametrize(("lines", "kept"), [(8, 8), (9, 8), (10, 8)])
def test_the_box_has_eight_lines_where_descriptions_can_be_left_out(lines: int, kept: int):
    said = [
        Statement(kind="description", about=(), sentence=f"{place}", section="x", rank=place)
        for place in range(lines)
    ]
    assert len(in_short(said)) == kept


def test_what_was_found_of_one_evidence_is_not_kept_for_another():
    made = scored({"one": [5.0] * 5, "two": [5.8, 5.9, 6.0, 6.1, 6.2]})
    assert twins.statements(made) == []
    bottles = (made.bottles[0], replace(made.bottles[1], control="same:one"))
    assert keys(twins.statements(replace(made, bottles=bottles)))[0] == "twin_apart"


@pytest.mark.parametrize(
    ("unnamed", "key"),
    [
        ([2.0, 3.0, 4.0], "power"),
        ([2.0, 2.0, 2.04], "power_one"),
        ([2.0, 3.0, None], "power_some"),
        ([7.2, None, None], "power_some_one"),
        ([None, None, None], "power_nothing"),
    ],
)
def test_no_range_is_told_of_one_number(monkeypatch, unnamed: list[float | None], key: str):
    table = pd.DataFrame({"kind": "scale", "about": "body", "unnamed": unnamed, "named": np.nan},
                         dtype=object)  # fmt: skip
    monkeypatch.setattr(power, "detectable", lambda *_: table)
    monkeypatch.setattr(power, "span", lambda *_: 10)
    evidence = SimpleNamespace(products=["a", "b"], people=["T1", "T2"])
    said = power.statements(evidence, NOTHING)[0].sentence  # type: ignore[arg-type]
    assert said.key == f"findings.{key}"
    if key.startswith("power_some"):
        assert (dict(said.values)["n"], dict(said.values)["of"]) == (3 - unnamed.count(None), 3)


@pytest.mark.parametrize(
    ("balance", "widths", "told"),
    [
        (1.2, (10, 10, 6), "6 points wide: sweetness against acidity, from about 1.2 points on"),
        (None, (10, 10, 6), "acidity, not even a difference as wide as that scale"),
        (1.2, (10, 6, 6), "6 points wide: acidity, from about 2.6 points on"),
    ],
)
def test_a_range_is_of_one_scale_and_names_every_other(monkeypatch, balance, widths, told):
    """The range left out what the table beneath it has on another scale."""
    names = ("body", "acidity", "sweetness_balance")
    table = pd.DataFrame(
        [("scale", "body", 1.3, 1.0), ("scale", "acidity", 2.6, 2.0),
         ("balance", "sweetness_balance", balance, 0.9)],
        columns=["kind", "about", "unnamed", "named"],
    )  # fmt: skip
    monkeypatch.setattr(power, "detectable", lambda *_: table)
    monkeypatch.setattr(power, "span", lambda _, __, about: widths[names.index(about)])
    monkeypatch.setattr(power, "_what_hides", lambda *_: [])
    spoken = {"sweetness_balance": "sweetness against acidity"}
    evidence = SimpleNamespace(
        products=["a", "b"], people=["T1", "T2"], name=lambda name: spoken.get(name, name)
    )
    said = [str(one.sentence) for one in power.statements(evidence, NOTHING)]  # type: ignore[arg-type]
    same = widths[0] == widths[1]
    assert ("(1.3 to 2.6 by attribute)" in said[0]) is same
    assert any(told in one for one in said[1:])
    assert len(said) == (3 if same else 4)


@pytest.mark.parametrize(
    ("share", "key"), [(0.667, "repeats"), (0.666, ""), (0.334, ""), (0.332, "views")]
)
def test_what_hides_small_differences_is_told_where_it_makes_up_two_thirds(share: float, key: str):
    assert power.hidden_in(share) == key


def marked(marks: dict[tuple[str, str], list[float]]) -> Evidence:
    """Return a session of one mark an assessor: by bottle and attribute."""
    rows = [
        (f"T{n}", bottle, 1, 1, name, value)
        for (bottle, name), own in marks.items()
        for n, value in enumerate(own)
    ]
    names = dict.fromkeys(bottle for bottle, _ in marks)
    made = evidence({name: {} for name in names}, roles="t" * len(next(iter(marks.values()))))
    return replace(made, scores=pd.DataFrame(rows, columns=SCORES))


CALM = {
    (bottle, name): [5.0, 5.1, 5.0, 5.1, 5.0, 5.1]
    for bottle in "ab"
    for name in ("acidity", "body", "umami", "bitterness")
}


@pytest.mark.parametrize(
    ("a", "b", "told"),
    [  # all as far from b as half of b's camps are from each other: one bottle's camps are told
        ([5.0, 5.1, 5.0, 5.1, 5.0, 5.1], [9.0, 9.0, 9.0, 1.0, 1.0, 1.0], ("camps", "b")),
        # neither bottle's own marks part the panel; half put b two points above a, half below
        ([2.0, 3.5, 5.0, 5.0, 6.5, 8.0], [4.0, 1.5, 7.0, 3.0, 8.5, 6.0], ("camps_apart", "b")),
    ],
)
def test_camps_in_a_bottles_own_marks_go_before_camps_in_how_far_it_is_from_others(
    a: list[float], b: list[float], told: tuple[str, str]
):
    found = marked(CALM | {("a", "sweetness"): a, ("b", "sweetness"): b})
    assert camps.against_others(found, "sweetness", "a") is not None
    (one,) = camps.statements(found)
    assert (one.sentence.key.partition(".")[2], one.about[0]) == told


@pytest.mark.parametrize(
    ("nose", "told"), [([5.0] * 6, True), ([9.0, 9.0, 9.0, 1.0, 1.0, 1.0], False)]
)
def test_camps_over_the_palate_of_every_bottle_are_camps_over_what_the_nose_promised(
    nose: list[float], told: bool
):
    """Half find 4 points more than they smelled, half 4 less: no mean of 0 may stand alone."""
    palate = [9.0, 9.0, 9.0, 1.0, 1.0, 1.0]
    found = marked(
        CALM
        | {(bottle, "flavour_intensity"): palate for bottle in "ab"}
        | {(bottle, "aroma_intensity"): nose for bottle in "ab"}
    )
    assert found.promise_pair == ("aroma_intensity", "flavour_intensity")
    for bottle in "ab":
        both = camps.camps_in(found, "flavour_intensity", bottle, less="aroma_intensity")
        assert (both is not None) is told
        assert not told or both.high_range == (4.0, 4.0)
        cell = promise.cell(found, judge(found), bottle)
        assert ("but two camps" in str(cell)) is told


@pytest.mark.parametrize(("spread", "told"), [(2.0, True), (2.6, False)])
def test_how_far_assessors_scatter_is_learnt_elsewhere_than_at_the_camps(spread: float, told: bool):
    """With the camps' own distance counted as scatter none of the two would be told."""
    usual = [5 - spread, 5, 5 + spread] * 2
    found = marked(
        {("a", "acidity"): usual, ("b", "acidity"): usual, ("a", "sweetness"): usual,
         ("b", "sweetness"): [6.5, 6.5, 6.5, 1.0, 1.0, 1.0]}
    )  # fmt: skip
    assert (camps.camps_in(found, "sweetness", "b") is not None) is told


@pytest.mark.parametrize(("half", "told"), [(1.0, False), (2.9, True)])
def test_nose_and_palate_are_compared_in_points_of_scales_that_differ(half: float, told: bool):
    """Aroma from 0 to 5, flavour from 0 to 10: half of the panel gives the palate more."""
    aroma = [3.0, 3.2, 3.4, 3.6, 3.8, 4.0]
    palate = [mark + half * way for mark, way in zip(aroma, (1, 1, 1, -1, -1, -1), strict=True)]
    made = marked(
        CALM | {("a", "aroma_intensity"): aroma, ("b", "aroma_intensity"): aroma,
                ("a", "flavour_intensity"): aroma, ("b", "flavour_intensity"): palate}
    )  # fmt: skip
    own = {
        "key": "aroma_intensity",
        "section": "aroma",
        "kind": "line",
        "label": "Aroma",
        "high": 5,
    }
    card, faults = change(made.scorecard, add=[own])
    assert not faults
    found = camps.camps_in(
        replace(made, scorecard=card), "flavour_intensity", "b", less="aroma_intensity"
    )
    assert (found is not None) is told
    if found is not None:
        assert found.high_range == pytest.approx((half, half))
        assert found.low_range == pytest.approx((-half, -half))


def test_an_assessors_own_scatter_leaves_out_where_an_exchange_would_show():
    """Three bottles, two scales, two tastings; the pair a, b is apart in the first scale."""
    tastings = {
        ("T0", 1): {name: np.array([4.0, 4.0]) for name in "abc"},
        ("T0", 2): {"a": np.array([9.0, 5.0]), "b": np.array([0.0, 4.0]),
                    "c": np.array([6.0, 4.0])},
    }  # fmt: skip
    apart = np.array([True, False])
    noise = exchanged._own_noise(tastings, "T0", ("a", "b"), np.ones(2), apart)
    # a: 1 in the second scale; b: 0; c: 2 in the first, 0 in the second. Sums of squares about
    # the mean are half of the squared differences: (1 + 0 + 4 + 0) / 2, with 4 df.
    assert noise == pytest.approx(np.sqrt(2.5 / 4))
    every = exchanged._own_noise(tastings, "T0", ("a", "b"), np.ones(2), ~apart)
    assert every == pytest.approx(np.sqrt((25 + 16 + 4 + 0) / 2 / 4))


@pytest.mark.parametrize(("given", "key"), [(1, "label_none_words"), (2, "label")])
def test_a_word_that_tells_bottles_apart_but_is_none_for_a_label_is_not_denied(
    given: int, key: str
):
    """The advice said "neither word nor attribute" below a claim (found by hand)."""
    marks = {"a": [1.0] * given + [0.0] * (4 - given), "b": [0.0] * 4}
    found = scored(marks, "aroma:pear")
    (said,) = verdicts._label(found, claimed("aroma:pear", kind="word"))
    assert said.sentence.key == f"findings.{key}"


@pytest.mark.parametrize("held", [[], ["a"], ["a", "b"]])
def test_no_label_takes_a_word_for_a_bottle_that_is_held_back(monkeypatch, held: list[str]):
    name = evidence({"a": {}}).scorecard["aroma"].attributes[0]
    found = scored({"a": [1.0] * 3, "b": [0.0] * 3}, name)
    monkeypatch.setattr(tainted, "held", lambda _: held)
    monkeypatch.setattr(ticks, "label_words", lambda *_: {"a": [name], "b": [name]})
    (one,) = verdicts._label(found, claimed(name, kind="word"))
    assert list(one.about) == [bottle for bottle in "ab" if bottle not in held]
    assert one.sentence.key == ("findings.label" if len(held) < 2 else "findings.label_none_held")


@pytest.mark.parametrize(
    ("pairs", "sure"),
    [([("c", "a"), ("b", "a")], True), ([("c", "a")], False), ([("c", "b")], False)],
)
def test_an_end_on_the_tongue_is_plain_only_where_it_is_shown_of_every_other(pairs, sure: bool):
    budget = SimpleNamespace(of=lambda *_: SimpleNamespace(pairs=pairs))
    assert _surely_at_end(budget, "a", ["b", "c"], sweetest=False) is sure
    turned = SimpleNamespace(of=lambda *_: SimpleNamespace(pairs=[pair[::-1] for pair in pairs]))
    assert _surely_at_end(turned, "a", ["b", "c"], sweetest=True) is sure
