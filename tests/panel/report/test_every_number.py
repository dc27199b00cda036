"""Every number on the demonstration's page is worked out again, or is of a stated kind."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
import more_told_again
import overview_again
import page_again
from claims_again import PAIRS
from page_again import BOTTLES, KINDS, Again
from report_rules import ONE_PAGE, Told, letters_of_first_page

HELD_BELOW = ("Claimed", "Not named", "People who go along")
"""Columns of tables that are held row by row."""
NUMBER = re.compile(r"\d+(?:\.\d+)?")
KIND = re.compile("|".join(KINDS.values()))
OTHER_SCALE = r"4 points wide: sweetness against acidity, from about {} points"
"""From -2 to 2, as the line of the demonstration's sheet runs."""


@pytest.fixture(scope="module")
def again(demo) -> Again:
    return Again(demo)


@pytest.fixture(scope="module")
def page(demo) -> Told:
    text = (demo / "report/report.html").read_text("utf-8").replace("\u2060", "")
    return Told("demo", text, {}, [], {}, {}, 2, (0, 10), {})


@pytest.fixture(scope="module")
def results(demo) -> dict:
    return json.loads((demo / "report/results.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def book(demo) -> dict[str, pd.DataFrame]:
    return pd.read_excel(demo / "report/tables.xlsx", sheet_name=None, engine="openpyxl")


@pytest.fixture(scope="module")
def claims(results) -> dict[tuple[str, str], dict]:
    rows = results["differ"]["claims"]["table"]
    return {(row["kind"], row["about"]): row for row in rows}


@pytest.fixture(scope="module")
def parts(again) -> list[str]:
    modules = (page_again, overview_again, more_told_again)
    return [part for one in modules for part in one.fragments(again)]


def unaccounted(text: str, parts: list[str]) -> list[str]:
    """Return the numbers of a text that stand in no part worked out, and are of no kind."""
    spans = [found.span() for found in KIND.finditer(text)]
    low = text.casefold()
    for part in parts:
        own = part.casefold()
        at = low.find(own)
        while at >= 0:
            spans.append((at, at + len(own)))
            at = low.find(own, at + 1)
    return [
        one[0]
        for one in NUMBER.finditer(text)
        if not any(a <= one.start() and one.end() <= b for a, b in spans)
    ]


def cells_of(page: Told) -> dict[tuple[str, str, str, str], str]:
    """Return every cell with a number: (section, a column of its table, row, column) to text."""
    found = {}
    for key, part in page.parts.items():
        for table in part.tables:
            for row in table[1:]:
                for column, text in zip(table[0][1:], row[1:], strict=True):
                    if NUMBER.search(text):
                        found |= {(key, name, row[0], column): text for name in table[0]}
    return found


def open_cells(page: Told, again: Again, parts: list[str]) -> list[str]:
    """Return the cells that are not what was worked out, but for the tables held further below."""
    found = cells_of(page)
    want = page_again.cells(again) | overview_again.cells(again)
    want |= overview_again.methods_cells(again)
    wrong = [
        f"{key}: {found.get(key)}, not {text}"
        for key, text in want.items()
        if NUMBER.search(text) and found.get(key) != text
    ]
    held = {(key[0], *key[2:]) for key in want}
    for (part, head, row, column), text in found.items():
        elsewhere = (
            column in ("p within the budget", "Evidence")
            or any((part, name, row, column) in found for name in HELD_BELOW)
            or (part, row, column) in held
        )
        if head == column and not elsewhere:
            wrong += [f"{row}, {column}: {text}" for _ in unaccounted(text, parts)[:1]]
    return wrong


def text_of(page: Told, name: str) -> list[list[str]]:
    """Return the rows below the head of the table with a column of this name."""
    tables = [table for part in page.parts.values() for table in part.tables]
    return next(table[1:] for table in tables if name in table[0])


def _lines(again: Again) -> list[tuple[float, float]]:
    return [again.limits[name] for name in again.lines]


def near(p: float, own: float, shuffles: int = 2000) -> bool:
    """Tell whether two runs of shuffles agree: within 4.5 standard errors of their difference."""
    error = np.sqrt(2 * max(own * (1 - own), 1 / shuffles) / shuffles)
    return abs(p - own) <= 4.5 * error * page_again.WHOLE / page_again.BUDGET


def without_lead(line: str, again: Again) -> str:
    """Return a line without the size from which a lead is found, which is held here."""
    lead = re.search(r"name (.+) \(.* found from about (\S+) points on", line)
    if not lead:
        return line
    name = next(one for one in again.lines if page_again.label(one).lower() == lead[1])
    assert float(lead[2]) == pytest.approx(again.limits[name][1], abs=0.1501)
    return line.replace(lead[2], "")


def test_every_number_in_a_sentence_is_worked_out_or_of_a_stated_kind(page, parts, again):
    median = [page_again.plainly(np.median([pair[n] for pair in _lines(again)])) for n in (0, 1)]
    ends = [page_again.plainly(end([pair[0] for pair in _lines(again)])) for end in (min, max)]
    # What shuffles leave free is held to the tenth by the next test; here to two tenths.
    power = re.compile(
        r"A difference of about (\S+) points \((\S+) to (\S+) by attribute\)|"
        r"named before the tasting, it would be about (\S+) points"
    )
    other = OTHER_SCALE.format(r"(\S+)")
    balance = page_again.plainly(again.limits["sweetness_balance"][0])
    for line in [line for part in page.parts.values() for line in [*part.lines, *part.heads]]:
        told = power.search(line)
        if told:
            stated = [float(one) for one in told.groups() if one]
            own = [median[0], *ends] if len(stated) == 3 else [median[1]]
            assert stated == pytest.approx([float(one) for one in own], abs=0.1001)
        beside = re.search(other, line)
        assert not beside or float(beside[1]) == pytest.approx(float(balance), abs=0.1001)
        told = re.sub(other, "", power.sub("", without_lead(line, again)))
        assert unaccounted(told, parts) == [], line


def test_the_first_page_is_one_page(page):
    assert letters_of_first_page(page) <= ONE_PAGE


def test_every_part_that_is_worked_out_stands_on_the_page(page, parts, again):
    tabled = more_told_again.stands_out(again)  # row by row below
    missing = [part for part in parts if part.casefold() not in page.text]
    assert [part for part in missing if part not in tabled] == []
    assert len(parts) > 100


def test_what_a_bottle_stands_out_in_is_worked_out_row_by_row(page, again):
    rows = [
        [" ".join(cell.split()) for cell in row] for row in text_of(page, "People who go along")
    ]
    assert rows == more_told_again.rows_of_what_stands_out(again)
    assert len(rows) > 20


def test_every_cell_with_a_number_is_worked_out(page, again, parts):
    assert open_cells(page, again, parts) == []


def test_the_evidence_for_a_label_is_worked_out(page, again):
    names = {page_again.label(name).lower(): name for name in again.scaled}
    rows = {row[0]: row[-1] for row in text_of(page, "Evidence")}
    assert rows["cloudy"].startswith("held back")
    for bottle in ("free-run", "clear"):
        parts = rows[bottle].split("; ")
        assert len(parts) >= 4
        for part in parts:
            name, _, means = part.partition(": ")
            assert means.startswith(bottle)
            for mean in means.split(", "):
                sample, _, value = mean.rpartition(" ")
                assert value == page_again.plainly(again.mean_limits[names[name], sample][0]), part


def test_the_table_of_pairs_is_worked_out(page, again):
    shown = [tuple(row) for row in text_of(page, "Claimed")]
    own = page_again.rows_of_pairs(again)
    assert set(shown) <= own
    assert {row for row in own if row[-1] == "yes"} <= set(shown)
    assert {row[0] for row in own} == {row[0] for row in shown}
    assert len(shown) == len(set(shown)) == 3 * len(again.scaled)


def test_p_within_the_budget_agrees_with_shuffles_of_our_own(page, again, claims, book):
    for row in text_of(page, "p within the budget"):
        name = next(name for name in again.scaled if page_again.label(name) == row[0])
        kind = "balance" if name == "sweetness_balance" else "scale"
        own = again.adjusted[kind, name][0]
        written = row[-1].removeprefix("p = ")
        assert near(0.0005 if "<" in written else float(written), own), (name, row, own)
    in_book = book["claims"]
    for number, (key, row) in enumerate(claims.items()):
        own = again.adjusted.get(key, (1.0, None))[0]
        assert near(row["p_adjusted"], own), (key, row["p_adjusted"], own)
        assert in_book["p_adjusted"][number] == pytest.approx(row["p_adjusted"])
        assert row["claimed"] == (own <= page_again.WHOLE), key


def test_what_could_have_been_found_is_worked_out(page, again, results, book):
    in_json = {row["about"]: row for row in results["limits"]}
    in_book = book["detectable"].set_index("about")
    in_book.index = list(in_json)  # the book has names, in the same order
    shown = {row[0]: row[1:] for row in text_of(page, "Not named")}
    assert len(shown) == len(again.scaled)
    for name, both in again.limits.items():
        top = 20 if "-" in name else 4 if name == "sweetness_balance" else 10
        for place, (column, own) in enumerate(zip(("unnamed", "named"), both, strict=True)):
            if own > 0.98 * top:
                continue
            # the level comes from 2,000 shuffles each: about 10 % of it, 3 % of the difference
            assert in_json[name][column] == pytest.approx(own, rel=0.06), (name, column)
            assert in_book.loc[name, column] == pytest.approx(in_json[name][column])
            if "-" not in name:
                cell = shown[page_again.label(name)][place]
                assert cell == page_again.plainly(in_json[name][column])


def test_questions_in_json_and_workbook_are_worked_out(again, claims, book):
    """p, t and standard deviation of each question, as no shuffle touches them."""
    in_book = book["claims"]
    for number, (key, row) in enumerate(claims.items()):
        one = next((one for one in again.questions if (one.kind, one.about) == key), None)
        if one is None:
            assert not row["tested"], key
            continue
        assert row["statistic"] == pytest.approx(one.t.max(), rel=0.05 if not key[1] else 1e-6)
        if key[1]:
            assert row["sd"] == pytest.approx(np.sqrt(one.variance))
            assert row["p"] == pytest.approx(one.p[0], rel=0.01) or one.p[0] < 1e-3
        for column in ("statistic", "sd", "p", "needed"):
            if row[column] is not None:
                assert in_book[column][number] == pytest.approx(row[column])


def test_pairs_in_json_and_workbook_are_worked_out(again, results, book):
    rows = results["differ"]["claims"]["pairs"]
    assert len(rows) == len(book["pairs"]) >= 120
    for number, row in enumerate(rows):
        one = again.question(row["kind"], row["about"])
        place = next(
            n for n, (a, b) in enumerate(PAIRS)
            if (BOTTLES[a], BOTTLES[b]) == (row["sample_a"], row["sample_b"])
        )  # fmt: skip
        gap = one.effects[PAIRS[place][0]] - one.effects[PAIRS[place][1]]
        assert row["difference"] == pytest.approx(gap, abs=1e-9)
        if one.by_t:
            half = stats.t.ppf(0.975, one.df) * one.se[place]
            limits = gap - half, gap + half
            assert row["p"] == pytest.approx(2 * stats.t.sf(one.t[place], one.df), abs=1e-9)
        elif np.isin(one.cells, (0, 1)).all():
            limits = page_again.tango(one.cells[:, list(PAIRS[place])])
        else:
            half = stats.norm.ppf(0.975) * one.se[place]
            limits = max(gap - half, -1), min(gap + half, 1)
        assert (row["low"], row["high"]) == pytest.approx(limits, abs=1e-5), row
        assert near(row["p_adjusted"], again.adjusted[row["kind"], row["about"]][1][place])
        for column in ("difference", "low", "high", "p", "p_adjusted"):
            assert book["pairs"][column][number] == pytest.approx(row[column])


def test_maker_map_stages_and_agreement_in_json_and_workbook(again, results, book):
    for number, row in enumerate(results["maker"]["shifts"]):
        wide = again.everybodys(row["attribute"])
        level = page_again.levels_of(wide)
        rest = level.drop("M1")
        se = max(rest.std(), np.sqrt(again.floor_all(row["attribute"]) / 3)) * np.sqrt(1 + 1 / 7)
        shift = level["M1"] - rest.mean()
        reach = stats.t.ppf(0.975, 6) * se
        assert row["shift"] == pytest.approx(shift)
        assert (row["low"], row["high"]) == pytest.approx((shift - reach, shift + reach))
        assert row["p"] == pytest.approx(2 * stats.t.sf(abs(shift / se), 6))
        for column in ("shift", "low", "high", "spread", "t", "p"):
            assert book["maker_shifts"][column][number] == pytest.approx(row[column])
    shares = [row["share"] for row in results["layout"]["eigenvalues"]]
    assert shares == pytest.approx(list(again.plane), rel=1e-6)
    points = pd.DataFrame(results["layout"]["points"]).set_index("sample")
    assert book["map_points"].set_index("sample")["dim1"].to_numpy() == pytest.approx(
        points["dim1"].to_numpy()
    )
    sizes = [(points[one] ** 2).sum() for one in ("dim1", "dim2")]
    assert sizes == pytest.approx(again.plane_sizes(), rel=1e-6)
    for row in results["stages"]:
        mean, low, high = again.mean_limits[row["attribute"], row["sample"]]
        ends = (max(low, 0), min(high, 10))
        assert (row["mean"], row["low"], row["high"]) == pytest.approx((mean, *ends), rel=1e-4)
    agreed = book["agreement"].set_index(["attribute", "measure"])
    for name, (consistent, low, high, absolute) in again.agreement.items():
        spoken = page_again.label(name)
        own = agreed.loc[(spoken, "ICC(C,1)"), ["estimate", "low", "high"]].tolist()
        assert own == pytest.approx([consistent, low, high], abs=1e-4)
        assert agreed.loc[(spoken, "ICC(A,1)"), "estimate"] == pytest.approx(absolute, abs=1e-4)
        measures = results["trust"]["attributes"][name]["measures"]
        in_json = {row["measure"]: row["estimate"] for row in measures}
        assert in_json["ICC(C,1)"] == pytest.approx(consistent, abs=1e-4)


def test_means_with_holes_are_worked_out(again, results, book):
    """REML with Satterthwaite's degrees of freedom, on dense matrices."""
    in_book = book["means"].set_index(["attribute", "sample"])
    for (name, bottle), (mean, low, high) in again.mean_limits.items():
        if name not in again.scaled:
            continue
        rows = results["differ"]["attributes"][name]["means"]
        row = next(row for row in rows if row["sample"] == bottle)
        told = [row["mean"], row["low"], row["high"]]
        assert told == pytest.approx([mean, low, high], abs=2e-3), name
        own = in_book.loc[(page_again.label(name), bottle), ["mean", "low", "high"]].tolist()
        assert own == pytest.approx(told)


def test_every_number_in_the_statements_of_json_is_accounted_for(results, parts, again):
    power = re.compile(
        r"A difference of about .* by attribute|it would be about \S+ points|"
        + OTHER_SCALE.format(r"\S+")
    )
    said = [one["sentence"] for one in results["statements"]] + results["short"]
    said += [one["text"] for one in results["decide"]]
    for text in said:
        plain = re.sub(r"(?<![\w-])-(?=\d)", "−", power.sub("", without_lead(text, again)))
        assert unaccounted(plain, parts) == [], text


@pytest.mark.parametrize(
    "part",
    ["(8.0, 8.9) higher than cloudy (1.2)", "cloudy 7 of 7, clear 2 of 7", "(0.74, 95 % interval",
     "have 0.018 tasted", "Of the 18 differences", "shows 100 % of the variation (86 % and",
     "N1 −0.2, N2 0.0", "from 12 assessors on"],
)  # fmt: skip
def test_a_changed_number_in_a_sentence_is_found(page, parts, part):
    line = next(x for one in page.parts.values() for x in one.lines if part in x)
    for found in NUMBER.finditer(part):
        value = found[0]
        other = f"{float(value) + 1:g}" if "." not in value else f"{float(value) + 0.13:.2f}"
        changed = line.replace(part, part[: found.start()] + other + part[found.end() :])
        if not KIND.search(part[max(found.start() - 2, 0) :]):
            assert unaccounted(changed, parts), changed


def test_notes_on_method_stand_only_where_they_are_of_use(page):
    text = " ".join(page.text.split()).casefold()
    for note, of in (
        ("a dash means that the difference", "wider than the scale"),
        ("'at least' is the one-sided", "that shows that at least"),
        ("alpha of krippendorff stands instead", "krippendorff's alpha (ordinal)"),
    ):
        assert (note in text) == (of in text.replace(note, "")), note
