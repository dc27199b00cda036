"""What must be poured, whether the bottles suffice, and how much alcohol that is."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..session.bottles import Bottle
from .pours import Pour

DENSITY = 0.789
"""Density of ethanol at 20 °C in g/mL (0.78924, International Alcoholometric Tables)."""
DEFAULT_ABV = 17.0
"""Assumed where a bottle's ABV is not given: undiluted sake (common practice, no source)."""
GUIDELINE = {"women": 20.0, "men": 40.0, "occasion": 60.0}
"""Grams of pure alcohol: a day's amount at which the risk of lifestyle disease rises, and
an occasion to be avoided. Ministry of Health, Labour and Welfare (Japan), guideline on
health-conscious drinking, 19 February 2024 (read in secondary sources). The WHO Regional
Office for Europe (January 2023) states no amount that is safe."""
SPAT_SHARE = (0.1, 0.3)
"""Share of a spat mouthful that stays: a cautious planning value, from memory."""


def ethanol_grams(ml: float, abv: float) -> float:
    """Return grams of ethanol in `ml` millilitres of `abv` % by volume.

    Examples
    --------
    >>> round(ethanol_grams(180, 15), 2)
    21.3
    """
    return ml * abv / 100 * DENSITY


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """How much of one bottle is needed.

    Attributes
    ----------
    bottle : str
        The bottle that is opened; it may be served in several conditions.
    cups : int
    ml : float
        With the cups of spare sheets.
    bottles : int
        Full bottles to open.
    available : int
    opened_days : float or None
        Days before the tasting on which it is opened, where that is said.
    """

    bottle: str
    cups: int
    ml: float
    bottles: int
    available: int
    opened_days: float | None = None

    @property
    def short(self) -> bool:
        """Whether there are not enough."""
        return self.bottles > self.available


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """Alcohol served to one assessor.

    Attributes
    ----------
    assessor : str
    cups : int
    ml : float
    swallowed : float
        Grams of ethanol if everything were swallowed.
    spat : tuple of float
        Range of grams that may stay if everything is spat.
    """

    assessor: str
    cups: int
    ml: float
    swallowed: float
    spat: tuple[float, float]


def needs(pours: Iterable[Pour], bottles: Sequence[Bottle]) -> tuple[Need, ...]:
    """Add up what each bottle must give; a started bottle counts as a full one."""
    source = {bottle.name: bottle.source for bottle in bottles}
    ml: dict[object, float] = defaultdict(float)
    cups: dict[object, int] = defaultdict(int)
    for pour in pours:
        liquid = source.get(pour.bottle, pour.bottle)
        ml[liquid] += pour.ml
        cups[liquid] += 1
    first: dict[object, Bottle] = {}
    for bottle in bottles:
        first.setdefault(bottle.source, bottle)
    return tuple(
        Need(
            bottle=bottle.liquid,
            cups=cups[liquid],
            ml=ml[liquid],
            bottles=math.ceil(ml[liquid] / bottle.volume_ml - 1e-9),
            available=bottle.available,
            opened_days=bottle.opened_days,
        )
        for liquid, bottle in first.items()
        if cups[liquid]
    )


def doses(
    pours: Iterable[Pour], bottles: Sequence[Bottle], smell_only: Iterable[str] = ()
) -> tuple[Dose, ...]:
    """Add up the alcohol of each assessor; cups that are only looked at do not count."""
    abv = {bottle.name: DEFAULT_ABV if bottle.abv is None else bottle.abv for bottle in bottles}
    quiet = set(smell_only)
    served: dict[str, list[Pour]] = defaultdict(list)
    for pour in pours:
        served[pour.assessor].append(pour)
    result = []
    for assessor, cups in served.items():
        drunk = [pour for pour in cups if pour.tasted and assessor not in quiet]
        grams = sum(ethanol_grams(pour.ml, abv[pour.bottle]) for pour in drunk)
        result.append(
            Dose(
                assessor=assessor,
                cups=len(cups),
                ml=sum(pour.ml for pour in drunk),
                swallowed=grams,
                spat=(grams * SPAT_SHARE[0], grams * SPAT_SHARE[1]),
            )
        )
    return tuple(result)
