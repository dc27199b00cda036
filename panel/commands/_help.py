"""Help and refusals of the command line in the language of whoever sits there.

The texts of commands and options are said when a command is imported (see `cli`). What
`click` says by itself stands in the catalogue's topic ``click``: its own English there, a
translation in each other language. Lines are broken by columns of the terminal, in which a
Japanese letter takes two.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterable
from functools import cache
from typing import Any

import click
import click.core
import click.decorators
import click.exceptions
import click.formatting
import click.parser
import click.termui
import click.types

from ...line_breaks import broken, columns
from ..base.headings import near_column
from ..base.words import CATALOGUE, FALLBACK, reader

_SPEAKING = (
    click.core,
    click.decorators,
    click.exceptions,
    click.formatting,
    click.parser,
    click.termui,
    click.types,
)


@cache
def _keys() -> dict[str, str]:
    return {str(text): name for name, text in CATALOGUE.topic(FALLBACK, "click").items()}


def _own(message: str) -> str:
    """Say what click says, in the reader's language."""
    name = _keys().get(message, "") if reader() != FALLBACK else ""
    return str(CATALOGUE.topic(reader(), "click").get(name) or gettext.gettext(message))


def _counted(one: str, many: str, n: int) -> str:
    return _own(one if n == 1 else many)


def folded(text: str, width: int) -> list[str]:
    r"""Break paragraphs as click does, but by columns and between Japanese letters.

    Lines of a paragraph are joined first, without a blank where Japanese stands at both
    sides; one that begins with a line of ``\b`` alone stays as it is.

    Examples
    --------
    >>> folded("瓶を一本\n開ける。 kikichoko demo", 14)
    ['瓶を一本開け', 'る。', 'kikichoko demo']
    """
    lines: list[str] = []
    for place, paragraph in enumerate(text.strip("\n").split("\n\n")):
        lines += [""] if place else []
        written = paragraph.split("\n")
        if written[0].strip() == "\b":
            lines += written[1:]
        else:
            lines += broken(_joined(written), width)
    return lines


def _joined(lines: Iterable[str]) -> str:
    text = ""
    for line in lines:
        one = line.strip()
        apart = text and one and (columns(text[-1]) == 1 or columns(one[0]) == 1)
        text += f" {one}" if apart else one
    return text


class Help(click.HelpFormatter):
    """click's formatter, which counts columns and leaves commands to paste whole."""

    def write_text(self, text: str) -> None:
        """Write paragraphs."""
        indent = " " * self.current_indent
        for line in folded(text, self.width - self.current_indent):
            self.write(f"{indent}{line}".rstrip() + "\n")

    def write_dl(
        self, rows: Iterable[tuple[str, str]], col_max: int = 30, col_spacing: int = 2
    ) -> None:
        """Write terms with what they mean beside them."""
        listed = list(rows)
        if reader() == FALLBACK:
            super().write_dl(listed, col_max, col_spacing)
            return
        indent = " " * self.current_indent
        first = min(max(columns(term) for term, _ in listed), col_max) + col_spacing
        for term, meaning in listed:
            lines = folded(meaning, max(self.width - self.current_indent - first, 10))
            if columns(term) > first - col_spacing:
                self.write(f"{indent}{term}\n")
            else:
                self.write(f"{indent}{term}{' ' * (first - columns(term))}{lines.pop(0)}\n")
            for line in lines:
                self.write(f"{indent}{' ' * first}{line}".rstrip() + "\n")


_kept_help_option = click.Command.get_help_option


def _help_option(command: click.Command, ctx: click.Context) -> click.Option | None:
    """Say what ``--help`` does: click keeps it in the language in which it was first asked for."""
    option = _kept_help_option(command, ctx)
    if option is not None:
        option.help = _own("Show this message and exit.")
    return option


_kept_convert: Any = click.Choice.convert


def _convert(choice: Any, value: Any, param: Any, ctx: Any) -> Any:
    """Name the choice that a misspelt one is near to, as commands and options do."""
    try:
        return _kept_convert(choice, value, param, ctx)
    except click.BadParameter as error:
        near = near_column(str(value), [str(one) for one in choice.choices])
        if near:
            asked = _own("Did you mean {possibility}?").format(possibility=repr(near))
            choice.fail(f"{error.message} {asked}", param, ctx)
        raise


def teach_click() -> None:
    """Let click speak as we do: it looks its words up by these two names."""
    for module in _SPEAKING:
        for name, own in (("_", _own), ("ngettext", _counted)):
            if hasattr(module, name):
                setattr(module, name, own)
    click.Choice.convert = _convert  # type: ignore[method-assign, assignment]
    click.Command.get_help_option = _help_option  # type: ignore[method-assign, assignment]
    click.Context.formatter_class = Help
