"""The wheel shows what was counted, and nothing in it depends on colour."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.citations import citations, descriptors
from kikichoko.analysis.citations.words_figure import ALONE, GREY, INK, draw_wheel
from kikichoko.analysis.core import OptionError
from matplotlib.colors import to_rgb
from matplotlib.patches import Circle, Wedge

MARKS = {
    "apple": [[1, 0, 0]] * 8,
    "pear": [[1, 1, 1]] * 4 + [[0, 0, 0]] * 4,
    "rose": [[0, 0, 0]] * 8,
}
TREE = pd.DataFrame(
    [
        ("apple", "Apple", "Orchard", "Fruit"),
        ("pear", "Pear", "Orchard", "Fruit"),
        ("rose", "Rose", "Flowers", "Fruit"),
        ("cedar", "Cedar", "Wood", "Plants"),
    ],
    columns=["attribute", "label", "group", "family"],
)


def table(marks: dict[str, list[list[int]]]) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {"assessor": f"T{i}", "sample": "ABC"[j], "attribute": word, "score": mark}
            for word, rows in marks.items()
            for i, row in enumerate(rows)
            for j, mark in enumerate(row)
        ]
    )


def texts(figure) -> list[str]:
    return [text.get_text() for text in figure.axes[0].texts]


def test_every_asked_word_is_drawn_once_and_no_other():
    figure = draw_wheel(citations(table(MARKS)).table, TREE, language="en")
    said = texts(figure)
    assert [said.count(word) for word in ("Apple", "Pear", "Rose", "Cedar")] == [1, 1, 1, 0]
    assert any("used by nobody" in text for text in said)


def test_dots_carry_the_counts_and_their_areas_the_shares():
    found = descriptors(table(MARKS))
    figure = found.figure(TREE)
    dots = [
        patch
        for patch in figure.axes[0].patches
        if isinstance(patch, Circle) and 0.3 < math.hypot(*patch.center) < 0.7
    ]
    full = next(dot for dot in dots if to_rgb(INK) == dot.get_facecolor()[:3])
    half = [dot for dot in dots if to_rgb(GREY) == dot.get_facecolor()[:3] and dot.radius > 0.01]
    assert len(half) == 3
    inner = min(half, key=lambda dot: math.hypot(*dot.center))
    assert (full.radius / inner.radius) ** 2 == pytest.approx(2, rel=1e-6)
    assert "8" in texts(figure)


def test_what_differs_is_told_by_darkness_and_weight():
    """In a black and white print the two inks stay apart (luminance by ITU-R BT.709)."""
    light = [sum(c * w for c, w in zip(to_rgb(ink), (0.2126, 0.7152, 0.0722), strict=True))
             for ink in (INK, GREY)]  # fmt: skip
    assert light[1] - light[0] > 0.3
    found = descriptors(table(MARKS))
    figure = found.figure(TREE)
    weights = {t.get_text(): t.get_fontweight() for t in figure.axes[0].texts}
    assert (weights["Apple"], weights["Pear"]) == ("bold", "normal")


def contrast(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    """Return the contrast of two colours (WCAG 2.2, relative luminance)."""
    high, low = sorted(
        (sum((c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4) * w
             for c, w in zip(ink, (0.2126, 0.7152, 0.0722), strict=True)) for ink in (one, other)),
        reverse=True,
    )  # fmt: skip
    return (high + 0.05) / (low + 0.05)


def on_a_dark_screen(ink: tuple[float, ...]) -> tuple[float, ...]:
    """Return a grey as the page's filter shows it: invert(0.88)."""
    return tuple(0.88 - 0.76 * part for part in ink)


def test_figures_stand_off_from_their_dots():
    assert contrast(to_rgb("white"), to_rgb("#8d8d8d")) < 4.5, "as it was"
    pairs = [(to_rgb("white"), to_rgb(INK)), (to_rgb("white"), to_rgb(ALONE)),
             (to_rgb("black"), to_rgb(GREY))]  # fmt: skip
    assert min(contrast(*pair) for pair in pairs) >= 4.5
    assert contrast(*map(on_a_dark_screen, pairs[2])) >= 4.5
    figure = descriptors(table(MARKS)).figure(TREE)
    dots = [(to_rgb(one.get_facecolor()[:3]), one.center) for one in figure.axes[0].patches
            if isinstance(one, Circle) and one.radius > 0.0245]  # fmt: skip
    for text in figure.axes[0].texts:
        if text.get_text().isdigit():
            own = min(dots, key=lambda dot: math.dist(dot[1], text.get_position()))
            assert contrast(to_rgb(text.get_color()), own[0]) >= 4.5


def test_no_word_touches_its_bar():
    """The bar of a word that all used for one sample and nobody for another is the longest."""
    figure = descriptors(table(MARKS)).figure(TREE)
    bars = [one.r for one in figure.axes[0].patches
            if isinstance(one, Wedge) and 0.67 < one.r < 0.8]  # fmt: skip
    words = [math.hypot(*text.get_position()) for text in figure.axes[0].texts
             if text.get_rotation() and len(text.get_text()) > 1]  # fmt: skip
    points = 72 * figure.get_figwidth() / np.ptp(figure.axes[0].get_xlim())
    assert bars
    assert (min(words) - 0.672 - 0.066) * points > 3
    assert (min(words) - max(bars)) * points > 3


@pytest.mark.parametrize("language", ["en", "ja"])
def test_a_telephone_gets_the_same_words_in_rows(language: str):
    """A row a word, in the wheel's order; what is shown to differ in bold; a key of the letters."""
    found = descriptors(table(MARKS))
    round_one, rows = (found.figure(TREE, narrow=one, language=language) for one in (False, True))
    labels = list(TREE["label"])
    order = [text.get_text() for text in rows.axes[0].texts if text.get_text() in labels]
    assert sorted(order) == sorted(set(texts(round_one)) & set(labels))
    heights = [text.get_position()[1] for text in rows.axes[0].texts if text.get_text() in labels]
    assert heights == sorted(heights)
    weights = {text.get_text(): text.get_fontweight() for text in rows.axes[0].texts}
    assert (weights["Apple"], weights["Pear"]) == ("bold", "normal")
    assert any(text.startswith("A  ") for text in texts(rows))


def test_a_long_word_stands_in_two_lines_before_it_is_cut():
    tree = TREE.assign(label=["Ripe muscat grape", "Pear", "Rose", "Cedar"])
    figure = draw_wheel(citations(table(MARKS)).table, tree, language="en")
    assert "Ripe\nmuscat grape" in texts(figure) or "Ripe muscat\ngrape" in texts(figure)
    tree = TREE.assign(label=["x" * 40, "Pear", "Rose", "Cedar"])
    figure = draw_wheel(citations(table(MARKS)).table, tree, language="en")
    assert any(text.startswith("xxx") and text.endswith("…") for text in texts(figure))


def test_words_of_a_family_stand_between_its_lines():
    figure = draw_wheel(citations(table(MARKS)).table, TREE, language="en")
    rims = [p for p in figure.axes[0].patches if isinstance(p, Wedge) and p.r > 1.1]
    assert len(rims) == 1


def test_few_of_many_words_are_said_to_be_few():
    figure = draw_wheel(citations(table(MARKS)).table, TREE, most=1, language="en")
    assert any("the 1 most used of 3 words" in text for text in texts(figure))


def test_japanese_words_around_it():
    figure = draw_wheel(citations(table(MARKS)).table, TREE, language="ja")
    assert any("評価者" in text for text in texts(figure))


def test_refused_without_a_word_in_the_tree():
    with pytest.raises(OptionError, match="None of the words"):
        descriptors(table(MARKS)).figure(TREE[TREE["attribute"] == "cedar"])


KEYS = {
    "holds": "shown to differ",
    "alone": "by itself, but not among so many words",
    "hinted": "a hint only, not shown",
    "open": "not shown to differ",
}


def kinds_drawn(figure) -> set[str]:
    """Return how the bars outside the rings are drawn, the key's boxes apart."""
    from matplotlib.patches import Rectangle

    axes = figure.axes[0]
    low = max(text.get_position()[1] for text in axes.texts if text.get_text().startswith("Bar:"))
    bars = [one for one in axes.patches if isinstance(one, Wedge) and 0.672 < one.r < 0.8]
    rows = [one for one in axes.patches if isinstance(one, Rectangle)]
    bars += [one for one in rows if one.get_height() == 0.1 and one.get_y() < low]
    return {"hatched" if one.get_hatch() else "dark" if one.get_facecolor()[:3] == to_rgb(INK)
            else "light" for one in bars}  # fmt: skip


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("hinted", [[], ["pear"], ["pear", "plum"]])
def test_the_key_names_what_is_drawn_and_no_more(hinted: list[str], narrow: bool):
    marks = {**MARKS, "pear": [[1, 0, 0]] * 4 + [[0, 0, 0]] * 4,
             "plum": [[1, 0, 0]] * 2 + [[0, 0, 0]] * 6}  # fmt: skip
    tree = pd.concat([TREE, pd.DataFrame([("plum", "Plum", "Orchard", "Fruit")],
                                         columns=TREE.columns)]).iloc[[0, 1, 4, 2, 3]]  # fmt: skip
    words = list(marks)
    tests = pd.DataFrame(
        {
            "attribute": words,
            "p": 1.0,
            "holds": [one == "apple" for one in words],
            "hinted": [one in hinted for one in words],
        }
    )
    figure = draw_wheel(
        citations(table(marks)).table, tree, tests=tests, language="en", narrow=narrow
    )
    named = {kind for kind, words in KEYS.items() if words in texts(figure)}
    looks = {"holds": "dark", "hinted": "hatched", "alone": "hatched", "open": "light"}
    assert {looks[kind] for kind in named} == kinds_drawn(figure)
    assert ("hinted" in named) == bool(hinted)
    assert ("open" in named) == (len(hinted) < 2), "a word that nobody used has no bar"


def test_words_that_would_hold_alone_are_hatched_from_the_risk_on():
    for p, kind in ((0.05, "alone"), (0.0501, "open")):
        tests = pd.DataFrame({"attribute": list(MARKS), "p": [p] * 3, "holds": [False] * 3})
        said = texts(draw_wheel(citations(table(MARKS)).table, TREE, tests=tests, language="en"))
        assert [one for one in KEYS if KEYS[one] in said] == [kind]


def test_on_a_telephone_each_word_stands_under_its_own_group():
    """A word that is its group stands as far left as groups do, not among the words of another."""
    tree = pd.DataFrame(
        [
            ("apple", "Apple", "Orchard", "Fruit"),
            ("pear", "Pear", "Pear", "Fruit"),
            ("rose", "Rose", "Own words", "Own words"),
        ],
        columns=TREE.columns,
    )
    rows = draw_wheel(citations(table(MARKS)).table, tree, language="en", narrow=True)
    left = {text.get_text(): text.get_position()[0] for text in rows.axes[0].texts}
    assert left["Pear"] == left["Orchard"] < left["Apple"] == left["Rose"]
    assert texts(rows).count("Own words") == 1
