"""A form for each command, made of what the command itself says it can be told.

So no command and no option is lacking at the desk, and the words are those of the help. Paths are
never typed: they are chosen from the folder of the desk, dropped, or made in the desk's drawer.
"""

from __future__ import annotations

import asyncio
import json
import re
import sys
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..base.table_grid import ENDINGS
from ..base.words import say
from .acts import environment
from .shelf import REPORTED, SessionShelf

DESCRIBE = "from kikichoko.panel.commands._forms import main; main()"
ELSEWHERE: Mapping[str, str] = {
    "new": "new", "plan": "plan", "sheets": "sheets", "read": "returns", "status": "returns",
    "review": "returns", "serve": "phones", "report": "open", "key": "open", "unblind": "open",
    "chemistry": "cellar", "size": "cellar",
}  # fmt: skip
"""Commands that have a page of their own: its name."""
NO_FORM: Mapping[str, str] = {
    "desk": "why_desk", "serve": "why_serve", "review": "why_review",
}  # fmt: skip
"""Commands that have no form here, and the word that says why."""
LEFT_OUT: Mapping[tuple[str, str], str] = {
    ("report", "show"): "opens a browser, which is open already",
    ("pack", "target"): "the file is taken from the page, under the name that the command gives it",
}
"""Parameters that have no field, and why."""
OPENS = ("key", "offer", "report")
"""Commands that open the key without being asked for a yes."""
FIGURES = ("svg", "png", "pdf")
COLUMNS = ("assessor", "sample", "replicate", "position", "session", "attribute", "score",
           "scores", "sheet", "number_repeats", "concentration", "correct", "answer", "served",
           "time")  # fmt: skip
"""Options that say how the columns of a table are called."""
_BREAK = re.compile(r"[\s,]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandField:
    """One thing that a command can be told.

    Attributes
    ----------
    name : str
        Of the parameter.
    option, against : str
        How it is said, and its contrary; empty for arguments.
    role : str
        ``text``, ``number``, ``choice``, ``flag``, ``yes or no``, or what kind of path it is.
    choices : tuple of str
    many, needed : bool
    values : int
        Values that are said together, divided by blanks.
    default, metavar, help : str
    """

    name: str
    option: str
    against: str
    role: str
    choices: tuple[str, ...]
    many: bool
    needed: bool
    values: int
    default: str
    metavar: str
    help: str

    @property
    def is_column(self) -> bool:
        """Whether it says how a column of a table is called."""
        return self.name in COLUMNS and bool(self.option)

    def label(self, language: str) -> str:
        """Say what is asked."""
        if self.option:
            return self.help
        if self.role in ("session", "new", "folder", "folders"):
            return say(f"desk.arg_{self.role}", language)
        return say("desk.size_what" if self.role == "choice" else f"desk.arg_{self.name}", language)


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandForm:
    """A command, or one of a group's.

    Attributes
    ----------
    words : tuple of str
        How it is called, for example ``("change", "late")``.
    help : str
        Its help, without what is typed at a terminal.
    first : str
        The first sentence of it.
    section : str
        Key of the words under which it is listed.
    rank : int
    fields : tuple of CommandField
    """

    words: tuple[str, ...]
    help: str
    first: str
    section: str
    rank: int
    fields: tuple[CommandField, ...]

    @property
    def path(self) -> str:
        """Its part of an address."""
        return "/".join(self.words)

    @property
    def of_session(self) -> bool:
        """Whether it is about one session."""
        return any(one.role == "session" for one in self.fields)

    @property
    def takes_files(self) -> bool:
        """Whether files can be dropped on it."""
        return any(one.role in ("table", "files") for one in self.fields)

    @property
    def asks_yes(self) -> bool:
        """Whether a box must be ticked before anything is done."""
        return self.words[0] in OPENS


async def described(language: str) -> list[CommandForm]:
    """Let a process of its own describe all commands, once: this one imports none of them."""
    if language not in _DESCRIBED:
        _DESCRIBED[language] = await _description(language)
    return _DESCRIBED[language]


_DESCRIBED: dict[str, list[CommandForm]] = {}


async def _description(language: str) -> list[CommandForm]:
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-c", DESCRIBE, language, stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE, env=environment(language),
    )  # fmt: skip
    printed, _ = await process.communicate()
    return forms_of(json.loads(printed))


def forms_of(told: Iterable[Mapping[str, Any]]) -> list[CommandForm]:
    """Make the forms of a description; a group whose commands have forms only lists."""
    made = []
    for one in told:
        word = one["words"][0]
        text = "\n\n".join(
            part.replace("\b\n", "")
            for part in one["help"].split("\n\n")
            if "kikichoko " not in part
        )
        fields = tuple(
            CommandField(**{**field, "choices": tuple(field["choices"])})
            for field in one["fields"]
            if (word, field["name"]) not in LEFT_OUT and field["name"] != "help"
        )
        made.append(
            CommandForm(
                words=tuple(one["words"]),
                help=text,
                first=_first(one["short"] or text),
                section=one["section"],
                rank=one["rank"],
                fields=fields,
            )
        )
    return made


def _first(text: str) -> str:
    """Return the first sentence of a help."""
    line = " ".join(text.split("\n\n", maxsplit=1)[0].split())
    found = re.search(r"\.(?= )|。", line)
    return line[: found.end()] if found else line


def tables(shelf: SessionShelf, dropped: Mapping[str, Path]) -> dict[str, Path]:
    """Return what can be chosen as a table: what was dropped, and what lies in the folder."""
    found = dict(dropped)
    kinds = (*ENDINGS, ".zip")
    places = [shelf.folder, *folders(shelf).values()]
    for place in dict.fromkeys(places):
        if place != shelf.folder:
            found[place.relative_to(shelf.folder).as_posix()] = place
        for inside in (place, place / REPORTED.parent):
            found |= {
                one.relative_to(shelf.folder).as_posix(): one
                for one in sorted(inside.glob("*"))
                if one.suffix in kinds and one.is_file() and not one.is_symlink()
                and not one.name.startswith(("assessors.", "."))
            }  # fmt: skip
    return found


def folders(shelf: SessionShelf) -> dict[str, Path]:
    """Return what can be chosen as a folder: the desk's, those in it, sessions, practice pages."""
    inside = [
        one
        for one in sorted(shelf.folder.iterdir())
        if one.is_dir() and not one.is_symlink() and not one.name.startswith(".")
    ]
    taught = [one / "teaching" for one in inside if (one / "teaching").is_dir()]
    every = (*inside, *taught, *shelf.places().values())
    named = {one.relative_to(shelf.folder).as_posix(): one for one in every}
    return {".": shelf.folder, **named}


def command_words(
    form: CommandForm,
    given: Mapping[str, Sequence[str]],
    paths: Mapping[str, Collection[Path]],
) -> list[str]:
    """Return the command that a filled form asks for; what is blank is not said.

    Parameters
    ----------
    form : CommandForm
    given : mapping of str to sequence of str
        What was typed, by the name of the parameter.
    paths : mapping of str to collection of Path
        What was chosen, dropped, or is to be made.

    Examples
    --------
    >>> field = CommandField(name="level", option="--level", against="", role="number", choices=(),
    ...     many=False, needed=False, values=1, default="0.95", metavar="", help="")
    >>> form = CommandForm(words=("rank",), help="", first="", section="", rank=1, fields=(field,))
    >>> command_words(form, {"level": [" 0.9 "]}, {})
    ['rank', '--level=0.9']
    """
    before: list[str] = []
    options: list[str] = []
    arguments: list[str] = []
    for one in form.fields:
        values = [str(path) for path in paths[one.name]] if one.name in paths else _said(one, given)
        if one.role in ("flag", "yes or no") and one.option and not _takes_value(one):
            options += [one.option if value != "no" else one.against for value in values]
        elif one.option:
            for value in values:
                first, *more = value.split() if one.values > 1 else [value]
                options += [f"{one.option}={first}", *more]
        elif one.role == "session" and len(form.words) > 1:
            before += values
        else:
            arguments += values
    end = ["--", *arguments] if arguments else []
    return [form.words[0], *before, *form.words[1:], *options, *end]


def _takes_value(one: CommandField) -> bool:
    return one.role == "yes or no" and not one.against


def _said(one: CommandField, given: Mapping[str, Sequence[str]]) -> list[str]:
    values = [value.replace("\r\n", "\n") for value in given.get(one.name, ())]
    if one.many:
        parts = [part for value in values for part in _parts(one, value)]
        return [part.strip() for part in parts if part.strip()]
    return [value.strip() for value in values[:1] if value.strip()]


def _parts(one: CommandField, value: str) -> list[str]:
    """Divide what was typed into a field for many: lines, or for codes in a row also blanks."""
    return value.split("\n") if one.option else _BREAK.split(value)
