"""False notes of this panel in clean controls of earlier sessions: read, no key is opened."""

from __future__ import annotations

from pathlib import Path

from ..base.errors import NotReady
from ..base.table_grid import text_rows
from ..base.written_numbers import understand
from ..session.bottles import CLEAN, read_bottles
from ..session.session import Session

SCORES = "scores.csv"
FAULT = "fault:"


def earlier_false_notes(session: Session) -> tuple[int, int]:
    """Count false notes and answers about faults in the clean controls of earlier sessions.

    The folders are those that ``session.toml`` names under ``[panel] earlier``; each
    must have its report, for ``scores.csv`` is all that is read of its answers.

    Raises
    ------
    NotReady
        Naming a folder that has no report.
    """
    false = answers = 0
    for name in session.settings.panel.earlier:
        folder = (session.folder / name).resolve()
        scores = folder / SCORES
        if not scores.is_file():
            raise NotReady("report.earlier_missing", name=name, path=folder)
        sound = {one.name for one in read_bottles(folder)[0] if one.control == CLEAN}
        k, n = _notes(scores, sound)
        false, answers = false + k, answers + n
    return false, answers


def _notes(path: Path, sound: set[str]) -> tuple[int, int]:
    heading, *rows = text_rows(path)
    given = [
        understand(row["score"]) or 0.0
        for row in (dict(zip(heading, cells, strict=False)) for cells in rows)
        if row["sample"] in sound and row["attribute"].startswith(FAULT) and row["score"]
    ]
    return sum(score > 0 for score in given), len(given)
