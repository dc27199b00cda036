"""What the next batch's acidity or meter value would have to be for a wanted score."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from ..core.errors import OptionError
from ..core.options import share_of
from ..core.result import Interval, Result
from ..core.wording import stated_percent
from ..core.words import Sentence
from .mixed_slopes import Slopes
from .new_bottle import extrapolated
from .what_is_estimable import measurement


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Target(Result):
    """A solved measurement with its limits.

    Attributes
    ----------
    attribute : str
    wanted : float
        The score aimed at, on the panel's scale.
    solved : str
        The measurement that is solved for.
    given : dict of str to float
        The others, held.
    value : float
        Where the expected score is `wanted`.
    interval : Interval or None
        Fieller's limits; None where the data cannot limit it, because the slope
        may be zero.
    beyond : tuple of str
        Measurements that lie outside what the bottles covered.
    """

    attribute: str
    wanted: float
    solved: str
    given: dict[str, float]
    value: float
    interval: Interval | None
    beyond: tuple[str, ...]

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the value, its limits, and what it leaves out."""
        held = [
            Sentence.of("target.held", name=measurement(name), value=value)
            for name, value in self.given.items()
        ]
        values = {
            "attribute": self.attribute,
            "wanted": self.wanted,
            "name": measurement(self.solved),
            "value": self.value,
            "held": held or Sentence.of("target.nothing"),
        }
        if self.interval is None:
            return (Sentence.of("target.unlimited", **values),)
        level = stated_percent(self.interval.level)
        return (
            Sentence.of(
                "target.limited",
                low=self.interval.low,
                high=self.interval.high,
                level=level,
                **values,
            ),
        )


def target(
    fitted: Slopes,
    attribute: str,
    wanted: float,
    *,
    solve: str,
    given: Mapping[str, float] | None = None,
    level: float = 0.95,
) -> Target:
    """Solve for one measurement so that the expected score is `wanted`.

    Parameters
    ----------
    fitted : Slopes
        From ``link(...).fit(attribute)``.
    attribute : str
    wanted : float
        On the panel's scale.
    solve : str
        The measurement to solve for, for example ``acidity``.
    given : mapping of str to float, optional
        The other measurements; their mean over the bottles where not given.
    level : float

    Notes
    -----
    The limits are all values whose expected score is not rejected as `wanted`:
    Fieller's, the roots of a quadratic. They are open when the slope itself may
    be zero. They speak of the mean of all such bottles; one bottle will scatter
    around it.

    References
    ----------
    Fieller 1954, J. R. Stat. Soc. B 16:175–185.

    Raises
    ------
    OptionError
        If `solve` has no slope, or `given` names another measurement.
    """
    share_of("level", level)
    names = list(fitted.predictors)
    unknown = [name for name in (solve, *(given or {})) if name not in names]
    if unknown:
        raise OptionError("target.unknown", found=unknown, have=names)
    place = names.index(solve)
    held = {
        name: float((given or {}).get(name, fitted.centre[k]))
        for k, name in enumerate(names)
        if name != solve
    }
    base = np.array(
        [0.0 if n == solve else held[n] - fitted.centre[k] for k, n in enumerate(names)]
    )
    base = np.append(base, 1.0)
    theta = np.append(fitted.slopes, fitted.level_at)
    slope = float(theta[place])
    if slope == 0:
        raise OptionError("target.no_slope", name=measurement(solve))
    start = float(base @ theta) - wanted
    away = -start / slope
    step = np.zeros(len(theta))
    step[place] = 1.0
    t2 = float(student.ppf((1 + level) / 2, fitted.least_df)) ** 2
    a = slope**2 - t2 * float(step @ fitted.cov @ step)
    b = 2 * (slope * start - t2 * float(step @ fitted.cov @ base))
    c = start**2 - t2 * float(base @ fitted.cov @ base)
    interval = None
    inside = b * b - 4 * a * c
    if a > 0 and inside >= 0:
        root = math.sqrt(inside)
        centre = fitted.centre[place]
        interval = Interval(centre + (-b - root) / (2 * a), centre + (-b + root) / (2 * a), level)
    value = float(fitted.centre[place] + away)
    point = np.array([value if n == solve else held[n] for n in names])
    beyond = fitted.beyond(point)
    return Target(
        attribute=attribute,
        wanted=wanted,
        solved=solve,
        given=held,
        value=value,
        interval=interval,
        beyond=tuple(beyond),
        warnings=extrapolated(fitted, point),
    )
