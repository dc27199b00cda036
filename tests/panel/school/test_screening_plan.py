"""A screening evening on files: planned, poured by code, filled in, judged."""

from __future__ import annotations

import csv
import io
from collections import Counter, defaultdict
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pandas as pd
import pypdfium2
import pytest
from kikichoko.panel.cli import main
from kikichoko.panel.plan.code_draw import PLAIN
from kikichoko.panel.plan.secret_draw import Draw
from kikichoko.panel.school.screening_plan import (
    ANSWERS,
    DESCRIBED,
    MARKS,
    MATCHED,
    POINTS,
    ROWS,
    SERVER,
    SETS,
    WEAK,
    answers_of,
    codes_repeat,
    cups_of,
)
from kikichoko.panel.session.reference_solutions import solutions

PEOPLE = ("S1", "S2", "S3")
MARGIN = 25
"""Points at the foot of a page that printers leave free."""


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def write_rows(path: Path, rows: list[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def run(*words: object, code: int = 0) -> str:
    said = io.StringIO()
    with redirect_stdout(said), redirect_stderr(said), pytest.raises(SystemExit) as stop:
        main([str(word) for word in words])
    assert (stop.value.code or 0) == code, said.getvalue()
    return said.getvalue()


def truths(folder: Path) -> dict[tuple[str, str, str], dict[str, str]]:
    found: dict[tuple[str, str, str], dict[str, str]] = defaultdict(dict)
    for row in rows_of(folder / SERVER):
        found[row["assessor"], row["task"], row["item"]][row["code"]] = row["truth"]
    return found


def perfect(task: str, cups: dict[str, str]) -> str:
    """Answer as somebody who knows the key."""
    if task == "detection":
        return next(code for code, truth in cups.items() if truth == "odd")
    if task == "ranking":
        return " ".join(sorted(cups, key=lambda code: int(cups[code])))
    name = next(iter(cups.values()))
    return {"acetic": "vinegar"}.get(name, name)


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("screen") / "spring"
    run("screen", folder, "--plan", ",".join(PEOPLE), "--date", "2026-03-05")
    return folder


def test_what_is_poured_and_asked(evening: Path):
    server = rows_of(evening / SERVER)
    assert (SETS, set(WEAK)) == (2, {"sweet", "sour", "bitter", "salty"})
    for who in PEOPLE:
        mine = [row for row in server if row["assessor"] == who]
        assert Counter(row["task"] for row in mine) == {
            "matching": 8, "detection": 24, "ranking": 12, "description": 4,
        }  # fmt: skip
        assert len({row["code"] for row in mine}) == len(mine)
        assert {row["truth"] for row in mine if row["task"] == "matching"} == set(MATCHED)
        assert {row["truth"] for row in mine if row["task"] == "description"} == set(DESCRIBED)
    for (_, task, _), cups in truths(evening).items():
        if task == "detection":
            assert Counter(cups.values()) == {"odd": 1, "same": 2}
        if task == "ranking":
            assert sorted(cups.values()) == ["1", "2", "3", "4"]
    assert len(ROWS) == 3
    marks = {row["task"]: row for row in rows_of(evening / MARKS)}
    assert float(marks["matching"]["risk"]) > 0  # small, but not nothing
    assert (marks["description"]["risk"], marks["description"]["able"]) == ("", "")
    assert all("[" in row["pour"] or "nothing added" in row["pour"] for row in server)


@pytest.mark.parametrize(("people", "shared"), [(13, False), (14, True)])
def test_no_code_stands_twice_in_an_evening_that_fits(tmp_path: Path, people: int, shared: bool):
    """48 cups each: 13 candidates have 624 cups, 14 have 672, of 633 plain codes."""
    assert codes_repeat(48 * people) is shared
    assert not codes_repeat(len(PLAIN))
    assert codes_repeat(len(PLAIN) + 1)
    folder = tmp_path / "evening"
    said = run("screen", folder, "--plan", ",".join(f"S{n}" for n in range(people)))
    assert ("more than there are plain three-digit codes" in " ".join(said.split())) is shared
    server = rows_of(folder / SERVER)
    assert len(server) == 48 * people
    assert (len({row["code"] for row in server}) < len(server)) is shared
    for n in range(people):
        mine = [row["code"] for row in server if row["assessor"] == f"S{n}"]
        assert len(set(mine)) == len(mine) == 48
    assert len(answers_of(folder)) == 23 * people  # either kind is read


def test_weak_solutions_are_half_of_the_training_amount():
    """12 g/L sucrose, 0.6 citric acid, 0.27 caffeine, 2 salt: ISO 8586, from memory."""
    amounts = {one.key: one.amount * WEAK[one.key] for one in solutions() if one.key in WEAK}
    assert amounts == pytest.approx({"sweet": 12, "sour": 0.6, "bitter": 0.27, "salty": 2})


def test_a_sheet_says_what_a_row_is_put_in_order_of(evening: Path):
    """Each row bears its taste, as it is poured; one rule for what is skipped and guessed."""
    poured = pd.read_csv(evening / "server.csv", dtype=str)
    rows = poured[poured["task"] == "ranking"]
    substance = {"sweet": "sucrose", "sour": "citric", "bitter": "caffeine"}
    for who, own in rows.groupby("assessor"):
        pdf = pypdfium2.PdfDocument(evening / f"sheet-{who}.pdf")
        printed = " ".join(pdf[0].get_textpage().get_text_range().split())
        pdf.close()
        for _, cups in own.groupby("item"):
            (taste,) = (one for one, word in substance.items() if word in cups["pour"].iloc[0])
            assert f"{taste}: {' '.join(cups['code'])}" in printed
        assert "guess" in printed.partition("1 Which taste")[0]
        assert "guess" not in printed.partition("1 Which taste")[2]


def test_sheets_and_answers_show_codes_and_no_truth(evening: Path):
    text = (evening / ANSWERS).read_text("utf-8")
    assert "g/L" not in text
    assert "odd" not in text
    for who in PEOPLE:
        pdf = pypdfium2.PdfDocument(evening / f"sheet-{who}.pdf")
        assert len(pdf) == 1
        printed = pdf[0].get_textpage().get_text_range()
        assert "g/L" not in printed
        assert "5 March 2026" in printed
        mine = [row["code"] for row in rows_of(evening / SERVER) if row["assessor"] == who]
        assert all(code in printed for code in mine)


def test_places_are_drawn_by_lot():
    """Of 60 candidates the odd cup stands in each place about as often (chi-square 5 %)."""
    places: Counter[int] = Counter()
    for number in range(60):
        cups = [cup for cup in cups_of(Draw(bytes(16)), f"S{number}") if cup.task == "detection"]
        places.update(place % 3 for place, cup in enumerate(cups) if cup.truth == "odd")
    expected = 60 * 8 / 3
    assert sum((places[place] - expected) ** 2 / expected for place in range(3)) < 5.99


def test_the_evening_is_judged(evening: Path):
    said = run("screen", evening)
    assert "S1: nothing has been typed in yet" in said
    key = truths(evening)
    rows = rows_of(evening / ANSWERS)
    for row in rows:
        cups = key[row["assessor"], row["task"], row["item"]]
        row["answer"] = perfect(row["task"], cups)
        if row["assessor"] == "S2" and row["task"] == "detection":
            row["answer"] = next(code for code, truth in cups.items() if truth == "same")
        if row["assessor"] == "S2" and row["task"] == "description":
            row["answer"] = "nothing"
        if row["assessor"] == "S3" and row["item"] == "m1":
            row["answer"] = ""
    write_rows(evening / ANSWERS, rows)
    said = run("screen", evening)
    assert "S1 is ready to begin training" in said
    assert "S2: not shown yet" in said
    assert "telling a weak solution from water not yet (0 of 8)" in said
    assert "describing aromas below its mark, without deciding anything (0 of 4)" in said
    assert "S3: still open for naming solutions" in said
    assert "7 of 8 answered" in said
    twice = run("screen", evening, evening.parent / "." / evening.name)
    assert twice == said  # one evening, named twice, is one


def test_japanese_names_are_read_and_printed(tmp_path: Path):
    folder = tmp_path / "haru"
    run("screen", folder, "--plan", "Sato Hana,Mori Ken", "--language", "ja")
    assert (folder / "sheet-01.pdf").is_file()  # what may be a name is no file name
    rows, key = rows_of(folder / ANSWERS), truths(folder)
    place = next(n for n, row in enumerate(rows) if row["task"] == "matching")
    cups = key[rows[place]["assessor"], "matching", rows[place]["item"]]
    names = {"sweet": "甘味", "sour": "酸味", "bitter": "苦味", "umami": "うま味", "salty": "塩味",
             "astringent": "渋味", "metallic": "金属味", "water": "水"}  # fmt: skip
    rows[place]["answer"] = names[next(iter(cups.values()))]
    write_rows(folder / ANSWERS, rows)
    assert "1 of 8 answered" in run("screen", folder)


@pytest.mark.parametrize(
    ("task", "answer", "told"),
    [("matching", "soap", "write one of: sweet"), ("detection", "999", "one code"),
     ("ranking", "999", "weakest first")],
)  # fmt: skip
def test_what_is_no_answer_is_told_with_its_row(tmp_path: Path, task: str, answer: str, told: str):
    folder = tmp_path / "evening"
    run("screen", folder, "--plan", "S1")
    rows = rows_of(folder / ANSWERS)
    place = next(n for n, row in enumerate(rows) if row["task"] == task)
    rows[place]["answer"] = answer
    write_rows(folder / ANSWERS, rows)
    said = run("screen", folder, code=1)
    assert told in " ".join(said.split())
    assert f"row {place + 2}" in " ".join(said.split())


def test_refusals(evening: Path, tmp_path: Path):
    assert "there already" in run("screen", evening, "--plan", "S1", code=1)
    assert "code of its own" in run("screen", tmp_path / "x", "--plan", "S1,S1", code=1)
    assert "no date" in run("screen", tmp_path / "x", "--plan", "S1", "--date", "May", code=2)
    rows = rows_of(evening / ANSWERS)
    copied = tmp_path / "copy"
    copied.mkdir()
    for name in (SERVER, MARKS):
        (copied / name).write_bytes((evening / name).read_bytes())
    write_rows(copied / ANSWERS, [{**rows[0], "item": "m99"}])
    assert "nothing was poured" in " ".join(run("screen", copied, code=1).split())
    assert POINTS == {"same": 1.0, "group": 2 / 3, "family": 1 / 3}


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_sheets_are_of_the_paper_asked_for(tmp_path: Path, paper: str, size: tuple[int, int]):
    run("screen", tmp_path / paper, "--plan", "S1", "--paper", paper)
    (sheet,) = (tmp_path / paper).glob("*.pdf")
    with pypdfium2.PdfDocument(sheet) as document:
        for page in document:
            assert (round(page.get_width()), round(page.get_height())) == size
            text = page.get_textpage()
            assert min(text.get_rect(n)[1] for n in range(text.count_rects())) > MARGIN
