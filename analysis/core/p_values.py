"""When a test shows something: one rule for every p value."""

from __future__ import annotations

from typing import Any, overload

import numpy as np
import numpy.typing as npt
import pandas as pd

SLACK = 1e-12
"""A p value that equals the risk but for rounding is within it."""


@overload
def holds(p: float, alpha: float) -> bool: ...
@overload
def holds(p: pd.Series, alpha: float) -> pd.Series: ...
@overload
def holds(p: npt.NDArray[Any], alpha: float) -> npt.NDArray[np.bool_]: ...
def holds(p: Any, alpha: float) -> Any:
    """Tell whether a p value is at most the risk `alpha`; a missing one is not.

    Examples
    --------
    >>> holds(0.05, 1 - 0.95), holds(0.1, 1 - 0.9), holds(0.0501, 0.05), holds(float("nan"), 0.05)
    (True, True, False, False)
    """
    within = p <= alpha + SLACK
    return bool(within) if np.ndim(p) == 0 else within
