"""Number of assessors that a test takes, and what those who are there can find.

Counts are exact: the smallest number whose critical count keeps both risks.
Power is a saw-tooth in the number of assessors, so beside the first number
that suffices stands the one from which on every number does.

References
----------
ISO 4120 table A.3, ISO 10399 table A.3, ISO 5495; Schlich (1993), Food Quality
and Preference 4:141-151; Ennis (1993) for numbers at a given d'.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from pandas import DataFrame, Series
from scipy.stats import binom

from ..core.errors import OptionError
from ..core.options import at_least, one_of, share_of, whole
from ..core.result import Result
from ..core.wording import short, stated_percent
from ..core.words import FALLBACK, Sentence
from ..difference.critical_counts import needed_for_each, power, smallest_found, smallest_panel
from ..difference.psychometric import TESTS, ForcedChoice, named

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_FARTHEST = 200_000
LARGER_RISKS = (0.1, 0.2)
"""Risks of a false difference to accept instead of pouring more; the first that suffices."""
MOST_MISSED = 0.5
"""A risk of missing a difference from which on the session is not worth its bottles."""
USUAL_RISKS = {"difference": (0.05, 0.2), "similarity": (0.2, 0.05)}
"""Risks alpha and beta where nothing is stated, by purpose (ISO 4120, from memory)."""
# Cups of the sample that is poured oftener, a presentation, orders balanced.
POURS = {
    "triangle": 1.5,
    "duo-trio": 1.5,
    "paired": 1.0,
    "3-afc": 2.0,
    "tetrad": 2.0,
    "tetrad-specified": 2.0,
    "two-out-of-five": 2.5,
}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PanelSize(Result):
    """Number of assessors for a test of difference or of similarity.

    Attributes
    ----------
    test, purpose : str
        Name of the test; ``"difference"`` or ``"similarity"``.
    sides : int
        1, or 2 for a paired comparison without an expected direction.
    alpha, beta : float
        Risk of finding a difference where there is none; risk of missing one
        of the stated size.
    pd, d_prime, p_correct : float
        The stated difference as proportion of distinguishers, as d', and as
        share of right answers.
    n : int
        Smallest number of assessors that keeps both risks.
    n_safe : int
        From here on every number keeps them.
    needed : int
        Right answers with `n` assessors that show a difference; one less is
        the most that shows similarity.
    attained_alpha, attained_beta : float
        Exact risks with `n` assessors.
    table : DataFrame
        ``assessors, needed, alpha, power, smallest_pd`` for numbers around `n`.
    """

    test: str
    purpose: str
    sides: int
    alpha: float
    beta: float
    pd: float
    d_prime: float
    p_correct: float
    n: int
    n_safe: int
    needed: int
    attained_alpha: float
    attained_beta: float
    table: DataFrame

    def sentences(self) -> tuple[Sentence, ...]:
        """Say how many assessors, for what, at which risks."""
        from ..core.wording import percent, test_word

        return (
            Sentence.of(
                f"size.for_{self.purpose}",
                test=test_word(self.test),
                n=self.n,
                safe=self.n_safe,
                pd=stated_percent(self.pd),
                d=short(self.d_prime),
                right=percent(self.p_correct),
                alpha=self.alpha,
                beta=self.beta,
                power=stated_percent(1 - self.beta),
                needed=self.needed,
                most=self.needed - 1,
            ),
        )

    def tables(self) -> Mapping[str, DataFrame]:
        """Return what numbers of assessors around this one can do."""
        return {"size.table_tests": self.table.copy()}

    def curve(self, *, language: str = FALLBACK) -> Figure:
        """Draw the power over the number of assessors, for this difference and others."""
        from .size_curves_figure import draw_size_curves

        return draw_size_curves(
            self.test,
            alpha=self.alpha,
            sides=self.sides,
            beta=self.beta,
            pd=self.pd,
            n=self.n,
            n_safe=self.n_safe,
            language=language,
        )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Supply(Result):
    """Whether the bottles suffice, and what could be given up.

    Attributes
    ----------
    size : PanelSize
        What the question takes.
    bottles : int
        Bottles of each sample.
    bottle_ml, pour_ml : float
        Content of a bottle and of a cup, in mL.
    most : int
        Assessors for whom the bottles suffice, one presentation each.
    enough : bool
        ``most >= size.n``.
    choices : DataFrame
        ``give_up, value, assessors``: what would make the session possible.
    smallest_pd : float or None
        What `most` assessors find with the wanted power.
    """

    size: PanelSize
    bottles: int
    bottle_ml: float
    pour_ml: float
    most: int
    enough: bool
    choices: DataFrame
    smallest_pd: float | None

    def sentences(self) -> tuple[Sentence, ...]:
        """Say first what is needed, then whether the bottles give it."""
        from ..core.wording import percent

        values = {
            "n": self.bottles,
            "ml": short(self.bottle_ml),
            "pour": short(self.pour_ml),
            "most": self.most,
            "wanted": self.size.n,
        }
        key = "size.bottles_suffice" if self.enough else "size.bottles_short"
        told = [*self.size.sentences(), Sentence.of(key, **values)]
        if not self.enough:
            if self.smallest_pd is None:
                told.append(Sentence.of("size.supply_hopeless", n=self.most, alpha=self.size.alpha))
            else:
                told.append(
                    Sentence.of(
                        "size.supply_finds",
                        n=self.most,
                        pd=percent(self.smallest_pd),
                        power=stated_percent(1 - self.size.beta),
                    )
                )
        return tuple(told)

    def tables(self) -> Mapping[str, DataFrame]:
        """Return the table of the numbers and, if bottles are short, the ways out."""
        shown = dict(self.size.tables())
        if not self.enough:
            shown["size.table_choices"] = self.choices.copy()
        return shown


def assessors_for(
    test: str,
    *,
    alpha: float = 0.05,
    beta: float = 0.2,
    pd: float | None = None,
    d_prime: float | None = None,
    sides: int = 1,
    purpose: str = "difference",
) -> PanelSize:
    """Return the smallest number of assessors that keeps both risks.

    A difference and a similarity test of the same `pd`, `alpha` and `beta`
    take the same number: the critical count parts the two decisions. What
    differs is which risk must be small: `alpha` for difference, `beta` for
    similarity.

    Parameters
    ----------
    test : str
        A name in `psychometric.TESTS`.
    alpha, beta : float
        Risk of finding a difference where there is none, and of missing one
        of the stated size.
    pd, d_prime : float
        The difference, exactly one of: proportion of distinguishers (0 to 1),
        or d'.
    sides : {1, 2}
        2 for a paired comparison in which either sample may be the stronger.
    purpose : {"difference", "similarity"}
        What the number is for.

    Returns
    -------
    PanelSize

    Raises
    ------
    OptionError
        For an unknown test, a value out of range, or not exactly one of `pd`
        and `d_prime`.
    NotEstimable
        If more than 200,000 assessors would be needed.

    Examples
    --------
    >>> assessors_for("triangle", alpha=0.05, beta=0.2, pd=0.3).n
    40
    """
    choice = named(test)
    share_of("alpha", alpha)
    share_of("beta", beta)
    p, share, d = _stated(choice, pd, d_prime)
    if sides not in {1, 2} or (sides == 2 and test != "paired"):
        raise OptionError("size.bad_sides")
    one_of("purpose", purpose, ("difference", "similarity"))
    tail = alpha / sides
    n, n_safe = smallest_panel(choice.chance, p, tail, beta)
    numbers = np.unique(
        np.clip(np.round(n * np.array([0.25, 0.5, 0.75, 1, 1.25, 1.5, 2])), 1, None)
    )
    table = _what_numbers_do(numbers.astype(np.int64), choice, tail, p, 1 - beta)
    least = int(needed_for_each(np.array([n]), choice.chance, tail)[0])
    return PanelSize(
        test=test,
        purpose=purpose,
        sides=sides,
        alpha=alpha,
        beta=beta,
        pd=share,
        d_prime=d,
        p_correct=p,
        n=n,
        n_safe=n_safe,
        needed=least,
        attained_alpha=sides * float(binom.sf(least - 1, n, choice.chance)),
        attained_beta=float(binom.cdf(least - 1, n, p)),
        table=table,
    )


def supply(
    size: PanelSize, *, bottles: int = 1, bottle_ml: float = 720.0, pour_ml: float = 20.0
) -> Supply:
    """Tell whether the bottles suffice for `size`, and what to give up if not.

    Parameters
    ----------
    size : PanelSize
        What the question takes.
    bottles : int
        Bottles of each of the two samples.
    bottle_ml, pour_ml : float
        Content of a bottle and of a cup, in mL.

    Returns
    -------
    Supply

    Examples
    --------
    >>> size = assessors_for("triangle", alpha=0.05, beta=0.2, pd=0.3)
    >>> supply(size, bottles=1, bottle_ml=720, pour_ml=20).most
    24
    """
    whole("bottles", bottles, 1)
    at_least("bottle_ml", bottle_ml, strictly=True)
    at_least("pour_ml", pour_ml, strictly=True)
    cups = int(bottles * (bottle_ml // pour_ml))
    most = int(cups // POURS[size.test])
    choice, tail = named(size.test), size.alpha / size.sides
    return Supply(
        size=size,
        bottles=bottles,
        bottle_ml=float(bottle_ml),
        pour_ml=float(pour_ml),
        most=most,
        enough=most >= size.n,
        choices=_ways_out(size, most, cups),
        smallest_pd=smallest_found(most, choice.chance, tail, 1 - size.beta) if most else None,
    )


def _ways_out(size: PanelSize, most: int, cups: int) -> DataFrame:
    """List what would make the session possible, one change at a time."""
    from math import ceil

    choice, tail = named(size.test), size.alpha / size.sides
    rows: list[dict[str, Any]] = []

    def offer(key: str, value: object, assessors: int) -> None:
        what = Sentence.of(f"size.give_{key}")
        rows.append({"give_up": what, "value": value, "assessors": assessors})

    share = smallest_found(most, choice.chance, tail, 1 - size.beta) if most else None
    if share is not None:
        offer("pd", round(share, 3), most)
    for wider in LARGER_RISKS:
        if wider > size.alpha:
            n = smallest_panel(choice.chance, size.p_correct, wider / size.sides, size.beta)[0]
            if n <= most:
                offer("alpha", wider, n)
                break
    if most:
        missed = 1 - power(most, choice.chance, tail, size.p_correct)
        if size.beta < missed < MOST_MISSED:
            offer("beta", round(missed, 3), most)
    if not choice.directed:
        for other in ("3-afc", "paired"):
            if other == size.test:
                continue
            p = TESTS[other].p_correct(size.d_prime)
            n = smallest_panel(TESTS[other].chance, p, size.alpha, size.beta)[0]
            if n <= cups // POURS[other]:
                offer("attribute", other, n)
                break
    offer("pour", ceil(size.n * POURS[size.test]), size.n)
    return DataFrame(rows, columns=["give_up", "value", "assessors"])


def _stated(
    choice: ForcedChoice, pd: float | None, d_prime: float | None
) -> tuple[float, float, float]:
    """Return share right, distinguishers and d' of the one that was stated."""
    if (pd is None) == (d_prime is None):
        raise OptionError("size.one_of")
    if pd is not None:
        share_of("pd", pd)
        p = choice.p_of_distinguishers(pd)
        return p, pd, choice.d_prime(p)
    if d_prime is None or not 0 < d_prime < 40:
        raise OptionError("difference.bad_d", found=d_prime)
    p = choice.p_correct(d_prime)
    return p, choice.distinguishers(p), d_prime


def _what_numbers_do(
    n: np.ndarray[Any, np.dtype[np.int64]],
    choice: ForcedChoice,
    alpha: float,
    p: float,
    wanted: float,
) -> DataFrame:
    least = needed_for_each(n, choice.chance, alpha)
    found = [smallest_found(int(k), choice.chance, alpha, wanted) for k in n]
    return DataFrame(
        {
            "assessors": n,
            "needed": Series(least).where(least <= n).astype("Int64"),
            "attained_alpha": binom.sf(least - 1, n, choice.chance),
            "power": np.where(least <= n, binom.sf(least - 1, n, p), 0.0),
            "smallest_pd": np.array(found, dtype=float),
        }
    )
