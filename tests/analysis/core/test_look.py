"""All figures: plain values in, a language, one look, words that can be read."""

from __future__ import annotations

import ast
import importlib
import inspect
import io
import re
import warnings
from collections.abc import Callable
from colorsys import rgb_to_hsv
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
import seaborn as sns
from figure_overlaps import depth, faults
from kikichoko.analysis.agreement.agreement_figure import draw_agreement
from kikichoko.analysis.anova.mean_scores_figure import draw_differences, draw_means
from kikichoko.analysis.anova.residuals_figure import draw_residuals
from kikichoko.analysis.citations.words_figure import draw_wheel
from kikichoko.analysis.core.errors import OptionError
from kikichoko.analysis.core.look import mark, save
from kikichoko.analysis.core.result import Interval
from kikichoko.analysis.core.words import Sentence
from kikichoko.analysis.difference.counts_figure import draw_counts
from kikichoko.analysis.difference.sequential_figure import draw_course
from kikichoko.analysis.difference.thresholds_figure import draw_threshold
from kikichoko.analysis.link.chemistry_figure import draw_plane, draw_slopes, plane_grid
from kikichoko.analysis.maps.plane_figure import draw_map
from kikichoko.analysis.memory.memory_figure import draw_memory
from kikichoko.analysis.ordinal.ordinal_shares_figure import draw_shares
from kikichoko.analysis.performance.assessor_charts_figure import draw_assessor_charts
from kikichoko.analysis.performance.assessors_figure import draw_assessor_lines, draw_overview
from kikichoko.analysis.performance.history_figure import draw_control_charts
from kikichoko.analysis.power.power_curves_figure import draw_power_curves
from kikichoko.analysis.power.size_curves_figure import draw_limits_curve, draw_size_curves
from kikichoko.analysis.profile.balances_figure import draw_balances
from kikichoko.analysis.profile.conditions_figure import draw_conditions
from kikichoko.analysis.profile.marks_figure import draw_marks
from kikichoko.analysis.profile.over_time_figure import draw_dominance, draw_intensity
from kikichoko.analysis.profile.profiles_figure import draw_profiles
from kikichoko.analysis.profile.stages_figure import draw_stages
from kikichoko.analysis.ranking.rank_sums_figure import draw_rank_sums
from kikichoko.panel.base.report_face import set_figures_in_own_face
from matplotlib.colors import to_hex, to_rgb
from matplotlib.figure import Figure

ROOT = Path(__file__).parents[3]
FILES = sorted((ROOT / "analysis").rglob("*_figure.py"))
BOTTLES = {
    "en": ["free-run", "clear, pasteurised", "cloudy, raw", "last pressing"],
    "ja": ["荒走り", "中取り（火入れ）", "にごり・生酒", "責め"],
}
ATTRIBUTES = {
    "en": ["sweetness", "acidity", "body", "aftertaste", "ginjo aroma"],
    "ja": ["甘味", "酸味", "ふくらみ", "後味の長さ", "吟醸香"],
}
Draw = Callable[..., Figure]
Rgb = tuple[float, ...]
Size = tuple[int, int]
"""Attributes and bottles."""


def bottles(language: str, n: int) -> list[str]:
    """Return `n` names, with numbers when they are used up."""
    names = BOTTLES[language]
    return [names[k % 4] + (f" {k // 4 + 1}" if k >= 4 else "") for k in range(n)]


def attributes(language: str, n: int) -> list[str]:
    names = ATTRIBUTES[language]
    return [names[k % 5] + (f" {k // 5 + 1}" if k >= 5 else "") for k in range(n)]


def means(language: str, size: Size) -> pd.DataFrame:
    """Return means of so many attributes and bottles with limits and letters."""
    rng = np.random.default_rng(5)
    rows = []
    for name in attributes(language, size[0]):
        for k, sample in enumerate(bottles(language, size[1])):
            mean = rng.uniform(2, 8)
            rows.append((name, sample, mean - 1, mean, mean + 1, "ab"[k % 2]))
    return pd.DataFrame(rows, columns=["attribute", "sample", "low", "mean", "high", "letters"])


def scores(language: str, size: Size) -> pd.DataFrame:
    rng = np.random.default_rng(6)
    rows = [
        (f"T{who}", sample, name, 5 + place + rng.normal())
        for who in range(6)
        for name in attributes(language, size[0])
        for place, sample in enumerate(bottles(language, size[1]))
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


def findings(language: str) -> pd.DataFrame:
    first, second, *_ = attributes(language, 5)
    rows = [
        ("T1", "whole card", "narrow", True),
        ("T2", first, "reversed", True),
        ("T2", second, "noisy", True),
        ("T3", first, "high", False),
    ]
    return pd.DataFrame(rows, columns=["assessor", "attribute", "finding", "shown"])


def rank_sums(language: str, size: Size, *, narrow: bool = False) -> Figure:
    sums = pd.DataFrame({"sample": bottles(language, size[1])})
    sums["rank_sum"] = np.linspace(12, 31, len(sums))
    return draw_rank_sums(sums, 9.0, 0.05, language=language, narrow=narrow)


def counts(language: str, size: Size, *, narrow: bool = False) -> Figure:
    n = 6 * size[1]
    limit = round(0.6 * n)
    more: dict[str, Any] = {"limits": (0.3, 0.72, 0.95)}
    if size[1] % 2 == 0:
        more |= {"similar": True, "allowed": (0.3, 0.533)}
    return draw_counts(n // 2, n, 1 / 3, limit=limit, language=language, narrow=narrow, **more)


def threshold(language: str, size: Size, *, narrow: bool = False) -> Figure:
    c = np.geomspace(1, 2.0 ** size[1], size[1] + 1)
    steps = pd.DataFrame({"concentration": c, "share": np.linspace(0.3, 1, len(c))})
    x = np.geomspace(c[0] / 1.5, c[-1] * 1.5, 50)
    curve = (x, 1 / 3 + 2 / 3 * x / (x + c[1]))
    limits = Interval(c[0], c[2])
    return draw_threshold(steps, curve, limits, 1 / 3, language=language, narrow=narrow)


def course(language: str, size: Size) -> Figure:
    answers = [k % 2 for k in range(4 * size[1])]
    lines = {"slope": 0.5, "above": 3.0, "below": 3.0}
    return draw_course(answers, **lines, end=len(answers) + 4, language=language)


def power(language: str, size: Size) -> Figure:
    gap = np.linspace(0, 4, 30)
    curves = {8: 1 - np.exp(-gap), 16: 1 - np.exp(-2 * gap), 24: 1 - np.exp(-3 * gap)}
    title = Sentence.of("power_figure.title", samples=size[1], replicates="2", alpha="0.05")
    return draw_power_curves(curves, gap, difference=1.7, power=0.8, title=title, language=language)


def size_curves(language: str, size: Size) -> Figure:
    return draw_size_curves(
        "two-out-of-five", alpha=0.05, sides=1, beta=0.2, pd=0.3, n=10 * size[1], n_safe=40,
        language=language,
    )  # fmt: skip


def limits_curve(language: str, size: Size) -> Figure:
    numbers = pd.Series(range(2, 4 * size[1]))
    limits = pd.DataFrame({"low": 0.5 - 1 / numbers, "high": 0.5 + 0.9 / numbers})
    what = "fault" if size[1] > 4 else "agreement"
    return draw_limits_curve(numbers, limits, stated=5, expected=0.5, what=what, language=language)


def shares(language: str, size: Size) -> Figure:
    rows = [
        (sample, category, (1 + (k + category) % 3) / 6)
        for k, sample in enumerate(bottles(language, size[1]))
        for category in (0, 1, 2)
    ]
    table = pd.DataFrame(rows, columns=["sample", "category", "share"])
    name = attributes(language, 1)[0]
    return draw_shares(
        table, bottles(language, size[1]), attribute=name, assessors=12, language=language
    )


def balances(language: str, size: Size, *, narrow: bool = False) -> Figure:
    names = bottles(language, size[1])
    rng = np.random.default_rng(3)
    table = pd.DataFrame(rng.integers(0, 6, (len(names), 5)), names, [-2, -1, 0, 1, 2])
    words = {
        "en": ["much too little", "too little", "just right", "too much", "much too much"],
        "ja": ["かなり足りない", "やや足りない", "ちょうどよい", "やや多い", "かなり多い"],
    }
    return draw_balances(
        table, samples=names, words=words[language], language=language, narrow=narrow
    )


def profiles(language: str, size: Size, *, narrow: bool = False) -> Figure:
    words = {
        "en": [("none", "very strong"), ("thick haze", "brilliant"), ("poor", "excellent")],
        "ja": [("なし", "非常に強い"), ("濃いにごり", "澄みきる"), ("悪い", "優れている")],
    }[language]
    several = 1 if language == "en" and size[0] > 3 else 3
    return draw_profiles(
        means(language, size),
        samples=bottles(language, size[1]),
        told_apart=attributes(language, 1),
        ends={
            name: words[number % several]
            for number, name in enumerate(attributes(language, size[0]))
        },
        language=language,
        narrow=narrow,
    )


def marks(language: str, size: Size, *, narrow: bool = False) -> Figure:
    """As many people as one, two or three, by the number of bottles."""
    people = ["M1", "E1", "E2"][: 1 + size[1] % 3]
    own = means(language, size)
    table = pd.concat(
        own.assign(assessor=who, mark=own["mean"] + place / 2) for place, who in enumerate(people)
    )
    order = {name: place for place, name in enumerate(attributes(language, size[0]))}
    table = table.sort_values("attribute", key=lambda own: own.map(order), kind="stable")
    words = {"en": ("none", "very strong"), "ja": ("なし", "非常に強い")}[language]
    return draw_marks(
        table,
        samples=bottles(language, size[1]),
        people=people,
        ends=dict.fromkeys(attributes(language, size[0]), words),
        language=language,
        narrow=narrow,
    )


def sip(language: str, size: Size, *, narrow: bool = False) -> Figure:
    return draw_stages(
        means(language, (4, size[1])),
        samples=bottles(language, size[1]),
        language=language,
        narrow=narrow,
    )


def conditions(language: str, size: Size, *, narrow: bool = False) -> Figure:
    levels = ["10", "45"] if size[1] < 5 else ["5", "10", "20", "45"]
    lines = bottles(language, min(size[1], 6))
    rows = [
        (name, line, level, 4.0 + place, 0.5 * place, *((np.nan,) * 2 if not place else (0.1, 0.9)))
        for name in attributes(language, min(size[0], 4))
        for line in lines
        for place, level in enumerate(levels)
    ]
    columns = ["attribute", "line", "level", "mean", "change", "low", "high"]
    cells = pd.DataFrame(rows, columns=columns)
    names = [f"{level} °C" for level in levels]
    return draw_conditions(
        cells, lines=lines, levels=levels, names=names, language=language, narrow=narrow
    )


def over_time(language: str, n: int, columns: list[str]) -> pd.DataFrame:
    """Return curves of so many bottles over a minute."""
    times = np.arange(0, 60.5, 0.5)
    made = [
        pd.DataFrame({"sample": sample, "time": times, "attribute": name}).assign(
            share=np.clip(np.exp(-(((times - 8 - 6 * at) / 9) ** 2)), 0, 1),
            mean=6 * np.exp(-(((times - 8 - 4 * k) / 20) ** 2)),
        )
        for k, sample in enumerate(bottles(language, n))
        for at, name in enumerate(columns)
    ]
    whole = pd.concat(made, ignore_index=True)
    return whole.assign(low=whole["mean"] * 0.8, high=whole["mean"] * 1.2)


def dominant(language: str, size: Size, *, narrow: bool = False) -> Figure:
    curves = over_time(language, size[1], attributes(language, min(size[0], 8)))
    limits = pd.DataFrame({"sample": bottles(language, size[1])}).assign(
        n=12, chance=0.2, share=0.42
    )
    samples = bottles(language, size[1])
    return draw_dominance(curves, limits, samples=samples, language=language, narrow=narrow)


def intensity(language: str, size: Size, *, narrow: bool = False) -> Figure:
    curves = over_time(language, size[1], attributes(language, 1))
    samples = bottles(language, size[1])
    return draw_intensity(curves, samples=samples, language=language, narrow=narrow)


def with_means(language: str, size: Size) -> Figure:
    return draw_means(means(language, size), scores(language, size), language=language)


def differences(language: str, size: Size) -> Figure:
    names = bottles(language, size[1])
    pairs = [(a, b, -0.5, 0.3, 1.1) for i, a in enumerate(names) for b in names[:i]]
    columns = ["sample", "against", "low", "difference", "high"]
    return draw_differences(
        pd.DataFrame(pairs, columns=columns), attribute=attributes(language, 1)[0], level=0.95,
        against_one=size[1] > 4, language=language,
    )  # fmt: skip


def agreement(language: str, size: Size) -> Figure:
    kinds = ("ICC(A,1)", "ICC(C,1)", "ICC(A,k)", "ICC(C,k)", "alpha (interval)", "Kendall's W")
    rows = [
        (name, kind, estimate, estimate - 0.3 if kind != "Kendall's W" else np.nan, estimate + 0.2)
        for name in attributes(language, size[0])
        for kind, estimate in zip(kinds, np.linspace(-0.1, 0.9, len(kinds)), strict=True)
    ]
    columns = ["attribute", "measure", "estimate", "low", "high"]
    return draw_agreement(pd.DataFrame(rows, columns=columns), level=0.95, language=language)


def overview(language: str, size: Size, *, narrow: bool = False) -> Figure:
    table = scores(language, size)
    measures = table[["attribute", "assessor"]].drop_duplicates().assign(repeatability=0.5)
    return draw_overview(
        table, measures, findings(language), set_apart=["T2"], alpha=0.05, language=language,
        narrow=narrow,
    )  # fmt: skip


def assessor_lines(language: str, size: Size) -> Figure:
    return draw_assessor_lines(
        scores(language, size), findings(language), attributes(language, size[0]),
        set_apart=["T2"], language=language,
    )  # fmt: skip


def control_charts(language: str, size: Size) -> Figure:
    rng = np.random.default_rng(9)
    names, sessions = attributes(language, min(size[0], 3)), 4 * size[1]
    chart = pd.DataFrame(
        {
            "attribute": np.repeat(names, sessions),
            "date": np.tile(pd.date_range("2025-01-10", periods=sessions, freq="30D"), len(names)),
            "mean": rng.normal(5, 0.5, sessions * len(names)),
            "se": 0.3,
            "centre": 5.0,
            "lower": 3.6,
            "upper": 6.4,
            "signal": "",
        }
    )
    chart.loc[3, ["mean", "signal"]] = [7.0, "beyond"]
    return draw_control_charts(chart, bottles(language, 1)[0], names, language=language)


def assessor_charts(language: str, size: Size) -> Figure:
    rng = np.random.default_rng(10)
    people = [f"T{number + 1}" for number in range(min(size[0], 6))]
    sessions = [f"2026-{number + 1:02d}" for number in range(4 * size[1])]
    measures = ("repeats", "distance")
    rows = [
        (measure, who, session, rng.normal(0, 0.15), 0.0, 0.45 if place > 2 else np.nan, "")
        for measure in measures
        for who in people
        for place, session in enumerate(sessions)
    ]
    columns = ["measure", "assessor", "session", "value", "centre", "upper", "signal"]
    chart = pd.DataFrame(rows, columns=columns)
    chart.loc[3, ["value", "signal"]] = [0.7, "beyond"]
    return draw_assessor_charts(chart, people, measures, sessions, language=language)


def plane(language: str, size: Size) -> Figure:
    rng = np.random.default_rng(2)
    n = 3 * size[1]
    table = pd.DataFrame(
        {
            "sample": bottles(language, n),
            "meter_value": rng.uniform(-5, 8, n),
            "acidity": rng.uniform(1.1, 2.0, n),
            "tank": [k % 4 for k in range(n)],
        }
    )
    x, y = plane_grid(table)
    mean = 5 - 0.2 * x.ravel() - 1.0 * (y.ravel() - 1.5)
    own = pd.DataFrame({"mean": mean, "low": mean - 0.5, "high": mean + 0.5})
    name = attributes(language, 1)[0]
    return draw_plane(table, own, attribute=name, wanted=5.2, group="tank", language=language)


def slopes(language: str, size: Size) -> Figure:
    rows = [
        (name, predictor, slope, slope - 1, slope + 1, slope < -1)
        for name in attributes(language, size[0])
        for predictor, slope in (("acidity", -2.0), ("meter_value", 0.1))
    ]
    columns = ["attribute", "predictor", "slope", "low", "high", "holds"]
    return draw_slopes(pd.DataFrame(rows, columns=columns), language=language)


def sample_map(language: str, size: Size, *, narrow: bool = False) -> Figure:
    rng = np.random.default_rng(1)
    names = bottles(language, size[1])
    ellipses = pd.DataFrame(rng.normal(0, 2, (len(names), 2)), columns=["x", "y"]).assign(
        sample=names, major=1.1, minor=0.6, angle=30.0
    )
    turns = np.linspace(0, 2 * np.pi, 3 * size[0], endpoint=False)
    long, also = {
        "en": ("sweetness against acidity", "Sweetness that stays"),
        "ja": ("甘味と酸味とのつり合い", "あとまで残る甘味の強さ"),
    }[language]
    arrows = pd.DataFrame(
        {
            "name": [long, *attributes(language, len(turns) - 2), also],
            "dim1": np.cos(turns),
            "dim2": np.sin(turns),
        }
    )
    return draw_map(
        ellipses[::-1], arrows, [0.6, 0.3], real=size[1] > 4, positions=False, assessors=8,
        order=names, told_apart=[*arrows["name"][::2], also], language=language, narrow=narrow,
    )  # fmt: skip


def wheel(language: str, size: Size, *, narrow: bool = False) -> Figure:
    words, *groups, family = {
        "en": (["apple", "melon", "banana", "steamed rice", "cedar"], "fruity", "grain", "aroma"),
        "ja": (["りんご", "メロン", "バナナ", "蒸し米", "杉"], "果実様", "穀物様", "香り"),
    }[language]
    names = [f"{words[k % 5]} {k // 5 + 1}" for k in range(4 * size[0])]
    own = [groups[k > len(names) // 2] for k in range(len(names))]
    tree = pd.DataFrame({"attribute": names, "label": names, "group": own, "family": family})
    rows = [
        (name, sample, (k + place) % 9, 8 + (k % 2), (k + place) % 9 / 9)
        for k, name in enumerate(names)
        for place, sample in enumerate(bottles(language, size[1]))
    ]
    table = pd.DataFrame(rows, columns=["attribute", "sample", "k", "n", "share"])
    tests = pd.DataFrame({"attribute": names, "p": 0.04, "holds": np.arange(len(names)) % 3 == 0})
    return draw_wheel(table, tree, tests=tests, language=language, narrow=narrow)


def residuals(language: str, size: Size) -> Figure:
    rng = np.random.default_rng(8)
    table = scores(language, (min(size[0], 3), size[1])).rename(columns={"score": "expected"})
    off = rng.normal(0, 0.5, len(table))
    off[5] = 3.0
    return draw_residuals(
        table.assign(residual=off, studentised=off * 2, far=off == 3.0), language=language
    )


def house_memory(language: str, size: Size) -> Figure:
    names, people = attributes(language, size[0]), [f"T{k}" for k in range(size[1])]
    spread, width = np.linspace(0.03, 0.12, len(names)), np.linspace(0.7, 1.3, len(people))
    house = {"attribute": names}
    for part, times in (("sample", 1.0), ("error", 1.5)):
        for end, factor in (("sd", 1.0), ("low", 0.7), ("high", 1.6)):
            house[f"{part}_{end}"] = spread * times * factor
    widths = {"assessor": people, "width": width, "low": width - 0.2, "high": width + 0.2}
    return draw_memory(pd.DataFrame(house), pd.DataFrame(widths), language=language)


DRAWN: dict[str, Draw] = {
    "draw_agreement": agreement,
    "draw_assessor_charts": assessor_charts,
    "draw_assessor_lines": assessor_lines,
    "draw_balances": balances,
    "draw_conditions": conditions,
    "draw_control_charts": control_charts,
    "draw_counts": counts,
    "draw_course": course,
    "draw_differences": differences,
    "draw_limits_curve": limits_curve,
    "draw_map": sample_map,
    "draw_marks": marks,
    "draw_means": with_means,
    "draw_memory": house_memory,
    "draw_overview": overview,
    "draw_plane": plane,
    "draw_power_curves": power,
    "draw_profiles": profiles,
    "draw_rank_sums": rank_sums,
    "draw_residuals": residuals,
    "draw_shares": shares,
    "draw_size_curves": size_curves,
    "draw_slopes": slopes,
    "draw_stages": sip,
    "draw_dominance": dominant,
    "draw_intensity": intensity,
    "draw_threshold": threshold,
    "draw_wheel": wheel,
}


@pytest.fixture(scope="module", autouse=True)
def own_face() -> None:
    set_figures_in_own_face()


def functions() -> list[Draw]:
    """Return every figure function of the house."""
    found = []
    for path in FILES:
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        module = importlib.import_module(f"kikichoko.{name}")
        found += [value for key, value in vars(module).items() if key.startswith("draw_")]
    return found


def test_every_figure_is_tried_here():
    assert {draw.__name__ for draw in functions()} == set(DRAWN)


def test_figures_are_made_in_figure_files_only():
    for path in (ROOT / "analysis").rglob("*.py"):
        if path not in FILES and path.name != "look.py":
            text = path.read_text("utf-8")
            assert "subplots(" not in text, path
            assert "Figure(" not in text, path


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_figure_knows_a_result(path: Path):
    """The only classes of the house in a figure file are two limits, a sentence and errors."""
    package = ["kikichoko", *path.relative_to(ROOT).parent.parts]
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(node, ast.ImportFrom) or not node.level:
            continue
        above = package[: len(package) - node.level + 1]
        module = importlib.import_module(".".join([*above, *(node.module or "").split(".")]))
        for alias in node.names:
            value = getattr(module, alias.name)
            assert not inspect.isclass(value) or value in {Interval, Sentence, OptionError}


@pytest.mark.parametrize("draw", functions(), ids=lambda draw: draw.__name__)
def test_language_must_be_said(draw: Draw):
    language = inspect.signature(draw).parameters["language"]
    assert language.kind is inspect.Parameter.KEYWORD_ONLY
    assert language.default is inspect.Parameter.empty


@pytest.mark.parametrize(
    ("language", "size"), [("en", (2, 2)), ("en", (8, 7)), ("ja", (8, 7))], ids=str
)
@pytest.mark.parametrize("name", DRAWN)
def test_words_can_be_read(name: str, language: str, size: Size):
    """No missing letter, nothing under 7 pt, no words on one another or cut off.

    Few wide panels and many narrow ones: what lies between is easier than either.
    """
    with warnings.catch_warnings():
        warnings.filterwarnings("error", message=".*[Gg]lyph.*")
        assert faults(DRAWN[name](language, size)) == []


def planted(*words: tuple[float, float, str], **how: object) -> Figure:
    """Return a figure of 4 by 2 inches with words at these places (shares of its sides)."""
    figure = Figure(figsize=(4, 2))
    for x, y, word in words:
        figure.text(x, y, word, fontsize=10, **how)
    return figure


@pytest.mark.parametrize("turned", [0, 30, 90])
def test_the_search_for_overlaps_can_fail(turned: float):
    near, far = (0.30, 0.4, "cloudy"), (0.9, 0.1, "raw")
    assert any("over one another" in fault for fault in faults(
        planted((0.29, 0.4, "free-run"), near, far, rotation=turned)
    ))  # fmt: skip
    assert faults(planted((0.1, 0.1, "free-run"), far)) == []


def test_turned_words_are_judged_by_their_own_frame():
    """Two lines of words at 45 degrees, side by side: their upright boxes overlap, they do not."""
    side_by_side = planted((0.3, 0.2, "free-run, raw"), (0.4, 0.2, "cloudy, raw"), rotation=45)
    assert faults(side_by_side) == []


def test_words_cut_off_or_too_small_are_found():
    assert "outside" in faults(planted((0.95, 0.5, "pasteurised")))[0]
    small = planted((0.2, 0.5, "raw"))
    small.texts[0].set_fontsize(6.5)
    assert faults(small) == ["6.5 pt: 'raw'"]


def test_depth_by_hand():
    """A square of side 2, another turned by 45 degrees whose corner reaches 0.5 into it."""
    square = np.array([[0, 0], [2, 0], [2, 2], [0, 2]], dtype=float)
    turned = np.array([[1.5, 1], [2.5, 0], [3.5, 1], [2.5, 2]], dtype=float)
    assert depth(square, turned) == pytest.approx(0.5)
    assert depth(square, np.add(turned, (0.7, 0))) == pytest.approx(-0.2)


def test_a_letter_that_no_face_has_is_noticed():
    figure = rank_sums("en", (2, 2))
    figure.axes[0].set_xlabel("\U00010600")  # a sign of Linear A has no place in these faces
    with pytest.warns(UserWarning, match="[Gg]lyph"):
        faults(figure)


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_files_are_the_same_for_the_same_data(kind: str):
    twice = []
    for _ in range(2):
        out = io.BytesIO()
        save(rank_sums("ja", (2, 2)), out, kind=kind)
        twice.append(out.getvalue())
    assert twice[0] == twice[1]
    assert not any(word in twice[0] for word in (b"<dc:date>", b"CreationDate", b"Software"))


def test_other_kinds_of_file_are_refused(tmp_path: Path):
    with pytest.raises(OptionError, match="kind"):
        save(rank_sums("en", (2, 2)), tmp_path / "ranks.doc")


def test_settings_of_others_are_left_alone():
    before = dict(mpl.rcParams)
    rank_sums("ja", (2, 2))
    assert dict(mpl.rcParams) == before


def test_a_field_of_ones_own_is_drawn_into():
    figure = Figure()
    left, right = figure.subplots(1, 2)
    sums = pd.DataFrame({"sample": ["A", "B"], "rank_sum": [10.0, 14.0]})
    assert draw_rank_sums(sums, None, 0.05, language="en", axes=right) is figure
    assert [text.get_text() for text in right.get_yticklabels()] == ["A", "B"]
    assert not left.lines


def test_samples_differ_by_shape_and_by_an_ink_for_the_colour_blind():
    marks = [mark(place) for place in range(6)]
    assert len({shape for shape, _ in marks}) == len({ink for _, ink in marks}) == 6
    hues = [rgb_to_hsv(*to_rgb(ink))[0] for ink in sns.color_palette("colorblind").as_hex()]
    for _, ink in marks:
        hue, colour, _ = rgb_to_hsv(*to_rgb(ink))
        assert not colour or min(abs(hue - one) for one in hues) < 0.02, ink


def contrast(one: Rgb, other: Rgb) -> float:
    """Return the contrast of two colours (WCAG 2.2, relative luminance)."""
    low, high = sorted(
        sum((c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4) * w
            for c, w in zip(ink, (0.2126, 0.7152, 0.0722), strict=True))
        for ink in (one, other)
    )  # fmt: skip
    return (high + 0.05) / (low + 0.05)


def on_a_dark_screen(ink: Rgb) -> Rgb:
    """Return a colour as the page's filter shows it (W3C Filter Effects 1, 12.4 and 12.7)."""
    style = (ROOT / "panel/report/templates/report.css").read_text("utf-8")
    found = re.search(r"figure svg \{ filter: invert\((.+?)\) hue-rotate\(180deg\)", style)
    assert found is not None
    share = float(found[1])
    turned = np.array([share + (1 - 2 * share) * part for part in ink])
    weights = np.array([0.213, 0.715, 0.072])
    return tuple(np.clip(2 * weights @ turned - turned, 0, 1).tolist())


GROUNDS = {"light": to_rgb("#fffdf8"), "dark": to_rgb("#15191c")}
"""Of the report's page; `test_the_grounds_are_those_of_the_page` holds them."""


def test_the_grounds_are_those_of_the_page():
    style = (ROOT / "panel/report/templates/report.css").read_text("utf-8")
    papers = re.findall(r"--paper: (#\w+)", style)
    assert [to_rgb(one) for one in papers[:2]] == list(GROUNDS.values())


def test_what_is_white_in_a_figure_is_no_patch_on_a_dark_page():
    """The page keeps the lighter of figure and ground: white must be the darker of the two."""
    white = on_a_dark_screen(to_rgb("white"))
    assert all(part <= ground for part, ground in zip(white, GROUNDS["dark"], strict=True))
    assert contrast(on_a_dark_screen(to_rgb("black")), GROUNDS["dark"]) > 12


@pytest.mark.parametrize("place", range(10))
def test_every_line_of_a_sample_stands_off_from_its_ground(place: int):
    assert contrast(to_rgb("#ca9161"), GROUNDS["light"]) < 3, "the brown as it was"
    ink = to_rgb(mark(place)[1])
    assert contrast(ink, GROUNDS["light"]) >= 3
    assert contrast(on_a_dark_screen(ink), GROUNDS["dark"]) >= 3


def signs(figure: Figure) -> dict[str, tuple[str, str, str]]:
    """Return shape, ink and filling of every sample in the key of a figure, in its order."""
    keys = [*figure.legends, *(key for axes in figure.axes if (key := axes.get_legend()))]
    return {
        text.get_text().replace("\n", " "): (
            str(line.get_marker()), to_hex(line.get_color()), to_hex(line.get_markerfacecolor())
        )
        for text, line in zip(keys[0].get_texts(), keys[0].legend_handles, strict=True)
    }  # fmt: skip


@pytest.mark.parametrize("language", ["en", "ja"])
def test_a_sample_has_the_same_sign_in_every_figure(language: str):
    """And the same place in the key, on the map too, whose table has an order of its own."""
    first, *others = [
        signs(draw(language, (3, 5), narrow=narrow))
        for draw in (profiles, marks, sip, conditions, sample_map)
        for narrow in (False, True)
    ]
    first = {name.replace(" ", ""): sign for name, sign in first.items()}
    assert len(set(first.values())) == 5
    for other in others:
        told = {name.replace(" ", ""): sign for name, sign in other.items()}
        assert list(told.items()) == list(first.items())


LEVELS = ("10", "45")


def test_a_line_over_temperatures_bears_the_sign_of_its_first_cup():
    cells = pd.DataFrame(
        [("body", line, level, 5.0, 0.0, np.nan, np.nan) for line in "AB" for level in LEVELS],
        columns=["attribute", "line", "level", "mean", "change", "low", "high"],
    )
    levels = {"levels": list(LEVELS), "names": ["10 °C", "45 °C"]}
    figure = draw_conditions(cells, lines=["A", "B"], **levels, places=[1, 3], language="en")
    cups = signs(profiles("en", (2, 4)))
    assert list(signs(figure).values()) == list(cups.values())[1::2]


@pytest.mark.parametrize("language", ["en", "ja"])
@pytest.mark.parametrize("size", [(2, 2), (4, 6), (8, 12)], ids=str)
@pytest.mark.parametrize(
    "draw",
    [
        profiles,
        marks,
        balances,
        sip,
        counts,
        conditions,
        sample_map,
        overview,
        wheel,
        rank_sums,
        threshold,
        dominant,
        intensity,
    ],
)
def test_what_is_drawn_for_a_telephone_fits_its_screen(draw, language: str, size: Size):
    """At 390 px they are shown as they are drawn: no letter under 7 pt, none over another."""
    figure = draw(language, size, narrow=True)
    assert figure.get_size_inches()[0] * 96 <= 390 - 2 * 14
    assert faults(figure) == []
    assert faults(draw(language, size)) == []


@pytest.mark.parametrize("language", ["en", "ja"])
def test_names_of_a_map_stand_below_the_field_not_on_its_ellipses(language: str):
    figure = sample_map(language, (8, 12))
    field, names = figure.axes[0], figure.axes[0].get_legend()
    figure.draw_without_rendering()
    assert names is not None
    assert [text.get_text() for text in field.texts] == []
    assert len(names.get_texts()) == 12
    below = field.xaxis.label.get_window_extent()
    assert names.get_window_extent().y1 < below.y0 < field.get_window_extent().y0


@pytest.mark.parametrize("language", ["en", "ja"])
def test_the_note_below_a_map_stands_off_from_its_lowest_name_on_a_telephone(language: str):
    """The lowest name may reach a line below the field; the note, 12 pt away, touched it there."""
    figure = sample_map(language, (8, 3), narrow=True)
    figure.draw_without_rendering()
    (note,) = figure.texts
    gap = figure.axes[1].get_window_extent().y0 - note.get_window_extent().y1
    assert gap / figure.dpi * 72 > 16


@pytest.mark.parametrize(("seen", "n"), [(0, 7), (3, 7), (13, 23), (23, 23)])
def test_the_count_of_a_session_stands_above_its_bar(seen: int, n: int):
    """Its mark was half below the axis and dark on the bar."""
    figure = draw_counts(seen, n, 1 / 3, limit=None, language="en")
    figure.canvas.draw()
    axes = figure.axes[0]
    (mark,) = axes.lines
    tip = mark.get_window_extent().y0
    assert tip >= axes.patches[seen].get_window_extent().y1
    (number,) = axes.texts
    assert number.get_text() == str(seen)
    assert number.get_window_extent().y0 > mark.get_window_extent().y1 - 5
    assert number.get_window_extent().y1 <= axes.get_window_extent().y1


IN_REPORTS = [
    "draw_assessor_lines", "draw_balances", "draw_conditions", "draw_counts", "draw_map",
    "draw_marks", "draw_overview", "draw_profiles", "draw_rank_sums", "draw_stages", "draw_wheel",
]  # fmt: skip


@pytest.mark.parametrize("language", ["en", "ja"])
@pytest.mark.parametrize("name", IN_REPORTS)
def test_no_figure_of_a_report_calls_what_was_tasted_by_another_word(name: str, language: str):
    """Reports speak of bottles or portions, commands of samples: their figures name neither."""
    figure = DRAWN[name](language, (3, 3))
    texts = [str(text.get_text()) for text in figure.findobj(mpl.text.Text)]
    assert any(texts)
    assert [one for one in texts if re.search(r"\bsamples?\b|試料", one, re.IGNORECASE)] == []


@pytest.mark.parametrize(
    ("kept", "said"), [(None, "Who needs training in what"), (0, "Each assessor's marks")]
)
def test_an_overview_asks_for_training_only_where_something_was_found(kept, said):
    table, found = scores("en", (2, 4)), findings("en")
    measures = table[["attribute", "assessor"]].drop_duplicates().assign(repeatability=0.5)
    of = found if kept is None else found.head(kept)
    figure = draw_overview(table, measures, of, set_apart=[], alpha=0.05, language="en")
    assert figure.get_suptitle().startswith(said)
