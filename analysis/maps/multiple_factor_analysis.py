"""Several sections at once: multiple factor analysis of aroma, palate and finish.

A section with many attributes would outvote one with few. Here every section
is weighed so that its own strongest direction counts the same; then the means
are laid out together, and each section's part in every dimension is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import NotEstimable, OptionError
from ..core.result import Result, copies
from ..core.tidy_table import LongColumns, Tidy
from ..core.wording import add_up, percent
from ..core.words import Sentence
from .map_result import Map, arrows_of, asked, drawn_map, shares_of
from .principal_components import Components, components, moving, profile_cube, within
from .resampled_space import Space, means_in
from .rv_configurations import rv_coefficient

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Factors(Result):
    """A multiple factor analysis.

    Attributes
    ----------
    eigenvalues : DataFrame
        Columns ``dimension, eigenvalue, share``.
    rows : DataFrame
        Positions of the rows, ``dim1, dim2, …``.
    sections : DataFrame
        Columns ``section, first, dim1, dim2, …``: the first eigenvalue of the
        section by itself, and its part in each eigenvalue.
    contributions : DataFrame
        The same as shares of each eigenvalue.
    rv, lg : DataFrame
        RV and Lg coefficients between sections.
    weights : ndarray
        Of each column.
    """

    eigenvalues: pd.DataFrame
    rows: pd.DataFrame
    sections: pd.DataFrame
    contributions: pd.DataFrame
    rv: pd.DataFrame
    lg: pd.DataFrame
    weights: Floats
    fit: Components
    method: str = "multiple factor analysis, standardised, sections weighed by 1 / first eigenvalue"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what two dimensions show and which sections make the first."""
        shares = self.eigenvalues["share"].head(2).sum()
        first = self.contributions.sort_values("dim1", ascending=False)
        listed = [
            Sentence.of("factors.part", section=name, share=percent(part))
            for name, part in zip(first["section"], first["dim1"], strict=True)
        ]
        rounded = () if add_up(first["dim1"]) else (Sentence.of("common.rounded"),)
        return (
            Sentence.of("factors.explained", both=percent(shares)),
            Sentence.of("factors.sections", listed=listed),
            *rounded,
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return eigenvalues, sections, coefficients."""
        return copies(
            **{
                "factors.eigenvalues": self.eigenvalues,
                "factors.contributions": self.contributions,
                "factors.rv": self.rv.reset_index(names="section"),
            }
        )


def multiple_factors(blocks: Mapping[str, npt.ArrayLike]) -> Factors:
    """Analyse several tables of the same rows together.

    Parameters
    ----------
    blocks : mapping of str to array_like, shape (rows, columns)
        Columns are standardised.

    Returns
    -------
    Factors

    Raises
    ------
    OptionError
        With fewer than two blocks or different numbers of rows.
    NotEstimable
        If a column has no differences.

    References
    ----------
    Escofier and Pages (1994), Comput. Stat. Data Anal. 18:121-140.
    """
    tables = {name: np.asarray(block, dtype=float) for name, block in blocks.items()}
    if len(tables) < 2 or len({len(block) for block in tables.values()}) != 1:
        raise OptionError("factors.blocks", rows=[len(block) for block in tables.values()])
    for name, block in tables.items():
        if (np.ptp(block, axis=0) == 0).any():
            raise NotEstimable("factors.flat", section=name)
    standard = {name: (b - b.mean(axis=0)) / b.std(axis=0) for name, b in tables.items()}
    first = {name: components(block).eigenvalues[0] for name, block in standard.items()}
    weights = np.concatenate(
        [np.full(block.shape[1], 1 / first[name]) for name, block in standard.items()]
    )
    fit = components(np.hstack(list(standard.values())), weights=weights)
    dims = [f"dim{d}" for d in range(1, len(fit.eigenvalues) + 1)]
    parts, start = {}, 0
    for name, block in standard.items():
        end = start + block.shape[1]
        parts[name] = (fit.correlations[start:end] ** 2).sum(axis=0) / first[name]
        start = end
    sections = pd.DataFrame(parts, index=dims).T
    names = list(standard)
    n = len(fit.rows)
    lg = {
        a: {
            b: float(
                (standard[a].T @ standard[b] / n).ravel()
                @ (standard[a].T @ standard[b] / n).ravel()
                / first[a]
                / first[b]
            )
            for b in names
        }
        for a in names
    }
    rv = {a: {b: rv_coefficient(standard[a], standard[b]) for b in names} for a in names}
    shares = sections.div(fit.eigenvalues, axis=1)
    return Factors(
        eigenvalues=shares_of(fit.eigenvalues),
        rows=pd.DataFrame(fit.rows, columns=dims),
        sections=sections.assign(first=[first[name] for name in names])
        .reset_index(names="section")
        .loc[:, ["section", "first", *dims]],
        contributions=shares.reset_index(names="section"),
        rv=pd.DataFrame(rv).loc[names, names],
        lg=pd.DataFrame(lg).loc[names, names],
        weights=weights,
        fit=fit,
    )


def section_map(
    table: Tidy | pd.DataFrame,
    sections: Mapping[str, list[str]],
    *,
    level: float = 0.95,
    draws: int = 500,
    seed: int = 1,
    **column_names: Unpack[LongColumns],
) -> Map:
    """Map the samples by their means in several sections, each weighed the same.

    Parameters
    ----------
    table : Tidy or DataFrame
    sections : mapping of str to list of str
        Attributes of each section.
    level, draws, seed
        Of the ellipses and tests.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Map

    Raises
    ------
    NotEstimable
        As `profile_map`; or if fewer than two sections have differences.
    """
    owner = {name: section for section, names in sections.items() for name in names}
    stacked = profile_cube(table, list(owner), **column_names)
    cube, samples, names = stacked[:3]
    asked(len(samples), len(cube), level, draws)
    cube, names, _, tested = moving(cube, names, stacked.tested)
    means = cube.mean(axis=0)
    used = list(dict.fromkeys(owner[name] for name in names))
    if len(used) < 2:
        raise NotEstimable("factors.one_section", n=len(used))
    columns = {s: [i for i, name in enumerate(names) if owner[name] == s] for s in used}
    order = [i for section in used for i in columns[section]]
    cube, tested = cube[:, :, order], tested[:, :, order]
    names = [names[i] for i in order]
    found = multiple_factors({section: means[:, columns[section]] for section in used})
    spread = means[:, order].std(axis=0) / np.sqrt(found.weights)
    noise = within(cube) / np.sqrt(found.weights)
    place, metric = means_in(spread), means_in(noise)
    middle = cube.mean(axis=(0, 1)) / spread
    return drawn_map(
        "factors",
        Space(
            data=cube, place=place, axes=found.fit.axes, middle=middle, metric=metric, tested=tested
        ),
        samples=samples,
        eigenvalues=found.fit.eigenvalues,
        arrows=arrows_of(names, found.fit.correlations),
        level=level,
        draws=draws,
        seed=seed,
        left_out=stacked.left_out,
        warnings=stacked.gaps(),
        notes=found.sentences()[1:],
    )
