"""The scores of a class as cups and bottles: what every comparison starts from.

A bottle is one of a session: two sessions may call different bottles alike, and the
same bottle may have changed. A cell is one person's mean of one bottle of one session.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..core.ratings_matrix import Floats

Mask = NDArray[np.bool_]


class Scatter(NamedTuple):
    """Scatter of repeated cups, in scale points; nan and 0 without repeats."""

    sd: float
    df: int


class ClassScores(NamedTuple):
    """The scored lines of a class; P people, U bottles of sessions, A attributes, N cups.

    Attributes
    ----------
    people, attributes : list of str
    bottles : list of tuple of str
        ``(session, sample)``, sorted.
    session : array of int, shape (U,)
        Number of each bottle's session in `sessions`.
    sessions : list of str
    means, cups, within : arrays, shape (P, U, A)
        Mean (nan without a score), number of cups, sum of squares around the mean.
    residuals : array, shape (N, A)
        Score less cell mean, nan where a cup was not scored.
    who, what : arrays of int, shape (N,)
        Person and bottle of each cup.
    """

    people: list[str]
    attributes: list[str]
    bottles: list[tuple[str, str]]
    session: NDArray[np.intp]
    sessions: list[str]
    means: Floats
    cups: Floats
    within: Floats
    residuals: Floats
    who: NDArray[np.intp]
    what: NDArray[np.intp]

    def of(self, person: str) -> Floats:
        """Return one person's means, shape (U, A)."""
        return np.asarray(self.means[self.people.index(person)])

    def in_sessions(self, sessions: Sequence[str]) -> Mask:
        """Mark the bottles of these sessions; one that scored no line has none."""
        places = [place for place, name in enumerate(self.sessions) if name in set(sessions)]
        return np.isin(self.session, places)

    def scatter(
        self, people: Sequence[str], place: int, sessions: Sequence[str] | None = None
    ) -> Scatter:
        """Return the scatter of these people's cups around their own means, on one attribute."""
        there = self.in_sessions(self.sessions if sessions is None else sessions)
        who = np.array([self.people.index(name) for name in people], dtype=np.intp)
        at = np.ix_(who, np.flatnonzero(there), np.array([place], dtype=np.intp))
        cups = self.cups[at]
        df = int((cups[cups > 0] - 1).sum())
        return Scatter(float(np.sqrt(self.within[at].sum() / df)), df) if df else Scatter(np.nan, 0)

    def cups_a_cell(self, people: Sequence[str], place: int) -> float:
        """Return the harmonic mean number of cups behind these people's means."""
        cups = self.cups[[self.people.index(name) for name in people], :, place]
        cups = cups[cups > 0]
        return float(cups.size / (1 / cups).sum()) if cups.size else np.nan


def class_scores(rows: pd.DataFrame, attributes: Sequence[str]) -> ClassScores:
    """Gather tidy rows of the scored lines.

    Parameters
    ----------
    rows : DataFrame
        Tidy rows; a missing replicate counts as the only cup.
    attributes : sequence of str
        The scored lines, in the order of the card.
    """
    kept = rows[rows["attribute"].isin(list(attributes))]
    names = list(attributes)
    people = sorted({str(name) for name in rows["assessor"]})
    cells = list(
        dict.fromkeys(zip(kept["session"].astype(str), kept["sample"].astype(str), strict=True))
    )
    bottles = sorted(cells)
    sessions = sorted({session for session, _ in bottles})
    replicate = kept["replicate"].astype("Int64").fillna(1).to_numpy(int)
    code = {name: place for place, name in enumerate(people)}
    unit = {name: place for place, name in enumerate(bottles)}
    column = {name: place for place, name in enumerate(names)}
    who = np.array([code[str(name)] for name in kept["assessor"]], dtype=np.intp)
    what = np.array(
        [
            unit[str(session), str(sample)]
            for session, sample in zip(kept["session"], kept["sample"], strict=True)
        ],
        dtype=np.intp,
    )
    attribute = np.array([column[str(name)] for name in kept["attribute"]], dtype=np.intp)
    score = kept["score"].to_numpy(float)
    shape = (len(people), len(bottles), len(names))
    cups, total, within = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    np.add.at(cups, (who, what, attribute), 1.0)
    np.add.at(total, (who, what, attribute), score)
    means = np.divide(total, cups, out=np.full(shape, np.nan), where=cups > 0)
    rest = score - means[who, what, attribute]
    np.add.at(within, (who, what, attribute), rest**2)
    key = np.column_stack([who, what, replicate])
    pours, place = np.unique(key, axis=0, return_inverse=True)
    residuals = np.full((len(pours), len(names)), np.nan)
    residuals[place.ravel(), attribute] = rest
    number = np.array([sessions.index(session) for session, _ in bottles], dtype=np.intp)
    return ClassScores(
        people, names, bottles, number, sessions, means, cups, within, residuals,
        pours[:, 0].astype(np.intp), pours[:, 1].astype(np.intp),
    )  # fmt: skip


def centred(values: Floats, session: NDArray[np.intp]) -> Floats:
    """Take off each session's mean, bottle in the first axis; unknown ones stay unknown."""
    out = np.array(values, dtype=float)
    for number in np.unique(session):
        at = session == number
        known = ~np.isnan(out[at]).all(axis=0)
        if np.any(known):
            with np.errstate(all="ignore"):
                out[at] = out[at] - np.where(known, _mean(out[at]), 0.0)
    return out


def _mean(values: Floats) -> Floats:
    count = (~np.isnan(values)).sum(axis=0)
    return np.asarray(np.nansum(values, axis=0) / np.maximum(count, 1))
