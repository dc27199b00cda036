"""What each command can be told, described for the desk, which makes a form of it."""

from __future__ import annotations

import json
import sys
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

import click

from ..base.console import guard

PATH_ROLES = {
    ("new", "folder"): "new", ("demo", "folder"): "new", ("examples", "folder"): "new",
    ("history", "save"): "made folder", ("teach", "out"): "made folder",
    ("pack", "target"): "made zip",
    ("memory", "folder"): "folder", ("few", "house"): "folder", ("new", "bench"): "folder",
    ("new", "practise"): "folder", ("monitor", "more"): "folders", ("teach", "more"): "folders",
    ("history", "folders"): "folders", ("screen", "folders"): "folders or new",
    ("read", "files"): "files", ("batches", "tables"): "files",
    ("batches", "folder"): "kept folder", ("batches", "save"): "made csv",
}  # fmt: skip
"""What a path of a command is, where its name and kind do not say it."""


def described(language: str) -> list[dict[str, Any]]:
    """Describe all commands in a language, in which this process has spoken from its start.

    Returns
    -------
    list of dict
        A command, or one of a group's, with the words that call it, its help and parameters.
    """
    from ..base.words import speaking
    from . import __path__ as here

    found: list[dict[str, Any]] = []
    with speaking(language):
        for one in sorted(iter_modules(here), key=lambda one: one.name):
            if one.name.startswith("_"):
                continue
            module = import_module(f"{__package__}.{one.name}")
            shown = {"section": module.SECTION, "rank": getattr(module, "RANK", 99)}
            found += [told | shown for told in _of(one.name, module.command)]
    return found


def _of(name: str, command: click.Command) -> list[dict[str, Any]]:
    told = {
        "words": [name],
        "help": command.help or "",
        "short": command.short_help or "",
        "fields": [_field(name, one) for one in _told(command)],
    }
    if not isinstance(command, click.Group):
        return [told]
    return [told] + [
        {
            "words": [name, word],
            "help": one.help or "",
            "short": one.short_help or "",
            "fields": [*told["fields"], *(_field(name, param) for param in _told(one))],
        }
        for word, one in command.commands.items()
    ]


def _told(command: click.Command) -> list[click.Parameter]:
    """Return what a person can tell a command."""
    return [one for one in command.params if not getattr(one, "hidden", False)]


def _field(command: str, param: click.Parameter) -> dict[str, Any]:
    kind = param.type
    if isinstance(kind, click.Path):
        role = PATH_ROLES.get((command, str(param.name))) or _role(param, kind)
    elif isinstance(kind, click.Choice):
        role = "choice"
    elif isinstance(kind, click.types.BoolParamType):
        turns = bool(param.secondary_opts) or not getattr(param, "is_flag", False)
        role = "yes or no" if turns else "flag"
    elif isinstance(kind, (click.types.IntParamType, click.types.FloatParamType)):
        role = "number"
    else:
        role = "text"
    default = param.default if isinstance(param.default, (str, int, float)) else None
    return {
        "name": param.name,
        "option": param.opts[0] if isinstance(param, click.Option) else "",
        "against": next(iter(param.secondary_opts), ""),
        "role": role,
        "choices": [str(one) for one in getattr(kind, "choices", ())],
        "many": param.multiple or param.nargs == -1,
        "values": max(param.nargs, 1),
        "needed": param.required,
        "default": "" if default in (None, False, True) else str(default),
        "metavar": param.metavar or "",
        "help": getattr(param, "help", "") or "",
    }


def _role(param: click.Parameter, kind: click.Path) -> str:
    """Tell what a path is: a session, a table, or a file that is made."""
    if param.name == "folder":
        return "session"
    if isinstance(param, click.Option) and not kind.dir_okay:
        return "made figure"
    return "table"


def main() -> None:
    """Print the description of all commands, in the language that is the argument."""
    from ._help import teach_click

    guard()
    teach_click()
    sys.stdout.write(json.dumps(described(sys.argv[1]), ensure_ascii=False))
