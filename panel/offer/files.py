"""The files of the buyer's sheets: a page a bottle and language, as HTML and PDF."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from importlib.resources import files
from pathlib import Path
from typing import Any

from ...analysis.core.words import shown
from ...forms.questions.words import languages
from ..base.file_names import safe_name
from ..base.whole_files import whole_folder
from ..base.words import say
from ..report.context import Context
from ..report.page import templates
from ..report.pdf import FACE, PAPERS, typeset_alone
from ..report.spelling import kept_together
from .one_page import BuyersSheet, buyers_sheet

FOLDER = "offer"
HEADINGS = ("found", "serving", "keeping")


def write_offer(
    context: Context, samples: Sequence[str], *, paper: str = "", maker: str = ""
) -> list[Path]:
    """Write the sheets of bottles below the session folder, in every language of the house.

    Parameters
    ----------
    context : Context
    samples : sequence of str
    paper : str
        ``A4`` or ``Letter`` for PDF files too.
    maker : str
        Who offers them.
    """
    target = context.session.folder / FOLDER
    written = []
    with whole_folder(target) as aside:
        for sample in samples:
            for language in languages():
                sheet = buyers_sheet(context, sample, language, maker)
                name = safe_name(f"{sheet.name}-{language}")
                (aside / f"{name}.html").write_text(html(sheet), "utf-8")
                written.append(f"{name}.html")
                if paper:
                    (aside / f"{name}.pdf").write_bytes(pdf(sheet, paper))
                    written.append(f"{name}.pdf")
    return [target / name for name in written]


def html(sheet: BuyersSheet) -> str:
    """Return the page of a sheet; nothing in it is fetched from anywhere."""
    sheets = templates(__package__)
    page = sheets.get_template("sheet.html").render(
        sheet=_whole(asdict(sheet)), words=_words(sheet.language)
    )
    return shown(page)


def pdf(sheet: BuyersSheet, paper: str) -> bytes:
    """Return the sheet as a tagged PDF of one page."""
    template = files(__package__).joinpath("templates", "sheet.typ").read_text("utf-8")
    content = {
        **_whole(asdict(sheet)),
        "words": _words(sheet.language),
        "face": FACE,
        "paper": PAPERS[paper],
    }
    return typeset_alone(template, content)


def _whole(value: Any) -> Any:
    """Let no line of a sheet end between a number and its unit."""
    if isinstance(value, str):
        return kept_together(value)
    if isinstance(value, dict):
        return {name: _whole(own) for name, own in value.items()}
    return [_whole(own) for own in value] if isinstance(value, (list, tuple)) else value


def _words(language: str) -> dict[str, str]:
    return {name: say(f"offer.{name}", language) for name in HEADINGS}
