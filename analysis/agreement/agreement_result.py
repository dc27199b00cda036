"""What is said of agreement: each attribute, and all of them together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from ..core.errors import NotEstimable
from ..core.plotted import Plotted
from ..core.result import Result, copies
from ..core.wording import short, stated_percent
from ..core.words import FALLBACK, Sentence

if TYPE_CHECKING:
    from matplotlib.figure import Figure

COLUMNS = ("measure", "estimate", "low", "high", "n_samples", "n_assessors", "method")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AttributeAgreement(Result):
    """Agreement on one attribute.

    Attributes
    ----------
    attribute : str
    scale : str
        Level of measurement: ``nominal``, ``ordinal``, ``interval`` or ``ratio``.
    main : str or None
        The measure to look at first; None when nothing could be estimated.
    measures : DataFrame
        ``measure, estimate, low, high, n_samples, n_assessors, method``; limits
        are nan where no interval can be had (then `warnings` or `refused` say why).
    refused : DataFrame
        ``measure, reason``: what these data cannot say.
    limits : dict or None
        Limits of agreement in scale points, for two assessors on an interval scale.
    percent_agreement : float
        Share of equal pairs of answers (0 to 1), not corrected for chance.
    n_samples, n_assessors, n_answers, repeats : int
        `repeats` is the largest number of answers of one assessor to one sample.
    choice : Sentence
        Why these measures.
    reading : tuple of Sentence
        What the numbers allow to say.
    """

    attribute: str
    scale: str
    main: str | None
    measures: pd.DataFrame
    refused: pd.DataFrame
    limits: dict[str, float] | None
    percent_agreement: float
    n_samples: int
    n_assessors: int
    n_answers: int
    repeats: int
    choice: Sentence
    reading: tuple[Sentence, ...]

    def value(self, measure: str) -> float:
        """Return the estimate of one measure, e.g. ``"ICC(A,1)"``."""
        row = self.measures[self.measures["measure"] == measure]
        return float(row["estimate"].iloc[0])

    def interval(self, measure: str) -> tuple[float, float]:
        """Return the limits of one measure."""
        row = self.measures[self.measures["measure"] == measure]
        return float(row["low"].iloc[0]), float(row["high"].iloc[0])

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the reading, then the choice."""
        return (*self.reading, self.choice)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the measures, and what was refused."""
        shown = {"agreement.heading_measures": self.measures}
        if len(self.refused):
            shown["agreement.heading_refused"] = self.refused
        return copies(**shown)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Agreement(Plotted):
    """Agreement of a panel, per attribute and overall.

    Attributes
    ----------
    attributes : dict of str to AttributeAgreement
    overall : dict or None
        ``estimate, low, high`` of the mean alpha over attributes with any
        variation, with ``n_attributes``, ``method``; None when there is none.
    no_variation : list of str
        Attributes on which all answers are the same.
    level : float
    """

    attributes: dict[str, AttributeAgreement]
    overall: dict[str, Any] | None
    no_variation: list[str]
    level: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the overall agreement, then the attributes one by one."""
        said = []
        if self.overall is not None:
            key = "agreement.overall" if self.overall["low"] is not None else "agreement.overall_no"
            said.append(
                Sentence.of(
                    key,
                    n=self.overall["n_attributes"],
                    estimate=short(self.overall["estimate"]),
                    low=short(self.overall["low"] or 0.0),
                    high=short(self.overall["high"] or 0.0),
                    level=stated_percent(self.level),
                )
            )
        for name, item in self.attributes.items():
            said += [
                Sentence.of("agreement.for", attribute=name, text=text) for text in item.reading
            ]
        seen: dict[str, list[str]] = {}
        for name, item in self.attributes.items():
            seen.setdefault(str(item.choice), []).append(name)
        for names in seen.values():
            said.append(said_of(names, self.attributes[names[0]].choice))
        return tuple(said)

    def figure(self, *, language: str = FALLBACK) -> Figure:
        """Draw all measures of all attributes with their limits.

        Raises
        ------
        NotEstimable
            When there is none.
        """
        from .agreement_figure import draw_agreement

        parts = [one.measures.assign(attribute=name) for name, one in self.attributes.items()]
        measures = pd.concat([part for part in parts if len(part)] or [pd.DataFrame()])
        if not len(measures):
            raise NotEstimable("agreement.nothing")
        return draw_agreement(measures, level=self.level, language=language)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the main measure of every attribute, and all measures."""
        every = [item.measures.assign(attribute=name) for name, item in self.attributes.items()]
        both = pd.concat(every, ignore_index=True)[["attribute", *COLUMNS]]
        main = {name: item.main for name, item in self.attributes.items()}
        first = both[both["measure"] == both["attribute"].map(main)]
        return copies(
            **{
                "agreement.heading_main": first.drop(columns="method"),
                "agreement.heading_measures": both,
            }
        )


def said_of(attribute: str | list[str], text: Sentence) -> Sentence:
    """Say to which attribute, or attributes, a sentence belongs."""
    return Sentence.of("agreement.for", attribute=attribute, text=text)
