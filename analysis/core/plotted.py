"""Results that draw themselves: a figure of their own, or into axes of the reader's."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .look import drawing_on
from .result import Result
from .words import FALLBACK

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


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
        if ax is None:
            from matplotlib import pyplot as plt

            ax = plt.gca()
        with drawing_on(ax):
            self.figure(language=language, **how)
        return ax
