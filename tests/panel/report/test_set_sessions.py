"""Tests of difference, rankings and thresholds: planned, written, filled, read, reported."""

from __future__ import annotations

import json
import re
from collections import Counter
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from kikichoko.analysis.difference import difference, similarity
from kikichoko.forms.paper.sheet_pdf import write_sheets
from kikichoko.forms.spreadsheets.workbook_writer import write_sheet
from kikichoko.panel.base.errors import FolderFault, PlanRefused
from kikichoko.panel.demos._tools import fill_workbook
from kikichoko.panel.handouts.server_files import write as write_server
from kikichoko.panel.handouts.sheet_files import write_for_assessors, write_for_server
from kikichoko.panel.plan.plan_file import load_open, save
from kikichoko.panel.plan.planning import make
from kikichoko.panel.plan.set_orders import as_even, dealt, stood, unevenness
from kikichoko.panel.report import set_test
from kikichoko.panel.report.build import build, open_context
from kikichoko.panel.report.files import write
from kikichoko.panel.returns.session_status import status
from kikichoko.panel.returns.store import Store
from kikichoko.panel.returns.taking_in import take_in
from kikichoko.panel.session import load
from kikichoko.panel.session.methods import METHODS
from scipy.stats import binom, binomtest

FILLED = ("M1", "T1", "T5")
ORDERS = {name: method.orders for name, method in METHODS.items() if method.samples == "two"}
TWO = ("once heated", "twice heated")
ONCE = "reference = 'once heated'"
DRIER = "attribute = 'dry'\nstronger = 'once heated'"
CASES = {
    "triangle": ("triangle", "", 1),
    "duo-trio, balanced reference": ("duo-trio", "", 1),
    "duo-trio, constant reference": ("duo-trio", f"constant_reference = true\n{ONCE}", 1),
    "paired, two-sided": ("paired", "attribute = 'dry'", 1),
    "paired, two-sided, ties": ("paired", "attribute = 'dry'\nties = true", 1),
    "paired, one-sided": ("paired", DRIER, 1),
    "paired, one-sided, ties": ("paired", f"{DRIER}\nties = true", 1),
    "3-afc": (
        "3-afc",
        "stronger = 'twice heated'\nattribute = { en = 'nutty', ja = '香ばしい' }",
        1,
    ),
    "tetrad": ("tetrad", "", 1),
    "two-out-of-five": ("two-out-of-five", "", 1),
    "a-not-a": ("a-not-a", ONCE, 2),
    "same-different": ("same-different", "", 4),
}
HAD = {
    "triangle": "1 set of three cups, two of them the same",
    "duo-trio": "1 set of three cups, a reference and two more, one of which is the same as it",
    "paired": "1 pair of cups, one from each bottle",
    "3-afc": "1 set of three cups, two of them the same",
    "tetrad": "1 set of four cups, two and two the same",
    "two-out-of-five": "1 set of five cups, two and three the same",
    "a-not-a": "2 cups, one at a time, after A was shown",
    "same-different": "4 pairs of cups, from one bottle or from both",
}
ASKED = {
    "triangle": "Which one is different?",
    "duo-trio": "Which of the other two is the same as it?",
    "3-afc": "Which cup is most nutty? If you cannot tell, guess.",
    "tetrad": "Name the two cups of one pair",
    "two-out-of-five": "Name the two that are the same",
    "a-not-a": "Is this the sake that you were shown as A?",
    "same-different": "Both kinds of pairs are served.",
    "ranking": "each place once",
    "threshold": "Which cup is strongest in taste? If you cannot tell, guess.",
}


@pytest.fixture
def folder(tmp_path: Path):
    """Return a maker of session folders."""

    def built(method: str, test: str = "", **more) -> Path:
        serving = {"replicates": 1, "pour_ml": 15, **more.pop("serving", {})}
        bottles = more.pop("bottles", TWO)
        n = more.pop("assessors", 9)
        lines = "\n".join(
            f"{name} = {value!r}" if isinstance(value, str) else f"{name} = {value}"
            for name, value in serving.items()
        )
        target = tmp_path / f"{method}-{len(list(tmp_path.iterdir()))}"
        target.mkdir()
        (target / "session.toml").write_text(
            f'name = "set-1"\ndate = 2026-05-02\nmethod = "{method}"\nseed = 7\n'
            f"[serving]\n{lines}\n[test]\n{test}\n",
            "utf-8",
        )
        fraction = more.pop("fraction", {})
        rows = [f"{name},{fraction.get(name, '')},9,720" for name in bottles]
        (target / "bottles.csv").write_text(
            "bottle,fraction,available,volume_ml\n" + "\n".join(rows), "utf-8"
        )
        people = [f"T{i},trained,{'ja' if i % 5 == 0 else 'en'}" for i in range(1, n)]
        (target / "assessors.csv").write_text(
            "assessor,role,language\nM1,maker,en\n" + "\n".join(people), "utf-8"
        )
        return target

    return built


def said(session, plan, sheet, rng, skill: float):
    """Answer as somebody who tells the samples apart with probability `skill`, else guesses."""
    test, method = session.settings.test, session.settings.method
    inside = {p.code: p.bottle for p in plan.pours if p.assessor == sheet.assessor}
    answers = {}
    for shown in sheet.presentations:
        codes, knows = list(shown.codes), rng.random() < skill
        bottles = [inside[code] for code in codes]
        rare = [c for c, b in zip(codes, bottles, strict=True) if bottles.count(b) == 1]
        guess = [str(c) for c in rng.permutation(codes)]
        if method == "triangle":
            answers[shown.name, "odd"] = rare[0] if knows else guess[0]
        elif method == "duo-trio":
            like = [c for c, b in zip(codes[1:], bottles[1:], strict=True) if b == bottles[0]]
            answers[shown.name, "like_first"] = like[0] if knows else str(rng.choice(codes[1:]))
        elif method == "paired":
            # with ties the place of the cup or 0 is ticked, without them a code is named
            place = bottles.index(TWO[0]) + 1 if knows else int(rng.integers(0, 3))
            answers[shown.name, "stronger"] = float(place) if test.ties else codes[place - 1]
        elif method in {"3-afc", "threshold"}:
            strong = rare[0]
            answers[shown.name, "stronger"] = strong if knows else guess[0]
        elif method in {"tetrad", "two-out-of-five"}:
            pair = next(
                [c for c, b in zip(codes, bottles, strict=True) if b == name]
                for name in TWO
                if bottles.count(name) == 2
            )
            names = ("pair_1", "pair_2") if method == "tetrad" else ("odd_1", "odd_2")
            both = pair if knows else guess[:2]
            answers |= {(shown.name, name): code for name, code in zip(names, both, strict=True)}
        elif method == "a-not-a":
            truth = bottles[0] == test.reference
            answers[shown.name, "is_a"] = float(truth if knows else rng.random() < 0.5)
        elif method == "same-different":
            truth = bottles[0] == bottles[1]
            answers[shown.name, "same"] = float(truth if knows else rng.random() < 0.5)
        else:
            ranks = sorted(codes, key=lambda c: inside[c]) if knows else guess
            answers |= {
                (shown.name, f"order:{code}"): float(place)
                for place, code in enumerate(ranks, start=1)
            }
    return answers


def printed(folder: Path, code: str) -> str:
    """Return what a person reads on a printed sheet and in a workbook, in one line each."""
    import pypdfium2
    from openpyxl import load_workbook

    document = pypdfium2.PdfDocument(folder / "sheets" / f"{code}.pdf")
    paper = "".join(page.get_textpage().get_text_bounded() for page in document)
    document.close()
    book = load_workbook(folder / "sheets" / f"{code}.xlsx")
    cells = [str(c.value or "") for page in book for row in page.iter_rows() for c in row]
    book.close()
    return f"{' '.join(paper.split())}\n{' '.join(cells)}"


def holds(folder: Path, asked: str) -> None:
    """Hold a test's sheets to its method, on paper and as a workbook, and the page to be whole."""
    for text in printed(folder, "T1").split("\n"):
        assert asked in text
        assert "Answer every question." in text
        # what holds for a profile and contradicts a test
        for rule in ("An empty place is better", "no right answer", "mean of their places"):
            assert rule not in text
        for name in ("heated", "blank"):
            assert name not in text
    page = (folder / "report" / "report.html").read_text("utf-8").replace("\u00a0", " ")
    assert "What the " in page
    assert "come from one tank" not in page  # no tank was stated
    for broken in ("d' = inf", "d&#39; = inf", ">inf<", ">nan<"):
        assert broken not in page.partition("What the ")[2]


def run(folder: Path, skill: float = 0.9, seed: int = 3, *, every_file: bool = False):
    """Take a session folder through plan, both kinds of sheets, reading and report.

    The maker and two others, one of them in Japanese, fill workbooks in; what the rest said
    is typed into one table.
    """
    session = load(folder)
    plan = make(session, secret=b"one draw for all" * 2)  # else luck decides who guesses right
    save(plan, folder)
    write_server(plan, session)
    open_plan = load_open(session)
    if every_file:
        for part in (write_for_assessors, write_for_server):
            for path in part(session, open_plan, "A4"):
                assert path.stat().st_size > 500
    else:
        sheets = folder / "sheets"
        sheets.mkdir()
        write_sheets([open_plan.sheets["T1"]], sheets / "T1.pdf", "A4")
        for code in FILLED:
            write_sheet(open_plan.sheets[code], sheets / f"{code}.xlsx")
    rng = np.random.default_rng(seed)
    (folder / "inbox").mkdir()
    returned, rows = [folder / "inbox" / "typed.csv"], ["assessor,code,attribute,score"]
    for sheet in plan.sheets:
        target = folder / "inbox" / f"{sheet.assessor}.xlsx"
        answers = said(session, plan, sheet, rng, skill)
        if sheet.assessor in FILLED:
            fill_workbook(sheet, folder / "sheets" / f"{sheet.assessor}.xlsx", target, answers)
            returned.append(target)
            continue
        for (cup, attribute), value in answers.items():
            rows.append(f"{sheet.assessor},{cup},{attribute},{value}")
    returned[0].write_text("\n".join(rows) + "\n", "utf-8")
    with Store(folder) as store:
        taken = take_in(open_plan, store, returned)
        assert not taken.faults, [fault.message() for fault in taken.faults]
        state = status(session, open_plan, store)
        assert not state.out
        context = open_context(session, open_plan, store, "test")
        report = build(context)
        write(report, context)
    found = json.loads((folder / "report" / "results.json").read_text("utf-8"))
    return session, plan, found


@pytest.mark.parametrize("case", list(CASES))
def test_each_test_from_plan_to_report(folder, case: str):
    method, test, replicates = CASES[case]
    path = folder(method, test, serving={"replicates": replicates})
    session, plan, found = run(path, every_file=case in {"triangle", "a-not-a"})
    asked = ASKED.get(method, "Which cup is drier? If ")
    if method == "paired":
        asked += "neither is, mark" if "ties" in test else "you cannot tell, guess."
    holds(path, asked)
    result = found["test"]["results"][0]
    assert found["test"]["method"] == method
    # the maker answers and stands outside the count
    assert found["test"]["answers"] == 8 * replicates
    assert found["test"]["unusable"] == 0
    assert result["p"] < 0.05
    if method in {"triangle", "duo-trio", "3-afc", "tetrad", "two-out-of-five"}:
        assert result["n"] == 8
        expected = difference(method, result["correct"], 8).to_dict()
        assert result == expected
    page = (session.folder / "report" / "report.html").read_text("utf-8").replace("\u00a0", " ")
    assert "The maker (M1)" in page
    assert (
        f"9 assessors answered (1 × maker, 8 × trained). 2 bottles; served to each: {HAD[method]}."
        in page
    )
    # nothing that assessors get names a bottle
    for sheet in plan.sheets:
        assert not any(name in repr(sheet) for name in TWO)


def test_ranking_of_all_samples(folder):
    names = ("one", "two", "three", "four")
    path = folder("ranking", "expected_order = ['four', 'one', 'three', 'two']", bottles=names)
    _, _, found = run(path)
    holds(path, ASKED["ranking"])
    trend, ranking = found["test"]["results"]
    page = (path / "report" / "report.html").read_text("utf-8").replace("\u00a0", " ")
    assert "4 bottles; served to each: 1 row of 4 cups to put in order, each from another" in page
    assert trend["p"] < 0.001
    assert ranking["method"] == "exact"
    assert ranking["p"] < 0.001


@pytest.mark.parametrize(
    ("method", "test", "replicates", "flights"),
    [
        ("triangle", "", 3, [1, 1, 2]),  # two sets of three are six cups
        ("tetrad", "", 3, [1, 2, 3]),  # eight would be more
        ("a-not-a", ONCE, 8, [1, 1, 1, 1, 2, 2, 2, 2]),  # of eight cups four and four
    ],
)
def test_a_flight_holds_as_many_sets_as_its_cups_allow(folder, method, test, replicates, flights):
    path = folder(method, test, serving={"replicates": replicates, "flight_size": 6})
    plan = make(load(path), secret=b"one draw for all" * 2)
    sheet = next(one for one in plan.sheets if one.assessor == "T1")
    assert [shown.flight for shown in sheet.presentations] == flights
    rests = [flights[at] != flights[at - 1] for at in range(1, len(flights))]
    assert [shown.rest_before > 0 for shown in sheet.presentations] == [False, *rests]
    assert "never the same bottle" not in " ".join(map(str, plan.notes))  # in a set they are


def test_ranking_in_incomplete_flights(folder):
    names = tuple("abcdefg")
    path = folder("ranking", "per_flight = 3", bottles=names, assessors=15)
    session, plan, found = run(path)
    holds(path, ASKED["ranking"])
    result = found["test"]["results"][0]
    assert result["samples"] == 7
    assert result["p"] < 0.05
    assert "Efficiency" in " ".join(str(note) for note in plan.notes)
    pairs = Counter(
        pair
        for one in session.assessors
        for pair in combinations(sorted(p.bottle for p in plan.pours if p.assessor == one.code), 2)
    )
    assert max(pairs.values()) - min(pairs.values()) <= 1


def test_threshold(folder):
    names = ("blank", "s1", "s2", "s3", "s4")
    levels = "levels = { s1 = 0.5, s2 = 1, s3 = 2, s4 = 4 }\nreference = 'blank'"
    path = folder("threshold", levels, bottles=names, assessors=9)
    _, plan, found = run(path, skill=0.5)
    holds(path, ASKED["threshold"])
    result = found["test"]["results"][0]
    page = (path / "report" / "report.html").read_text("utf-8").replace("\u00a0", " ")
    assert "served to each: 4 sets of three cups, two of them blanks." in page
    assert result["steps"] == 4
    assert result["assessors"] == 8
    for assessor in {p.assessor for p in plan.pours}:
        own = [p for p in plan.pours if p.assessor == assessor]
        spiked = [
            next(p.bottle for p in own if p.presentation == n and p.bottle != "blank")
            for n in range(1, 5)
        ]
        assert spiked == ["s1", "s2", "s3", "s4"]


@pytest.mark.parametrize("method", list(ORDERS))
@pytest.mark.parametrize(("assessors", "each"), [(12, 1), (7, 2), (5, 3)])
def test_orders_are_balanced_over_all_presentations(method: str, assessors: int, each: int):
    orders = ORDERS[method]
    hands = dealt(orders, assessors, each, seed=4)
    every = Counter(order for hand in hands for order in hand)
    assert sum(every.values()) == assessors * each
    assert max(every.values()) - min(every.get(order, 0) for order in orders) <= 1
    if assessors * each % len(orders) == 0:
        assert unevenness([o for hand in hands for o in hand], orders) == pytest.approx((0, 0))
    assert dealt(orders, assessors, each, seed=4) == hands


@pytest.mark.parametrize(
    ("orders", "n"),
    [(ORDERS["triangle"], 8), (ORDERS["triangle"], 10), (ORDERS["duo-trio"], 6),
     (ORDERS["tetrad"], 8), (ORDERS["tetrad"], 9), (ORDERS["two-out-of-five"], 3)],
)  # fmt: skip
def test_bottles_stand_at_each_place_as_evenly_as_can_be(orders: tuple[str, ...], n: int):
    """By enumeration of every choice of what is left over, whatever the lot."""
    rounds, rest = divmod(n, len(orders))
    least = min(
        unevenness([*orders * rounds, *some], orders) for some in combinations(orders, rest)
    )
    for seed in range(12):
        given = [order for hand in dealt(orders, n, 1, seed=seed) for order in hand]
        assert unevenness(given, orders) == pytest.approx(least)
    if not n % 2:
        at, _ = stood(given)
        assert at == [n // 2] * len(orders[0])  # four and four, where it could be


@pytest.mark.parametrize(("n", "even"), [(4, True), (5, False), (3, False)])
def test_as_evenly_as_could_be_is_said_only_where_it_is_true(n: int, even: bool):
    """Of eight sets of three, each bottle can stand four times at each place."""
    every, _ = stood(ORDERS["triangle"])
    assert as_even([4, n, 4], every, 8 / 6) is even


def test_orders_are_all_there_are():
    """By enumeration: every arrangement of the cups that the test allows, once."""
    from itertools import permutations

    served = {
        "triangle": ("AAB", "ABB"),
        "tetrad": ("AABB",),
        "3-afc": ("AAB",),
        "two-out-of-five": ("AABBB", "AAABB"),
        "paired": ("AB",),
    }
    for method, cups in served.items():
        every = {"".join(order) for cup in cups for order in permutations(cup)}
        assert set(ORDERS[method]) == every
        assert len(ORDERS[method]) == len(every)


def test_codes_of_one_assessor_never_repeat(folder):
    for codes in ("shared", "per-assessor"):
        path = folder("two-out-of-five", serving={"codes": codes, "replicates": 2})
        plan = make(load(path))
        for sheet in plan.sheets:
            codes_ = [c for shown in sheet.presentations for c in shown.codes]
            assert len(set(codes_)) == len(codes_) == 10


def test_a_triangle_on_cloudy_and_clear_tests_the_eye(folder):
    fraction = {TWO[0]: "clear", TWO[1]: "cloudy"}
    bare = folder("triangle", serving={"masking": "none"}, fraction=fraction)
    with pytest.raises(PlanRefused, match="would test the eye"):
        make(load(bare))
    masked = folder("triangle", serving={"masking": "opaque"}, fraction=fraction)
    assert "texture alone" in " ".join(str(note) for note in make(load(masked)).notes)


def test_five_tasters_cannot_show_similarity(folder):
    test = "purpose = 'similarity'\npd = 0.3\nbeta = 0.05"
    small = folder("triangle", test, assessors=6)  # five and the maker
    with pytest.raises(PlanRefused, match="5 assessors cannot show similarity") as refused:
        make(load(small))
    assert "write `accept_small = true` below `[test]` in session.toml" in str(refused.value)
    allowed = folder("triangle", f"{test}\naccept_small = true", assessors=6)
    _, _, found = run(allowed, skill=0.0)
    result = found["test"]["results"][0]
    assert result["too_small"]
    assert not result["shown"]
    assert any("too small to show similarity" in line for line in found["short"])
    large = folder("triangle", test, assessors=50)
    assert "8 times in 10" in " ".join(str(note) for note in make(load(large)).notes)


def test_the_reference_of_a_duo_trio_cannot_be_chosen(folder):
    path = folder("duo-trio")
    session = load(path)
    plan = make(session)
    save(plan, path)
    shown = plan.sheets[1].presentations[0]
    rows = ["assessor,code,attribute,score", f"T1,{shown.name},like_first,{shown.codes[0]}"]
    typed = path / "typed.csv"
    typed.write_text("\n".join(rows), "utf-8")
    with Store(path) as store:
        taken = take_in(load_open(session), store, [typed])
    assert taken.added == 0
    (fault,) = taken.faults
    assert f"Choose one of: {shown.codes[1]}; {shown.codes[2]}." in fault.message()


def test_two_tasters_cannot_find_a_difference(folder):
    with pytest.raises(PlanRefused, match="even all right"):
        make(load(folder("triangle", assessors=3)))


@pytest.mark.parametrize(
    ("method", "test", "more", "words"),
    [
        ("triangle", "", {"bottles": ("a1", "b1", "c1")}, "compares two samples"),
        ("ranking", "", {}, "three samples at least"),
        ("ranking", "per_flight = 9", {"bottles": ("a1", "b1", "c1")}, "per_flight"),
        ("duo-trio", "constant_reference = true", {}, "needs reference"),
        ("duo-trio", "reference = 'other'", {}, "no sample of bottles.csv"),
        ("3-afc", "", {}, "needs stronger"),
        ("threshold", "reference = 'once heated'", {}, "three levels"),
        ("triangle", "purpose = 'similarity'", {}, "stated before the session"),
        ("a-not-a", "purpose = 'similarity'", {}, "has none here"),
        ("triangle", "ties = true", {}, 'method = "paired"'),
        ("ranking", "expected_order = ['a1']", {"bottles": ("a1", "b1", "c1")}, "sample once"),
        ("triangle", "alpha = 5", {}, "alpha"),
        ("square", "", {}, "triangle"),
    ],
)
def test_what_a_session_must_say(folder, method: str, test: str, more: dict, words: str):
    with pytest.raises(FolderFault) as refused:
        load(folder(method, test, **more))
    assert words in str(refused.value)


def test_unusable_answers_are_left_out_and_told(folder):
    path = folder("tetrad")
    session = load(path)
    plan = make(session)
    save(plan, path)
    open_plan = load_open(session)
    rows = ["assessor,code,attribute,score"]
    for sheet in plan.sheets:
        shown = sheet.presentations[0]
        second = shown.codes[0] if sheet.assessor == "T2" else shown.codes[1]
        rows.append(f"{sheet.assessor},{shown.name},pair_1,{shown.codes[0]}")
        rows.append(f"{sheet.assessor},{shown.name},pair_2,{second}")
    typed = path / "typed.csv"
    typed.write_text("\n".join(rows), "utf-8")
    with Store(path) as store:
        taken = take_in(open_plan, store, [typed])
        assert taken.added == 18
        context = open_context(session, open_plan, store, "test")
        write(build(context), context)
    found = json.loads((path / "report" / "results.json").read_text("utf-8"))
    assert (found["test"]["answers"], found["test"]["unusable"]) == (7, 1)


def test_no_code_asks_for_the_name_of_a_method():
    """What differs between methods stands in one table; the rest asks it for facts."""
    import ast

    from house_plan import sources

    asked = [
        f"{module}:{node.lineno}"
        for module, path in sources().items()
        if ".method" in (text := path.read_text("utf-8"))
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Compare)
        and ast.unparse(node.left).endswith(("settings.method", "method.name"))
    ]
    assert asked == []


@pytest.mark.parametrize(("n", "small"), [(5, True), (60, False)])
def test_a_test_too_small_for_similarity_draws_no_limit_of_it(n: int, small: bool):
    result = similarity("triangle", n // 3, n, pd=0.3, beta=0.05)
    assert result.too_small is small
    drawn = " ".join(text.get_text() for text in set_test._figure(result, "en").axes[0].texts)
    assert ("or fewer: similar" in drawn) is not small
    assert ("no count of 5 shows similarity" in drawn) is small


@pytest.mark.parametrize("language", ["en", "ja"])
def test_the_figure_of_similarity_shows_what_it_was_tested_against(language: str):
    """Bars of guessing, bars where just 30 % can tell; the count with its limits, and the most."""
    result = similarity("triangle", 20, 60, pd=0.3, beta=0.05)
    for narrow in (False, True):
        axes = set_test._figure(result, language, narrow=narrow).axes[0]
        guessed, tested = axes.containers
        share = 1 / 3 + 0.3 * 2 / 3  # Abbott
        assert [bar.get_height() for bar in guessed] == pytest.approx(
            binom.pmf(range(61), 60, 1 / 3)
        )
        assert [bar.get_height() for bar in tested] == pytest.approx(
            binom.pmf(range(61), 60, share)
        )
        assert "30 %" in tested.get_label()
        limits = axes.lines[1].get_xdata()
        exact = binomtest(20, 60).proportion_ci(0.95)
        assert list(limits) == pytest.approx([60 * exact.low, 60 * exact.high], rel=1e-6)
        assert list(axes.lines[-1].get_xdata()) == [result.most + 0.5] * 2
        assert binom.cdf(result.most, 60, share) <= 0.05 < binom.cdf(result.most + 1, 60, share)


def test_presentations_follow_the_roster_and_codes_stay_on_a_line(folder):
    path = folder("triangle", assessors=12)
    run(path)
    page = (path / "report" / "report.html").read_text("utf-8")
    own = re.findall(r"<t[hd][^>]*>(M1|T\d+)</t[hd]>", page)
    assert own == ["M1", *(f"T{i}" for i in range(1, 12))]
    assert re.search(r">\d{3}\u00a0\d{3}\u00a0\d{3}<", page)
