"""The demo's sheets, filled on paper and photographed, give the table that workbooks give."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from kikichoko.forms.questions.question_types import Kind
from kikichoko.forms.spreadsheets.workbook_writer import write_sheet
from kikichoko.panel.demos._tools import fill_workbook, truth, write_session
from kikichoko.panel.demos.fractions import NAME, simulate
from kikichoko.panel.key.opened_tables import tables
from kikichoko.panel.plan.plan_file import load_open, save
from kikichoko.panel.plan.planning import make
from kikichoko.panel.returns.open_marks import decide, mark, waiting
from kikichoko.panel.returns.store import Store
from kikichoko.panel.returns.taking_in import take_in
from kikichoko.panel.session import load


@pytest.mark.slow
def test_paper_gives_the_table_that_workbooks_give(simulator, tmp_path: Path):
    folder = tmp_path / "demo"
    write_session(NAME, folder)
    # Each bottle once and looked at where it is tasted: a page is read as well the first time.
    settings = folder / "session.toml"
    text = settings.read_text("utf-8").replace("replicates = 2", "replicates = 1")
    settings.write_text(text.replace('appearance = "flight"', 'appearance = "off"'), "utf-8")
    session = load(folder)
    plan = make(session, secret=b"a fixed one: twenty pages are read")
    save(plan, folder)
    open_plan = load_open(session)
    known = truth(NAME)
    rng = np.random.default_rng(known["seed"])
    answers = {sheet.assessor: simulate(session, plan, sheet, known, rng) for sheet in plan.sheets}
    first = {}
    for sheet in plan.sheets:
        first.setdefault(sheet.language, sheet.assessor)
    chosen = list(first.values())[:2]
    books, photos = [], []
    camera = np.random.default_rng(12)
    for assessor in chosen:
        sheet = open_plan.sheets[assessor]
        book = tmp_path / f"{assessor}.xlsx"
        write_sheet(sheet, book)
        books.append(tmp_path / "filled" / book.name)
        fill_workbook(sheet, book, books[-1], answers[assessor])
        hand = simulator.Hand(camera)
        for number, (page, picture) in enumerate(simulator.printed(sheet)[1:]):
            dpi = (150, 200, 300)[number % 3]
            paper = simulator.fill_in(page, picture, hand, answers[assessor])
            path = tmp_path / f"{assessor}-{page.number}.jpg"
            path.write_bytes(simulator.Camera.any(camera, dpi).jpeg(paper.picture))
            photos.append(path)

    by_paper, by_book = tmp_path / "paper", tmp_path / "books"
    for place in (by_paper, by_book):
        place.mkdir()
    with Store(by_book) as store:
        take_in(open_plan, store, books)
        expected = tables(session, open_plan, store)
    with Store(by_paper) as store:
        taken = take_in(open_plan, store, photos)
        assert {fault.kind for fault in taken.faults} <= {"missing"}
        for number in waiting(store):
            found = mark(store, number)
            said = answers[found.assessor][found.code, found.attribute]
            decide(store, number, said, decided_by="M1")
        assert taken.marks <= 0.05 * sum(sheet.cells for sheet in open_plan.sheets.values())
        read = tables(session, open_plan, store)

    keys = ["assessor", "sample", "attribute"]
    one, other = (
        frame.scores.sort_values(keys).reset_index(drop=True) for frame in (expected, read)
    )
    columns = [column for column in one if column != "score"]
    pd.testing.assert_frame_equal(one[columns], other[columns])
    assert len(one) > 150
    card = open_plan.sheets[chosen[0]].scorecard
    lines = np.array([card.owner(name).kind is Kind.LINE for name in one["attribute"]])
    apart = (one["score"] - other["score"]).abs()
    assert apart[~lines].max() == 0
    assert apart[lines].max() <= 1.5 / 8  # 1.5 mm of 80 on a scale from 0 to 10
    words = ["assessor", "sample", "text"]
    assert sorted(map(tuple, read.words[words].to_numpy())) == sorted(
        map(tuple, expected.words[words].to_numpy())
    )
