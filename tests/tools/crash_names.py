"""The command `review` killed while a person names a page whose code cannot be read (U09)."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import crash_runs

STAGE = "unnamed"
_PX = 8.0  # pixels a millimetre


def cases() -> list[crash_runs.Case]:
    """Return the one command that stores what a person said of a page."""
    return [crash_runs.Case("review names", STAGE, _name, _after, _whole)]


def stage(place: Path) -> None:
    """Read a filled page of T1 with a stain upon its code, about which a person is asked."""
    import cv2
    import numpy as np
    import simulator
    from kikichoko.forms.paper.page_parts import code_place
    from kikichoko.panel.plan.plan_file import load_open
    from kikichoko.panel.session.session_folder import load

    page, picture = simulator.printed(load_open(load(place / "sheets")).sheets["T1"])[2]
    hand = simulator.Hand(np.random.default_rng(3), tool="blue pen", box="tick", correct=0)
    paper = simulator.fill_in(page, picture, hand).picture
    factor = _PX * 25.4 / simulator.INK_DPI
    grey = cv2.resize(paper, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) * 240
    x, y, size = (round(length * _PX) for length in code_place(page.paper))
    grey[y : y + size, x : x + size] = 120
    cv2.imwrite(str(place / "stained.png"), grey.astype(np.uint8))
    stained = place / "stained.png"
    crash_runs._next(place, "sheets", STAGE, lambda f: crash_runs.command("read", f, stained))


def _name(folder: Path, _place: Path) -> None:
    """Say which page it is, then leave; that the answer was taken is noted in a file."""
    from kikichoko.panel.returns.page_names import PageNames

    given = PageNames.answer
    confirmed = folder.parent / "confirmed"

    def noted(self: PageNames, fault: int, said: str) -> str:
        trouble = given(self, fault, said)
        confirmed.write_text(trouble or "taken")
        return trouble

    PageNames.answer = noted
    sys.stdin = io.StringIO("T1 3\nq\n" + "q\n" * 60)
    crash_runs.command("review", folder, "--terminal", "--by", "M1")


def _after(folder: Path, _place: Path) -> list[str]:
    """All of a name stands, or nothing: the name, its answers, no question any more."""
    from kikichoko.panel.returns.store import Store

    named = crash_runs._rows(folder, "SELECT count(*) FROM named_pages")[0][0]
    with Store(folder) as store:
        answers = len(store.answers())
        waits = any(one.kind == "photo_no_code" for one in store.faults().values())
    wrong = []
    if not (named and answers and not waits) and (named or answers or not waits):
        wrong.append(f"named {named}, answers {answers}, waits {waits}")
    confirmed = folder.parent / "confirmed"
    if confirmed.exists() and confirmed.read_text() == "taken" and not named:
        wrong.append("confirmed and not there")
    return wrong


def _whole(folder: Path, place: Path) -> list[str]:
    """A repeat names it once, and no answer stands twice."""
    (folder.parent / "confirmed").unlink(missing_ok=True)
    wrong = _after(folder, place)
    if crash_runs._rows(folder, "SELECT count(*) FROM named_pages")[0][0] != 1:
        wrong.append("the page is not named once after a repeat")
    twice = crash_runs._rows(
        folder, "SELECT code, attribute FROM answers GROUP BY code, attribute HAVING count(*) > 1"
    )
    return [*wrong, f"twice: {twice}"] if twice else wrong
