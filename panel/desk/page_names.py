"""Saying the name of a page where a command says what is to be typed at a terminal."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

from ..base.words import say
from .page_writer import STEPS

PAGE_OF = {
    "plan": "plan", "sheets": "sheets", "read": "returns", "status": "returns",
    "review": "returns", "serve": "phones", "report": "open", "key": "open", "unblind": "open",
}  # fmt: skip
"""Commands that have a page of their own in a session: its step."""
_FILES = r"(?: (?:FILES?|PACK|ファイル名))?"
_END = r"(?=$|[.,;:](?:\s|$)|[)）。、])"


def by_pages(text: str, place: Path, language: str) -> str:
    r"""Put the name of a page in place of a command that is to be typed about a session.

    A command that says more than the session (an option, a person) is left as it is.

    Examples
    --------
    >>> by_pages("Next:\n  kikichoko read /a/b FILES", Path("/a/b"), "en")
    'Next:\n  Returns'
    >>> by_pages("kikichoko change /a/b left T1 2", Path("/a/b"), "en")
    'kikichoko change /a/b left T1 2'
    """
    path = re.escape(shlex.quote(str(place)))
    said = re.compile(rf"kikichoko (\w+) {path}{_FILES}{_END}", re.MULTILINE)

    def page(found: re.Match[str]) -> str:
        word = found[1]
        step = PAGE_OF.get(word)
        if step in STEPS:
            return say(f"desk.step_{step}", language)
        return f"{say('desk.step_commands', language)}: {word}"

    return said.sub(page, text)
