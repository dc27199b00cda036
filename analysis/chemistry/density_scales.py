"""Density of sake: meter value, specific gravity, Baumé, alcohol table and extract.

All at 15 °C unless a temperature is named. Two bases stand side by side, as
in the official method: 15/4 (against water at 4 °C) belongs to the meter
value, 15/15 (against water at 15 °C) to the alcohol table.
"""

from __future__ import annotations

import math
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from ..core.errors import OptionError

Number = TypeVar("Number", float, npt.NDArray[np.floating[Any]])

WATER_4 = 0.99997
"""Density of water at 4 °C in g/mL, as the official method divides by it."""

MODULUS = 1443.0
"""Modulus of the meter value scale; that of Baumé (heavy) is a tenth of it."""

# International formula for water–ethanol mixtures, OIML R 22 (1975), section 3:
# density in kg/m³ for a mass fraction p (0 to 1) at t °C. The coefficients are
# from memory; tests hold them against water, pure ethanol and the table.
_A = (
    9.982012300e2,
    -1.929769495e2,
    3.891238958e2,
    -1.668103923e3,
    1.352215441e4,
    -8.829278388e4,
    3.062874042e5,
    -6.138381234e5,
    7.470172998e5,
    -5.478461354e5,
    2.234460334e5,
    -3.903285426e4,
)
_B = (
    -2.0618513e-1,
    -5.2682542e-3,
    3.6130013e-5,
    -3.8957702e-7,
    7.1693540e-9,
    -9.9739231e-11,
)
_C = (
    (
        1.693443461530087e-1,
        -1.046914743455169e1,
        7.196353469546523e1,
        -7.047478054272792e2,
        3.924090430035045e3,
        -1.210164659068747e4,
        2.248646550400788e4,
        -2.605562982188164e4,
        1.852373922069467e4,
        -7.420201433430137e3,
        1.285617841998974e3,
    ),
    (
        -1.193013005057010e-2,
        2.517399633803461e-1,
        -2.170575700536993,
        1.353034988843029e1,
        -5.029988758547014e1,
        1.096355666577570e2,
        -1.422753946421155e2,
        1.080435942856230e2,
        -4.414153236817392e1,
        7.442971530188783,
    ),
    (
        -6.802995733503803e-4,
        1.876837790289664e-2,
        -2.002561813734156e-1,
        1.022992966719220,
        -2.895696483903638,
        4.810060584300675,
        -4.672147440794683,
        2.458043105903461,
        -5.411227621436812e-1,
    ),
    (
        4.075376675622027e-6,
        -8.763058573471110e-6,
        6.515031360099368e-6,
        -1.515784836987210e-6,
    ),
    (-2.788074354782409e-8, 1.345612883493354e-8),
)


REFERENCE_TEMPERATURE = 15.0
"""Temperature in °C at which meter value and alcohol by volume are defined."""

EXTRACT_PER_GRAVITY = 260.0
EXTRACT_CONSTANT = 0.21
ORIGINAL_PER_ALCOHOL = 1.5894

ETHANOL_20 = 0.789
"""Density of ethanol at 20 °C in g/mL, as used for planned grams of alcohol."""


def mixture_density(mass_fraction: float, temperature: float = REFERENCE_TEMPERATURE) -> float:
    """Return the density of a mixture of ethanol and water.

    Parameters
    ----------
    mass_fraction : float
        Mass of ethanol in the mass of the mixture, 0 to 1.
    temperature : float
        In °C, −20 to 40.

    Returns
    -------
    float
        Density in kg/m³.

    Raises
    ------
    OptionError
        Outside these ranges.

    References
    ----------
    OIML R 22 (1975), International alcoholometric tables, section 3.

    Examples
    --------
    >>> round(mixture_density(1.0, 20.0), 2), round(mixture_density(0.0, 4.0), 2)
    (789.24, 999.97)
    """
    within("mass_fraction", mass_fraction, 0, 1)
    within("temperature", temperature, -20, 40)
    p, warmer = mass_fraction, temperature - 20.0
    density = sum(a * p**k for k, a in enumerate(_A))
    density += sum(b * warmer**k for k, b in enumerate(_B, start=1))
    for i, row in enumerate(_C, start=1):
        density += warmer**i * sum(c * p**k for k, c in enumerate(row, start=1))
    return density


def mass_fraction(abv: float) -> float:
    """Return the mass of ethanol in the mass of its mixture with water.

    Parameters
    ----------
    abv : float
        Alcohol in % by volume at 15 °C, 0 to 100, as the Liquor Tax Act counts it.

    Examples
    --------
    >>> round(100 * mass_fraction(15.0), 3)
    12.143
    """
    within("abv", abv, 0, 100)
    pure = mixture_density(1.0)

    def short_of(fraction: float) -> float:
        return fraction * mixture_density(fraction) / pure * 100 - abv

    return float(brentq(short_of, 0.0, 1.0, xtol=1e-13))


def alcohol_gravity(abv: float) -> float:
    """Return the specific gravity 15/15 of ethanol and water alone: the alcohol table.

    Parameters
    ----------
    abv : float
        Alcohol in % by volume at 15 °C, 0 to 100.

    Notes
    -----
    Computed from OIML R 22. The table printed with the official method of
    analysis was not at hand; the two agree to about ±1 in the fourth decimal.

    Examples
    --------
    >>> round(alcohol_gravity(15.5), 5)
    0.9806
    """
    return mixture_density(mass_fraction(abv)) / mixture_density(0.0)


def gravity(meter_value: Number) -> Number:
    """Return the specific gravity 15/4 of a meter value (nihonshudo).

    ``S = 1443 / (1443 + N)``; valid for N above −1443, in practice −100 to +40.

    References
    ----------
    Unit "sake degree" of the Measurement Act; National Tax Agency, Prescribed
    Analysis Method, chapter 3 (read in secondary sources).

    Examples
    --------
    >>> round(gravity(-20.0), 6), round(gravity(3.0), 6)
    (1.014055, 0.997925)
    """
    above("meter_value", meter_value, -MODULUS)
    return MODULUS / (MODULUS + meter_value)


def meter_value(specific_gravity: Number) -> Number:
    """Return the meter value of a specific gravity 15/4: ``N = 1443 (1/S − 1)``.

    Examples
    --------
    >>> round(meter_value(0.996547), 1)
    5.0
    """
    above("specific_gravity", specific_gravity, 0)
    return MODULUS * (1 / specific_gravity - 1)


def density(meter_value: Number) -> Number:
    """Return the density at 15 °C in g/mL of a meter value.

    Examples
    --------
    >>> round(density(0.0), 5)
    0.99997
    """
    return WATER_4 * gravity(meter_value)


def meter_value_of_density(grams_per_ml: Number) -> Number:
    """Return the meter value of a density measured at 15 °C in g/mL.

    Pure water (0.9991026 g/mL at 15 °C) reads +1.25, not 0.

    Examples
    --------
    >>> round(meter_value_of_density(0.9991026), 2)
    1.25
    """
    return meter_value(grams_per_ml / WATER_4)


def baume(meter_value: Number) -> Number:
    """Return degrees Baumé (heavy, modulus 144.3) at 15 °C: exactly −N/10.

    Examples
    --------
    >>> baume(-20.0)
    2.0
    """
    above("meter_value", meter_value, -MODULUS)
    return -meter_value / 10


def meter_value_of_baume(degrees: Number) -> Number:
    """Return the meter value of degrees Baumé (heavy) at 15 °C.

    Examples
    --------
    >>> meter_value_of_baume(0.5)
    -5.0
    """
    return -10 * degrees


def meter_value_at_15(reading: float, temperature: float, abv: float) -> float:
    """Return what a hydrometer that read at another temperature would read at 15 °C.

    Parameters
    ----------
    reading : float
        Meter value read off.
    temperature : float
        Temperature of the sake in °C, 0 to 40.
    abv : float
        Alcohol in % by volume.

    Notes
    -----
    Approximate: the sake is taken to expand as its alcohol and water alone do
    (OIML R 22), and the glass not at all. Bring the sample to 15 °C where it
    matters; the correction is for readings that were already made.

    Examples
    --------
    >>> round(meter_value_at_15(4.0, 20.0, 15.5), 1)
    2.0
    """
    within("temperature", temperature, 0, 40)
    fraction = mass_fraction(abv)
    expansion = mixture_density(fraction) / mixture_density(fraction, temperature)
    return meter_value(gravity(reading) * expansion)


def extract(meter_value: float, abv: float) -> float:
    """Return the extract (ekisu-bun) in g/100 mL, not cut.

    Parameters
    ----------
    meter_value : float
        At 15 °C.
    abv : float
        Alcohol in % by volume at 15 °C.

    Notes
    -----
    ``E = (S − A) × 260 + 0.21`` with S the gravity 15/4 of the sake and A the
    gravity 15/15 of its alcohol. The bases differ on purpose: 0.21 makes up for
    it (with one common base the constant would be about −0.015).

    References
    ----------
    National Tax Agency, Prescribed Analysis Method, clause 3-7 (read in a
    secondary source).

    Examples
    --------
    >>> round(extract(3.0, 15.5), 3)
    4.714
    """
    return (gravity(meter_value) - alcohol_gravity(abv)) * EXTRACT_PER_GRAVITY + EXTRACT_CONSTANT


def official_extract(meter_value: float, abv: float) -> float:
    """Return the extract as the official method writes it, g/100 mL.

    Both gravities are rounded to 4 decimals, and the extract is cut, not
    rounded, after its first decimal.

    Examples
    --------
    >>> official_extract(3.0, 15.5), official_extract(0.0, 16.0), official_extract(-5.0, 17.5)
    (4.7, 5.3, 6.6)
    """
    # Whole ten-thousandths keep the cut clear of binary fractions.
    above_alcohol = round(gravity(meter_value) * 1e4) - round(alcohol_gravity(abv) * 1e4)
    thousandths = 26 * above_alcohol + 210
    return math.trunc(thousandths / 100) / 10


def original_extract(extract: float, abv: float) -> float:
    """Return the extract before fermentation, g/100 mL: ``E + 1.5894 × ABV``.

    References
    ----------
    Glossary of the Nada sake research group (entry 320).

    Examples
    --------
    >>> round(original_extract(4.714, 15.5), 2)
    29.35
    """
    return extract + ORIGINAL_PER_ALCOHOL * abv


def meter_value_of_extract(extract: float, abv: float) -> float:
    """Return the meter value that belongs to an extract (g/100 mL) and an alcohol content.

    Examples
    --------
    >>> round(meter_value_of_extract(4.7142, 15.5), 1)
    3.0
    """
    return meter_value(alcohol_gravity(abv) + (extract - EXTRACT_CONSTANT) / EXTRACT_PER_GRAVITY)


def within(name: str, value: float, low: float, high: float) -> None:
    """Refuse a number outside low to high.

    Raises
    ------
    OptionError
    """
    if not low <= value <= high:
        raise OptionError("density.within", name=name, value=value, low=low, high=high)


def above(name: str, value: Number, low: float) -> None:
    """Refuse numbers that are not above `low`, and those that are no finite numbers.

    Raises
    ------
    OptionError
    """
    fine = np.isfinite(value) & (np.asarray(value) > low)
    if not np.all(fine):
        raise OptionError("density.above", name=name, value=value, low=low)
