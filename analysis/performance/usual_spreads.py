"""How far assessors and samples usually scatter: the prior that comes by itself.

No brewer knows three standard deviations beforehand. Open data tell them as shares of the
length of the scale, by kind of attribute; ``docs/small_panels.md`` has the table, and
``tests/reference/default_spreads.R`` makes it anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from ..core.options import at_least, one_of
from .spreads import Spreads


class Usual(NamedTuple):
    """Medians of two standard deviations, as shares of the scale, and how far they vary.

    Attributes
    ----------
    error, sample : float
        One score around its assessor's level and its sample; true means of samples.
    error_log_sd, sample_log_sd : float
        Standard deviations of their logarithms between panels and products.
    interaction_share : float
        Share of assessor × sample in the error variance of a single score.
    """

    error: float
    sample: float
    error_log_sd: float
    sample_log_sd: float
    interaction_share: float


USUAL: Mapping[str, Usual] = {
    "taste": Usual(0.145, 0.055, 0.35, 0.85, 0.2),
    "appearance": Usual(0.115, 0.09, 0.3, 0.45, 0.33),
    "liking": Usual(0.22, 0.05, 0.5, 0.8, 0.65),
}
"""By kind of attribute: taste and aroma, appearance, liking (few data)."""
WIDER = 1.4
"""The wide part of a prior is centred so much higher."""
WIDE_ERROR, WIDE_SAMPLE = 1.0, 1.2
"""Standard deviations of its logarithms."""


def default_spreads(kind: str = "taste", length: float = 10.0) -> Spreads:
    """Return the spreads that are usual for a kind of attribute.

    Parameters
    ----------
    kind : {'taste', 'appearance', 'liking'}
        Aromas and tastes are one kind.
    length : float
        Length of the scale: its highest less its lowest value.

    Raises
    ------
    OptionError

    Examples
    --------
    >>> usual = default_spreads("taste", length=10)
    >>> round(usual.error_sd, 2), round(usual.sample_sd, 2)
    (1.45, 0.55)
    """
    one_of("kind", kind, tuple(USUAL))
    at_least("length", length, strictly=True)
    usual = USUAL[kind]
    return Spreads(
        log_error=np.array([np.log(usual.error * length)]),
        log_sample=np.array([np.log(usual.sample * length)]),
        weight=np.ones((1, 1)),
        error_blur=usual.error_log_sd,
        sample_blur=usual.sample_log_sd,
        interaction_share=usual.interaction_share,
    )


def wide_spreads(kind: str = "taste", length: float = 10.0) -> Spreads:
    """Return the same, known so vaguely that the scores decide: the wide part of every prior."""
    usual = default_spreads(kind, length)
    return usual.scaled(WIDER, WIDER).vague(WIDE_ERROR, WIDE_SAMPLE)
