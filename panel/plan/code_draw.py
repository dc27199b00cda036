"""Blind codes: three digits that suggest nothing, each used once in a session."""

from __future__ import annotations

from ..base.errors import PlanRefused

_RUNS = {"123", "234", "345", "456", "567", "678", "789"}


def _plain(code: str) -> bool:
    """Tell whether a code suggests nothing: no repeated digit, no run up or down."""
    return len(set(code)) == 3 and code not in _RUNS and code[::-1] not in _RUNS


PLAIN = tuple(code for code in map(str, range(100, 1000)) if _plain(code))


def blind_codes(n: int, seed: int) -> list[str]:
    """Draw `n` different three-digit codes.

    Codes with a repeated digit and runs such as 123 or 987 are left out: they
    stick in the mind (common practice, no source).

    Raises
    ------
    PlanRefused
        If more are asked for than there are.
    """
    import numpy as np

    if n > len(PLAIN):
        raise PlanRefused("plan.too_many_codes", wanted=n, have=len(PLAIN))
    rng = np.random.default_rng(seed)
    return [str(code) for code in rng.permutation(PLAIN)[:n]]
