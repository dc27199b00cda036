"""What a planned profile session can find: assessors x replicates x samples at a glance.

The numbers are those of `detectable`; here they stand in one grid, with what
the bottles allow.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..core.errors import OptionError
from ..core.options import at_least, whole
from ..core.result import Result
from ..core.wording import short, stated_percent
from ..core.words import Sentence
from .detectable_difference import Detectable, detectable
from .power_of_tests import ScorePlan, assessors_for_scores


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ProfileSize(Result):
    """The smallest difference that planned panels find.

    Attributes
    ----------
    found : Detectable
        The panel in question.
    grid : DataFrame
        ``samples, assessors, replicates, cups, smallest_difference, fits``:
        scale points found with the stated power; `cups` of each sample; `fits`
        tells whether the bottles give them (missing when no bottle was stated).
    wanted : float or None
        Difference that should be found, in scale points.
    needed : DataFrame
        ``replicates, assessors, cups, fits`` that find `wanted`; empty without one.
    most_cups : int or None
        Cups that the bottles of one sample give.
    """

    found: Detectable
    grid: pd.DataFrame
    wanted: float | None
    needed: pd.DataFrame
    most_cups: int | None

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the panel finds, what the wanted difference takes, and whether bottles do."""
        told = list(self.found.sentences())
        cups = int(self.found.assessors * self.found.replicates)
        if self.wanted is not None:
            told.append(
                Sentence.of(
                    "size_scores.wanted",
                    difference=short(self.wanted),
                    power=stated_percent(self.found.power),
                    ways=[
                        Sentence.of("size_scores.way", a=row.assessors, r=row.replicates)
                        for row in self.needed.itertuples()
                    ],
                )
            )
        if self.most_cups is not None:
            enough = cups <= self.most_cups
            key = "size_scores.bottles_suffice" if enough else "size_scores.bottles_short"
            told.append(Sentence.of(key, most=self.most_cups, cups=cups))
            fitting = self.grid.query("samples == @self.found.samples and cups <= @self.most_cups")
            if not enough and len(fitting):
                best = fitting.sort_values("smallest_difference").iloc[0]
                told.append(
                    Sentence.of(
                        "size_scores.give_up",
                        a=int(best["assessors"]),
                        r=int(best["replicates"]),
                        difference=short(float(best["smallest_difference"])),
                    )
                )
            reachable = bool((self.needed["cups"] <= self.most_cups).any())
            if self.wanted is not None and not reachable:
                told.append(Sentence.of("size_scores.out_of_reach", difference=short(self.wanted)))
        return tuple(told)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the grid, one column a number of replicates, and what the wanted takes."""
        wide = self.grid.pivot_table(
            index=["samples", "assessors"], columns="replicates", values="smallest_difference"
        )
        wide.columns = [f"replicates_{name}" for name in wide.columns]
        shown = {"size_scores.grid": wide.reset_index()}
        if len(self.needed):
            shown["size_scores.needed"] = self.needed.copy()
        return shown


def profile_size(
    plan: ScorePlan,
    *,
    power: float = 0.80,
    wanted: float | None = None,
    assessors: Sequence[int] | None = None,
    replicates: Sequence[int] = (1, 2, 3),
    samples: Sequence[int] | None = None,
    bottles: int | None = None,
    bottle_ml: float = 720.0,
    pour_ml: float = 20.0,
) -> ProfileSize:
    """Say what a planned profile session finds, and what other sizes would.

    Parameters
    ----------
    plan : ScorePlan
        Numbers of the session in question, with the variances of its scores.
    power : float
        Probability of finding the difference.
    wanted : float, optional
        A difference that should be found, in scale points.
    assessors, replicates, samples : sequence of int, optional
        What to show in the grid.
    bottles : int, optional
        Bottles of each sample; with `bottle_ml` and `pour_ml`, in mL, they
        limit the cups.

    Returns
    -------
    ProfileSize

    Raises
    ------
    OptionError
        For a number out of its range.

    Examples
    --------
    >>> plan = ScorePlan(samples=4, assessors=8, replicates=2, interaction=0.25, residual=0.5)
    >>> size = profile_size(plan, wanted=1.0, bottles=1)
    >>> size.needed[["replicates", "assessors"]].values.tolist()
    [[1, 13], [2, 9], [3, 8]]
    """
    most = None
    if bottles is not None:
        at_least("bottle_ml", bottle_ml, strictly=True)
        at_least("pour_ml", pour_ml, strictly=True)
        most = int(whole("bottles", bottles, 1) * (bottle_ml // pour_ml))
    panels = sorted({*(assessors or (2, 3, 4, 5, 6, 8, 10, 12, 16, 20)), plan.assessors})
    repeats = sorted({*replicates, plan.replicates})
    counts = sorted({*(samples or ()), plan.samples})
    if not (panels and repeats and counts):
        raise OptionError("size_scores.empty")
    rows = [
        (s, a, r, a * r, _other(plan, s, a, r).smallest_difference(power))
        for s in counts
        for a in panels
        for r in repeats
    ]
    columns = ["samples", "assessors", "replicates", "cups", "smallest_difference"]
    grid = pd.DataFrame(rows, columns=columns)
    grid["fits"] = _fits(grid["cups"], most)
    ways = []
    if wanted is not None:
        for r in repeats:
            a = assessors_for_scores(
                wanted,
                samples=plan.samples,
                interaction=plan.interaction,
                residual=plan.residual,
                replicates=r,
                power=power,
                alpha=plan.alpha,
                comparison=plan.comparison,
            )
            ways.append((r, a, a * r))
    needed = pd.DataFrame(ways, columns=["replicates", "assessors", "cups"])
    needed["fits"] = _fits(needed["cups"], most)
    return ProfileSize(
        found=detectable(plan, power=power),
        grid=grid,
        wanted=wanted,
        needed=needed,
        most_cups=most,
    )


def _other(plan: ScorePlan, samples: int, assessors: int, replicates: int) -> ScorePlan:
    return ScorePlan(
        samples=samples,
        assessors=assessors,
        replicates=replicates,
        interaction=plan.interaction,
        residual=plan.residual,
        comparison=plan.comparison,
        alpha=plan.alpha,
    )


def _fits(cups: pd.Series[int], most: int | None) -> pd.Series[bool]:
    if most is None:
        return pd.Series(np.full(len(cups), pd.NA), index=cups.index, dtype="boolean")
    return (cups <= most).astype("boolean")
