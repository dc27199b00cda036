"""What a house remembers: spreads of its bottles and errors, and each of its assessors.

A house that tastes year after year knows its tasters. All sessions give, in each attribute, how
far bottles lie apart and how far scores err; the next small session takes that instead of what
is usual elsewhere. Three tenths of it stay wide, so scores that contradict the memory prevail.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
from scipy.special import chdtri

from ..core.errors import TableError
from ..core.options import one_of, share_of
from ..core.plotted import current_axes
from ..core.readable import Column, readable
from ..core.result import Result
from ..core.wording import short
from ..core.words import FALLBACK, Sentence
from ..performance.spreads import Floats, Spreads
from ..performance.usual_spreads import default_spreads, wide_spreads
from .assessors_remembered import ScoredCells, each_assessor, each_style, width_of, widths
from .house_spreads import house_spreads
from .session_statistics import Statistics, statistics

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLUMNS = ("session", "assessor", "sample", "attribute", "score")


_WHAT = Column("memory.col_attribute", "attribute")
_WHO = Column("memory.col_assessor", "assessor")
_TIMES = Column("memory.col_sessions", "sessions")
_HOUSE = (
    _WHAT,
    _TIMES,
    *(
        Column(f"memory.col_{name}", f"{name}_sd", f"{name}_low", f"{name}_high", ".0f", 100)
        for name in ("sample", "error", "replicate", "interaction")
    ),
)
_WIDTHS = (_WHO, Column("memory.col_width", "width", "low", "high"))
_SHIFT = Column("memory.col_shift", "shift", "shift_low", "shift_high", "+.0f", 100)
_ASSESSORS = (
    _WHAT,
    _WHO,
    _TIMES,
    _SHIFT,
    Column("memory.col_repeat", "repeat_sd", "repeat_low", "repeat_high", ".0f", 100),
    Column("memory.col_agreement", "agreement", "agreement_low", "agreement_high"),
)
_STYLES = (_WHAT, _WHO, Column("memory.col_style", "style"), _TIMES, _SHIFT)


class Remembered(NamedTuple):
    """What is remembered of one attribute.

    Attributes
    ----------
    spreads : Spreads
        In points of the scale that was asked for.
    sessions : int
        Sessions behind it.
    """

    spreads: Spreads
    sessions: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class HouseMemory(Result):
    """What several sessions teach of a house and of its assessors, in shares of the scale.

    Attributes
    ----------
    sessions : tuple of str
    level : float
        Of all limits.
    spreads : mapping of str to Spreads
        By attribute, for the next session.
    house : DataFrame
        ``attribute, sessions, sample_sd, sample_low, sample_high, error_sd, error_low,
        error_high, replicate_sd, replicate_low, replicate_high, interaction_sd,
        interaction_low, interaction_high``: true means of bottles, error of one score, and
        its two parts where there were replicates (nan otherwise).
    widths : DataFrame
        ``assessor, width, error, low, high``: how widely the scale is used, a multiple of
        the usual.
    assessors : DataFrame
        See `each_assessor`.
    styles : DataFrame
        See `each_style`.
    """

    sessions: tuple[str, ...]
    level: float
    spreads: Mapping[str, Spreads]
    house: pd.DataFrame
    widths: pd.DataFrame
    assessors: pd.DataFrame
    styles: pd.DataFrame

    def known(self, attribute: str, length: float = 10.0) -> Remembered | None:
        """Return what is remembered of an attribute on a scale of this length, if anything."""
        if attribute not in self.spreads:
            return None
        row = self.house.loc[self.house["attribute"] == attribute, "sessions"]
        return Remembered(self.spreads[attribute].scaled(length, length), int(row.iloc[0]))

    def width_of(self) -> dict[str, tuple[float, float]]:
        """Return each assessor's width and its standard error, as `small_panel` takes them.

        The error holds what the widths of all have in common, which no score can tell.
        """
        return width_of(self.widths)

    def called(self, words: Mapping[str, str]) -> HouseMemory:
        """Return the same with its attributes under other names; one without keeps its own."""

        def named(table: pd.DataFrame) -> pd.DataFrame:
            if "attribute" not in table:
                return table
            return table.assign(attribute=[words.get(one, one) for one in table["attribute"]])

        return replace(
            self,
            spreads={words.get(name, name): own for name, own in self.spreads.items()},
            house=named(self.house),
            assessors=named(self.assessors),
            styles=named(self.styles),
        )

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what is remembered, in how many sessions it was learned, and of whom."""
        said = [
            Sentence.of(
                "memory.counts",
                n=len(self.sessions),
                attributes=len(self.spreads),
                assessors=len(self.widths),
            )
        ]
        wide = self.widths[(self.widths["low"] > 1) | (self.widths["high"] < 1)]
        said += [
            Sentence.of(
                "memory.wide" if row["width"] > 1 else "memory.narrow",
                assessor=row["assessor"],
                width=short(row["width"], 2),
                low=short(row["low"], 2),
                high=short(row["high"], 2),
            )
            for row in wide.to_dict("records")
        ]
        return tuple(said)

    def figure(self, *, language: str = FALLBACK) -> Figure:
        """Draw the spreads of the house and the widths of its assessors."""
        from .memory_figure import draw_memory

        return draw_memory(self.house, self.widths, language=language)

    def plot(
        self, ax: Axes | None = None, part: str = "house", *, language: str = FALLBACK
    ) -> Axes:
        """Draw one part of what is remembered into axes, in the theme that holds there.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Where to draw; the current axes by default.
        part : {'house', 'widths'}
            The spreads of the house, or how widely each assessor uses the scale.
        language : str

        Returns
        -------
        matplotlib Axes

        Raises
        ------
        OptionError
            If the part is none of these.
        """
        from .memory_figure import assessors_widths, spreads_of_house

        one_of("part", part, ("house", "widths"))
        ax = ax or current_axes()
        if part == "widths":
            assessors_widths(ax, self.widths, language=language)
        else:
            spreads_of_house(ax, self.house, language=language)
            ax.legend()
        return ax

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the house, widths, assessors and styles as people read them, in % of the scale."""
        shown = {
            "memory.house": readable(self.house, _HOUSE),
            "memory.widths": readable(self.widths, _WIDTHS),
            "memory.assessors": readable(self.assessors, _ASSESSORS),
        }
        if len(self.styles):
            shown["memory.styles"] = readable(self.styles, _STYLES)
        return shown


def remember(
    scores: pd.DataFrame,
    *,
    kinds: Mapping[str, str] | None = None,
    styles: pd.DataFrame | None = None,
    level: float = 0.95,
) -> HouseMemory:
    """Learn from several sessions how far bottles, assessors and replicates scatter.

    Parameters
    ----------
    scores : DataFrame
        ``session, assessor, sample, attribute, score``, scores in shares of the length of
        their scale; repeated rows of a cell are replicates.
    kinds : mapping of str to {'taste', 'appearance', 'liking'}, optional
        Kind of each attribute, for what is usual; 'taste' where not named.
    styles : DataFrame, optional
        ``session, sample, style``: which samples are of a style (a fraction, say).
    level : float
        Level of limits.

    Returns
    -------
    HouseMemory

    Raises
    ------
    TableError
        If a column is missing.

    Notes
    -----
    Per attribute the house has log s (error of one score) and log t (true means of
    samples), with the usual spreads as prior, four fifths of it wide; a session deviates by
    standard deviations of 0.2 and 0.4. Both are integrated on a lattice (Gauss-Hermite over a
    session's own deviations); for the next session the posterior is blurred by the same.

    Examples
    --------
    >>> rows = [("year 1", who, what, "body", score)
    ...         for who, values in (("A", (0.5, 0.7, 0.6)), ("B", (0.4, 0.5, 0.6)))
    ...         for what, score in zip(("clear", "cloudy", "late"), values)]
    >>> learned = remember(pd.DataFrame(rows, columns=list(COLUMNS)))
    >>> learned.known("body", length=10).sessions
    1
    """
    share_of("level", level)
    missing = [name for name in COLUMNS if name not in scores]
    if missing:
        have = [str(name) for name in scores.columns]
        faults = (Sentence.of("table.no_column", column=name, have=have) for name in missing)
        raise TableError(tuple(faults))
    found = statistics(scores)
    spreads = {
        attribute: house_spreads(
            one,
            default_spreads((kinds or {}).get(attribute, "taste"), 1.0),
            wide_spreads((kinds or {}).get(attribute, "taste"), 1.0),
        )
        for attribute, one in found.items()
    }
    rows = [_house_row(name, found[name], one, level) for name, one in spreads.items()]
    cells = ScoredCells.of(scores[scores["attribute"].astype(str).isin(set(spreads))])
    wide = widths(cells, spreads)
    half = float(np.sqrt(chdtri(1, 1 - level))) * wide["error"]
    wide = wide.assign(low=wide["width"] - half, high=wide["width"] + half)
    known = pd.DataFrame(columns=["session", "sample", "style"]) if styles is None else styles
    return HouseMemory(
        sessions=tuple(str(name) for name in pd.unique(scores["session"].astype(str))),
        level=level,
        spreads=spreads,
        house=pd.DataFrame(rows),
        widths=wide,
        assessors=each_assessor(cells, level),
        styles=each_style(cells, known, level),
    )


def _house_row(
    attribute: str, found: Statistics, spreads: Spreads, level: float
) -> dict[str, object]:
    ends = ((1 - level) / 2, (1 + level) / 2)
    row: dict[str, object] = {"attribute": attribute, "sessions": len(found.df)}
    for name, nodes, side in (
        ("sample", spreads.log_sample, spreads.weight.sum(axis=0)),
        ("error", spreads.log_error, spreads.weight.sum(axis=1)),
    ):
        row[f"{name}_sd"] = float(np.exp(side @ nodes))
        low, high = np.exp(np.interp(ends, np.cumsum(side) - side / 2, nodes))
        row[f"{name}_low"], row[f"{name}_high"] = float(low), float(high)
    return row | _parts_of_error(found, ends)


def _parts_of_error(found: Statistics, ends: tuple[float, float]) -> dict[str, float]:
    """Tell replicates from assessor × sample, with limits by both chi-squares."""
    names = [
        f"{part}_{end}" for part in ("replicate", "interaction") for end in ("sd", "low", "high")
    ]
    repeated = (found.within_df > 0) & (found.df > 0)
    df, within_df = float(found.df[repeated].sum()), float(found.within_df[repeated].sum())
    if not df:
        return dict.fromkeys(names, float("nan"))
    middles = (np.arange(400) + 0.5) / 400
    within = float(found.within[repeated].sum()) / chdtri(within_df, 1 - middles)
    squares = float((found.squares * found.replicates)[repeated].sum())
    r = float(found.replicates[repeated].mean())
    between = (squares / chdtri(df, 1 - middles)[:, None] - within) / r
    draws: Floats = np.sqrt(np.maximum(between, 0)).ravel()
    values = [
        float(np.sqrt(found.within[repeated].sum() / within_df)),
        *np.sqrt(np.quantile(within, ends)).tolist(),
        float(np.median(draws)),
        *np.quantile(draws, ends).tolist(),
    ]
    return dict(zip(names, values, strict=True))
