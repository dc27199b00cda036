"""What the words for a label say of the cups, and the buyer's page with them."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.key_file import pours_with_key
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.report.label import label_name, named_for
from kikichoko.panel.session import load

BOTTLES = "bottle,fraction,abv,available\nclear,clear,16,9\nhazy,second,16,9\n"
PEOPLE = "assessor,role\n" + "".join(f"T{n},trained\n" for n in range(8))
MEAN = {"clarity": (8.0, 3.0), "sweetness": (3.0, 7.0), "acidity": (5.0, 5.0)}


@pytest.mark.parametrize(("language", "called", "name"), [
    ("en", "Smell of the still cup", "aroma"),
    ("en", "Aroma intensity", "aroma"),
    ("ja", "上立ち香の強さ", "上立ち香"),
    ("en", "Nose of our house", "nose of our house"),
])  # fmt: skip
def test_a_label_calls_the_smell_as_a_catalogue_does_unless_the_session_has_a_name(
    language: str, called: str, name: str
):
    card = SimpleNamespace(name=lambda *_: called)
    assert label_name(card, "aroma_intensity", language) == name
    assert label_name(card, "sweetness", language) == called.lower()


def run(*words: object) -> None:
    done = CliRunner().invoke(kikichoko, [str(word) for word in words])
    assert done.exit_code == 0, done.output


def pages(folder: Callable[..., Path], **settings: object) -> tuple[Path, str]:
    """Plan, answer and report a session of two bottles; return it and the report's text."""
    place = folder(bottles=BOTTLES, assessors=PEOPLE, pour_ml=20, replicates=1, **settings)
    run("plan", place)
    session = load(place)
    names = [bottle.name for bottle in session.bottles]
    people = [one.code for one in session.assessors]
    lines = ["assessor,code,attribute,score"]
    for pour in pours_with_key(session, load_open(session)):
        which = names.index(pour.bottle)
        scatter = (people.index(pour.assessor) * (which + 2) * 3 % 7 - 3) / 5
        for attribute, means in MEAN.items():
            if settings["appearance"] == "with" or (attribute == "clarity") != pour.tasted:
                mark = f"{means[which] + scatter:g}"
                lines.append(f"{pour.assessor},{pour.code},{attribute},{mark}")
    (place / "typed.csv").write_text("\n".join([*lines, ""]), "utf-8")
    run("read", place, place / "typed.csv")
    run("report", place)
    run("offer", place)
    return place, text_of(place / "report" / "report.html")


def text_of(page: Path) -> str:
    plain = re.sub(r"(?s)<(style|script).*?</\1>|<[^>]+>", " ", page.read_text("utf-8"))
    return re.sub(r"\s+", " ", plain)


@pytest.mark.usefixtures("without_figures")
def test_what_was_looked_at_was_not_in_the_cups_tasted_from(
    folder: Callable[..., Path],
):
    more = 'vessel = "black cups"\nappearance_vessel = "thin glasses"'
    place, report = pages(folder, appearance="flight", more=more)
    said = "Judged by the eye alone, in a flight apart and in this vessel (thin glasses): clarity."
    served = "smell and taste were judged at 18 °C in this vessel: black cups."
    assert served in report
    assert said in report
    offered = text_of(place / "offer" / "clear-en.html")
    assert "ore clarity" in offered
    assert f"in this vessel: black cups. {said}" in offered
    japanese = text_of(place / "offer" / "clear-ja.html")
    assert "見た目だけで、中の見える器の別のフライトで評価したもの：" in japanese, (
        "no English glass"
    )


@pytest.mark.usefixtures("without_figures")
def test_where_all_stood_in_one_cup_nothing_is_set_apart(
    folder: Callable[..., Path],
):
    place, report = pages(folder, masking="none", appearance="with")
    assert "more clarity" in report.lower()
    assert "by the eye alone" not in report
    assert "by the eye alone" not in text_of(place / "offer" / "clear-en.html")


@pytest.mark.parametrize(("sample", "others", "language", "said"), [
    ("中取り", ("責め",), "en", ("press-end",)),
    ("中取り 生", ("責め 生", "にごり 生"), "en", ("press-end raw", "cloudy raw")),
    ("中取り", ("定番酒",), "en", ("house sake",)),
    ("中取り", ("春の酒",), "en", ("another sake of this tasting",)),
    ("中取り", ("責め", "春の酒"), "en", ("2 other sakes of this tasting",)),
    ("荒走り", ("あらばしり",), "en", ("another sake of this tasting",)),  # one name for both
    ("middle", ("A1", "press-end"), "en", ("A1", "press-end")),
    ("middle", ("press-end",), "ja", ("責め",)),
    ("middle", ("tank 9",), "ja", ("tank 9",)),
    ("middle", ("nakadori",), "ja", ("nakadori",)),  # both would be 中取り
        ("middle", ("clear",), "ja", ("澄み酒",)),
])  # fmt: skip
def test_those_compared_with_are_named_in_the_language_of_the_words(
    sample: str, others: tuple[str, ...], language: str, said: tuple[str, ...]
):
    assert named_for(sample, others, language) == said
