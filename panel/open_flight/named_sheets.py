"""Writing the sheets of the open flight: names of bottles in place of codes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from ...forms.paper.sheet_pdf import write_sheets
from ...forms.spreadsheets.workbook_writer import write_sheet
from ..base.plain_cells import write_csv
from ..base.whole_files import whole_folder
from ..base.words import say
from ..plan.open_plan import OpenPlan
from ..returns.closed_flights import FOLDER
from ..session.session import Session

SHEETS = FOLDER / "sheets"
ORDERS = "orders.csv"


def write_named(session: Session, flight: OpenPlan, paper: str) -> Iterator[Path]:
    """Write each assessor's named sheet as PDF and XLSX, one PDF with all, and the orders.

    Parameters
    ----------
    session : Session
    flight : OpenPlan
        What `load_flight` returned: there is none before the blind flights are closed.
    paper : str
        ``A4`` or ``Letter``.
    """
    folder = session.folder / SHEETS
    names = []
    sheets = list(flight.own_sheets.values())
    with whole_folder(folder) as aside:
        for sheet in sheets:
            names += [f"{sheet.assessor}.pdf", f"{sheet.assessor}.xlsx"]
            write_sheets([sheet], aside / names[-2], paper)
            write_sheet(sheet, aside / names[-1])
        names += ["all-sheets.pdf", ORDERS]
        write_sheets(sheets, aside / names[-2], paper, both_sides=True)
        write_csv(aside / ORDERS, _orders(session, flight))
    yield from (folder / name for name in names)


def _orders(session: Session, flight: OpenPlan) -> list[list[str]]:
    """Return one row an assessor: the bottles in the order of serving."""
    language = session.settings.language
    rows = [
        [sheet.assessor, *(shown.name for shown in sheet.presentations)]
        for sheet in flight.own_sheets.values()
    ]
    longest = max((len(row) for row in rows), default=1)
    head = [say("plan.col_assessor", language), *map(str, range(1, longest))]
    return [head, *rows]
