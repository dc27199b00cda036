"""The command line: ``kikichoko WORD …``, one file per word in `commands`.

It speaks the language that ``--language`` or the variable ``KIKICHOKO_LANGUAGE`` asks for; else
that of the session that a command is about; else that of the system; else English.

Words for people go to stderr, data to stdout. Exit codes: 0 done, 1 refused
with the reason, 2 wrong usage, 3 done but something needs a person, 130 stopped.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Sequence
from functools import cache
from importlib import import_module, reload
from pkgutil import iter_modules
from typing import Any

import click

from .. import __version__
from ..analysis.core.errors import AnalysisError
from ..analysis.core.words import Sentence
from ..forms.questions.words import languages
from . import commands
from .base.console import OWN_PROCESS, guard, language_of_the_system
from .base.errors import REFUSED, STOPPED, PanelError
from .base.fault_boundary import in_words
from .base.headings import near_column
from .base.words import FALLBACK, reader, say, speak, speaking
from .commands._help import teach_click

SECTIONS = ("cli.section_session", "cli.section_tables", "cli.section_before")
VARIABLE = "KIKICHOKO_LANGUAGE"

gc.set_threshold(50_000, 20, 100)
"""A command ends before garbage matters: looking for it after every 700 objects, as Python does,
takes an eighth of the time of a report."""
atexit.register(gc.freeze)
"""At the end Python looks through all that is there for the last time, 0.3 s after a report, to
free what the system takes back anyway."""

_imported: dict[str, str] = {}
"""The language in which the help of a command was said when its file was imported."""


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
        name = f"{commands.__name__}.{cmd_name}"
        said = _imported.get(name, FALLBACK if name in sys.modules else reader())
        module = import_module(name) if said == reader() else reload(import_module(name))
        _imported[name] = reader()
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, and name the one that a misspelt word is near to."""
        near = "" if args[0] in _names() else near_column(args[0], _names())
        if near:
            ctx.fail(say("cli.near_command", found=args[0], near=near))
        return super().resolve_command(ctx, args)

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run a command, and speak the language of its reader for as long."""
        asked = os.environ.get(VARIABLE, "")
        with speaking(language_of_the_system(languages())):
            if asked in languages():
                speak(asked, asked=True)
            teach_click()
            return super().main(*args, **kwargs)

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

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the help of the whole: it was made before the reader was known."""
        self.help = say("cli.help")
        for option in self.get_params(ctx):
            if isinstance(option, click.Option):
                option.help = say(f"cli.option_{option.opts[-1].removeprefix('--')}")
        super().format_help(ctx, formatter)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the words by section."""
        rows: dict[str, list[tuple[int, str, str]]] = {section: [] for section in SECTIONS}
        for name in _names():
            listed = self.get_command(ctx, name)
            module = import_module(f"{commands.__name__}.{name}")
            if listed is not None:
                entry = (getattr(module, "RANK", 99), name, _short(listed))
                rows[module.SECTION].append(entry)
        for section in SECTIONS:
            if not rows[section]:
                continue
            with formatter.section(say(section)):
                formatter.write_dl([(name, text) for _, name, text in sorted(rows[section])])


def _short(command: click.Command) -> str:
    """Return the first sentence of a command's help."""
    if reader() == FALLBACK:
        return command.get_short_help_str(90)
    first = (command.short_help or command.help or "").strip().split("\n\n")[0]
    end = first.find("。")
    return "".join(first[: end + 1 or None].split("\n"))


def _speak(_: click.Context, __: click.Parameter, language: str | None) -> None:
    asked = os.environ.get(VARIABLE, "")
    if language:
        speak(language, asked=True)
    elif asked and asked not in languages():
        text = say("cli.no_language", found=asked, known=languages())
        raise click.BadParameter(text, param_hint=VARIABLE)


@click.group(
    cls=CommandGroup,
    help=say("cli.help"),
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, message="%(prog)s %(version)s", help=say("cli.option_version"))
@click.option(
    "--language",
    type=click.Choice(languages()),
    is_eager=True,
    expose_value=False,
    callback=_speak,
    help=say("cli.option_language"),
)
def kikichoko() -> None:
    """Root of all commands; its help stands in the catalogue."""


def main(arguments: Sequence[str] | None = None) -> Any:
    """Run a command; letters that the terminal lacks are written as signs."""
    guard()
    return kikichoko.main(args=arguments, prog_name="kikichoko", obj=OWN_PROCESS)
