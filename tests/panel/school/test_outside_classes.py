"""Classes with known truth from outside, put through the command; the sentences are judged.

Recipes and generator: tests/outside/classes, by a teacher who had not seen the code. The seeds
are those of the recipes, whose traps lie in them. `benchmarks/class_truth.py` draws many more.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[3]
pytestmark = pytest.mark.xdist_group("teach")


@pytest.fixture(scope="module")
def script() -> ModuleType:
    """Load the benchmark, which is no package."""
    spec = importlib.util.spec_from_file_location("class_truth", ROOT / "benchmarks/class_truth.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("name", ["C02", "C04", "C16", "C18", "C19", "C20"])
def test_each_is_told_what_is_true_and_nothing_false(script: ModuleType, tmp_path: Path, name: str):
    data, maker = script.recipes(script.CLASSES / "classes.toml")
    recipe = data["class"][name]
    cups, ticks = maker.draw(data, name)
    spoken = script.told(cups, ticks, tmp_path)
    for student in recipe["students"]:
        truth = script.Truth(recipe, data["base"], student)
        sentences = spoken["students"][student["name"]]["sentences"]
        got, wrong = script.judge(truth, sentences, data["base"]["attributes"])
        assert wrong == []
        assert all(got.values()), (student["name"], got, sentences)
        assert script.spikes(ticks, student["name"], sentences)


def test_the_judge_can_fail(script: ModuleType):
    data, _ = script.recipes(script.CLASSES / "classes.toml")
    recipe = data["class"]["C02"]
    emi, fumi = (script.Truth(recipe, data["base"], recipe["students"][at]) for at in (0, 1))
    attributes = data["base"]["attributes"]
    turned = ["sour: your order runs the other way from the expert's."]
    assert script.judge(emi, turned, attributes)[0]["reversed"]
    assert script.judge(emi, turned, attributes)[1] == []
    assert script.judge(fumi, turned, attributes)[1] == turned
    praised = ["Your order of the bottles follows the expert's on sweet, sour."]
    assert script.judge(emi, praised, attributes)[1] == [praised[0].lower()]
    assert not script.judge(emi, praised, attributes)[0]["reversed"]
    assert script.judge(fumi, ["You rank 2 of 4."], attributes)[1] != []
