"""Published indices of sake taste: sweet–dry, rich–light, and glucose minus acidity.

The two indices of 1974 are regressions of trained assessors' scores, and each
has a range in which it was fitted. Today's everyday sake often lies outside
it, so the range is part of the answer.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from ..core.errors import OptionError
from ..core.words import Sentence
from .density_scales import MODULUS, Number, above, extract

SWEET_PER_SUGAR = 0.86
SUGAR_PER_EXTRACT = 0.6
SWEET_NUMERATOR, SWEET_PER_ACID, SWEET_CONSTANT = 193593.0, -1.16, -132.57
RICH_NUMERATOR, RICH_PER_ACID, RICH_CONSTANT = 94545.0, 1.88, -68.54
SUGAR_NUMERATOR, SUGAR_CONSTANT = 225108.0, -152.628

FITTED_ACIDITY = (1.4, 2.3)
FITTED_SUGAR = (0.0, 6.5)
FITTED_METER_VALUE = (-28.4, 31.9)
"""Meter values at which the sugar of the trial, 6.5 to 0 g/100 mL, is implied."""
FITTED_ALCOHOL = 17.0
SCALE = 3.0
"""Scores of the trial ran from −3 to +3: ±3 very, ±2 fairly, ±1 a little, 0 neither."""

TITRATION_STEP = 0.1
"""A step of a titration in mL: what moves the index by less is not read."""
SWEET_CLASSES = (
    (-0.2, "indices.dry"),
    (0.0, "indices.slightly_dry"),
    (0.2, "indices.slightly_sweet"),
)
RICH_CLASSES = (
    (-1.0, "indices.light"),
    (-0.8, "indices.slightly_light"),
    (-0.6, "indices.slightly_rich"),
)
GLUCOSE_CLASSES = (
    (2, "indices.dry"),
    (10, "indices.slightly_dry"),
    (18, "indices.slightly_sweet"),
)


def amakarado(meter_value: Number, acidity: Number) -> Number:
    """Return the sweet–dry index of 1974; larger is sweeter.

    ``Y = 193593 / (1443 + N) − 1.16 A − 132.57``

    Parameters
    ----------
    meter_value : float or array
        N at 15 °C; fitted about −28 to +32.
    acidity : float or array
        A in mL of 0.1 mol/L NaOH per 10 mL; fitted 1.4 to 2.3.

    Returns
    -------
    float or array
        Score on −3 (very dry) to +3 (very sweet).

    Notes
    -----
    The regression was ``Y = 0.86 S − 1.16 A − 1.31`` on direct reducing sugar S
    (R² = 0.80). S was then replaced by 0.6 × extract at about 17 % alcohol:
    0.86 × 0.6 × 260 × 1443 = 193593. At another alcohol content the same meter
    value means another extract, see `alcohol_shift`.

    References
    ----------
    Sato, Kawashima & Maruyama, J. Brew. Soc. Japan 69 (1974) 774–777 (read in
    secondary sources; held against 176 rows of the National Tax Agency's survey).

    Examples
    --------
    >>> round(amakarado(0.0, 1.5), 4), round(amakarado(5.0, 1.3), 4)
    (-0.1499, -0.3812)
    """
    above("meter_value", meter_value, -MODULUS)
    return SWEET_NUMERATOR / (MODULUS + meter_value) + SWEET_PER_ACID * acidity + SWEET_CONSTANT


def notando(meter_value: Number, acidity: Number) -> Number:
    """Return the rich–light index of 1974; larger is richer.

    ``Z = 94545 / (1443 + N) + 1.88 A − 68.54``. A misprint 1.18 for 1.88 goes
    round; it would miss the survey's published means by 0.8 to 1.0.

    Parameters
    ----------
    meter_value, acidity : float or array
        As in `amakarado`.

    Returns
    -------
    float or array
        Score on −3 (very light) to +3 (very rich). R² of the trial was 0.68.

    References
    ----------
    As `amakarado`.

    Examples
    --------
    >>> round(notando(0.0, 1.5), 4), round(notando(-20.0, 2.0), 4)
    (-0.2002, 1.6606)
    """
    above("meter_value", meter_value, -MODULUS)
    return RICH_NUMERATOR / (MODULUS + meter_value) + RICH_PER_ACID * acidity + RICH_CONSTANT


def implied_sugar(meter_value: Number) -> Number:
    """Return the direct reducing sugar (g/100 mL) that the index of 1974 assumes.

    Right on average and weak for one bottle: on 30 sakes of 1963 the mean
    implied was 3.53 and the mean measured 3.49, but their correlation 0.43.

    Examples
    --------
    >>> round(implied_sugar(0.0), 2)
    3.37
    """
    above("meter_value", meter_value, -MODULUS)
    return SUGAR_NUMERATOR / (MODULUS + meter_value) + SUGAR_CONSTANT


def acidity_for(target: float, meter_value: Number) -> Number:
    """Return the acidity (mL) at which the sweet–dry index is `target`.

    Examples
    --------
    >>> round(acidity_for(0.0, 3.0), 3)
    1.131
    """
    above("meter_value", meter_value, -MODULUS)
    return (SWEET_NUMERATOR / (MODULUS + meter_value) + SWEET_CONSTANT - target) / -SWEET_PER_ACID


def meter_value_for(target: float, acidity: Number) -> Number:
    """Return the meter value at which the sweet–dry index is `target`.

    Examples
    --------
    >>> round(meter_value_for(-0.3812, 1.3), 1)
    5.0
    """
    return SWEET_NUMERATOR / (target - SWEET_PER_ACID * acidity - SWEET_CONSTANT) - MODULUS


def acid_worth(meter_value: float, rise: float = 0.1) -> float:
    """Return the rise in meter value that dries the index as `rise` mL of acid does.

    Parameters
    ----------
    meter_value : float
        Where it is asked, at 15 °C.
    rise : float
        Rise in acidity, mL; 0.1 is the fineness of a titration.

    Examples
    --------
    >>> round(acid_worth(0.0), 2)
    1.25
    """
    return meter_value_for(amakarado(meter_value, rise), 0.0) - meter_value


def alcohol_shift(meter_value: float, abv: float) -> float:
    """Return by how much alcohol away from 17 % misleads the sweet–dry index.

    The index takes a meter value for the extract that it means at 17 % alcohol.
    At `abv` the extract is another one, and the index should read this much
    more. Derived here from the published steps of the index, not published.

    Parameters
    ----------
    meter_value : float
        At 15 °C.
    abv : float
        Alcohol in % by volume at 15 °C.

    Examples
    --------
    >>> round(alcohol_shift(3.0, 15.5), 2)
    -0.21
    """
    change = extract(meter_value, abv) - extract(meter_value, FITTED_ALCOHOL)
    return SWEET_PER_SUGAR * SUGAR_PER_EXTRACT * change


def glucose_minus_acidity(glucose: float, acidity: float) -> float:
    """Return the index of 2004, ``AV = G − A``, both rounded to one decimal.

    Parameters
    ----------
    glucose : float
        g/100 mL, of the bottle that is served (it rises while enzymes live).
    acidity : float
        mL.

    References
    ----------
    Utsunomiya, Isogai, Iwata et al., J. Brew. Soc. Japan 99 (2004), no. 12
    (read in secondary sources).

    Examples
    --------
    >>> glucose_minus_acidity(2.04, 1.46)
    0.5
    """
    return (tenths(glucose) - tenths(acidity)) / 10


def glucose_class(index: float) -> Sentence:
    """Return the class of `glucose_minus_acidity`: dry, slightly dry, slightly sweet, sweet.

    Examples
    --------
    >>> str(glucose_class(0.2)), str(glucose_class(1.0)), str(glucose_class(1.9))
    ('dry', 'slightly dry', 'sweet')
    """
    for highest, key in GLUCOSE_CLASSES:
        if round(index * 10) <= highest:
            return Sentence.of(key)
    return Sentence.of("indices.sweet")


def sweet_class(index: float) -> Sentence:
    """Return the trade's word for a sweet–dry index: a convention, not of the paper of 1974.

    Cuts at −0.2, 0 and 0.2: common practice, no source.

    Examples
    --------
    >>> str(sweet_class(-0.3)), str(sweet_class(0.1))
    ('dry', 'slightly sweet')
    """
    return _word(index, SWEET_CLASSES, "indices.sweet")


def rich_class(index: float) -> Sentence:
    """Return the trade's word for a rich–light index: a convention, cuts at −1, −0.8, −0.6.

    Examples
    --------
    >>> str(rich_class(-1.01)), str(rich_class(-0.2))
    ('light', 'rich')
    """
    return _word(index, RICH_CLASSES, "indices.rich")


class Fitted(NamedTuple):
    """Whether the indices of 1974 are used inside the range of their trial.

    Attributes
    ----------
    inside : bool
    reasons : tuple of Sentence
        What lies outside, one sentence each.
    """

    inside: bool
    reasons: tuple[Sentence, ...]


def fitted_range(meter_value: float, acidity: float, abv: float | None = None) -> Fitted:
    """Tell whether meter value, acidity and alcohol lie where the indices were fitted.

    Alcohol counts as outside when its shift of the sweet–dry index is larger
    than one step of a titration (0.1 mL, that is 0.116).

    Examples
    --------
    >>> fitted_range(3.0, 1.5, 17.0).inside, fitted_range(3.8, 1.16, 15.3).inside
    (True, False)
    """
    reasons = []
    low, high = FITTED_ACIDITY
    if not low <= acidity <= high:
        reasons.append(Sentence.of("indices.acidity_outside", value=acidity, low=low, high=high))
    low, high = FITTED_METER_VALUE
    if not low <= meter_value <= high:
        reasons.append(Sentence.of("indices.meter_outside", value=meter_value, low=low, high=high))
    if abv is not None:
        shift = alcohol_shift(meter_value, abv)
        if abs(shift) > -SWEET_PER_ACID * TITRATION_STEP:
            reasons.append(
                Sentence.of("indices.alcohol_outside", value=abv, shift=shift, at=FITTED_ALCOHOL)
            )
    return Fitted(not reasons, tuple(reasons))


def tenths(value: float) -> int:
    """Round to whole tenths, halves away from zero, as a laboratory rounds 1.25 to 1.3."""
    if value < 0:
        raise OptionError("density.above", name="value", value=value, low=0)
    return int(value * 10 + 0.5 + 1e-9)


def _word(value: float, cuts: Iterable[tuple[float, str]], last: str) -> Sentence:
    for below, key in cuts:
        if value < below:
            return Sentence.of(key)
    return Sentence.of(last)
