"""What is said of scores and measurements: slopes, verdicts, and what could have been found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import OptionError
from ..core.plotted import Plotted
from ..core.result import Result, copies
from ..core.wording import p_words, stated_percent
from ..core.words import FALLBACK, Sentence
from .link_input import FIRST
from .mixed_slopes import Slopes
from .pls_regression import Pls
from .published_prior import SlopesWithIndex
from .what_is_estimable import Estimability, measurement

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Array = npt.NDArray[np.float64]
SWEET = ("sweetness", "sweet", "perceived sweetness", "sweet taste")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Link(Plotted):
    """What chemistry does to the scores, as far as these bottles can tell.

    Attributes
    ----------
    estimability : Estimability
        What these bottles can tell apart.
    predictors : tuple of str
        Measurements whose slopes stand side by side.
    slopes : DataFrame
        ``attribute, predictor, slope, se, df, low, high, p, p_adjusted,
        p_shuffled, holds, detectable``: score per unit of the measurement;
        `p_adjusted` allows for all rows (Holm), `detectable` is the slope found
        in 4 of 5 such studies. Empty if nothing can be estimated.
    overall : DataFrame
        ``attribute, r2, f, df_num, df_den, p, bottle_sd, noise_sd, method,
        orders, exact``: all measurements together, on bottles.
    bottles : DataFrame
        ``attribute, session, sample, mean, assessors`` and, where there are slopes,
        ``expected, low, high`` (of one new bottle of these numbers), ``outside``;
        ``amakarado``, the published index, where its numbers are known.
    influence : DataFrame
        ``attribute, predictor, unit, slope, without``.
    hanging : tuple of Sentence
        Slopes that hang on one bottle.
    fits : dict of str to Slopes
        By attribute, for predictions and targets.
    foretold : dict of str to Pls
        By attribute, where there are many measurements.
    priors : tuple of SlopesWithIndex
        The published index beside the data, where asked.
    sweetness : tuple of str
        Attributes that the published sweet–dry index speaks of.
    chemistry : DataFrame
        The bottles that were joined, with their numbers.
    group : str
        Its column of the batch.
    dropped : DataFrame
        ``sample, session, reason`` of bottles left out.
    level : float
    seed : int
        Of all shuffles.
    """

    estimability: Estimability
    predictors: tuple[str, ...]
    slopes: pd.DataFrame
    overall: pd.DataFrame
    bottles: pd.DataFrame
    influence: pd.DataFrame
    hanging: tuple[Sentence, ...]
    fits: dict[str, Slopes]
    foretold: dict[str, Pls]
    priors: tuple[SlopesWithIndex, ...]
    sweetness: tuple[str, ...]
    chemistry: pd.DataFrame
    group: str
    dropped: pd.DataFrame
    level: float
    seed: int

    def fit(self, attribute: str) -> Slopes:
        """Return the fit of one attribute.

        Raises
        ------
        NotEstimable
            With the reasons, if no slope can be estimated.
        OptionError
            For an attribute that was not linked.
        """
        if not self.estimability.possible:
            raise self.estimability.refuse()
        if attribute not in self.fits:
            raise OptionError("link.no_attribute", found=attribute, have=list(self.fits))
        return self.fits[attribute]

    @property
    def main_attribute(self) -> str:
        """The attribute that speaks of sweetness, or the first."""
        names = [str(name) for name in self.bottles["attribute"].unique()]
        sweet = (name for name in names if name in self.sweetness or name.strip().lower() in SWEET)
        return next(sweet, names[0])

    def plane(
        self,
        attribute: str | None = None,
        *,
        wanted: float | None = None,
        group: str | None = None,
        language: str = FALLBACK,
    ) -> Figure:
        """Draw the bottles on the plane of meter value and acidity, with what they bear.

        The panel's own lines are drawn where a slope of the attribute on one of the two
        holds, those of the published index where the attribute speaks of sweetness.

        Parameters
        ----------
        attribute : str, optional
            Whose lines; `main_attribute` by default.
        wanted : float, optional
            A score aimed at: its line is drawn thick, its 95 % band shaded.
        group : str, optional
            Column by which the marks differ; that of the batch by default.
        language : str

        Raises
        ------
        OptionError
            If meter value or acidity is missing.
        """
        from .chemistry_figure import draw_plane, plane_grid

        name = attribute or self.main_attribute
        bottles = self.chemistry.drop_duplicates("sample")
        own = None
        if self._leans_on_plane(name):
            own = self.fits[name].over_plane(*plane_grid(bottles))
        alone = self.group == "sample"  # each bottle a batch: a mark of its own tells nothing
        return draw_plane(
            bottles,
            own,
            attribute=name,
            wanted=wanted,
            published=name in self.sweetness,
            group=group or (None if alone else self.group),
            language=language,
        )

    def _leans_on_plane(self, attribute: str) -> bool:
        """Whether a slope of `attribute` on meter value or acidity holds."""
        rows = self.slopes[self.slopes["attribute"] == attribute]
        return bool((rows["holds"].astype(bool) & rows["predictor"].isin(FIRST)).any())

    def figure(self, *, language: str = FALLBACK) -> Figure:
        """Draw each slope with its interval."""
        from .chemistry_figure import draw_slopes

        return draw_slopes(self.slopes, level=self.level, language=language)

    def sentences(self) -> tuple[Sentence, ...]:
        """Say first what can be told, then what was found, then what it hangs on."""
        said = list(self.estimability.sentences())
        if len(self.slopes):
            said.append(_verdict(self.slopes, self.level))
            held = self.slopes[self.slopes["holds"]]
            said += [_claim(row, self.level) for row in held.to_dict("records")]
            if not len(held):
                said.append(_could_have(self.slopes))
        said += self.hanging
        for attribute, found in self.foretold.items():
            said += [
                Sentence.of("link.of_attribute", attribute=attribute, text=sentence)
                for sentence in found.sentences()
            ]
        for prior in self.priors:
            said += prior.sentences()
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return estimability, slopes, bottles and what else there is."""
        shown = {**self.estimability.tables()}
        if len(self.slopes):
            shown["link.slopes"] = self.slopes
            shown["link.overall"] = self.overall
        index = self.bottles.get("amakarado")
        known = index is not None and bool(index.notna().any())
        shown["link.bottles" if known else "link.bottles_alone"] = self.bottles
        for prior in self.priors:
            shown |= prior.tables()
        if len(self.dropped):
            shown["link.dropped"] = self.dropped
        return copies(**shown)

    def to_dict(self, language: str = FALLBACK) -> dict[str, Any]:
        """Return the whole result as a dict that is valid JSON, with ``possible`` on top."""
        return {"possible": self.estimability.possible, **Result.to_dict(self, language)}


def _verdict(table: pd.DataFrame, level: float) -> Sentence:
    held = table[table["holds"]]
    key = "link.some_hold" if len(held) else "link.none_hold"
    least = table.iloc[int(np.argmin(table["p"]))]
    return Sentence.of(
        key,
        n=len(table),
        k=len(held),
        level=stated_percent(1 - level),
        attribute=least["attribute"],
        name=measurement(str(least["predictor"])),
        p=p_words(float(least["p"])),
        adjusted=p_words(float(least["p_adjusted"])),
    )


def _claim(row: Mapping[Any, Any], level: float) -> Sentence:
    slope = float(row["slope"])
    return Sentence.of(
        "link.rises" if slope > 0 else "link.falls",
        attribute=row["attribute"],
        name=measurement(str(row["predictor"])),
        slope=abs(slope),
        low=row["low"],
        high=row["high"],
        level=stated_percent(level),
        p=p_words(float(row["p_adjusted"])),
    )


def _could_have(table: pd.DataFrame) -> Sentence:
    listed = [
        Sentence.of(
            "link.detectable",
            attribute=row["attribute"],
            name=measurement(str(row["predictor"])),
            slope=float(row["detectable"]),
        )
        for row in table.head(4).to_dict("records")
    ]
    return Sentence.of("link.could_have", listed=listed)
