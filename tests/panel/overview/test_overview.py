"""What the overview says, on both sides of each of its thresholds, from small made-up tables."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.overview import all_told, bottles_apart, gaps, known_cups, order, steadiness
from kikichoko.panel.overview.gaps import Gap
from kikichoko.panel.session.bottles import Bottle
from scipy import stats

LINES = (
    "aroma_intensity", "sweetness", "acidity", "bitterness", "umami", "astringency", "body",
    "texture", "quality",
)  # fmt: skip
FOUR = ("body", "sweetness", "acidity", "umami")
PEOPLE = ["A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8"]


def table(marks: dict[str, dict[str, list[list[float]]]]) -> pd.DataFrame:
    """Return tidy rows from attribute, bottle, and a list of marks an assessor."""
    return pd.DataFrame(
        [
            (who, sample, replicate, name, float(score))
            for name, bottles in marks.items()
            for sample, people in bottles.items()
            for who, own in zip(PEOPLE, people, strict=False)
            for replicate, score in enumerate(own, start=1)
        ],
        columns=["assessor", "sample", "replicate", "attribute", "score"],
    )


def said(marks: dict, bottles: list[Bottle] | None = None, **more) -> list[str]:
    """Return the English sentences of the overview."""
    found = findings_of_tables(table(marks), bottles=bottles, shuffles=199, **more)
    return [str(one.sentence) for one in all_told.statements(found.evidence, found.budget)]


def gap(n: int, against: int, least: float = 0.1) -> Gap:
    return Gap(
        attribute="body", high="a", low="b", by=1.0, least=least, most=2.0, claimed=False, n=n,
        along=tuple(PEOPLE[: n - against]), against=tuple(PEOPLE[n - against : n]),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("one", "clear"),
    [
        (gap(4, 1), True),
        (gap(4, 2), False),
        (gap(3, 0), False),
        (gap(8, 2), True),
        (gap(7, 2), False),
        (gap(8, 0, least=0.0), False),
    ],
)
def test_a_lead_has_four_assessors_an_interval_clear_of_0_and_few_against(one: Gap, clear: bool):
    assert one.clear is clear


def test_where_nothing_differs_one_gap_in_twenty_is_clear_and_the_first_page_names_hints_alone():
    """Sixteen tastings of equal bottles: by the law of its interval 5 % of all gaps are clear of 0.

    Of 432 that is 22, with 2.5 SD of gaps that share bottles and assessors 10 to 36. A hint may
    stand in one tasting of five, in more than seven of sixteen with a chance of 0.7 %.
    """
    rng = np.random.default_rng(5)
    looked = clear = with_gap = hinted = 0
    for _ in range(16):
        marks = {
            name: {bottle: rng.normal(5, 1, (8, 1)).round(1).tolist() for bottle in "abc"}
            for name in LINES
        }
        found = findings_of_tables(table(marks), shuffles=199)
        every = gaps.gaps(found.evidence, found.budget)
        looked, clear = looked + len(every), clear + sum(one.clear for one in every)
        told = [str(one.sentence) for one in all_told.statements(found.evidence, found.budget)]
        first = next(one for one in told if "one budget of error" in one)
        own = [one.about for one in found.budget.hinted("scale", "balance")]
        assert ("not shown:" in first) is bool(own)
        assert all(found.evidence.name(name) in first for name in own)
        hinted += bool(own)
        with_gap += any("Clear of zero each for itself" in one for one in told)
        about = next((one for one in told if "would look so by chance" in one), "")
        assert not about or "Of 27 gaps looked at about 1 would look so by chance" in about
    assert looked == 432
    assert 10 <= clear <= 36
    assert with_gap > hinted
    assert hinted <= 7


def test_who_goes_the_other_way_is_named_up_to_three():
    assert str(gap(8, 0).going) == "all 8"
    assert str(gap(8, 3).going) == "5 of 8, not A6, A7, A8"
    assert str(gap(8, 4).going) == "4 of 8"


def test_no_order_is_told_below_a_quarter_of_a_point():
    def of(by: float) -> str:
        marks = {"quality": {"a": [[5 + by], [4 + by], [6 + by], [5 + by]],
                             "b": [[5], [4], [6], [5.0]]}}  # fmt: skip
        return next(one for one in said(marks) if "uality" in one and "a 5." in one)

    assert "no order at all" in of(0.2)
    assert of(0.3).startswith("Quality in order: a 5.3, b 5.0 (a above b by 0.3")


def test_the_maker_leans_from_half_a_point_more_than_the_others():
    def of(mine: float, others: tuple[float, ...] = (6.0, 6.02, 5.98, 6.0)) -> str:
        marks = {"quality": {"a": [[5 + mine], *([one] for one in others)], "b": [[5.0]] * 5}}
        lines = said(marks, assessors={"A1": "maker"})
        return next(one for one in lines if one.startswith("A1 (maker)"))

    assert "The maker leans and does not turn the result" in of(1.6)
    assert "The maker" not in of(1.4)
    # Upper 95 % prediction limit of the favourite of two bottles: 1 + t s sqrt(1 + 1/4), one
    # tail of 2.5 % on 3 degrees of freedom (t = 3.182, tables).
    wide = (5.7, 6.3, 5.9, 6.1)
    reach = 1 + 3.182 * np.std(wide, ddof=1) * np.sqrt(1.25)
    assert "The maker leans" in of(reach + 0.01, wide)
    assert "which one more person of their kind might too" in of(reach - 0.01, wide)
    assert "leans" not in of(reach - 0.01, wide)


BOTTLES = [
    Bottle(name="a", fraction="free-run", pasteurised="0", tank="1"),
    Bottle(name="b", fraction="clear", pasteurised="1", tank="1"),
    Bottle(name="c", fraction="cloudy", pasteurised="1", tank="1"),
]
CROSSED = [
    Bottle(name="a", fraction="free-run", pasteurised="1", tank="1"),
    Bottle(name="b", fraction="press-end", pasteurised="1", tank="1"),
    Bottle(name="c", fraction="free-run", pasteurised="1", tank="2"),
    Bottle(name="d", fraction="press-end", pasteurised="1", tank="2"),
]


@pytest.mark.parametrize(("others", "named"), [(4, True), (5, False)])
def test_more_than_four_other_bottles_are_counted_and_not_named(others: int, named: bool):
    rest = [Bottle(name=f"r{n}", fraction=("clear", "cloudy")[n % 2], pasteurised="1", tank="1")
            for n in range(others)]  # fmt: skip
    names = ["a", *(one.name for one in rest)]
    marks = {"body": {name: [[4.0], [5.0], [4.5], [6.0]] for name in names}}
    (told,) = [one for one in said(marks, [BOTTLES[0], *rest]) if " alone is " in one]
    assert (", ".join(names[1:]) in told) is named
    assert ("from all 5 others (listed under “What was asked and served”)" in told) is not named


def test_what_one_bottle_alone_has_is_told_and_a_fair_pair_is_named():
    marks = {"body": {name: [[4.0], [5.0], [4.5], [6.0]] for name in "abc"}}
    lines = said(marks, BOTTLES)
    assert any(one.startswith("a alone is free-run, and alone raw") for one in lines)
    assert "One thing alone changes between: b and c (fraction: clear, cloudy)." in lines
    assert any("pour the same pressing raw and pasteurised" in one for one in lines)
    four = {"body": {name: [[4.0], [5.0], [4.5], [6.0]] for name in "abcd"}}
    assert not any(" alone is " in one for one in said(four, CROSSED))
    further = [Bottle(name=one.name, fraction=one.fraction, pasteurised="1", tank="1", abv=one.abv)
               for one in BOTTLES[1:]]  # fmt: skip
    apart = Bottle(name="a", fraction="free-run", pasteurised="0", tank="2")
    lines = said(marks, [apart, *further])
    (told,) = [one for one in lines if " alone is " in one]
    assert told.startswith("a alone is")
    assert all(word in told for word in ("free-run", "raw", "tank 2"))
    assert any("parts from it in one of these alone (free-run, raw, tank 2)" in one
               for one in lines), "one further bottle does not part three things"  # fmt: skip
    poured = [replace(BOTTLES[0], pasteurised="2"), BOTTLES[1], replace(BOTTLES[1], name="c")]
    poured[2] = replace(poured[2], pasteurised="0")
    lines = said(marks, poured)
    assert not any("pour the same pressing raw and pasteurised" in one for one in lines), (
        "b and c are that: what is asked is what sets a apart"
    )
    assert any("pour a beside a bottle that is free-run and not pasteurised twice" in one
               for one in lines)  # fmt: skip


def test_crossed_factors_are_contrasted_by_hand():
    marks = {
        "body": {
            "a": [[3.0], [4.0], [3.5], [3.0]], "b": [[5.0], [6.0], [5.0], [5.5]],
            "c": [[3.0], [3.5], [4.0], [2.5]], "d": [[5.5], [5.5], [6.0], [5.0]],
        }
    }  # fmt: skip
    found = findings_of_tables(table(marks), bottles=CROSSED, shuffles=199)
    assert bottles_apart.crossed(found.evidence) == ("fraction", "tank")
    one = bottles_apart.contrasts(found.evidence, "fraction")[0]
    # by hand: (5.25 − 3, 5.75 − 3.75, 5.5 − 3.75, 5.25 − 2.75) = 2.25, 2, 1.75, 2.5
    assert (one.high, one.low, one.along, one.n) == ("press-end", "free-run", 4, 4)
    assert one.by == pytest.approx(2.125)
    # t(0.975, 3) = 3.182 (any table); sd 0.3227
    assert one.most - one.by == pytest.approx(3.182 * 0.3227 / 2, rel=1e-3)
    assert bottles_apart.crossed(SimpleNamespace(
        products=["a", "b", "c"], bottle=lambda name: next(x for x in CROSSED if x.name == name),
    )) is None  # fmt: skip


@pytest.mark.parametrize(("pair", "key"), [(("b", "a"), "shown"), (("b", "c"), "lead")])
def test_a_contrast_is_shown_by_a_pair_that_differs_in_nothing_else(pair, key: str):
    """b and c are of two fractions and two tanks: their gap shows nothing of either."""
    marks = {"body": {"a": [[3.0]] * 4, "b": [[5.0]] * 4, "c": [[3.0]] * 4, "d": [[5.5]] * 4}}
    evidence = findings_of_tables(table(marks), bottles=CROSSED, shuffles=199).evidence
    one = bottles_apart.contrasts(evidence, "fraction")[0]
    budget = SimpleNamespace(of=lambda *_: SimpleNamespace(pairs=(pair,)))
    told = bottles_apart._contrast(evidence, budget, "fraction", one)
    assert told.key == f"overview.contrast_{key}"


def test_a_bottle_that_came_last_on_half_of_the_trays_is_told():
    def of(last: int) -> bool:
        rows = table({"body": {name: [[4.0], [5.0], [4.5], [6.0]] for name in "abc"}})
        places = []
        for who, sample in zip(rows["assessor"], rows["sample"], strict=True):
            turn = PEOPLE.index(who)
            served = "abc" if turn < last else ("bca", "cab")[turn % 2]
            places.append(served.index(sample) + 1)
        found = findings_of_tables(rows.assign(position=places), shuffles=199)
        lines = [str(x.sentence) for x in all_told.statements(found.evidence, found.budget)]
        return any(one.startswith("c came last on") for one in lines)

    assert of(2)
    assert not of(1)


def steady(scatter: list[float], wide: float = 3.0, names: tuple[str, ...] = FOUR) -> dict:
    """Return attributes in which bottles part, each assessor with the own scatter."""
    return {
        name: {
            bottle: [
                [level + wide * place + way * by, level + wide * place - way * by]
                for level, by in zip((2.0, 2.2, 2.1, 1.9), scatter, strict=True)
            ]
            for place, (bottle, way) in enumerate((("a", 1), ("b", -1), ("c", 1)))
        }
        for name in names
    }  # fmt: skip


def test_whose_marks_scatter_half_again_as_much_is_told():
    def of(most: float) -> list[str]:
        lines = said(steady([0.4, 0.42, 0.4, most], names=LINES[:8]))
        return [one for one in lines if "Well above it" in one]

    assert "Well above it: A4 0.9" in of(0.65)[0]
    assert not of(0.55)


def test_who_scatters_is_told_by_code_and_not_by_size():
    found = pd.DataFrame(
        {"assessor": list("ABCDEF"), "repeats": [1.0, 0.4, 0.4, 0.4, 0.4, 1.3], "df": 200}
    )
    evidence = findings_of_tables(table(steady([0.4] * 4)), shuffles=99).evidence
    (told,) = steadiness._repeats(evidence, found, 1)
    assert "Well above it: A 1.0, F 1.3;" in str(told.sentence)


def test_scatter_that_chance_gives_the_widest_of_so_many_is_not_told():
    # One attribute (marks of one cup go together), two bottles, 2 df each: F on 2 and 6 has
    # p = (1 + F / 3)^-3 in closed form; four times that is 5 % at F = 3 (80^(1/3) - 1) = 9.93,
    # 3.15 times the others' scatter.
    def of(times: float) -> bool:
        marks = {"body": {name: [[5 - by, 5 + by] for by in (0.4, 0.4, 0.4, 0.4 * times)]
                          for name in "ab"}}  # fmt: skip
        return any("Well above it: A4" in one for one in said(marks))

    edge = np.sqrt(3 * (80 ** (1 / 3) - 1))
    assert edge == pytest.approx(3.1507, abs=5e-4)
    assert of(1.01 * edge)
    assert not of(0.99 * edge)


def test_a_narrow_scale_is_told_below_six_tenths_of_the_next():
    def of(share: float) -> list[str]:
        marks = steady([0.3, 0.3, 0.3, 0.3])
        for own in marks.values():
            for place, people in enumerate(own.values()):
                people[3] = [2.0 + 3.0 * share * place + 0.1, 2.0 + 3.0 * share * place - 0.1]
        return [one for one in said(marks) if "uses little of the scale" in one]

    assert of(0.55)
    assert "the right way round" in of(0.55)[0]
    assert not of(0.65)


def test_marks_at_the_end_of_the_scale_are_told_from_a_fifth_on():
    marks = steady([0.3, 0.3, 0.3, 0.3])
    lines = said(marks)
    assert not any("stands at the lowest mark" in one for one in lines)
    for name in ("body", "sweetness", "acidity"):  # 6 of 24 marks
        marks[name]["a"][2] = [0.0, 0.0]
    assert any("A3 stands at the lowest mark (0) in 6 of 24 marks" in one for one in said(marks))
    marks["acidity"]["a"][2] = [0.5, 0.5]  # 4 of 24
    assert not any("stands at the lowest mark" in one for one in said(marks))


def test_single_steps_of_a_quarter_of_the_scale_are_told():
    marks = steady([0.3, 0.3, 0.3, 0.3])
    marks["umami"]["b"][0] = [4.0, 6.4]
    assert not any("A1 gave b 4 and then 6.4" in one for one in said(marks))
    marks["umami"]["b"][0] = [4.0, 6.5]
    assert any("A1 gave b 4 and then 6.5" in one for one in said(marks))


KNOWN = [
    Bottle(name="a"),
    Bottle(name="k", control="clean"),
    Bottle(name="s", control="stale"),
]


def known(clean: list[list[float]], spiked: list[list[float]], quality: list[float]) -> dict:
    return {
        "fault:stale": {"a": [[0.0, 0.0]] * 4, "k": clean, "s": spiked},
        "quality": {"a": [[5.0, 5.2]] * 4, "k": [[6.0, 6.0]] * 4,
                    "s": [[one, one] for one in quality]},
    }  # fmt: skip


def test_known_cups_tell_who_found_and_who_noted_falsely():
    quiet, loud = [0.0, 0.0], [2.0, 2.0]
    lines = said(known([quiet] * 3 + [[1.0, 0.0]], [loud] * 3 + [[2.0, 0.0]], [3, 3, 3, 7.0]),
                 KNOWN)  # fmt: skip
    assert any(one.startswith("A1, A2, A3 (3 of 4) found what was put in") for one in lines)
    assert any("A1 0, A2 0, A3 0, A4 1; 1 of 8 cups together" in one for one in lines)
    assert any("a share of 84 %" in one for one in lines)  # 1 − 0.025^(1/2), Clopper & Pearson
    assert "A4 gives s 7.0 in quality, and the clean cups 6.0" in " ".join(lines)
    calm = said(known([quiet] * 4, [loud] * 4, [3, 3, 3, 6.9]), KNOWN)
    assert not any("the liking goes against the fault" in one for one in calm)


def test_a_note_in_three_quarters_of_all_cups_is_a_habit():
    def of(cups: list[list[float]], plain: list[list[float]]) -> list[str]:
        marks = known([[0.0, 0.0]] * 3 + cups, [[2.0, 2.0]] * 4, [3, 3, 3, 3])
        marks["fault:stale"]["a"] = [[0.0, 0.0]] * 3 + plain
        return [one for one in said(marks, KNOWN) if one.startswith("A4 g") or "A4 notes" in one]

    assert "the own zero stands higher" in of([[1.0, 1.0]], [[1.0, 0.0]])[0]
    assert not of([[1.0, 1.0]], [[0.0, 0.0]])


def test_silence_in_few_cups_allows_much():
    # Exact upper limit of 0 of n, 95 % two-sided: 3 of 4 handbooks' tables give 0.602 for 0 of 4.
    assert known_cups.silence_allows(4) == pytest.approx(0.602, abs=5e-4)


def card(turned: float) -> dict:
    """Return four attributes in which bottles part, alike for three; the fourth goes `turned`."""
    ways = {"body": (0, 2, 4), "sweetness": (1, 4, 0), "acidity": (4, 0, 1), "umami": (2, 0, 3)}
    return {
        name: {
            bottle: [[3.0 + at + 0.1 * who * (-1) ** place] for who in range(3)]
            + [[5.0 + turned * at + (1 - abs(turned)) * (place == 1)]]
            for place, (bottle, at) in enumerate(zip("abc", way, strict=True))
        }
        for name, way in ways.items()
    }


def test_one_who_goes_along_or_nowhere_is_not_told_to_go_against():
    # One who does is T3 of the outsider's note 33 (test_panel_notes).
    assert not [one for one in said(card(0.8)) if "goes against the others" in one]
    assert not [one for one in said(card(0.0)) if "goes against the others" in one]


def test_whom_a_gap_rests_on_is_told_from_a_quarter_of_it():
    def of(last: float) -> list[str]:
        marks = {"body": {"a": [[6.0], [6.1], [5.9], [5.0 + last]], "b": [[5.0]] * 4}}
        return [one for one in said(marks) if one.startswith("Resting much on one")]

    # by hand: gaps 1, 1.1, 0.9 and x; without x 1.0 is left: a quarter of the mean from x = 2.34
    assert "without A4" in of(2.4)[0]
    assert not of(2.2)


def apart_alone(first: float, second: float, others: float = 0.0, scatter: float = 0.2) -> bool:
    """Let A4 set a above b in body, the others a little, and scatter in four more attributes."""
    marks = {"body": {"a": [[5 + others, 5.2 + others]] * 3 + [[5 + first, 5 + second]],
                      "b": [[5.0, 5.2]] * 3 + [[5.0, 5.0]]}}  # fmt: skip
    own = [5 - scatter, 5 + scatter]
    marks |= {name: {"a": [[5.0, 5.2]] * 3 + [own], "b": [[5.0, 5.2]] * 3 + [own]}
              for name in LINES[:4]}  # fmt: skip
    told = [one for one in said(marks) if one.startswith("Set apart by one alone")]
    assert all("A4, body, a above b by 3.0" in one for one in told)
    return bool(told)


def test_one_who_sets_bottles_apart_alone_in_every_tasting_is_told():
    assert apart_alone(3.0, 3.0)
    assert not apart_alone(2.9, 2.9)
    assert not apart_alone(6.0, -0.1)
    assert not apart_alone(3.0, 3.0, others=0.8)


def test_a_guest_on_a_spare_sheet_is_not_judged_so_and_the_rest_is_told():
    body = {"a": [[5.0, 5.2]] * 4 + [[9.0, 9.1]], "b": [[5.0, 5.2]] * 4 + [[2.0, 2.0]]}
    steady_ones = [[4.8, 5.2]] * 5
    marks = {"body": body} | {name: {"a": steady_ones, "b": steady_ones} for name in LINES[:4]}
    assert any("A5, body" in one for one in said(marks))
    assert not any("A5, body" in one for one in said(marks, assessors={"A5": "consumer"}))


def test_a_gap_of_one_alone_is_told_only_beyond_the_scatter_of_own_repeats():
    # Five attributes, four people and one pair are 20 looks. Of ten cells eight hold marks d to
    # each side of their mean, two none: s² = 16 d² / 10 on 10 degrees of freedom, and a gap of two
    # means of two marks each has error s. Told where 20 p is at most 1 % (Student's t by scipy).
    point = stats.t.isf(0.01 / 20 / 2, 10)
    edge = 3 / point / np.sqrt(1.6)
    assert apart_alone(3.0, 3.0, scatter=0.99 * edge)
    assert not apart_alone(3.0, 3.0, scatter=1.01 * edge)


def test_a_triangle_test_is_proposed_for_two_bottles_not_told_apart():
    alike = {"body": {name: [[5.0], [4.0], [5.5], [6.0]] for name in "ab"}}
    alike["body"]["b"] = [[5.5], [3.5], [5.5], [6.5]]
    # ISO 4120: of 24 answers 13 right are shown at 5 %
    assert any("24 sets" in one and "13 right or more" in one for one in said(alike))
    three = {"body": {name: [[5.0], [4.0], [5.5], [6.0]] for name in "abc"}}
    assert not any("triangle" in one for one in said(three))


def test_the_overview_never_claims():
    marks = steady([0.4, 0.42, 0.4, 0.65])
    found = findings_of_tables(table(marks), shuffles=199)
    told = all_told.statements(found.evidence, found.budget)
    assert {one.kind for one in told} <= {"description", "advice", "caution"}
    assert all(one.rank is None for one in told)


def test_constants_are_those_of_the_document():
    assert (gaps.FEWEST, gaps.AGAINST, gaps.NAMED, gaps.CARRIES) == (4, 4, 3, 0.25)
    assert (order.LEANS, order.ALIKE) == (0.5, 0.25)
    assert (steadiness.LOOSE, steadiness.NARROW, steadiness.STEP) == (1.5, 0.6, 0.25)
