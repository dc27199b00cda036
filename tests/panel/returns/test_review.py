"""Photos go through `read`; what they leave open is decided by a person, on the record."""

from __future__ import annotations

import re
import sqlite3
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner
from kikichoko.forms.answers.answer import Fault
from kikichoko.forms.answers.uncertain_marks import Choice, Uncertain
from kikichoko.forms.photo import page_view
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.open_marks import (
    decide,
    decisions,
    left_open,
    mark,
    note,
    waiting,
    waiting_of,
)
from kikichoko.panel.returns.page_round import PageRound, not_looked_at
from kikichoko.panel.returns.review_page import Review
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session import load
from PIL import Image
from playwright.sync_api import expect

MARK = Uncertain(
    session="test-1", assessor="T1", code="381", attribute="sweetness", file="p.jpg",
    place="page 3", reason="double", picture=b"\x89PNG", low=0.0, high=10.0,
    choices=(Choice("the mark at 2", 2.0), Choice("the mark at 7", 7.0), Choice("nothing", None)),
)  # fmt: skip
WORDS = replace(MARK, attribute="words", reason="words", choices=(), low=0.0, high=0.0)


@pytest.fixture
def store(tmp_path: Path):
    with Store(tmp_path) as opened:
        yield opened


def test_a_mark_waits_until_it_is_decided(store):
    assert note(store, [MARK, WORDS]) == 2
    assert note(store, [MARK]) == 0  # the same picture again
    first, second = waiting(store)
    assert mark(store, first) == MARK
    assert mark(store, second) == WORDS
    decide(store, first, 7.0, decided_by="M1")
    decide(store, second, "melon, a little rice", decided_by="M1")
    assert waiting(store) == []
    answers = {one.answer.attribute: one.answer for one in store.answers()}
    assert answers["sweetness"].value == 7.0
    assert answers["sweetness"].written == "the mark at 7"
    assert answers["words"].value == "melon, a little rice"
    assert [(made.value, made.decided_by) for made in decisions(store)] == [
        (7.0, "M1"),
        ("melon, a little rice", "M1"),
    ]


def test_a_decision_and_its_answer_are_one(store, monkeypatch):
    note(store, [MARK])

    def killed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(Store, "add", killed)
        with pytest.raises(KeyboardInterrupt):
            decide(store, 1, 7.0, decided_by="M1")
    assert decisions(store) == []
    assert waiting(store) == [1], "it still waits"


def test_a_decision_belongs_to_the_plan_of_its_mark(store):
    note(store, [MARK], "p2")
    decide(store, 1, 7.0, decided_by="M1")
    (stored,) = store.answers()
    assert stored.plan == "p2"
    assert waiting(store) == []


def test_a_decision_can_be_changed_and_both_stay(store):
    note(store, [MARK])
    decide(store, 1, 7.0, decided_by="M1")
    decide(store, 1, 2.0, decided_by="T1")
    (stored,) = store.answers()
    assert (stored.answer.value, stored.corrections) == (2.0, 1)
    assert [made.value for made in decisions(store)] == [7.0, 2.0]
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        store.database.execute("DELETE FROM decisions")


def test_left_open_is_a_decision_and_gives_no_answer(store):
    note(store, [MARK])
    decide(store, 1, None, decided_by="M1")
    assert waiting(store) == []
    assert store.answers() == []


def test_an_answer_given_by_mistake_is_taken_back(store):
    note(store, [MARK])
    decide(store, 1, 7.0, decided_by="M1")
    decide(store, 1, None, decided_by="M1")
    assert [one.answer.value for one in store.answers()] == []
    assert [made.value for made in decisions(store)] == [7.0, None]


def test_an_answer_from_elsewhere_ends_the_waiting(store):
    note(store, [MARK])
    from kikichoko.forms.answers.answer import Answer

    store.add(
        [Answer(session="test-1", assessor="T1", code="381", attribute="sweetness", value=3.0,
                file="t.csv", place="row 2")]
    )  # fmt: skip
    assert waiting(store) == []


@pytest.mark.parametrize("value", [11.0, -1.0, "much"])
def test_what_cannot_be_an_answer_is_refused(store, value):
    note(store, [MARK])
    with pytest.raises(ValueError, match="not an answer"):
        decide(store, 1, value, decided_by="M1")
    with pytest.raises(ValueError, match="who decided"):
        decide(store, 1, 7.0, decided_by=" ")
    with pytest.raises(KeyError):
        decide(store, 9, 7.0, decided_by="M1")
    assert waiting(store) == [1]


@pytest.fixture
def planned(folder):
    """Return a planned session folder with few questions, and its plan."""
    place = folder(replicates=1, more='[questions]\ndrop = ["fault", "clean_cut", "cloying"]')
    outcome = CliRunner().invoke(kikichoko, ["plan", str(place)])
    assert outcome.exit_code == 0, outcome.output
    return place, load_open(load(place))


def photographed(
    place: Path, plan, simulator, assessor: str, *, pages: int | None = None, trouble: float = 0.0
) -> list[Path]:
    """Print the assessor's sheet, fill it in at random and photograph its first pages, or all."""
    rng = np.random.default_rng(3)
    paths = []
    for page, picture in simulator.printed(plan.sheets[assessor])[1:][:pages]:
        hand = simulator.Hand(rng, tool="blue pen", box="tick", line="upright", trouble=trouble)
        paper = simulator.fill_in(page, picture, hand)
        path = place.parent / f"{assessor}-{page.number}.jpg"
        path.write_bytes(simulator.Camera(rng, dpi=150, turn=3, tilt=0.02).jpeg(paper.picture))
        paths.append(path)
    return paths


def test_photos_go_in_and_the_rest_is_reviewed(planned, simulator):
    place, plan = planned
    paths = photographed(place, plan, simulator, "T1", trouble=0.1)
    run = CliRunner()
    outcome = run.invoke(kikichoko, ["read", str(place), *map(str, paths)])
    assert outcome.exit_code == 3, outcome.output
    assert "kikichoko review" in outcome.output
    with Store(place) as store:
        before = len(store.answers())
        open_ones = waiting(store)
        assert before > 40
        assert len(open_ones) > 3
        reasons = [mark(store, number).reason for number in open_ones]
        assert reasons.count("words") == len(paths)
    status = run.invoke(kikichoko, ["status", str(place)])
    assert "kikichoko review" in status.output
    given = "".join("a word\n" if reason == "words" else "1\n" for reason in reasons)
    outcome = run.invoke(kikichoko, ["review", str(place), "--terminal", "--by", "M1"], input=given)
    assert outcome.exit_code == 0, outcome.output
    with Store(place) as store:
        assert waiting(store) == []
        assert {made.decided_by for made in decisions(store)} == {"M1"}
        assert len(decisions(store)) == len(open_ones)
    assert not (place / "review.png").exists()
    outcome = run.invoke(kikichoko, ["review", str(place), "--terminal"])
    assert "No mark waits for a person" in outcome.output


def test_the_same_page_photographed_again_changes_nothing(planned, simulator):
    place, plan = planned
    (path,) = photographed(place, plan, simulator, "T2", pages=1)
    run = CliRunner()
    run.invoke(kikichoko, ["read", str(place), str(path)])
    with Store(place) as store:
        before = [one.answer for one in store.answers()]
    import cv2

    again = place.parent / "again.png"
    picture = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    cv2.imwrite(str(again), cv2.GaussianBlur(picture, (0, 0), 0.8))
    outcome = run.invoke(kikichoko, ["read", str(place), str(again)])
    assert "was read before" in outcome.output
    with Store(place) as store:
        assert [one.answer for one in store.answers()] == before


def test_marks_can_be_touched_on_a_small_telephone(planned, simulator, browser):
    """24 CSS pixels: success criterion 2.5.8 of the W3C's WCAG 2.2; 390 pixels are a telephone."""
    place, plan = planned
    (path,) = photographed(place, plan, simulator, "T1", pages=1)
    CliRunner().invoke(kikichoko, ["read", str(place), str(path)])
    with Store(place) as store:
        review = Review(store, plan, "M1", "en", pages=PageRound(store, plan))
        text = review.whole(review.view(), nonce="n")
    page = browser.new_page(viewport={"width": 390, "height": 844})
    try:
        page.set_content(re.sub(r'(?s)<image.*?</image>|<link rel="icon".*?>', "", text))
        sizes = (
            "() => [...document.querySelectorAll('svg rect')].map(one => one"
            ".getBoundingClientRect()).map(one => Math.min(one.width, one.height))"
        )
        small = page.evaluate(sizes)
        page.get_by_text("Larger, to touch single marks").click()
        large = page.evaluate(sizes)
        assert min(small) < 24 <= min(large)
        wide = "document.documentElement.scrollWidth"
        assert page.evaluate(wide) <= 390, "the page itself is not moved sideways"
        page.set_viewport_size({"width": 1280, "height": 900})
        expect(page.get_by_text("Larger, to touch single marks")).to_be_hidden()
    finally:
        page.close()


def test_pages_are_shown_as_they_were_read_and_touched(planned, simulator):
    """What was taken is drawn where it was marked; what a person touches is asked again."""
    place, plan = planned
    (path,) = photographed(place, plan, simulator, "T1", pages=1)
    CliRunner().invoke(kikichoko, ["read", str(place), str(path)])
    with Store(place) as store:
        review = Review(store, plan, "M1", "en", pages=PageRound(store, plan))
        view = review.view()
        assert view.assessor == "T1"
        taken = {one.answer.attribute: one.answer.value for one in store.answers()}
        drawn = {one.attribute: one for one in review.pages.drawn(view)}
        assert set(taken) - {"words"} <= set(drawn)
        (scale,) = [one for one in view.read.page.scales if one.attribute == "sweetness"]
        there = drawn["sweetness"]
        assert scale.value(there.x) == pytest.approx(taken["sweetness"])
        text = review.whole(view, nonce="n")
        assert f"cup {view.code}, assessor T1".lower() in text.lower()
        assert "?touch=sweetness" in text
        number = review.pages.touch("sweetness")
        assert number not in waiting(store), "it has an answer"
        assert "Leave it as it was" in review.page(number)
        assert "O leaves open" not in review.page(number), "there is nothing to leave open"
        japanese = Review(store, plan, "M1", "ja", pages=review.pages)
        for page in (japanese.whole(view), japanese.page(None)):
            said = re.sub(r"(?s)<(style|script).*?</\1>|<[^>]*>|kikichoko \w+", "", page)
            assert re.findall(r"[A-Za-z]{3,}", said) == []
        assert review.answer(number, "type", "3") == ""
        standing = {one.answer.attribute: one for one in store.answers()}["sweetness"]
        assert (standing.answer.value, standing.corrections) == (3.0, 1)
        drawn = {one.attribute: one for one in review.pages.drawn(view)}
        assert scale.value(drawn["sweetness"].x) == pytest.approx(3.0)
        number = review.pages.touch("sweetness")
        nothing = [choice.value for choice in mark(store, number).choices].index(None) + 1
        assert review.answer(number, str(nothing), "") == ""
        assert "sweetness" not in {one.answer.attribute for one in store.answers()}
        assert len(store.answers()) == len(taken) - 1
        rows = store.database.execute(
            "SELECT number, decided_by FROM answers WHERE attribute = 'sweetness' ORDER BY id"
        ).fetchall()
        assert rows == [(taken["sweetness"], ""), (3.0, "M1"), (None, "M1")]
        assert review.pages.touch("no such question") is None
        review.turn("next")
        assert review.view() is None
        review.turn("back")
        assert review.view() is not None
        review.turn("end")
        assert review.view() is None


def test_a_page_that_was_looked_at_is_not_shown_again(planned, simulator, monkeypatch):
    """Two pages in one picture file: one is passed as right, one is not."""
    read, known = page_view.views, {}

    def once(path: Path, *given: object) -> list[object]:
        """Read each file once: it is the rounds that are looked at here, five of them."""
        if path not in known:
            known[path] = list(read(path, *given))
        return known[path]

    monkeypatch.setattr(page_view, "views", once)
    place, plan = planned
    first, second = photographed(place, plan, simulator, "T1", pages=2)
    both = place.parent / "both.pdf"
    with Image.open(first) as one, Image.open(second) as other:
        one.save(both, save_all=True, append_images=[other])
    CliRunner().invoke(kikichoko, ["read", str(place), str(both)])

    def shown(store: Store, **how: object) -> list[str]:
        rounds = PageRound(store, plan, **how)
        found = []
        while (view := rounds.page()) is not None:
            found.append(view.code)
            rounds.at += 1
        return found

    def told() -> str:
        return CliRunner().invoke(kikichoko, ["status", str(place)]).output

    with Store(place) as store:
        one, two = shown(store)
        assert not_looked_at(store) == 2, "a note beside the answers is seen only there"
        assert "2 cups were read from pictures and nobody" in told()
        review = Review(store, plan, "M1", "en", pages=PageRound(store, plan, looked_by="M1"))
        review.turn("next")
        review.turn("end")
        assert shown(store) == [two]
        assert not_looked_at(store) == 1
        assert shown(store, again=True) == [one, two]
        review.pages = PageRound(store, plan, looked_by="M1")
        review.turn("next")
        assert shown(store) == []
        rows = store.database.execute("SELECT pages, looked_by FROM looks").fetchall()
        assert rows == [(2, "M1"), (2, "M1")]
        assert not_looked_at(store) == 0
    assert "nobody has looked" not in told()


def test_every_mark_can_be_left_open(store):
    note(store, [MARK])
    review = Review(store, SimpleNamespace(sheets={}), "M1", "en")
    assert review.answer(1, "open", "") == ""
    assert waiting(store) == []
    assert store.answers() == []


def test_what_was_left_open_is_told_and_asked_once_more(store):
    note(store, [MARK, WORDS, replace(MARK, attribute="acidity")])
    plan = SimpleNamespace(sheets={})
    review = Review(store, plan, "M1", "en")
    for number in (1, 2):
        assert review.answer(number, "open", "") == ""
    assert review.answer(3, "2", "") == ""
    assert (waiting(store), left_open(store)) == ([], [1, 2])
    assert review.next() is None
    assert "2 marks or words stand without an answer" in review.page(None)

    once_more = Review(store, plan, "T1", "en", again=left_open(store))
    assert once_more.next() == 1
    once_more.answer(1, "1", "")
    assert once_more.next() == 2
    once_more.answer(2, "open", "")  # still open, and not asked for ever
    assert once_more.next() is None
    assert left_open(store) == [2]
    assert [made.value for made in decisions(store)] == [None, None, 7.0, 2.0, None]

    store.add([replace(store.answers()[0].answer, attribute="words", value="melon")])
    assert left_open(store) == [], "typed from elsewhere"
    assert "stand" not in once_more.page(None)


def test_an_answer_that_a_person_took_away_was_not_left_open(store):
    note(store, [replace(MARK, reason="touched")])
    decide(store, 1, None, decided_by="M1")
    assert left_open(store) == []


def test_answers_that_wait_are_counted_by_whose_they_are(store):
    """A mark and a cell that was refused wait; a cell that came back empty does not."""
    note(store, [MARK, replace(MARK, assessor="T2", code="382")])
    refused = Fault(kind="not_a_number", file="a.csv", assessor="T1", code="381",
                    attribute="acidity", found="much")  # fmt: skip
    store.note_faults([refused, replace(refused, kind="missing", attribute="umami", found="")])
    assert waiting_of(store) == {"T1": 2, "T2": 1}
    decide(store, waiting(store)[0], 2.0, decided_by="A")
    assert waiting_of(store) == {"T1": 1, "T2": 1}
