"""What a bottle of given numbers would score: for the mean of such bottles, and for one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..core.errors import OptionError
from ..core.options import share_of
from ..core.result import Interval, Result
from ..core.wording import stated_percent
from ..core.words import Sentence
from .mixed_slopes import Slopes
from .what_is_estimable import measurement


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Prediction(Result):
    """A predicted score.

    Attributes
    ----------
    attribute : str
    given : dict of str to float
        The numbers of the bottle.
    mean : float
        Expected score, on this panel's scale.
    interval : Interval
        For the mean of all such bottles.
    bottle : Interval
        For one new bottle, scored by this panel.
    beyond : tuple of str
        Measurements outside what the bottles covered.
    """

    attribute: str
    given: dict[str, float]
    mean: float
    interval: Interval
    bottle: Interval
    beyond: tuple[str, ...]

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the score and both intervals."""
        return (
            Sentence.of(
                "target.predicted",
                attribute=self.attribute,
                held=[
                    Sentence.of("target.held", name=measurement(name), value=value)
                    for name, value in self.given.items()
                ],
                mean=self.mean,
                low=self.interval.low,
                high=self.interval.high,
                one_low=self.bottle.low,
                one_high=self.bottle.high,
                level=stated_percent(self.interval.level),
            ),
        )


def prediction(
    fitted: Slopes, attribute: str, given: Mapping[str, float], *, level: float = 0.95
) -> Prediction:
    """Predict the score of a bottle.

    Parameters
    ----------
    fitted : Slopes
        From ``link(...).fit(attribute)``.
    attribute : str
    given : mapping of str to float
        Its measurements; the mean over the bottles where not given.
    level : float

    Raises
    ------
    OptionError
        If `given` names a measurement without a slope.
    """
    share_of("level", level)
    names = list(fitted.predictors)
    unknown = [name for name in given if name not in names]
    if unknown:
        raise OptionError("target.unknown", found=unknown, have=names)
    point = np.array([float(given.get(n, fitted.centre[k])) for k, n in enumerate(names)])
    row = fitted.predict(point[None, :], level).iloc[0]
    beyond = fitted.beyond(point)
    return Prediction(
        attribute=attribute,
        given=dict(zip(names, point.tolist(), strict=True)),
        mean=float(row["mean"]),
        interval=Interval(float(row["low"]), float(row["high"]), level),
        bottle=Interval(float(row["bottle_low"]), float(row["bottle_high"]), level),
        beyond=tuple(beyond),
        warnings=extrapolated(fitted, point),
    )


def extrapolated(fitted: Slopes, point: np.ndarray) -> tuple[Sentence, ...]:
    """Say in words where a point lies outside the bottles that were tasted."""
    names = list(fitted.predictors)
    beyond = fitted.beyond(point)
    if beyond:
        listed = [
            Sentence.of(
                "target.range",
                name=measurement(name),
                value=float(point[names.index(name)]),
                low=float(fitted.X[:, names.index(name)].min()),
                high=float(fitted.X[:, names.index(name)].max()),
            )
            for name in beyond
        ]
        return (Sentence.of("target.beyond", listed=listed),)
    if len(names) > 1 and fitted.unlike(point):
        return (Sentence.of("target.unlike"),)
    return ()
