"""Make the pages and pictures of docs/ from the code; ``--check`` fails when one is stale.

A page is a function without arguments, listed in `PAGES`, that returns its text; pictures are
those of ``docs/make_pictures.py``.
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from string import Formatter

sys.path.insert(0, str(Path(__file__).parent))

from make_pictures import stale_pictures, write_pictures

DOCS = Path(__file__).parent
_NOTICE = "<!-- Made by docs/make_pages.py: change what it is made from, then `make docs`. -->"


def faults() -> str:
    """List the faults of reading returned files: when each is told, and in which words."""
    from kikichoko.forms.questions.words import topic

    messages = dict(topic("en", "fault"))
    sections = tomllib.loads((DOCS / "faults.toml").read_text("utf-8"))["sections"]
    described = {kind for section in sections for kind in section["when"]}
    rest = {kind: "" for kind in messages if kind not in described}
    if rest:
        sections.append({"title": "More", "when": rest})
    lines = [
        _NOTICE,
        "",
        "# Faults of reading",
        "",
        "What `kikichoko read` lists instead of guessing. Each fault names its file and place,",
        "what stood there and what to do; everything else in the same call goes in. Faults",
        "have short names that stay the same from version to version.",
        "",
    ]
    for section in sections:
        told = {kind: when for kind, when in section["when"].items() if kind in messages}
        lines += [f"## {section['title']}", ""] if told else []
        for kind, when in told.items():
            lines += [f"### `{kind}`", ""]
            lines += [when, ""] if when else []
            lines += [f"> {_shown(messages[kind])}", ""]
    return "\n".join(lines).rstrip() + "\n"


def _shown(template: str) -> str:
    """Write a template with its open places in italics."""
    shown = ""
    for text, name, form, _ in Formatter().parse(template):
        words = (form or "").split("|")
        shown += text + (words[-1] if len(words) > 1 else f"*{name}*" if name else "")
    return shown


def commands() -> str:
    """List all commands as their ``--help`` says them, in the order of the job."""
    from importlib import import_module

    import click
    from kikichoko.panel.base.words import say
    from kikichoko.panel.cli import SECTIONS, kikichoko
    from kikichoko.panel.commands._help import teach_click

    teach_click()
    # As at the command line, and whatever ran before: click keeps a command's help option.
    wide = {**kikichoko.context_settings, "max_content_width": 100, "terminal_width": 100}
    top = click.Context(kikichoko, info_name="kikichoko", **wide)
    lines = [_NOTICE, "", "# Commands", "", *_verbatim(kikichoko.get_help(top))]
    modules = {
        name: import_module(f"kikichoko.panel.commands.{name}")
        for name in kikichoko.list_commands(top)
    }
    for section in SECTIONS:
        names = [name for name, module in modules.items() if section == module.SECTION]
        if names:
            lines += [f"## {say(section)}", ""]
        for name in sorted(names, key=lambda name: getattr(modules[name], "RANK", 99)):
            command: click.Command = modules[name].command
            context = click.Context(command, top, name, **wide)
            lines += [f"### `{name}`", "", *_verbatim(command.get_help(context))]
            inside = command.commands if isinstance(command, click.Group) else {}
            for word, part in sorted(inside.items()):
                below = click.Context(part, context, word, **wide)
                lines += [f"#### `{name} {word}`", "", *_verbatim(part.get_help(below))]
    return "\n".join(lines).rstrip() + "\n"


def _verbatim(text: str) -> list[str]:
    return ["```text", *(line.rstrip() for line in text.rstrip().splitlines()), "```", ""]


def python() -> str:
    """List the public names of `analysis`, each with the first sentence of its docstring."""
    from inspect import getdoc

    from kikichoko import analysis

    lines = [
        _NOTICE,
        "",
        "# From Python",
        "",
        "What stands here is public: tidy tables go in, result objects come out, and it keeps its",
        "name. Everything else in `kikichoko.analysis` may move. A result knows its `sentences()`,",
        "`tables()`, `warnings` and `to_dict()`; [methods.md](methods.md) says which method",
        "answers which question.",
        "",
        "A function that takes a table also takes the names of its columns, so that a table need",
        "not be renamed first. A table of polars, pyarrow or nullable types is as good as any;",
        "a refusal names each fault with its row.",
        "",
        "```python",
        ">>> import pandas as pd",
        ">>> from kikichoko.analysis.anova import anova",
        ">>> rows = [(judge, bottle, mark)",
        "...         for judge, marks in enumerate([(3, 5), (2, 6), (4, 5), (1, 4)])",
        "...         for bottle, mark in zip(['clear', 'cloudy'], marks)]",
        ">>> mine = pd.DataFrame(rows, columns=['judge', 'bottle', 'sweet'])",
        ">>> found = anova(mine, assessor='judge', sample='bottle', scores=['sweet'])",
        ">>> found['sweet'].means['mean'].tolist()",
        "[2.5, 5.0]",
        "",
        "```",
        "",
    ]
    for room in dir(analysis):
        package = getattr(analysis, room)
        names = dir(package)
        if not names:
            continue
        lines += [f"## `kikichoko.analysis.{room}`", "", package.__doc__, ""]
        for name in names:
            first = (getdoc(getattr(package, name)) or "").split("\n\n")[0]
            lines += [f"- `{name}`: {' '.join(first.split())}"]
        lines += [""]
    return "\n".join(lines).rstrip() + "\n"


PAGES: dict[str, Callable[[], str]] = {
    "faults.md": faults,
    "commands.md": commands,
    "python.md": python,
}


def stale() -> Iterator[str]:
    """Name the pages that are not what the code says now."""
    for name, page in PAGES.items():
        path = DOCS / name
        if not path.is_file() or path.read_text("utf-8") != page():
            yield name


def main() -> int:
    """Write all pages, or with ``--check`` tell the stale ones."""
    if "--check" in sys.argv[1:]:
        found = [*stale(), *(f"pictures/{name}" for name in stale_pictures())]
        for name in found:
            print(f"docs/{name} is stale: make docs", file=sys.stderr)  # noqa: T201
        return 1 if found else 0
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), "utf-8")
    write_pictures()
    return 0


if __name__ == "__main__":
    sys.exit(main())
