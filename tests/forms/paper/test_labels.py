"""Labels and printed tables hold every text, on either paper."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from kikichoko.forms.paper.code_labels import BOTTLE, CUP, Label, write_labels, write_table


def text_of(path: Path) -> list[str]:
    return [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(path)]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_cup_labels(tmp_path: Path, paper: str):
    labels = [Label(big=f"{code}", above=f"A07, cup {code}") for code in range(100, 200)]
    path = write_labels(labels, tmp_path / "cups.pdf", date="2026-11-25", paper=paper)
    words = [word for page in text_of(path) for word in page.split()]
    for code in range(100, 200):
        assert words.count(str(code)) == 2
    again = write_labels(labels, tmp_path / "again.pdf", date="2026-11-25", paper=paper)
    assert again.read_bytes() == path.read_bytes()


def test_bottle_labels_keep_long_names_inside(tmp_path: Path):
    name = "Tank 7, 中汲み・無濾過生原酒, second bottle of the middle run, kept at minus five"
    label = Label(big=name, above="483  907  215", below="server only")
    path = write_labels([label] * 3, tmp_path / "b.pdf", date="2026-11-25", size=BOTTLE)
    page = pypdfium2.PdfDocument(path)[0]
    found = page.get_textpage()
    assert "".join(found.get_text_bounded().split()).count("".join(name.split())) == 3
    _, top = page.get_size()
    for place in range(found.count_rects()):
        left, bottom, right, upper = (v / 72 * 25.4 for v in found.get_rect(place))
        start = 13.0 if left < 105 else 105.0
        assert left > start
        assert right < start + BOTTLE[0]
        assert 0 < bottom < upper < top / 72 * 25.4


def test_table_repeats_its_head_and_loses_nothing(tmp_path: Path):
    rows = [[str(n), f"{n + 100}", f"bottle {n}", "clear before cloudy, " * 4] for n in range(80)]
    path = write_table(
        "Pour list", ["Place", "Code", "Bottle", "Note"], rows, tmp_path / "t.pdf",
        date="2026-11-25", notes=["For the server alone."], breaks=[40],
    )  # fmt: skip
    pages = text_of(path)
    assert len(pages) > 1
    assert all("Code" in page for page in pages)
    words = " ".join(pages).split()
    for number, code, _, _ in rows:
        assert words.count(code) == 1, number
    assert "For the server alone." in pages[0]


@pytest.mark.parametrize("notes", range(32, 40))
def test_a_table_does_not_begin_at_the_foot_of_a_page(tmp_path: Path, notes: int):
    rows = [[f"{n + 100}", "free-run"] for n in range(9)]
    said = ["Pour slowly."] * notes
    path = write_table("Pour", ["Code", "Bottle"], rows, tmp_path / "t.pdf",
                       date="2026-11-25", notes=said)  # fmt: skip
    first = text_of(path)[0]
    assert first.count("free-run") >= 3 * first.count("Code")


@pytest.mark.parametrize(("flight", "parted"), [(5, False), (45, True)])
def test_a_flight_is_parted_only_where_no_page_would_hold_it(tmp_path, flight, parted):
    """Two rows of a flight stood alone on the second page of a pour list."""
    rows = [["1", f"{n + 100}"] for n in range(30)] + [["2", f"{n + 500}"] for n in range(flight)]
    path = write_table("Pour", ["Flight", "Code"], rows, tmp_path / "t.pdf",
                       date="2026-11-25", breaks=[30])  # fmt: skip
    pages = text_of(path)
    second = [sum(code in page.split() for _, code in rows[30:]) for page in pages]
    assert sum(second) == flight
    assert (sum(n > 0 for n in second) > 1) is parted
    assert not parted or second[0] > 0, "what no page holds begins where it would anyway"


def test_numbers_of_pages_stand_alike_and_inside(tmp_path: Path):
    """From the second page on they were written as large as the rows, and across the margin."""
    path = tmp_path / "pours.pdf"
    rows = [["1", str(101 + n)] for n in range(90)]
    write_table("Pour list", ["Flight", "Code"], rows, path, date="2026-11-25")
    feet = []
    for page in pypdfium2.PdfDocument(path):
        found = page.get_textpage()
        width, _ = page.get_size()
        boxes = [found.get_charbox(n) for n in range(found.count_chars())]
        foot = [box for box in boxes if 0 < box[1] < 40 and box[2] > box[0]]
        assert max(box[2] for box in foot) <= width - 15 / 25.4 * 72 + 0.5
        feet.append(max(box[3] for box in foot) - min(box[1] for box in foot))
    assert len(feet) > 2
    assert max(feet) - min(feet) < 0.3


def test_wrong_calls_are_refused(tmp_path: Path):
    path = tmp_path / "x.pdf"
    with pytest.raises(ValueError, match="no label"):
        write_labels([], path, date="2026-11-25")
    with pytest.raises(ValueError, match="does not fit"):
        write_labels([Label(big="1")], path, date="2026-11-25", size=(300, 10))
    with pytest.raises(ValueError, match="A4, Letter"):
        write_labels([Label(big="1")], path, date="2026-11-25", paper="B5", size=CUP)
    with pytest.raises(ValueError, match="row 1 has 1 texts for 2 columns"):
        write_table("t", ["a", "b"], [["1", "2"], ["3"]], path, date="2026-11-25")
    assert not path.exists()
