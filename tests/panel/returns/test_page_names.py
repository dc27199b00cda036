"""A page whose code cannot be read is asked about once, and read as what it is.

The cases U01 to U15 are those of tests/outside/attacks/unnamed-pages.md.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from shutil import copytree

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from kikichoko.forms.answers.uncertain_marks import PhotoReading, Uncertain
from kikichoko.forms.paper.page_parts import code_place
from kikichoko.forms.photo.photo_reader import read_photo
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.open_plan import OpenPlan
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.forgotten_rows import forget_rows
from kikichoko.panel.returns.page_names import PageNames, nothing_fits
from kikichoko.panel.returns.page_round import PageRound
from kikichoko.panel.returns.review_page import Review
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session import load

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
from review_visitor import served

PX = 8.0  # pixels a millimetre


@pytest.fixture(scope="module")
def planned_once(folder_once):
    """Plan a session with few questions."""
    place = folder_once(replicates=1, more='[questions]\ndrop = ["fault", "clean_cut", "cloying"]')
    assert CliRunner().invoke(kikichoko, ["plan", str(place)]).exit_code == 0
    return place


@pytest.fixture(scope="module")
def scanned(planned_once, simulator):
    """Scan page 3 of T1, with its code and with a stain upon it; give both files."""
    page, picture = simulator.printed(load_open(load(planned_once)).sheets["T1"])[2]
    hand = simulator.Hand(np.random.default_rng(3), tool="blue pen", box="tick", correct=0)
    paper = simulator.fill_in(page, picture, hand).picture
    factor = PX * 25.4 / simulator.INK_DPI
    grey = cv2.resize(paper, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) * 240
    whole, stained = planned_once.parent / "whole.png", planned_once.parent / "stained.png"
    cv2.imwrite(str(whole), grey.astype(np.uint8))
    x, y, size = (round(length * PX) for length in code_place(page.paper))
    grey[y : y + size, x : x + size] = 120
    cv2.imwrite(str(stained), grey.astype(np.uint8))
    return whole, stained


@pytest.fixture(scope="module")
def asked_once(planned_once, scanned, tmp_path_factory):
    """Read the page with the stain, about which a person is asked."""
    place = Path(copytree(planned_once, tmp_path_factory.mktemp("asked") / "session"))
    said = read(place, scanned[1])
    assert "kikichoko review" in said
    assert "0 answers went in" in said
    return place


def copy_of(place: Path, tmp_path: Path) -> tuple[Path, OpenPlan]:
    own = Path(copytree(place, tmp_path / "session"))
    return own, load_open(load(own))


@pytest.fixture
def planned(planned_once, tmp_path):
    """Return a copy of the planned folder, and its plan."""
    return copy_of(planned_once, tmp_path)


@pytest.fixture
def asked(asked_once, tmp_path):
    """Return a copy of the folder in which the page waits to be named, and its plan."""
    return copy_of(asked_once, tmp_path)


def read(place: Path, *paths: Path, more: tuple[str, ...] = ()) -> str:
    return CliRunner().invoke(kikichoko, ["read", str(place), *map(str, paths), *more]).output


def test_a_page_is_named_once_and_read_as_if_by_its_code(asked, scanned):
    """U01, U02, U03, U08, U10, U13, U15: wrong names are refused in words, the right one reads."""
    place, plan = asked
    whole, stained = scanned
    wanted = read_photo(whole, plan.sheets)
    with Store(place) as store:
        names = PageNames(store, plan, "M1", "en")
        one = names.next()
        for wrong, told in (
            ("", "No page"), ("T1", "No page"), ("nobody 3", "No page"), ("T1 40", "no page 40"),
            ("T2 3", "not page 3 of T2"), ("T1 4", "not page 4 of T1"),
        ):  # fmt: skip
            assert told in names.answer(one.fault, wrong)
            assert names.next() is one
        names.skip(one.fault)
        assert names.next() is None
        assert store.answers() == []
        again = PageNames(store, plan, "M1", "en")
        assert again.next().fault == one.fault, "it waits for the next round"
        assert "named meanwhile" in again.answer(one.fault + 1, "T1 3")
        assert again.answer(one.fault, "t1 3") == ""
        assert again.next() is None
        got = {(one.answer.code, one.answer.attribute): one.answer.value for one in store.answers()}
        same = {(one.code, one.attribute): one.value for one in wanted.answers}
        assert got == pytest.approx(same, abs=0.05), "of a line, half a millimetre"
        assert {one.answer.file for one in store.answers()} == {"stained.png"}
        assert not any(one.kind == "photo_no_code" for one in store.faults().values())
        (entry,) = read_log(place).of("named")
        assert "T1" not in str(entry.values), "a person who is forgotten stands nowhere"
        assert PageRound(store, plan).page().code == wanted.answers[0].code
    assert "photo" not in read(place, stained, more=("--correct", "--by", "M1"))
    assert CliRunner().invoke(kikichoko, ["check", str(place)]).exit_code == 0
    with Store(place) as store:
        assert PageNames(store, plan, "M1", "en").next() is None, "nobody is asked again"
        forget_rows(store, "T1", "X9", [], {})
        assert store.database.execute("SELECT count(*) FROM named_pages").fetchone() == (0,)


def test_a_page_that_was_read_before_is_refused(planned, scanned):
    """U04."""
    place, plan = planned
    read(place, *scanned)
    with Store(place) as store:
        before = len(store.answers())
        names = PageNames(store, plan, "M1", "en")
        assert "from whole.png" in names.answer(names.next().fault, "T1 3")
        assert len(store.answers()) == before > 10


def test_all_of_a_name_stands_or_nothing(asked, monkeypatch):
    """U09: the power fails after the answers went in."""
    place, plan = asked

    def killed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with Store(place) as store:
        names = PageNames(store, plan, "M1", "en")
        with monkeypatch.context() as patched:
            patched.setattr(Store, "settle", killed)
            with pytest.raises(KeyboardInterrupt):
                names.answer(names.next().fault, "T1 3")
        assert store.answers() == []
        assert store.database.execute("SELECT count(*) FROM named_pages").fetchone() == (0,)
        assert PageNames(store, plan, "M1", "en").next() is not None


def test_the_page_is_named_in_a_browser(asked):
    """Asked first, with its picture; a wrong page is told in words, the right one goes in."""
    place, plan = asked

    def review_of(store: Store) -> Review:
        names = PageNames(store, plan, "M1", "en")
        return Review(store, plan, "M1", "en", names=names, pages=PageRound(store, plan))

    with served(place, review_of) as page:
        status, text, _ = page.ask()
        assert status == 200
        assert "Which page is this?" in text
        picture = re.search(r'<img src="(which-\d+)"', text)[1]
        number = picture.removeprefix("which-")
        assert page.ask(picture)[0] == 200
        wrong = page.ask(data={"number": number, "which": "name", "page_is": "T2 3"})[1]
        assert 'role="alert"' in wrong
        assert "not page 3 of T2" in wrong
        after = page.ask(data={"number": number, "which": "name", "page_is": "T1 3"})[1]
        assert "Which page is this?" not in after
    with Store(place) as store:
        assert len(store.answers()) > 10


def test_the_question_is_asked_in_the_terminal_and_on_the_page(asked):
    place, plan = asked
    with Store(place) as store:
        for language, words in (("en", "Which page is this?"), ("ja", "これはどの用紙ですか。")):
            names = PageNames(store, plan, "M1", language)
            page = Review(store, plan, "M1", language, names=names).which(names.next())
            assert words in page
            assert '<option value="T1 3">' in page
    ask = ["review", str(place), "--terminal", "--by", "M1"]
    outcome = CliRunner().invoke(kikichoko, ask, input="T1 99\n\nq\n")
    assert "no page 99" in outcome.output
    assert "1 page waits to be named" in outcome.output
    assert outcome.exit_code == 3
    assert CliRunner().invoke(kikichoko, ask, input="q\n").exit_code == 3
    CliRunner().invoke(kikichoko, ask, input="T1 3\nq\n")
    with Store(place, reading=True) as store:
        assert len(store.answers()) > 10
    assert not (place / "review.jpg").exists()


@pytest.mark.parametrize(
    ("reasons", "told"), [(("astray", "words"), True), (("astray", "faint"), False), ((), False)]
)
def test_a_page_on_which_no_print_is_in_its_place_is_refused(reasons: tuple[str, ...], told: bool):
    marks = [
        Uncertain(session="s", assessor="T1", code="1", attribute=f"a{n}", file="p", place="page 3",
                  reason=reason, picture=b"")
        for n, reason in enumerate(reasons)
    ]  # fmt: skip
    assert nothing_fits(PhotoReading((), (), tuple(marks))) is told
