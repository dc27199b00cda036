"""Reports of the outsider's sessions keep the outsider's rules against contradiction.

What each must say and must not say is held by rules of our own for the outsider's phrases.
A sample is held here; ``python tests/tools/report_rules.py`` and ``corpus_phrases.py`` run all.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
from corpus_phrases import holds, phrases, wrong
from corpus_sessions import recipes, reported
from report_rules import RULES, Told, broken

SAMPLE = (
    "s01", "s03", "s05", "s06", "s09", "s16", "s19", "s24", "s25", "s26", "s29", "s34", "s36",
    "s40", "s43", "s46", "s50", "s54", "s60",
)  # fmt: skip
MADE: dict[str, Told] = {}


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Return the report of a recipe, made once."""

    def of(name: str) -> Told:
        if name not in MADE:
            recipe = next(one for one in recipes() if one["id"].startswith(name))
            MADE[name] = reported(recipe, tmp_path_factory.mktemp("corpus") / recipe["id"])
        return MADE[name]

    return of


@pytest.mark.parametrize("name", SAMPLE)
def test_a_report_keeps_the_rules(told, name: str):
    assert broken(told(name)) == []


@pytest.mark.parametrize("name", SAMPLE)
def test_a_report_says_what_the_outsider_asks_and_nothing_that_must_not_be_said(told, name: str):
    recipe = next(one for one in recipes() if one["id"].startswith(name))
    assert wrong(told(name), recipe) == []


def test_every_phrase_of_every_recipe_has_its_rule():
    for recipe in recipes():
        own = phrases()[recipe["id"][:3]]
        assert len(own["must"]) == len(recipe["must_say"]), recipe["id"]
        assert all(own["must"])
        assert own["not"]
        assert all(int(place) < len(own["must"]) for place in own.get("less", {}))


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("s25", "C: 5\u00a0of\u00a05", "C: 4\u00a0of\u00a05"),
        ("s24", "No control was served", "Controls were served"),
        ("s34", "</footer>", "</footer><p>B1 is balanced</p>"),
        ("s29", "Nothing was exchanged back", "Both were exchanged back"),
    ],
)
def test_a_phrase_can_be_missed(told, name: str, old: str, new: str):
    source = told(name)
    recipe = next(one for one in recipes() if one["id"].startswith(name))
    assert old in source.page
    spoilt = Told(**{**_fields(source), "page": source.page.replace(old, new)})
    assert wrong(spoilt, recipe)


@pytest.mark.parametrize(
    ("rule", "kept"),
    [
        ("claim fruity: B1 > B4", True),
        ("claim fruity: B4 > B1", False),
        ("claim umami: B1 > B4", False),
        ("no claim", False),
        ("no claim: umami", True),
        ("no claim: acidity", False),
        ("do B1: unasked", True),
        ("do B1: pass", False),
        ("b3 .6.3. higher than b1", True),
        ("b1 .6.3. higher than b3", False),
    ],
)
def test_each_form_of_a_rule_can_hold_and_fail(told, rule: str, kept: bool):
    assert holds(told("s09"), rule) is kept


def test_as_many_rules_are_held_as_the_page_says():
    assert len(RULES) >= 70


@pytest.mark.parametrize(
    ("number", "old", "new"),
    [
        (42, "</tbody>", "<tr><th>C</th><td>release</td></tr></tbody>"),
        (80, "</footer>", "</footer><p>the mean lies between 5.0 to 5.0 points</p>"),
        (83, "</footer>", "</footer><p>in 1 bottles</p>"),
        (84, "</footer>", "</footer><p>aroma_intensity</p>"),
        (85, "</footer>", "</footer><section id='x'><h2>Nothing</h2></section>"),
        (91, "</footer>", "</footer><p>below by \u22120.0 points</p>"),
        (93, "</footer>", "</footer><p>p = 0.000</p>"),
        (94, "</footer>", "</footer><p>a highly significant result</p>"),
        (51, "</footer>", "</footer><p>the maker said so</p>"),
        (37, "</footer>", "</footer><p>the false alarm of this panel</p>"),
    ],
)
def test_a_rule_can_be_broken(told, number: int, old: str, new: str):
    source = told("s25" if number == 42 else "s09")
    page = source.page.replace(old, new, 1)
    spoilt = Told(**{**_fields(source), "page": page})
    assert list(RULES[number](spoilt)), number
    assert not list(RULES[number](source)), number


def _fields(one: Told) -> dict:
    names = (
        "name", "page", "results", "marks", "roles", "bottles", "replicates", "scale", "labels",
    )  # fmt: skip
    return {name: getattr(one, name) for name in names}


def test_one_bottle_is_a_report_about_one_bottle(told):
    box = " ".join(told("s01").box)
    assert "Only one bottle, B1, was served" in box
    assert "second bottle" in box


def test_a_split_and_unanimity_are_told(told):
    text = told("s34").text
    assert "b1 splits the panel: 3 of 6 assessors found it too dry, 3 too sweet" in text
    assert "all 6 assessors found b2 just right" in text


def test_a_word_that_tells_bottles_apart_is_claimed_with_its_counts(told):
    text = told("s36").text
    assert "“banana” tells bottles apart" in text
    assert "b2 8 of 8" in text


def test_what_changed_together_is_said(told):
    assert any("changed together" in line for line in told("s43").box)


def test_a_huge_fault_is_held_back_by_all(told):
    assert any("Hold back B3" in line and "6 of 6" in line for line in told("s24").box)
