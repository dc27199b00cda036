"""Classes with known truth from outside, put through the command; the sentences are judged.

Recipes and generator: tests/outside/classes, by a teacher who had not seen the code. The seeds
are those of the recipes, whose traps lie in them. `benchmarks/class_truth.py` draws many more.
"""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import pytest

pytestmark = pytest.mark.xdist_group("teach")


@pytest.mark.parametrize("name", ["C02", "C04", "C16", "C18", "C19", "C20"])
def test_each_is_told_what_is_true_and_nothing_false(
    class_truth: ModuleType, tmp_path: Path, name: str
):
    data, maker = class_truth.recipes(class_truth.CLASSES / "classes.toml")
    recipe = data["class"][name]
    cups, ticks = maker.draw(data, name)
    spoken = class_truth.told(cups, ticks, tmp_path)
    for student in recipe["students"]:
        truth = class_truth.Truth(recipe, data["base"], student)
        sentences = spoken["students"][student["name"]]["sentences"]
        got, wrong = class_truth.judge(truth, sentences, data["base"]["attributes"])
        assert wrong == []
        assert all(got.values()), (student["name"], got, sentences)
        assert class_truth.spikes(ticks, student["name"], sentences)


def test_the_judge_can_fail(class_truth: ModuleType):
    data, _ = class_truth.recipes(class_truth.CLASSES / "classes.toml")
    recipe = data["class"]["C02"]
    emi, fumi = (class_truth.Truth(recipe, data["base"], recipe["students"][at]) for at in (0, 1))
    attributes = data["base"]["attributes"]
    turned = ["sour: your order runs the other way from the expert's."]
    assert class_truth.judge(emi, turned, attributes)[0]["reversed"]
    assert class_truth.judge(emi, turned, attributes)[1] == []
    assert class_truth.judge(fumi, turned, attributes)[1] == turned
    praised = ["Your order of the bottles follows the expert's on sweet, sour."]
    assert class_truth.judge(emi, praised, attributes)[1] == [praised[0].lower()]
    assert not class_truth.judge(emi, praised, attributes)[0]["reversed"]
    assert class_truth.judge(fumi, ["You rank 2 of 4."], attributes)[1] != []
