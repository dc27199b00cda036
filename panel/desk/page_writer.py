"""Writing the desk's pages: templates in which all that is put in is text."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from ..base.words import say

if TYPE_CHECKING:
    from jinja2 import Template

LANGUAGES = {"en": "English", "ja": "日本語"}
STEPS = ("settings", "bottles", "assessors", "plan", "sheets", "phones", "returns", "open",
         "commands")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the last act did, for the head of a page."""

    well: bool
    heading: str
    lines: tuple[str, ...] = ()
    more: tuple[str, ...] = ()


@cache
def _template(name: str) -> Template:
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    here = files(__package__).joinpath("pages")
    known = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        loader=FunctionLoader(lambda part: here.joinpath(part).read_text("utf-8")),
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return known.get_template(name)


@cache
def _own(name: str) -> str:
    return files(__package__).joinpath(name).read_text("utf-8")


@dataclass(frozen=True, slots=True, kw_only=True)
class PageOf:
    """Where and for whom a page is written.

    Attributes
    ----------
    language : str
    nonce : str
        By which its own style and script are let through.
    home : str
        Address of the first page; empty for the server's pages.
    path, query : str, mapping
        Its own address.
    told : Told, optional
    session, step : str
    """

    language: str
    nonce: str
    home: str
    path: str
    query: Mapping[str, str]
    told: Told | None = None
    session: str = ""
    step: str = ""

    def say(self, key: str, /, **values: object) -> str:
        """Say a word of the desk."""
        return say(f"desk.{key}", self.language, **values)

    def write(self, name: str, title: str, **values: Any) -> str:
        """Write a page."""
        from urllib.parse import quote

        own = f"{self.home}s/{quote(self.session)}/"
        others = [
            (code, word, f"{self.path}?{urlencode({**self.query, 'language': code})}")
            for code, word in LANGUAGES.items()
            if code != self.language
        ]
        steps = [(key, own + key) for key in STEPS] if self.session and self.home else []
        word: Callable[..., str] = self.say
        return _template(f"{name}.html").render(
            language=self.language, languages=others, nonce=self.nonce, home=self.home,
            session=self.session, steps=steps, step=self.step, told=self.told, title=title,
            w=word, style=_own("desk.css"), script=_own("desk.js"), **values,
        )  # fmt: skip
