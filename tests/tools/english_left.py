"""A report in Japanese, and what of our own English is left in it."""

from __future__ import annotations

import re
import shutil
import tomllib
from collections.abc import Iterator
from functools import cache, partial
from html import unescape
from pathlib import Path
from string import Formatter

import kikichoko
import pytest

ROOMS = Path(kikichoko.__path__[0])


def _templates(language: str) -> Iterator[str]:
    for path in sorted(ROOMS.glob(f"*/words/{language}/*.toml")):
        for entry in tomllib.loads(path.read_text("utf-8")).values():
            yield from entry.values() if isinstance(entry, dict) else [entry]


@cache
def pieces() -> tuple[str, ...]:
    """Return what English catalogues write out, four words and more, and Japanese ones do not."""
    literal = (part for text in _templates("en") for part, *_ in Formatter().parse(text))
    stripped = {re.sub(r"\s+", " ", part).strip(" .,:;()") for part in literal}
    japanese = "\n".join(_templates("ja"))
    return tuple(
        part
        for part in sorted(stripped)
        if len(re.findall(r"[A-Za-z]{2,}", part)) >= 4 and part not in japanese
    )


def english_left(text: str) -> list[str]:
    """Name the pieces of our own English in a text or a page."""
    shown = re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", text)))
    return [part for part in pieces() if part in shown]


def page_in_japanese(folder: Path, copy: Path, *options: str, figures: bool = False) -> str:
    """Report a copy of a planned and answered session in Japanese, without most figures."""
    from click.testing import CliRunner
    from kikichoko.panel.cli import kikichoko as command_line
    from kikichoko.panel.report import build

    shutil.copytree(folder, copy)
    settings = copy / "session.toml"
    text = settings.read_text("utf-8")
    assert 'language = "en"' in text
    settings.write_text(text.replace('language = "en"', 'language = "ja"'), "utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(build, "open_context", partial(build.open_context, figures=figures))
        told = CliRunner().invoke(command_line, ["report", str(copy), *options])
    assert told.exit_code in (0, 3), told.output
    return (copy / "report" / "report.html").read_text("utf-8")
