"""Causes that fell in the sealed classes, in classes of our own: tests/outside/classes/second.toml.

Each sentence here was missing, or the forbidden one there, before its rule was mended.
"""

from __future__ import annotations

from types import ModuleType

import pytest

TOLD = {
    "M01": {
        "Abi": ["sour: your order ran the other way in session 1; since session 2 it follows"],
        "Bo": ["fruity: your order followed the expert's in sessions 1, 2, 3; since session 4 it"],
        "teacher": ["Abi turned round on sour", "Bo turned round on fruity"],
    },
    "M02": {"Dee": ["Your marks lie close together", "do not follow the bottles"]},
    "M03": {
        "Hat": ["sweet: 3 of 4 experts put the bottles in your order, 1 the other way round"],
        "Ira": ["sweet: 1 of 4 experts put the bottles in your order", "talk about the word first"],
        "teacher": ["E1 stands against E2, E3, E4 on sweet, in 3 of 3 sessions"],
    },
    "M04": {
        "Kit": ["In session 1 you and the expert differ much on", "cannot be said whose it is"],
        "teacher": ["In session 1 both students agree with each other and against the expert"],
    },
    "M05": {
        "Moe": ["In session 3 you and the expert differ much on", "With one cup of the expert"],
        "teacher": ["as if two cups had changed places"],
    },
    "M06": {
        "Nan": ["these ticks do not yet tell", "only the one cup that you are surest of"],
        "Oz": ["these ticks do not yet tell"],
        "Pru": ["You noticed something wrong in"],
        "teacher": ["Nan's ticks do not tell", "Oz's ticks do not tell"],
    },
    "M07": {
        "Que": ["Right or wrong is judged by what was put in, not by an expert"],
        "Rob": ["6 of 6 spiked cups went by unnoticed", "1 of 2 experts named nothing"],
        "teacher": ["E1 noticed 0 of 6 spiked cups"],
    },
    "M08": {"Tia": ["Your first sessions were closer to the expert"]},
}
NEVER = {
    "M01": {"Abi": ["sour: here your marks lie farthest", "came clearly closer"]},
    "M02": {"Dee": ["agree closely", "agree fairly"], "Fox": ["lie close together"]},
    "M04": {"Kit": ["came clearly closer"]},
    "M05": {"Moe": ["first sessions were closer"]},
    "M06": {"Oz": ["stronger dose"], "Nan": ["stronger dose"], "Pru": ["stronger dose"]},
    "M07": {"teacher": ["Nothing is shown"]},
    "M08": {"Tia": ["common at the start", "that is the start"]},
}


@pytest.mark.parametrize("name", sorted(TOLD))
def test_what_fell_is_told_in_other_classes(class_truth: ModuleType, name: str):
    data, maker = class_truth.recipes(class_truth.CLASSES / "second.toml")
    cups, ticks = maker.draw(data, name)
    found = class_truth.asked(cups, ticks)
    said = {who: " ".join(map(str, one.sentences())) for who, one in found.students.items()}
    said["teacher"] = " ".join(map(str, found.sentences()))
    for who, parts in TOLD[name].items():
        assert [part for part in parts if part not in said[who]] == [], (who, said[who])
    for who, parts in NEVER.get(name, {}).items():
        assert [part for part in parts if part in said[who]] == [], (who, said[who])
    recipe = data["class"][name]
    for one in recipe["students"]:
        truth = class_truth.Truth(recipe, data["base"], one)
        sentences = [str(text) for text in found.students[one["name"]].sentences()]
        got, wrong = class_truth.judge(truth, sentences, data["base"]["attributes"])
        assert wrong == [], one["name"]
        assert all(got.values()), (one["name"], got)
