"""Text in tables may be held by pyarrow, by Python, or without a type: the same is said."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from importlib import import_module
from inspect import isfunction, signature
from typing import Any

import kikichoko.analysis
import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.citations import citations
from kikichoko.analysis.core.result import Result, plain
from kikichoko.analysis.core.tidy_table import tidy
from kikichoko.panel.commands._session import PLAIN_WORDS

FIRST = "Tidy | pd.DataFrame"
BOTTLES = ["free-run", "clear, raw", "にごり・生酒", "責め"]
FURTHER: dict[str, dict[str, Any]] = {
    "canonical_map": {"draws": 100},
    "claims": {"scales": ["sweetness", "grade"], "words": ["apple"], "makers": ["M1"]},
    "faults": {"attributes": ["stale"]},
    "group_shift": {"group": ["M1"]},
    "link": {
        "bottles": pd.DataFrame({"sample": BOTTLES, "acidity": [1.4, 1.5, 1.7, 1.9]}),
        "attributes": ["sweetness"], "batch": "bottle",
    },
    "liked_best": {"attribute": "grade"},
    "change_over_days": {"margin": 2.0, "reference": "free-run", "attributes": ["sweetness"]},
    "open_against_blind": {"groups": {"all": ["M1", "田中", "T2"]}},
    "ordinal": {"attribute": "grade", "shuffles": 99},
    "page": {"order": BOTTLES},
    "palate_against_nose": {"nose": "sweetness", "palate": "grade"},
    "procrustes_map": {"draws": 100, "deals": 99},
    "profile_map": {"draws": 100},
    "section_map": {"sections": {"taste": ["sweetness"], "all": ["grade"]}, "draws": 100},
    "stability": {"attributes": ["sweetness", "grade"]},
    "teaching": {"experts": ["M1"]},
    "term_effects": {"target": "sweetness", "fewest": 2},
    "year_on_year": {"years": {"s1": "2025", "s2": "2026"}, "reference": "free-run"},
}  # fmt: skip
ONCE = 'session == "s1" and replicate == 1'
TICKS = 'attribute in ["apple", "stale"]'
ROWS = {
    "citations": TICKS, "descriptors": TICKS,
    "friedman": ONCE, "page": ONCE, "rank_blocks": ONCE, "rank_test": ONCE,
    "year_on_year": '(session == "s1") == (sample != "責め") or sample == "free-run"',
}  # fmt: skip


def scores() -> pd.DataFrame:
    """Return answers of five people in two sessions, some names Japanese, one mark missing."""
    rng = np.random.default_rng(20)
    rows = [
        (session, who, bottle, replicate, name, draw(1.0 * place))
        for session in ("s1", "s2") for who in ("M1", "田中", "T2", "T3", "T4")
        for place, bottle in enumerate(BOTTLES) for replicate in (1, 2)
        for name, draw in (
            ("sweetness", lambda mean: 4 + mean + rng.normal()),
            ("grade", lambda mean: float(np.clip(round(1 + mean / 2 + rng.normal()), 0, 4))),
            ("apple", lambda mean: float(rng.random() < 0.2 + mean / 5)),
            ("stale", lambda mean: float(rng.integers(0, 2 + int(mean) // 2))),
        )
    ]  # fmt: skip
    columns = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    table = pd.DataFrame(rows, columns=columns)
    table.loc[7, "score"] = np.nan
    return table


def functions() -> Iterator[Callable[..., Any]]:
    """Yield every public function that is given a table of scores."""
    for room in dir(kikichoko.analysis):
        package = import_module(f"kikichoko.analysis.{room}")
        for name in dir(package):
            found = getattr(package, name)
            if isfunction(found) and FIRST in {
                one.annotation for one in signature(found).parameters.values()
            }:
                yield found


def held_by(storage: str, function: Callable[..., Any]) -> str:
    """Call a function with all text held so, and write down what it gives."""
    options = PLAIN_WORDS if storage == "plain" else {"mode.string_storage": storage}
    with ExitStack() as held:
        for option, value in options.items():
            with warnings.catch_warnings(action="ignore"):
                held.enter_context(pd.option_context(option, value))
        table, name = scores(), function.__name__
        if storage == "plain":
            assert set(table.dtypes[:3]) == {np.dtype(object)}
        else:
            assert {getattr(kind, "storage", storage) for kind in table.dtypes} == {storage}
        if name in ROWS:
            table = table.query(ROWS[name])
        given: list[Any] = [tidy(table)]
        further = dict(FURTHER.get(name, {}))
        if "attribute" in signature(function).parameters:
            further.setdefault("attribute", "sweetness")
        if name == "term_effects":
            given.insert(0, citations(table, attributes=["apple"]))
        if name == "open_against_blind":
            given.append(table.assign(score=table["score"] + 1))
        if name == "change_over_days":
            bottles = [one for one in BOTTLES if one != "free-run"]
            given.append(pd.DataFrame(
                [(day, one, one, number) for number, day in enumerate(("s1", "s2"))
                 for one in bottles],
                columns=["session", "sample", "series", "time"],
            ))  # fmt: skip
        found = function(*given, **further)
        if isinstance(found, Result):
            return repr(found.to_dict()) + "".join(str(one) for one in found.sentences())
        return repr(plain(found, "en"))


@pytest.mark.parametrize("function", list(functions()), ids=lambda function: function.__name__)
def test_pyarrows_text_and_pythons_give_the_same(function: Callable[..., Any]):
    assert held_by("pyarrow", function) == held_by("python", function) == held_by("plain", function)
