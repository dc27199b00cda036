"""The command line: ``kikichoko WORD …``, one file per word in `commands`.

Words for people go to stderr, data to stdout. Exit codes: 0 done, 1 refused
with the reason, 2 wrong usage, 3 done but something needs a person, 130 stopped.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

import click

from .. import __version__
from ..analysis.core.errors import AnalysisError
from ..analysis.core.words import Sentence
from . import commands
from .base.console import guard
from .base.errors import REFUSED, STOPPED, PanelError
from .base.fault_boundary import in_words
from .base.words import say

SECTIONS = ("cli.section_session", "cli.section_tables", "cli.section_before")


@cache
def _names() -> list[str]:
    return sorted(
        found.name for found in iter_modules(commands.__path__) if not found.name.startswith("_")
    )


def _refuse(ctx: click.Context, text: Sentence, code: int = REFUSED) -> None:
    click.echo(say("cli.refused", text=text), err=True)
    ctx.exit(code)


class CommandGroup(click.Group):
    """The group of all commands; a command's file is imported when it is needed."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Return the words, sorted."""
        return _names()

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import the file of one word."""
        if cmd_name not in _names():
            return None
        module = import_module(f"{commands.__name__}.{cmd_name}")
        command: click.Command = module.command
        return command

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; turn refusals and whatever the machine throws into words."""
        try:
            return super().invoke(ctx)
        except (PanelError, AnalysisError) as refusal:
            return _refuse(ctx, refusal.sentence)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except KeyboardInterrupt as stop:
            return _refuse(ctx, in_words(stop), STOPPED)
        except Exception as fault:  # noqa: BLE001 - the one boundary: people get words
            return _refuse(ctx, in_words(fault))

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the words by section."""
        rows: dict[str, list[tuple[int, str, str]]] = {section: [] for section in SECTIONS}
        for name in _names():
            module = import_module(f"{commands.__name__}.{name}")
            listed = self.get_command(ctx, name)
            if listed is not None:
                entry = (getattr(module, "RANK", 99), name, listed.get_short_help_str(90))
                rows[module.SECTION].append(entry)
        for section in SECTIONS:
            if not rows[section]:
                continue
            with formatter.section(say(section)):
                formatter.write_dl([(name, text) for _, name, text in sorted(rows[section])])


@click.group(
    cls=CommandGroup,
    help=say("cli.help"),
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, message="%(prog)s %(version)s")
def kikichoko() -> None:
    """Root of all commands; its help stands in the catalogue."""


def main(arguments: Sequence[str] | None = None) -> Any:
    """Run a command; letters that the terminal lacks are written as signs."""
    guard()
    return kikichoko.main(args=arguments, prog_name="kikichoko")
