"""Which sessions can be compared: those that share a bottle, directly or through others."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components


def connected(session: pd.Series, unit: pd.Series) -> npt.NDArray[np.intp]:
    """Label each row by the group of sessions it belongs to.

    Parameters
    ----------
    session, unit : Series of str, one row for each bottle (or batch) in a session

    Returns
    -------
    integer array
        Equal for rows whose sessions are linked by shared units: a reference
        bottle served in all of them links all.

    Examples
    --------
    >>> connected(pd.Series(["1", "1", "2", "3"]), pd.Series(["a", "b", "b", "c"])).tolist()
    [0, 0, 0, 1]
    """
    meeting, meetings = pd.factorize(session)
    thing, things = pd.factorize(unit)
    size = len(meetings) + len(things)
    graph = coo_array((np.ones(len(session)), (meeting, len(meetings) + thing)), (size, size))
    labels = connected_components(graph, directed=False)[1]
    return np.asarray(pd.factorize(labels[meeting])[0], dtype=np.intp)
