"""A day as people write it, in the language of a page."""

from __future__ import annotations

from datetime import date

from ..base.words import say


def said_day(day: str, language: str, *, year: bool = True) -> str:
    """Write a day (ISO 8601) in words: 10 April 2026."""
    known = date.fromisoformat(day)
    month = say("feedback.months", language).split()[known.month - 1]
    key = "feedback.day_year" if year else "feedback.day"
    return say(key, language, day=str(known.day), month=month, year=str(known.year))
