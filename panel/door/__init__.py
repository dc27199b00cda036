"""kikichoko: blind tasting panels for sake, from the plan to an honest report.

Three rooms stand behind this door:

- `kikichoko.analysis`: the statistics, tables in, results and figures out;
- `kikichoko.forms`: what is asked, written on paper and in workbooks, and read back;
- `kikichoko.panel`: sessions, plan, key, returns, report and the command line.

All three take their words from `kikichoko.catalogue`, which knows none of them.
"""

from __future__ import annotations

from importlib import import_module
from types import ModuleType

__version__ = "0.1.0"

_ROOMS = ("analysis", "forms", "panel")


def __getattr__(name: str) -> ModuleType:
    """Open a room when it is first asked for, so that the door itself costs nothing."""
    if name in _ROOMS:
        return import_module(f"{__name__}.{name}")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return ["__version__", *_ROOMS]
