"""The batch book and bought bottles beside the scores: nothing new is claimed, all else is said."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from kikichoko.panel.base.words import Sentence
from kikichoko.panel.batches.book import Fact
from kikichoko.panel.batches.of_session import Referral
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.key_file import pours_with_key
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.report import brewed
from kikichoko.panel.session import load
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.prices import offered
from results_schema import faults

pytestmark = pytest.mark.usefixtures("without_figures")
HEAD = "bottle,tank,lot,fraction,pasteurised,abv,meter_value,acidity,supernatant,available"
BOTTLES = f"""{HEAD},year,price,class
old,1,,clear,0,16.5,3.5,1.6,yes,9,2024,,
new,1,A2,clear,0,16.5,,1.9,yes,9,2025,2200 JPY,
cloudy,1,A3,cloudy,0,16.5,,,yes,9,2025,,
lost,9,,clear,0,16.5,1,1.6,yes,9,,,
cheap,,,,2,15.5,3,1.4,yes,9,,1600 JPY,honjozo
dear,,,,2,16.0,2,1.3,yes,9,,"4,800円",junmai daiginjo
"""
TANKS = """tank,season,rice,polishing,yeast
1,2024,Gohyakumangoku,60,701
1,2025,Miyama Nishiki,55,701
"""
LOTS = """lot,tank,season,fraction,meter value,acidity
A2,1,2025,clear,-2,1.8
A3,1,2025,cloudy,-3.5,1.9
"""
PEOPLE = "assessor,role,style,language\n" + "".join(f"T{n},trained,neutral,en\n" for n in range(8))
MEAN = {
    "sweetness": {"old": 3, "new": 3, "cloudy": 7, "lost": 3, "cheap": 3, "dear": 3},
    "quality": {"old": 5, "new": 8, "cloudy": 5, "lost": 5, "cheap": 2, "dear": 8},
}


def run(*words: object) -> str:
    done = CliRunner().invoke(kikichoko, [str(word) for word in words])
    assert done.exit_code == 0, done.output
    return done.output


def answered(place: Path, asked: tuple[str, ...] = tuple(MEAN)) -> None:
    """Plan, answer and report a session; marks lie a little apart by the number of the cup."""
    run("plan", place)
    session = load(place)
    rows = []
    for at, pour in enumerate(pours_with_key(session, load_open(session))):
        for name in asked:
            mark = MEAN[name][pour.bottle] + (at * 7 % 5 - 2) / 4
            rows.append(f"{pour.assessor},{pour.code},{name},{mark:g}")
    table = place / "typed.csv"
    table.write_text("\n".join(["assessor,code,attribute,score", *rows, ""]), "utf-8")
    run("read", place, table)
    run("report", place)


def booked(place: Path) -> None:
    """Put a batch book beside a session."""
    for name, text in (("tanks.csv", TANKS), ("lots.csv", LOTS)):
        (place.parent / name).write_text(text, "utf-8")
        run("batches", "--book", place.parent / "batches", place.parent / name)


def words(place: Path, section: str) -> str:
    """Return the words of a section of the report, without its markup."""
    page = (place / "report" / "report.html").read_text("utf-8").replace("\u00a0", " ")
    found = re.search(rf'(?s)<section id="{section}".*?</section>', page)
    if found is None:
        return ""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", found[0])))


@pytest.fixture(scope="module")
def whole(folder_once: Callable[..., Path], without_figures: None) -> Path:  # noqa: ARG001
    """Six bottles, four of them own, two bought, with a book beside the session."""
    place = folder_once(bottles=BOTTLES, assessors=PEOPLE, pour_ml=10)
    booked(place)
    answered(place)
    return place


def test_numbers_come_from_the_book_where_the_session_has_none(whole: Path):
    said = words(whole, "brewed")
    assert "left open in bottles.csv: meter value, polishing ratio of new." in said
    assert "pairs are shown" not in said, "all are"
    assert re.search("left open in bottles.csv: meter value, acidity,? .*? of cloudy", said)
    assert "new, acidity: bottles.csv has 1.9, the batch book 1.8 (lots.csv, row 2)" in said
    results = json.loads((whole / "report" / "results.json").read_text("utf-8"))
    found = {row["sample"]: row for row in results["brewed"]["bottles"]}
    assert found["old"] | {"sample": ""} == {"sample": "", "year": "2024", "tank": "1", "lot": ""}
    assert found["cloudy"]["lot"] == "A3"
    assert set(found) == {"old", "new", "cloudy"}


def test_a_bottle_that_the_book_does_not_know_is_named(whole: Path):
    assert "lost: the batch book has nothing of 9. It has: 1 / 2024" in words(whole, "brewed")


def test_bottles_of_one_batch_share_a_column():
    """The same tank served warm and cold is one; another lot of it has a column of its own."""
    tank = {"rice": Fact(year="2025", tank="1", lot="", day="", column="rice", value="Omachi",
                         written="Omachi", file="tanks.csv", row=2)}  # fmt: skip
    book = Referral(
        book=None,
        places={"cold": ("2025", "1", ""), "warm": ("2025", "1", ""), "late": ("2025", "1", "A2")},
        facts=dict.fromkeys(("cold", "warm", "late"), tank), filled={}, told=(),
    )  # fmt: skip
    table = brewed._table(book, ["cold", "late", "warm"])
    heads = [str(one.to("en") if isinstance(one, Sentence) else one) for one in table.columns]
    assert heads == ["What", "cold, warm", "late"]
    assert table.iloc[:, 1].tolist() == ["2025", "1", "–", "Omachi"]
    assert table.iloc[:, 2].tolist() == ["2025", "1", "A2", "Omachi"]


def test_what_changed_together_comes_first(whole: Path):
    said = words(whole, "brewed")
    together = said.index("changed together")
    assert together < said.index("Nothing here says that one made the other")
    assert "No batch is left over" in said


def test_only_claims_stand_beside_the_brews(whole: Path):
    said = words(whole, "brewed")
    assert "one mash: new, cloudy" in said
    assert "two years of a tank: old, new" in said
    years = said[said.index("two years of a tank: old, new") :][:220]
    assert "rice Gohyakumangoku / Miyama Nishiki" in years
    assert "meter value 3.5 / −2" in years
    results = json.loads((whole / "report" / "results.json").read_text("utf-8"))
    claimed = [one for one in results["statements"] if one["kind"] == "claim"]
    assert not [one for one in claimed if one["section"] == "brewed"]
    sweet = re.search(r"Sweetness −(\d\.\d) \(", said)
    assert sweet is not None
    assert float(sweet[1]) == pytest.approx(4, abs=0.5), "marks lie half a point apart at most"


def test_own_bottles_stand_beside_bought_ones(whole: Path):
    said = words(whole, "place")
    assert "new is rated above cheap in overall quality" in said
    assert "old is rated below dear in overall quality" in said
    assert "new and dear: no difference in overall quality is shown; one of less than" in said
    assert "A price is not a measurement of quality" in said
    assert "2 prices have 2 orders" in said
    assert "One bottle of a class stands for itself" in said
    assert "new: your own price, 2200 JPY" in said
    assert said.index("1600 JPY") < said.index("4,800円"), "by price"
    assert "worth" not in said


def test_the_numbers_are_as_their_schema_says(whole: Path):
    results = json.loads((whole / "report" / "results.json").read_text("utf-8"))
    assert faults(results) == []
    assert sum(row["claimed"] for row in results["place"]) == 7


def test_nobody_asked_means_no_place(folder: Callable[..., Path]):
    place = folder(bottles=BOTTLES, assessors=PEOPLE, pour_ml=10, replicates=1)
    answered(place, ("sweetness",))
    said = words(place, "place")
    assert "Nobody was asked how much they like the bottles" in said
    assert "rated" not in said
    assert words(place, "brewed") == "", "no book, no chapter"


@pytest.mark.parametrize(
    ("written", "amount", "currency"),
    [("2,400円", 2400, "JPY"), ("¥2400", 2400, "JPY"), ("2400 JPY", 2400, "JPY"),
     ("24.00 €", 24, "EUR"), ("24,50 €", 24.5, "EUR"), ("2400", 2400, ""),
     ("about 20", None, ""), ("-5 €", None, "EUR")],
)  # fmt: skip
def test_prices_as_people_write_them(written: str, amount: float | None, currency: str):
    """From tests/outside/batch_book/offer.md, O1."""
    found = offered(Bottle(name="a", further={"値段": written}))
    assert (found.amount, found.currency) == (amount, currency)


@pytest.mark.parametrize(
    ("numbers", "printed"),
    [
        ((0, 8, 24, 4), (0, 8, 7, 0)),
        ((1, 20, 3, 4), (1, 11, 3, 0)),
        ((0, 5, 6, 4), (0, 5, 6, 4)),
        ((0, 5, 6, 5), (0, 5, 6, 4)),
    ],
)
def test_no_kind_of_pair_is_left_out_whole_but_portions(numbers, printed):
    kinds = {
        kind: [(f"{kind} {at}", "b") for at in range(n)]
        for kind, n in zip(brewed.ORDER, numbers, strict=True)
    }
    assert tuple(len(pairs) for pairs in brewed.printed(kinds).values()) == printed
    assert bool(brewed._left_out(kinds)) is (sum(numbers) > brewed.MOST)


@pytest.mark.parametrize(
    ("shown", "printed", "left"),
    [((0, 0, 0, 0), (0, 8, 7, 0), 0), ((0, 12, 1, 0), (0, 12, 3, 0), 0),
     ((0, 14, 1, 2), (0, 14, 1, 0), 2), ((0, 13, 4, 0), (0, 11, 4, 0), 2)],
)  # fmt: skip
def test_what_is_shown_is_printed_first_and_else_counted(shown, printed, left):
    kinds = {
        kind: [(f"{kind} {at}", "b") for at in range(n)]
        for kind, n in zip(brewed.ORDER, (0, 20, 10, 4), strict=True)
    }
    of = {
        frozenset(pair)
        for kind, n in zip(brewed.ORDER, shown, strict=True)
        for pair in kinds[kind][:n]
    }
    assert tuple(len(pairs) for pairs in brewed.printed(kinds, of).values()) == printed
    told = [str(line) for block in brewed._left_out(kinds, of) for line in block.lines]
    rest = f"Of {left} of the pairs left out something is shown; it stands under “Do the bottles"
    assert [one.startswith(rest) for one in told if "is shown" in one] == [True] * (left > 0)
