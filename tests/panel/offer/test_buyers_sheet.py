"""The sheet for a buyer: what tests/outside/batch_book/offer.md asks of it (O2, O3)."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest
from click.testing import CliRunner, Result
from kikichoko.panel.base.words import CATALOGUE
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.offer.files import html, pdf
from kikichoko.panel.offer.one_page import BuyersSheet
from kikichoko.panel.plan.key_file import pours_with_key
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.report.known_words import told_in
from kikichoko.panel.session import load

HEAD = "bottle,tank,lot,fraction,pasteurised,abv,meter_value,acidity,supernatant,available"
BOTTLES = f"""{HEAD},price,class,volume_ml
clear,4,,clear,2,16.5,1,1.6,yes,9,2200 JPY,junmai,
cloudy,4,,cloudy,0,16.5,0.5,1.7,yes,9,,daiginjo,300
bought,,,,2,15.5,3,1.4,yes,9,4800 JPY,ginjo,
"""
TANKS = """tank,season,rice,polishing,koji share,additions,inspected rice,filtered
4,2025,Gohyakumangoku,60,20,none,yes,yes
"""
PEOPLE = "assessor,role\nM1,maker\n" + "".join(f"T{n},trained\n" for n in range(8))
MEAN = {"sweetness": (3.0, 7.0, 5.0), "acidity": (5.0, 5.0, 5.0)}


def run(*words: object) -> Result:
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


def answered(place: Path, stale: int = 0, marks: dict[str, tuple[float, ...]] = MEAN) -> None:
    """Plan and answer; the first `stale` assessors note stale in the cloudy bottle."""
    assert run("plan", place).exit_code == 0
    session = load(place)
    names = [bottle.name for bottle in session.bottles]
    rows = []
    people = [one.code for one in session.assessors]
    for pour in pours_with_key(session, load_open(session)):
        for attribute, means in marks.items():
            # Scatter by person and bottle: what a plan's secret shuffled must not change it.
            which = names.index(pour.bottle)
            mark = means[which] + (people.index(pour.assessor) * (which + 2) * 3 % 7 - 3) / 5
            rows.append((pour.assessor, pour.code, attribute, f"{mark:g}"))
        if stale:
            noted = pour.bottle == "cloudy" and pour.assessor in [f"T{n}" for n in range(stale)]
            rows.append((pour.assessor, pour.code, "fault:stale", "2" if noted else "0"))
    table = place / "typed.csv"
    lines = ["assessor,code,attribute,score", *(",".join(row) for row in rows), ""]
    table.write_text("\n".join(lines), "utf-8")
    assert run("read", place, table).exit_code == 0


def text_of(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"(?s)<style.*?</style>|<[^>]+>", " ", page))


@pytest.fixture(scope="module")
def sold(folder_once: Callable[..., Path]) -> tuple[Path, Result]:
    """Two fractions of a tank and a bought bottle, with the tank's book, and the sheets."""
    place = folder_once(bottles=BOTTLES, assessors=PEOPLE, pour_ml=10, replicates=1)
    table = place.parent / "tanks.csv"
    table.write_text(TANKS, "utf-8")
    assert run("batches", "--book", place.parent / "batches", table).exit_code == 0
    answered(place)
    return place, run("offer", place, "--pdf", "--maker", "Example & Co.")


def page(sold: tuple[Path, Result], name: str) -> str:
    return text_of((sold[0] / "offer" / f"{name}.html").read_text("utf-8"))


def test_a_page_in_each_language_for_own_bottles_alone(sold: tuple[Path, Result]):
    place, done = sold
    assert done.exit_code == 0
    made = sorted(path.name for path in (place / "offer").iterdir() if path.suffix == ".html")
    assert made == ["clear-en.html", "clear-ja.html", "cloudy-en.html", "cloudy-ja.html"]
    for path in (place / "offer").glob("*.pdf"):
        assert len(pypdfium2.PdfDocument(path)) == 1


def test_words_are_claims_between_own_bottles(sold: tuple[Path, Result]):
    said = page(sold, "cloudy-en")
    assert "More sweetness than clear" in said
    assert "bought" not in said
    assert "acidity than" not in said, "nothing is shown of acidity"
    assert "8 people tasted it blind on 2026-03-14, by code" in said
    assert "The maker&#39;s marks are not counted" in said
    assert not re.search(r"\bT\d\b|\bM1\b", said), "no name of a taster"
    codes = {pour.code for pour in load_open(load(sold[0])).pours}
    assert not codes & set(re.findall(r"\b\d{3}\b", said.replace("300 mL", "")))


def test_both_languages_say_the_same(sold: tuple[Path, Result]):
    english, japanese = page(sold, "cloudy-en"), page(sold, "cloudy-ja")
    for value in ("60 %", "16.5", "+0.5", "1.7", "2026-03-14"):
        assert value in english
        assert value in japanese
    assert "Gohyakumangoku" in english
    assert "五百万石" in japanese, "rice of a fixed list"
    assert "cloudy（にごり）" in japanese
    assert "澄み酒に比べて甘味がまさる" in japanese, "a name that is known, as the page writes it"
    assert "にごり" in japanese, "the fraction, which was typed in English"
    assert "Fraction cloudy" in english
    assert ("5 °C" in english) == ("5 ℃" in japanese)
    assert english.count(". ") >= 4


def test_no_serving_advice_from_one_temperature(sold: tuple[Path, Result]):
    said = page(sold, "clear-en")
    assert "Serving" not in said
    assert "at 18 °C" in said, "that it was tasted so is a fact"


def served(
    folder: Callable[..., Path], sweetness: tuple[float, ...], of: str = "cloudy", heat: int = 2
) -> str:
    """Return the page of a bottle, both bottles served at 10 and at 40 °C."""
    served = "bottle,poured_from,fraction,pasteurised,temperature_c,abv,available\n" + "".join(
        f"{name} {degrees},{name},{name},{heat},{degrees},16,9\n"
        for name in ("clear", "cloudy")
        for degrees in (10, 40)
    )
    place = folder(bottles=served, assessors=PEOPLE, pour_ml=10, replicates=1)
    answered(place, marks={"sweetness": sweetness, "acidity": (5.0, 5.0, 5.0, 5.0)})
    done = run("offer", place, "--bottle", f"{of} 10")
    assert done.exit_code == 0, done.output
    assert len(list((place / "offer").glob("*.html"))) == 2, "a page in each language"
    said = text_of((place / "offer" / f"{of}-en.html").read_text("utf-8"))
    assert f"{of} 10" not in said
    assert "among 2 bottles, at 10 / 40 °C" in said
    assert "Tasted: at 10 °C, at 40 °C." in said
    assert "Felt or seen by those who tasted, and so not blind: serving temperature." in said
    return said


def test_of_a_bottle_served_in_two_ways_one_page_compares_like_with_like(
    folder: Callable[..., Path],
):
    said = served(folder, (3.0, 3.0, 3.0, 7.0))
    assert "40 °C: More sweetness than clear." in said
    assert re.search(r"Sweetness: more at 40 °C than at 10 °C, by [34]\.\d points", said), (
        "its own change; the average over bottles that go apart is about 2"
    )
    assert "no change is shown" not in said


@pytest.mark.parametrize(("of", "lively"), [("cloudy", True), ("clear", False)])
def test_a_bottle_that_may_be_under_pressure_is_never_said_to_be_warmed_closed(
    folder: Callable[..., Path], of: str, lively: bool
):
    said = served(folder, (3.0, 3.0, 3.0, 7.0), of, heat=0)
    warning = "Warm only what is poured and has lost its gas."
    assert said.count(warning) == lively, "said once"
    assert ("never lay it down, shake, warm or freeze it" in said) == lively


def test_of_a_bottle_in_which_no_change_is_shown_the_page_says_that_alone(
    folder: Callable[..., Path],
):
    said = served(folder, (3.0, 3.0, 3.0, 7.0), "clear")
    assert "Sweetness: of this bottle no change is shown from 10 °C to 40 °C." in said
    assert "more in cloudy" not in said, "that is another bottle's"
    assert "more at 40 °C" not in said
    assert "Points on a scale" not in said, "no size stands there"


def test_a_bottle_tasted_in_one_way_is_told_from_those_served_so_and_no_effect_is_told_of_it(
    folder: Callable[..., Path],
):
    """House sake at 10 °C, fresh: less sweet than cloudy at 10 °C, which was open for a day."""
    rows = [(f"{name} {degrees}", name, name, degrees, 1)
            for name in ("clear", "cloudy") for degrees in (10, 40)]  # fmt: skip
    rows += [("house", "house", "clear", 10, 0), ("plain", "plain", "clear", 10, 1)]
    head = "bottle,poured_from,fraction,pasteurised,temperature_c,opened_days,abv,available,"
    bottles = (
        head
        + "mash days,own mark\n"
        + "".join(
            f"{name},{source},{fraction},{2 if source == name else 1},{degrees},{days},16,9,"
            f"{21 if source == name else 24},{name}\n"
            for name, source, fraction, degrees, days in rows
        )
    )
    place = folder(bottles=bottles, assessors=PEOPLE, pour_ml=10, replicates=1)
    answered(place, marks={"sweetness": (3.0, 3.0, 6.0, 9.0, 3.0, 5.0), "acidity": (5.0,) * 6})
    assert run("offer", place, "--bottle", "house", "--bottle", "plain").exit_code == 0
    said = text_of((place / "offer" / "house-en.html").read_text("utf-8"))
    assert "10 °C: Less sweetness than cloudy" in said
    assert (
        "10 °C: This bottle had just been opened, cloudy and plain had been open 1 day; cloudy "
        "differs from this bottle in fraction, heating and days of mash; that may be part of the "
        "difference." in said
    )
    assert "Tasted: at 10 °C." in said
    assert "Sweetness:" not in said, "what 40 °C does was not tasted of it"
    other = text_of((place / "offer" / "plain-en.html").read_text("utf-8"))
    clear = other.partition("than clear")[0]
    assert "his bottle had" not in clear, "open for a day like those it is compared with"
    japanese = text_of((place / "offer" / "house-ja.html").read_text("utf-8"))
    assert not re.search("器は[^。]*できいた", japanese), (
        "what somebody wrote of a cup is no adverb"
    )
    assert (
        "この瓶は開栓当日、にごり、「plain」は開栓後1日、にごりはこの瓶と区分、火入れ、醪日数も違う。"
        in japanese
    )


def test_served_in_one_way_and_told_from_none_that_was_served_so(folder: Callable[..., Path]):
    said = served(folder, (3.0, 3.0, 3.0, 3.0))
    assert "no word that tells this bottle from others served in the same way" in said


def test_what_serving_does_to_all_bottles_alike_is_said_with_its_size(
    folder: Callable[..., Path],
):
    said = served(folder, (3.0, 7.0, 3.0, 7.0))
    assert re.search(r"Sweetness: more at 40 °C than at 10 °C, by [34]\.\d points", said)
    assert "more in cloudy than in clear" not in said


def test_a_class_stands_only_where_the_label_check_allows_it(sold: tuple[Path, Result]):
    assert "junmai" in page(sold, "clear-en")
    assert "daiginjo" not in page(sold, "cloudy-en")
    told = sold[1].stderr
    assert "cloudy: the class 'daiginjo' does not stand on the sheet" in told
    assert "'junmai'" not in told


def test_a_price_only_as_the_maker_wrote_it(sold: tuple[Path, Result]):
    assert "2200 JPY" in page(sold, "clear-en")
    assert "JPY" not in page(sold, "cloudy-en")
    assert "4800" not in page(sold, "clear-en")


def test_a_volume_only_where_the_maker_wrote_one(sold: tuple[Path, Result]):
    assert "720" not in page(sold, "clear-en"), "a default is no fact"
    assert "Volume" not in page(sold, "clear-en")
    assert "Volume 300 mL" in page(sold, "cloudy-en")
    assert "容量 300 mL" in page(sold, "cloudy-ja")


def test_raw_and_cloudy_with_their_care(sold: tuple[Path, Result]):
    said = page(sold, "cloudy-en")
    assert "raw, not heated" in said
    assert "keep at 5 °C or below" in said
    assert "May be under pressure" in said
    assert "Warm only what is poured and has lost its gas" in said
    for care in ("basin", "no corkscrew", "leftovers cold and loosely closed"):
        assert care in said
    japanese = page(sold, "cloudy-ja")
    for care in ("ガスの抜けた分だけ", "受け皿", "スクリューは使わない", "栓を緩く"):
        assert care in japanese
    assert "5 °C" not in page(sold, "clear-en")
    assert "20 must not drink" in said


@pytest.mark.parametrize("noted", [0, 7])
def test_a_bottle_that_is_held_back_gets_no_page(folder: Callable[..., Path], noted: int):
    place = folder(
        bottles=BOTTLES, assessors=PEOPLE, pour_ml=10, replicates=1,
    )  # fmt: skip
    answered(place, stale=noted)
    done = run("offer", place)
    assert (done.exit_code == 3) == bool(noted)
    assert ("held back" in done.stderr) == bool(noted)
    assert (place / "offer" / "cloudy-en.html").exists() == (not noted)
    clear = (place / "offer" / "clear-en.html").read_text("utf-8")
    assert "stale" not in clear
    assert ("than cloudy" in clear) == (not noted), "its fault may be the difference"
    assert ("words that compare with cloudy are left out" in done.stderr) == bool(noted)


def test_three_people_agree_on_no_words(folder: Callable[..., Path]):
    few = "assessor,role\nT0,trained\nT1,trained\nT2,trained\n"
    place = folder(bottles=BOTTLES, assessors=few, pour_ml=10, replicates=2)
    answered(place)
    assert run("offer", place, "--bottle", "clear").exit_code == 0
    said = text_of((place / "offer" / "clear-en.html").read_text("utf-8"))
    assert "too few people" in said
    assert "sweetness" not in said
    assert (
        "no bottle of this session: nobody"
        in run("offer", place, "--bottle", "nobody").stderr.lower()
    )


def test_names_that_act_or_are_long_leave_the_page_whole():
    name = "<b>a</b> " + "very long name " * 8
    sheet = BuyersSheet(
        language="en", sample=name, name=name, title=name, subtitle="#strong[x]",
        groups=tuple((f"{n} facts", (("Rice", "x" * 24),) * n) for n in (7, 9, 5)),
        found=(", ".join(["a word of the panel"] * 10) + " on the nose.",), beside=(),
        basis="8 people.", serving=("Tasted at 10 °C.",) * 3, keeping=("Keep cold.",) * 2,
        small=("Small.",) * 3,
    )  # fmt: skip
    assert "<b>" not in html(sheet)
    assert len(pypdfium2.PdfDocument(pdf(sheet, "A4"))) == 1
    assert len(pypdfium2.PdfDocument(pdf(sheet, "Letter"))) == 1


def test_a_test_of_difference_has_no_sheet(folder: Callable[..., Path]):
    place = folder(bottles="bottle,available\na,9\nb,9\n", assessors=PEOPLE, replicates=1)
    settings = place / "session.toml"
    settings.write_text(f'method = "triangle"\n{settings.read_text("utf-8")}', "utf-8")
    done = run("offer", place)
    assert done.exit_code == 1
    shutil.rmtree(place)


@pytest.mark.parametrize(
    ("kind", "typed", "english", "japanese"),
    [
        ("fraction", "Free-Run", "Free-Run", "荒走り"),
        ("fraction", "中汲み", "middle", "中汲み"),
        ("fraction", "middle, press-end", "middle, press-end", "中取り、責め"),
        ("fraction", "middle, second half", "middle, second half", "middle, second half"),
        ("standing", "定番酒", "house sake", "定番酒"),
        ("standing", "House sake", "House sake", "定番酒"),
        ("standing", "春の酒", "春の酒", "春の酒"),
        ("vessel", "wine glass", "wine glass", "ワイングラス"),
        ("vessel", "ぐい呑み", "larger cup", "ぐい呑み"),
        ("vessel", "middle", "middle", "middle"),
        ("vessel", "", "", ""),
    ],
)
def test_known_fractions_and_vessels_are_said_in_the_language_of_the_page(
    kind: str, typed: str, english: str, japanese: str
):
    """From docs/glossary.md and common practice of the trade; what is not known stays as typed."""
    assert told_in(kind, typed, "en") == english
    assert told_in(kind, typed, "ja") == japanese


def test_an_english_page_says_names_of_known_words_and_leaves_out_a_clause_it_cannot_say(
    folder: Callable[..., Path],
):
    place = folder(
        bottles="bottle,fraction,pasteurised,abv,available\n中取り 生,中取り,0,16,9\n"
        "にごり 火入れ,にごり,2,16,9\n春の酒,,2,16,9\n",
        assessors=PEOPLE, pour_ml=10, replicates=1,
    )  # fmt: skip
    settings = place / "session.toml"
    given = settings.read_text("utf-8")
    vessel = '[serving]\nvessel = "同じ種類の猪口、燗には温める"\n'
    settings.write_text(given.replace("[serving]\n", vessel, 1), "utf-8")
    answered(place)
    assert run("offer", place).exit_code == 0
    said = text_of((place / "offer" / "中取り 生-en.html").read_text("utf-8"))
    assert "中取り 生 (middle raw)" in said
    assert "Less sweetness than cloudy pasteurised" in said
    assert "in this vessel" not in said
    other = text_of((place / "offer" / "にごり 火入れ-en.html").read_text("utf-8"))
    assert "春の酒" in other, "a name of no known words stays"
    japanese = text_of((place / "offer" / "中取り 生-ja.html").read_text("utf-8"))
    assert "middle" not in japanese
    assert "器：同じ種類の猪口、燗には温める" in japanese


def test_no_line_ends_between_a_number_and_its_unit(sold: tuple[Path, Result]):
    for language, degrees in (("en", "°C"), ("ja", "℃")):
        text = (sold[0] / "offer" / f"cloudy-{language}.html").read_text("utf-8")
        body = text.partition("</style>")[2]
        assert f"5\u00a0{degrees}" in body
        assert not re.search(r"\d (?:°C|℃|%|mL)", body)


def test_no_spelling_stands_for_two_things():
    for language in ("en", "ja"):
        entries = CATALOGUE.topic(language, "trade")
        for kind in ("fraction_", "vessel_"):
            words = [
                word.strip().casefold()
                for name, text in entries.items()
                if name.startswith(kind)
                for word in text.split("|")
            ]
            assert len(words) == len(set(words))
