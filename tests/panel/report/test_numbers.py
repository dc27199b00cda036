"""Every number of the demonstration's report, worked out again from ``scores.csv``.

Only pandas, scipy and statsmodels are used here, never this program: means and their
intervals by mean squares (Satterthwaite), F over the bottles, exact and t intervals,
counts. They are looked up in all three outputs: page, workbook and results.json.
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy import optimize, stats
from statsmodels.stats.anova import anova_lm

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
import claims_again
from kikichoko.analysis.core.words import CATALOGUE
from page_again import alike, edge, plainly
from report_rules import Told

BOTTLES = ["free-run", "clear", "cloudy"]
NUMBERS = {"free-run": (1.5, 1.5), "clear": (1.0, 1.6), "cloudy": (0.5, 1.7)}
"""Meter value and acidity as bottles.csv of the demonstration states them."""
ASIDE = ("release", "sweetness_expected")
"""What a taster advises or expects: no property of the bottle, kept out of tests and means."""
WORDS = {
    "aroma:muscat": "muscat grape",
    "aroma:flower": "flowers",
    "aroma:milk": "fresh milk",
    "aroma:herb": "green herbs",
    "aroma:nut": "nuts",
}


@pytest.fixture(scope="module")
def everybody(demo) -> pd.DataFrame:
    return pd.read_csv(demo / "scores.csv")


@pytest.fixture(scope="module")
def scores(everybody) -> pd.DataFrame:
    """The panel's rows: the maker stands outside the means."""
    return everybody[everybody["assessor"] != "M1"]


@pytest.fixture(scope="module")
def results(demo) -> dict:
    return json.loads((demo / "report/results.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def book(demo) -> dict[str, pd.DataFrame]:
    return pd.read_excel(demo / "report/tables.xlsx", sheet_name=None, engine="openpyxl")


@pytest.fixture(scope="module")
def page(demo) -> Told:
    """The page taken apart."""
    text = (demo / "report/report.html").read_text("utf-8").replace("\u2060", "")
    return Told("demo", text, {}, [], {}, {}, 2, (0, 10), {})


@pytest.fixture(scope="module")
def complete(scores) -> dict[str, pd.DataFrame]:
    """Scaled attributes in which everybody of the panel gave every bottle both its marks."""
    found = {}
    for name, own in scores.groupby("attribute"):
        cells = own.groupby(["assessor", "sample"]).size()
        if name not in ASIDE and ":" not in name and len(cells) == 21 and (cells == 2).all():
            found[name] = own
    assert len(found) >= 15
    return found


def mean_squares(own: pd.DataFrame) -> dict[str, float]:
    """Return the mean squares of the full two-way layout, by statsmodels."""
    fitted = smf.ols("score ~ C(assessor) * C(sample)", own).fit()
    table = anova_lm(fitted)
    squares = (table["sum_sq"] / table["df"]).to_dict()
    return {
        "assessor": squares["C(assessor)"],
        "sample": squares["C(sample)"],
        "both": squares["C(assessor):C(sample)"],
    }


def label(attribute: str) -> str:
    """Return what people read for an attribute: the workbook's and the page's name."""
    return {"quality": "Overall quality", "finish_length": "Left after a minute",
            "body": "Fullness", "aroma_intensity": "Smell of the still cup",
            "colour": "Depth of colour", "clean_cut": "Clean cut-off", "texture": "Smoothness",
            "flavour_intensity": "Aroma in the mouth", "cloying": "Tiring",
            "sweetness_first": "First sweetness", "sweetness_after": "Sweetness that stays",
            "bitterness_after": "Bitterness that comes",
            "sweetness_balance": "Sweetness against acidity"}.get(
        attribute, attribute.replace("_", " ").capitalize()
    )  # fmt: skip


def table_of(page: Told, section: str, column: str) -> list[list[str]]:
    """Return the first table of a section that has a column."""
    tables = page.parts[section].tables
    return next(table for table in tables if column in table[0])


def test_means_intervals_and_tests(complete, results, book, page):
    shown = {row[0]: row for row in table_of(page, "differ", "free-run")}
    head = shown["Attribute"]
    for name, own in complete.items():
        squares = mean_squares(own)
        people, bottles, times = 7, 3, 2
        f = squares["sample"] / squares["both"]
        df = (people - 1) * (bottles - 1)
        in_json = results["differ"]["attributes"][name]
        assert in_json["sample"]["F"] == pytest.approx(f, rel=1e-6)
        assert in_json["sample"]["p"] == pytest.approx(stats.f.sf(f, 2, df), rel=1e-6)
        tests = book["tests"].set_index("attribute")
        spoken = label(name)
        assert tests.loc[spoken, "F"] == pytest.approx(f, rel=1e-6)
        parts = squares["assessor"], (bottles - 1) * squares["both"]
        se = np.sqrt(sum(parts) / (people * bottles * times))
        df_mean = sum(parts) ** 2 / (parts[0] ** 2 / (people - 1) + parts[1] ** 2 / df)
        half = stats.t.ppf(0.975, df_mean) * se
        means = own.groupby("sample")["score"].mean()
        in_book = book["means"].set_index(["attribute", "sample"])
        for one in in_json["means"]:
            bottle = one["sample"]
            assert one["mean"] == pytest.approx(means[bottle])
            if squares["assessor"] > squares["both"]:  # else a component falls below 0
                assert one["high"] - one["mean"] == pytest.approx(half, rel=1e-6)
            assert in_book.loc[(spoken, bottle), "mean"] == pytest.approx(means[bottle])
            cell = shown[spoken][head.index(bottle)]
            assert cell.startswith(plainly(means[bottle])), (name, cell)


def test_p_of_each_question_is_that_of_f_over_three_bottles(complete, results):
    """F over the error assessor x bottle, and t of the widest pair; scipy."""
    in_json = {(row["kind"], row["about"]): row for row in results["differ"]["claims"]["table"]}
    for name, own in complete.items():
        kind = "balance" if name == "sweetness_balance" else "scale"
        cells = own.groupby(["assessor", "sample"])["score"].mean().reset_index()
        error = mean_squares(own)["both"] / 2
        means = cells.groupby("sample")["score"].mean()
        plain = np.sqrt(2 * error / 7)
        row = in_json[kind, name]
        step = 1.0 if kind == "balance" else 0.5
        if error <= step**2 / 12 / 2:  # never below what writing in steps makes
            continue
        pairs = [one for one in results["differ"]["claims"]["pairs"] if one["about"] == name]
        se = [(one["high"] - one["low"]) / 2 / stats.t.ppf(0.975, 12) for one in pairs]
        # A bottle that scatters more than the others has wider pairs; none is narrower.
        assert plain * (1 - 1e-9) <= min(se) <= max(se) <= 1.5 * plain
        gaps = [means[one["sample_a"]] - means[one["sample_b"]] for one in pairs]
        assert [one["difference"] for one in pairs] == pytest.approx(gaps)
        t = max(abs(gap) / own_se for gap, own_se in zip(gaps, se, strict=True))
        assert row["statistic"] == pytest.approx(t, rel=1e-6)
        # F over the three bottles; where one scatters more, weighted by their own variances.
        own_variances = np.linalg.solve([[1, 1, 0], [1, 0, 1], [0, 1, 1]], np.square(se))
        level = np.average(means[list(BOTTLES)], weights=1 / own_variances)
        f = ((means[list(BOTTLES)] - level) ** 2 / own_variances).sum() / 2
        assert row["p"] == pytest.approx(stats.f.sf(f, 2, 12), rel=1e-6), name
        assert row["p"] <= row["p_adjusted"]


def test_claims_name_the_pairs_and_means_that_scores_have(complete, results, page):
    for one in results["statements"]:
        if one["kind"] != "claim" or one["family"] not in ("scale", "balance"):
            continue
        name = one["about"][0]
        if name not in complete:
            continue
        means = complete[name].groupby("sample")["score"].mean()
        pairs = [
            row
            for row in results["differ"]["claims"]["pairs"]
            if row["about"] == name and row["claimed"]
        ]
        assert pairs
        for row in pairs:
            gap = means[row["sample_a"]] - means[row["sample_b"]]
            assert row["difference"] == pytest.approx(gap)
            assert row["higher"] == (row["sample_a"] if gap > 0 else row["sample_b"])
            for sample in (row["sample_a"], row["sample_b"]):
                written = plainly(means[sample])
                assert written in one["sentence"].replace("-", "\u2212")
        assert one["sentence"].replace("-", "\u2212") in " ".join(
            page.parts["differ"].lines
        ).replace("-", "\u2212")


def test_what_could_have_been_found(complete, results, book, page):
    """F and t at the first step's level, the third bottle midway; numpy and scipy alone."""
    level = results["differ"]["claims"]["level_first"]
    in_book = book["detectable"].set_index("about")
    in_json = {row["about"]: row for row in results["limits"]}
    in_book.index = list(in_json)  # the book has names, in the same order
    shown = {row[0]: row for row in table_of(page, "limits", "Not named")}
    for name, own in complete.items():
        if name == "sweetness_balance" or mean_squares(own)["both"] / 2 <= 0.5**2 / 12 / 2:
            continue
        se = np.sqrt(2 * mean_squares(own)["both"] / 2 / 7)

        def missed(ratio: float) -> float:
            return claims_again.found_with(ratio, 12, level) - 0.8

        expected = optimize.brentq(missed, 0, 60) * se
        if expected > 10:
            continue
        assert in_json[name]["unnamed"] == pytest.approx(expected, rel=0.01)
        assert in_book.loc[name, "unnamed"] == pytest.approx(expected, rel=0.01)
        cell = shown[label(name)][1]
        assert float(cell) == pytest.approx(expected, abs=0.05 + 0.01 * expected)


OF_THE_CARD = ("contents", "scores", "decide", "words_ticked")
"""Worksheets whose headings are words of the page or of the card, or the tidy table's own."""


def test_every_heading_of_the_workbook_has_a_word_in_every_language(book):
    known = CATALOGUE.topic("en", "column")
    codes = {
        (name, str(head))
        for name, table in book.items() if name not in OF_THE_CARD
        for head in table.columns if re.fullmatch("[a-z][a-z_0-9]*", str(head))
    }  # fmt: skip
    assert len(codes) > 100
    assert {pair for pair in codes if pair[1] not in known} == set()


def test_the_workbook_has_names_and_numbers(book):
    """No key where people have a name, no number as text; a lot and a tank are what was written."""
    assert set(book["stages"]["attribute"]) >= {"Sweetness"}
    assert "Sweetness against acidity" in set(book["balance"]["attribute"])
    assert "Smell of the still cup" in set(book["detectable"]["about"])
    sides = book["with_and_without_maker"]
    assert set(sides["higher"]) | set(sides["lower"]) <= set(BOTTLES)
    bottles = book["bottles"].set_index("Bottle")
    for bottle, (meter, acid) in NUMBERS.items():
        assert bottles.loc[bottle, "Meter value"] == meter
        assert bottles.loc[bottle, "Acidity"] == acid
    notes = book["contents"].set_index("Worksheet")["One row is"]
    assert "as its headings say" not in set(notes)


def test_nose_and_palate(scores, results, book, page):
    wide = scores[scores["attribute"].isin(["aroma_intensity", "flavour_intensity"])]
    cells = wide.groupby(["sample", "attribute", "assessor"])["score"].mean()
    in_book = book["nose_palate"].set_index("sample")
    shown = {row[0]: row for row in table_of(page, "nose", "Palate")}
    for row in results["nose"]["table"]:
        sample = row["sample"]
        gap = cells[sample, "flavour_intensity"] - cells[sample, "aroma_intensity"]
        limits = stats.ttest_1samp(gap, 0).confidence_interval(0.95)
        assert row["difference"] == pytest.approx(gap.mean())
        assert (row["low"], row["high"]) == pytest.approx((limits.low, limits.high))
        assert in_book.loc[sample, "difference"] == pytest.approx(gap.mean())
        assert shown[sample][4] == plainly(gap.mean())


def test_sweet_and_dry_counts(scores, results, book, page):
    own = scores[scores["attribute"] == "sweetness_balance"]
    in_book = book["balance"].set_index("sample")
    text = " ".join(page.parts["sweetness"].lines)
    for row in results["sweetness"]["balance"]:
        marks = own[own["sample"] == row["sample"]].groupby("assessor")["score"]
        sides = {"too_dry": marks.apply(lambda x: (x < 0).mean()),
                 "just_right": marks.apply(lambda x: (x == 0).mean()),
                 "too_sweet": marks.apply(lambda x: (x > 0).mean())}  # fmt: skip
        for side, share in sides.items():
            k = int((share > 0.5).sum())
            assert row[side] == k
            assert in_book.loc[row["sample"], side] == k
            exact = stats.binomtest(k, row["n"]).proportion_ci(0.95, method="exact")
            assert (row[f"{side}_low"], row[f"{side}_high"]) == pytest.approx(tuple(exact))
        counted = f"{row['n']} assessors found it"
        assert counted in text or f"All {row['n']} assessors found {row['sample']}" in text


def test_the_index_of_each_bottle(results, book, page):
    shown = {row[0]: row for row in table_of(page, "sweetness", "Sweet–dry index")}
    place = shown["Bottle"].index("Sweet–dry index")
    in_book = book["index"].set_index("Bottle")
    assert in_book["Sweet–dry index"].dtype == float
    for bottle, (meter, acid) in NUMBERS.items():
        # Sato, Kawashima & Maruyama 1974, as the report prints it.
        index = 193593 / (1443 + meter) - 1.16 * acid - 132.57
        assert results["sweetness"]["chemistry"][bottle]["amakarado"] == pytest.approx(index)
        assert shown[bottle][place].replace("-", "\u2212") == plainly(index, 2)
        assert float(in_book.loc[bottle, "Sweet–dry index"]) == pytest.approx(index, abs=0.006)


def test_words_given(scores, results, book, page):
    own = scores[scores["attribute"].str.startswith("aroma:")]
    each = own.groupby(["attribute", "sample", "assessor"])["score"].mean() >= 0.5
    counts = each.groupby(level=["attribute", "sample"]).sum()
    shown = {row[0]: row for row in table_of(page, "aroma", "Word")}
    in_book = book["words_ticked"].set_index("sample")
    for (word, sample), k in counts.items():
        assert results["aroma"]["counts"][sample][word] == k
        spoken = WORDS.get(word, word.removeprefix("aroma:").replace("_", " "))
        assert in_book.loc[sample, spoken] == k
        if spoken in shown:
            assert shown[spoken][shown["Word"].index(sample)] == f"{k} / 7"


def test_faults_noted(everybody, results, book, page):
    own = everybody[everybody["attribute"].str.startswith("fault:")]
    worst = own.groupby(["attribute", "sample", "assessor"])["score"].max() > 0
    counts = worst.groupby(level=["attribute", "sample"]).agg(["sum", "size"])
    for row in results["faults"]["table"]:
        k, n = counts.loc[(row["fault"], row["sample"])]
        assert (row["k"], row["n"]) == (k, n)
        exact = stats.binomtest(int(k), int(n)).proportion_ci(0.95, method="exact")
        assert (row["low"], row["high"]) == pytest.approx(tuple(exact))
    assert book["faults"]["k"].sum() == counts["sum"].sum()
    shown = list(table_of(page, "faults", "Noted by")[1:])
    told = sorted(row[2] for row in shown)
    assert told == sorted(f"{k} / {n}" for k, n in counts.to_numpy() if k)


def coefficient(value: float) -> str:
    return "below 0" if value < -0.005 else f"{max(value, 0.0):.2f}"


def test_agreement(complete, page):
    """ICC(C,1), its limits and ICC(A,1) of McGraw and Wong 1996, from mean squares of cells."""
    shown = {row[0]: row for row in table_of(page, "trust", "Levels counted too")}
    for name, own in complete.items():
        if name == "sweetness_balance":
            continue
        cells = own.groupby(["sample", "assessor"])["score"].mean().reset_index()
        wide = cells.pivot_table(index="sample", columns="assessor", values="score").to_numpy()
        n, k = wide.shape
        grand = wide.mean()
        rows = k * ((wide.mean(axis=1) - grand) ** 2).sum() / (n - 1)
        columns = n * ((wide.mean(axis=0) - grand) ** 2).sum() / (k - 1)
        left = wide - wide.mean(axis=1)[:, None] - wide.mean(axis=0)[None, :] + grand
        error = (left**2).sum() / ((n - 1) * (k - 1))
        consistent = (rows - error) / (rows + (k - 1) * error)
        absolute = (rows - error) / (rows + (k - 1) * error + k / n * (columns - error))
        assert shown[label(name)][1] == coefficient(consistent), name
        assert shown[label(name)][4] == coefficient(absolute), name
        f = rows / error
        df = (n - 1), (n - 1) * (k - 1)
        low, high = f / stats.f.isf(0.025, *df), f * stats.f.isf(0.025, *df[::-1])
        ends = [coefficient((x - 1) / (x + k - 1)) for x in (low, high)]
        written = " to ".join(ends) if ends[0] != ends[1] else "–"
        assert shown[label(name)][2] == written, name


def test_the_maker_beside_the_others(everybody, results, book, page):
    asked = everybody[~everybody["attribute"].isin(ASIDE)]
    cells = asked.groupby(["attribute", "sample", "assessor"])["score"].mean().reset_index()
    mine = cells["assessor"] == "M1"
    keys = ["attribute", "sample"]
    maker = cells[mine].set_index(keys)["score"]
    others = cells[~mine].groupby(keys)["score"].mean()
    assert len(results["maker"]["marks"]) == 66
    for row in results["maker"]["marks"]:
        key = row["attribute"], row["sample"]
        assert row["maker"] == pytest.approx(maker[key])
        assert row["others"] == pytest.approx(others[key])
    assert book["maker"]["apart"].abs().max() == pytest.approx((maker - others).abs().max())
    shown = {row[0]: row for row in table_of(page, "maker", "free-run")}
    for sample in BOTTLES:
        cell = shown["Overall quality"][shown["Attribute"].index(sample)]
        assert cell == f"{plainly(maker['quality', sample])} / {plainly(others['quality', sample])}"


def test_the_counts_on_top(everybody, page):
    head = " ".join(page.parts["head"].lines)
    assert f"{everybody['assessor'].nunique()} assessors" in head
    assert f"{everybody['sample'].nunique()} bottles" in head


# Every number on the page, cell by cell: what is worked out above and below is counted, and a
# changed digit is found.

NUMBER = re.compile(r"\d+(?:\.\d+)?")
Cells = dict[tuple[str, str, str, str], str]


@pytest.fixture(scope="module")
def expected(demo, everybody, scores, complete) -> Cells:
    """Return what cells must hold, by section, a column of the table, row and column."""
    want: Cells = {}
    bottles = pd.read_csv(demo / "bottles.csv").set_index("bottle").loc[BOTTLES]
    heads = {"abv": "Alcohol %", "meter_value": "Meter value", "acidity": "Acidity",
             "amino_acidity": "Amino acidity", "glucose": "Glucose g/100 mL",
             "polishing": "Polishing %"}  # fmt: skip
    means = scores.groupby(["attribute", "sample", "assessor"])["score"].mean()
    each = means.groupby(level=["attribute", "sample"]).mean()
    for bottle, row in bottles.iterrows():
        for field, head in heads.items():
            want["asked", "Lot", bottle, head] = alike(bottles, field)[bottle]
        index = 193593 / (1443 + row["meter_value"]) - 1.16 * row["acidity"] - 132.57
        for head, text in {
            "Meter value": alike(bottles, "meter_value")[bottle],
            "Acidity": alike(bottles, "acidity")[bottle],
            "Sweet–dry index": plainly(index, 2),
            "Glucose − acidity": plainly(row["glucose"] - row["acidity"], 2),
            "Perceived sweetness": plainly(each["sweetness", bottle]),
            "Tiring": plainly(each["cloying", bottle]),
        }.items():  # fmt: skip
            want["sweetness", "Sweet–dry index", bottle, head] = text
    for name, own in complete.items():
        squares = mean_squares(own)
        parts = squares["assessor"], 2 * squares["both"]
        half = stats.t.ppf(0.975, sum(parts) ** 2 / (parts[0] ** 2 / 6 + parts[1] ** 2 / 12))
        half *= np.sqrt(sum(parts) / 42)
        low, high = (-2, 2) if name == "sweetness_balance" else (0, 10)
        for bottle in BOTTLES:
            mean = own.loc[own["sample"] == bottle, "score"].mean()
            ends = [edge(min(max(x, low), high)) for x in (mean - half, mean + half)]
            if squares["assessor"] > squares["both"]:  # else a component falls below 0
                key = "differ", "free-run", label(name), bottle
                want[key] = f"{plainly(mean)} ({ends[0]} to {ends[1]})"
    gaps = means["flavour_intensity"] - means["aroma_intensity"]
    for bottle in BOTTLES:
        limits = stats.ttest_1samp(gaps[bottle], 0).confidence_interval(0.95)
        for head, text in {
            "Assessors": "7", "Nose": plainly(each["aroma_intensity", bottle]),
            "Palate": plainly(each["flavour_intensity", bottle]),
            "Difference": plainly(gaps[bottle].mean()),
            "95 % interval": f"{edge(limits.low)} to {edge(limits.high)}",
        }.items():  # fmt: skip
            want["nose", "Palate", bottle, head] = text
    ticked = scores[scores["attribute"].str.startswith("aroma:")]
    given = ticked.groupby(["attribute", "sample", "assessor"])["score"].mean() >= 0.5
    for (word, bottle), k in given.groupby(level=["attribute", "sample"]).sum().items():
        spoken = WORDS.get(word, word.removeprefix("aroma:").replace("_", " "))
        want["aroma", "Word", spoken, bottle] = f"{k} / 7"
    cells = everybody.groupby(["attribute", "sample", "assessor"])["score"].mean().reset_index()
    lone = cells["assessor"] == "M1"
    for (name, bottle), rest in cells[~lone].groupby(["attribute", "sample"])["score"]:
        if ":" not in name and name not in ASIDE:
            mine = cells[lone & (cells["attribute"] == name) & (cells["sample"] == bottle)]
            text = f"{plainly(mine['score'].iloc[0])} / {plainly(rest.mean())}"
            want["maker", "free-run", label(name), bottle] = text
    advice = scores[scores["attribute"] == "release"]
    for place, head in enumerate(("Release", "Rest first", "Blend", "Hold back"), start=1):
        for bottle in BOTTLES:
            k = int(((advice["sample"] == bottle) & (advice["score"] == place)).sum())
            want["advice", "Release", bottle, head] = str(k)
    return want


def cells_of(page: Told) -> Cells:
    """Return every cell with a number: (section, a column of its table, row, column) to text."""
    found: Cells = {}
    for key, part in page.parts.items():
        for table in part.tables:
            head = table[0]
            for row in table[1:]:
                for column, text in zip(head[1:], row[1:], strict=True):
                    if NUMBER.search(text):
                        for name in head:
                            found[key, name, row[0], column] = text
    return found


def off(page: Told, want: Cells) -> list[str]:
    """Name every cell that is not what was worked out; words that nobody ticked have no row."""
    found = cells_of(page)
    return [
        f"{key}: {found.get(key)}, not {text}"
        for key, text in want.items()
        if found.get(key, "" if key[0] != "aroma" else text) != text
    ]


def test_every_cell_that_can_be_worked_out_is_what_was_worked_out(page, expected):
    wrong = off(page, expected)
    assert wrong == []
    numbers = [text for key, text in cells_of(page).items() if key[1] == key[3]]
    total = sum(len(NUMBER.findall(text)) for text in numbers)
    held = sum(len(NUMBER.findall(text)) for text in expected.values())
    # The rest: p within the budget (by shuffles), what could have been found, coefficients, pairs
    # and faults, each held by a test of its own above; words of the table of decisions.
    assert held >= 400
    assert total >= 600


@pytest.mark.parametrize(
    "key",
    [("differ", "free-run", "Sweetness", "cloudy"), ("maker", "free-run", "Umami", "clear"),
     ("nose", "Palate", "clear", "Difference"), ("aroma", "Word", "yoghurt", "cloudy"),
     ("sweetness", "Sweet–dry index", "cloudy", "Sweet–dry index")],
)  # fmt: skip
def test_a_changed_number_is_found(page, expected, key: tuple[str, str, str, str]):
    digit = NUMBER.search(cells_of(page)[key])[0]
    other = f"{float(digit) + 1:g}" if "." not in digit else f"{float(digit) + 0.1:.2f}"
    changed = {**expected, key: expected[key].replace(digit, other, 1)}
    assert [one for one in off(page, changed) if str(key) in one]
