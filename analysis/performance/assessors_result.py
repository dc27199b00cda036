"""What is said of single assessors: findings in words, advice, two figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ...rounding import rounded
from ..core.errors import NotEstimable
from ..core.plotted import chosen, current_axes
from ..core.result import Result, copies
from ..core.tidy_table import Tidy, as_tidy
from ..core.wording import short, stated_percent
from ..core.words import FALLBACK, Sentence
from .assessor_measures import (
    WHOLE_CARD,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SCALE_KINDS = ("reversed", "guessing", "narrow", "wide")
MOST_TIMES = 100
"""A larger ratio of scatter says no more than that the others show hardly any."""
_SHARES = {0.25: "quarter", 1 / 3: "third", 0.5: "half", 2 / 3: "two_thirds", 0.75: "most"}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Assessors(Result):
    """Every assessor of a panel, measured and compared with the rest.

    Attributes
    ----------
    measures : DataFrame
        One row per attribute and assessor; columns as
        `kikichoko.analysis.performance.assessor_measures.COLUMNS`.
    panel : DataFrame
        One row per attribute: ``repeatability, reproducibility, homogeneity_f,
        homogeneity_p, sample_f, sample_p, n_assessors, n_samples, replicates``.
    findings : DataFrame
        ``assessor, attribute`` (or ``"whole card"``), ``finding`` (one of `KINDS`),
        ``value, low, high, p, shown``; ``shown`` is False for a hint. The value is a
        slope for reversed, guessing, narrow and wide, a ratio of variances for
        crossing and noisy, scale points for drift (first to last serving), high and low.
    alpha : float
        Chance at most, that anybody of a clean panel is shown for anything.
    p_limits : tuple of float
        p below which a test counts: over the whole card, and on one attribute.
    n_tests : int
    hints_by_chance : float
        Hints to expect in a clean panel (`HINT` times the tests).
    smallest_scale : float
        Difference of the whole-card slope from 1 that is found with probability .8.
    set_apart : list of str
        Assessors who do not count in the reference for the others.
    drift_taken_off : list of str
    compared : list of str
        Assessors with few enough holes to be compared.
    level : float
    left_out : DataFrame
        ``attribute, assessor, sample, reason``: what could not be compared.
    """

    measures: pd.DataFrame
    panel: pd.DataFrame
    findings: pd.DataFrame
    alpha: float
    p_limits: tuple[float, float]
    n_tests: int
    hints_by_chance: float
    smallest_scale: float
    set_apart: list[str]
    drift_taken_off: list[str]
    compared: list[str]
    level: float
    left_out: pd.DataFrame

    def of(self, assessor: str) -> pd.DataFrame:
        """Return the findings on one assessor, shown ones first."""
        mine = self.findings[self.findings["assessor"] == assessor]
        return mine.sort_values("shown", ascending=False, kind="stable").reset_index(drop=True)

    def overview(
        self,
        table: Tidy | pd.DataFrame,
        attributes: Sequence[str] | None = None,
        *,
        language: str = FALLBACK,
        narrow: bool = False,
    ) -> Figure:
        """Draw who needs training in what, one small field an assessor and attribute.

        Parameters
        ----------
        table : Tidy or DataFrame
            The table that this was made from.
        attributes : sequence of str, optional
            Columns to draw; all by default.
        language : str
        narrow : bool
            Whether for the screen of a telephone.
        """
        from .assessors_figure import draw_overview

        return draw_overview(
            as_tidy(table).data,
            self.measures,
            self.findings,
            set_apart=self.set_apart,
            alpha=self.alpha,
            language=language,
            attributes=attributes,
            narrow=narrow,
        )

    def lines(self, table: Tidy | pd.DataFrame, *, language: str = FALLBACK) -> Figure:
        """Draw each attribute with one line per assessor, `table` as in `overview`.

        Raises
        ------
        NotEstimable
            When there is no attribute to draw.
        """
        from .assessors_figure import draw_assessor_lines

        attributes = list(dict.fromkeys(self.measures["attribute"]))
        if not attributes:
            raise NotEstimable("assessors.no_scale")
        return draw_assessor_lines(
            as_tidy(table).data,
            self.findings,
            attributes,
            set_apart=self.set_apart,
            language=language,
        )

    def plot(
        self, table: Tidy | pd.DataFrame, ax: Axes | None = None, attribute: str | None = None
    ) -> Axes:
        """Draw the lines of one attribute into axes, in the theme that holds there.

        Parameters
        ----------
        table : Tidy or DataFrame
            As in `overview`.
        ax : matplotlib Axes, optional
            Where to draw; the current axes by default.
        attribute : str, optional
            May be left out where there is one only.

        Returns
        -------
        matplotlib Axes

        Raises
        ------
        OptionError
            If there are several attributes and none is named, or it was not measured.
        """
        from .assessors_figure import assessor_lines

        name = chosen("attribute", attribute, self.measures["attribute"])
        ax = ax or current_axes()
        scores = as_tidy(table).data
        assessor_lines(ax, scores, self.findings, name, set_apart=self.set_apart)
        return ax

    def advice(self, assessor: str) -> tuple[Sentence, ...]:
        """Return what one assessor should practise, in words; hints are named as such."""
        mine = self.of(assessor)
        said = []
        whole = set(mine.loc[mine["shown"] & (mine["attribute"] == WHOLE_CARD), "finding"])
        for kind in dict.fromkeys(mine.loc[mine["shown"], "finding"]):
            rows = mine[mine["shown"] & (mine["finding"] == kind)]
            if kind in SCALE_KINDS and whole & set(SCALE_KINDS) and kind not in whole:
                continue
            if kind in whole:
                rows = rows[rows["attribute"] == WHOLE_CARD]
            said += [self._advise(row) for row in rows.itertuples()]
        known = whole | (set(SCALE_KINDS) if whole & set(SCALE_KINDS) else set())
        hints = mine[~mine["shown"] & ~mine["finding"].isin(list(known))]
        if len(hints):
            listed = [
                Sentence.of(
                    "assessors.hint", attribute=_spoken(str(row.attribute)), what=_name(row.finding)
                )
                for row in hints.itertuples()
            ]
            said.append(Sentence.of("assessors.hints", assessor=assessor, listed=listed))
        return tuple(said)

    def _advise(self, row: object) -> Sentence:
        kind, value = str(getattr(row, "finding")), float(getattr(row, "value"))  # noqa: B009
        slope = kind in SCALE_KINDS
        low, high = float(getattr(row, "low")), float(getattr(row, "high"))  # noqa: B009
        return Sentence.of(
            f"assessors.advice_{kind}",
            assessor=getattr(row, "assessor"),  # noqa: B009
            attribute=_spoken(str(getattr(row, "attribute"))),  # noqa: B009
            value=rounded(value, ".2f") if slope else short(abs(value)),
            low=rounded(low, ".2f") if slope else short(low),
            high=rounded(high, ".2f") if slope else short(high),
            share=Sentence.of(f"assessors.share_{_share(value)}"),
            times=_times(value),
            way=Sentence.of("assessors.up" if value > 0 else "assessors.down"),
        )

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what is shown, assessor by assessor, and what could have been found."""
        said: list[Sentence] = []
        names = list(dict.fromkeys(self.findings.loc[self.findings["shown"], "assessor"]))
        rate = stated_percent(self.alpha)
        if not self.compared:
            return (Sentence.of("assessors.not_compared"),)
        if names:
            said.append(Sentence.of("assessors.found", names=sorted(names), rate=rate))
        else:
            said.append(Sentence.of("assessors.nobody", n=len(self.compared), rate=rate))
        apart = sorted(str(name) for name in self.left_out["assessor"].unique() if name)
        if apart:
            said.append(Sentence.of("assessors.not_among", n=len(apart), names=apart))
        for name in sorted(dict.fromkeys(self.findings["assessor"])):
            said += self.advice(name)
        if self.smallest_scale < 1:
            said.append(Sentence.of("assessors.power", value=short(self.smallest_scale, 2)))
        elif np.isfinite(self.smallest_scale):
            said.append(Sentence.of("assessors.power_little"))
        if not self.findings["shown"].all():
            said.append(Sentence.of("assessors.chance", n=short(self.hints_by_chance, 2)))
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return findings, the main measures and the panel's precision."""
        chosen = [
            "attribute", "assessor", "bias", "repeatability", "f", "f_p", "slope", "agreement",
            "drift",
        ]  # fmt: skip
        shown = {
            "assessors.heading_measures": self.measures[chosen],
            "assessors.heading_panel": self.panel,
        }
        if len(self.findings):
            shown = {"assessors.heading_findings": self.findings} | shown
        return copies(**shown)


def _spoken(attribute: str) -> Sentence | str:
    return Sentence.of("assessors.whole_card") if attribute == WHOLE_CARD else attribute


def _name(kind: object) -> Sentence:
    return Sentence.of(f"assessors.kind_{kind}")


def _times(ratio: float) -> str:
    """Write how many times as large a scatter is; beyond a hundred the others show hardly any."""
    times = float(np.sqrt(max(ratio, 0.0)))
    return f"> {MOST_TIMES}" if times > MOST_TIMES else short(times, 2)


def _share(slope: float) -> str:
    return _SHARES[min(_SHARES, key=lambda share: abs(share - slope))]
