"""What the cards for grades and for guests ask comes back from paper as it was marked."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from kikichoko.forms.photo.photo_reader import read_photo
from kikichoko.forms.questions.cards import card
from kikichoko.forms.questions.question_types import Kind
from kikichoko.forms.questions.sheet import Presentation, Sheet


@pytest.mark.parametrize(("name", "language"), [("official", "ja"), ("guests", "en")])
def test_grades_reasons_and_choice_come_back(name: str, language: str, simulator, tmp_path: Path):
    made = card(name)
    cup = Presentation(number=1, flight=1, codes=("427",), asked=made.keys)
    sheet = Sheet(
        session="s", title="Sake", assessor="A01", language=language, date="2026-03-14",
        presentations=(cup,), scorecard=made,
    )  # fmt: skip
    answers: dict[tuple[str, str], float | str] = {}
    for question in made:
        for place, attribute in enumerate(question.attributes):
            if question.kind in (Kind.CATEGORY, Kind.BALANCE):
                answers["427", attribute] = question.values[1]
            elif question.kind is Kind.TICKS:
                answers["427", attribute] = float(place % 2)
            elif question.kind is Kind.FAULTS:
                answers["427", attribute] = float(place == 1)
            elif question.kind is Kind.LINE:
                answers["427", attribute] = 7.0
    page, picture = simulator.printed(sheet)[1]
    hand = simulator.Hand(np.random.default_rng(3), tool="blue pen", box="tick", line="upright")
    path = tmp_path / "page.png"
    cv2.imwrite(str(path), 255 * simulator.fill_in(page, picture, hand, answers).picture)
    read = {one.attribute: one.value for one in read_photo(path, {"A01": sheet}).answers}
    for (_, attribute), value in answers.items():
        reach = 0.1 if made.owner(attribute).kind is Kind.LINE else 0
        assert read[attribute] == pytest.approx(value, abs=reach), attribute
