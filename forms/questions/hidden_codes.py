"""Cups of one person alone: judged by their place in a row, told apart by codes beneath them."""

from __future__ import annotations

from .question_types import Kind, Question, Text
from .sheet import BENEATH, Sheet


def beneath_question() -> Question:
    """Ask, when every mark of a row stands, where the cup with each code stood."""
    return Question(
        key=BENEATH,
        section="cups",
        kind=Kind.RANKING,
        label=Text.known("sheet.beneath_label"),
        ask=Text.known("sheet.beneath_ask"),
        low_label=Text.known("sheet.beneath_first"),
        high_label=Text.known("sheet.beneath_last"),
        aside=True,
    )


def place_name(flight: int, place: int, plan: int) -> str:
    """Name a cup by its row and its place in it, as its answers are filed; each plan has its own.

    Examples
    --------
    >>> place_name(2, 3, 1), place_name(2, 3, 4)
    ('2C3', '2C3.4')
    """
    return f"{flight}C{place}.{plan}" if plan > 1 else f"{flight}C{place}"


def place_aliases(sheet: Sheet) -> dict[tuple[str, str], str]:
    """Return other ways to write the cups of a sheet: their number, in one row their place."""
    rows = {one.flight for one in sheet.presentations if one.beneath}
    also = {}
    for one in sheet.presentations:
        if one.flight not in rows or one.beneath:
            continue
        also[sheet.assessor, str(one.number)] = one.name
        if len(rows) == 1:
            also[sheet.assessor, f"C{one.number}"] = one.name
    return also
