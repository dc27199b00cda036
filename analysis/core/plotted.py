"""Results that draw themselves: a figure of their own, or into axes of the reader's."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .errors import OptionError
from .look import drawing_on
from .result import Result
from .words import FALLBACK

if TYPE_CHECKING:
    from collections.abc import Iterable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def current_axes() -> Axes:
    """Return the axes that are drawn into at present, as seaborn takes them."""
    from matplotlib import pyplot as plt

    return plt.gca()


def chosen(argument: str, name: str | None, there: Iterable[str]) -> str:
    """Return the one of several things that is to be drawn into one field.

    Raises
    ------
    OptionError
        If `name` is none of those that are there, or left out where there are several.
    """
    have = list(dict.fromkeys(there))
    if name is None and len(have) == 1:
        return have[0]
    if name is None:
        raise OptionError("options.plot_which", have=have, argument=argument)
    if name not in have:
        raise OptionError("options.plot_unknown", found=name, have=have)
    return name


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Plotted(Result, ABC):
    """A result with a figure of one field."""

    @abstractmethod
    def figure(self, *, language: str = FALLBACK) -> Figure:
        """Draw the result as a figure of its own."""

    def plot(self, ax: Axes | None = None, *, language: str = FALLBACK, **how: Any) -> Axes:
        """Draw the result into axes, in the settings and theme that hold there.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Where to draw; the current axes by default, as seaborn does.
        language : str
        **how
            As `figure` takes it.

        Returns
        -------
        matplotlib Axes
            Those that were drawn into.
        """
        ax = ax or current_axes()
        with drawing_on(ax):
            self.figure(language=language, **how)
        return ax
