"""The page of telephones: whether the table is served, its links, and the cards to print."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..table.table_links import own_address, read_links
from .page_writer import PageOf
from .session_pages import CARDS, planned


def phones_page(page: PageOf, place: Path, leader: str) -> str:
    """Write the page.

    Parameters
    ----------
    page : PageOf
    place : Path
    leader : str
        The leader's link, empty where no table is served.
    """
    links = read_links(place)
    seats: list[dict[str, Any]] = []
    if links is not None and leader:
        seats = [
            {"who": code, "link": links.of(code), "square": _square(links.of(code))}
            for code in links.seats
        ]
    return page.write(
        "phones",
        page.say("step_phones"),
        planned=planned(place),
        leader=leader,
        at=links.place if links else "",
        seats=seats,
        cards=(place / CARDS).is_file(),
        network=own_address(),
    )


def _square(link: str) -> str:
    """Draw a link as a QR code (ISO/IEC 18004), dark on white whatever the page's colours are."""
    import segno

    made = segno.make_qr(link, error="m", boost_error=False)
    return str(made.svg_inline(scale=4, border=4, light="#fff", dark="#000"))
