"""Blending fractions and adding water, by mass balance.

Mass, ethanol, extract, acid, amino acid and glucose are kept; volume and meter
value are not. The meter value of a blend is computed from its density, never
averaged, and the volume from the contraction of alcohol and water.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
from scipy.optimize import brentq

from ..core.errors import NotEstimable, OptionError, TableError
from ..core.result import Result, copies
from ..core.words import Sentence
from .density_scales import (
    EXTRACT_CONSTANT,
    EXTRACT_PER_GRAVITY,
    WATER_4,
    alcohol_gravity,
    density,
    extract,
    meter_value_of_density,
    mixture_density,
)

WATER_METER_VALUE = meter_value_of_density(mixture_density(0.0) / 1000)
GENSHU_DROP = 1.0
"""Below this drop in % alcohol, water for adjusting does not end the name genshu."""

AS_READ = 0.05
"""A meter value that differs by less reads the same."""
WATER = "water"
CARRIED = ("acidity", "amino_acidity", "glucose")


@dataclass(frozen=True, slots=True)
class Part:
    """One fraction that goes into a blend.

    Attributes
    ----------
    volume : float
        At 15 °C, in any unit that all parts share.
    meter_value : float
        At 15 °C.
    abv : float
        % by volume at 15 °C.
    acidity, amino_acidity : float, optional
        mL per 10 mL.
    glucose : float, optional
        g/100 mL.
    name : str
        For the table.
    """

    volume: float
    meter_value: float
    abv: float
    acidity: float | None = None
    amino_acidity: float | None = None
    glucose: float | None = None
    name: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.volume) and self.volume > 0):
            raise OptionError("blending.volume", name=self.name or "?", value=self.volume)
        for field in CARRIED:
            value = getattr(self, field)
            if value is not None and not value >= 0:
                raise OptionError(
                    "blending.negative", name=self.name or "?", field=field, value=value
                )

    @property
    def mass(self) -> float:
        """Volume times density at 15 °C."""
        return self.volume * density(self.meter_value)


def water(volume: float) -> Part:
    """Return a part of pure water: no alcohol, no acid, meter value +1.3, not 0."""
    return Part(volume, WATER_METER_VALUE, 0.0, 0.0, 0.0, 0.0, name=WATER)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Blend(Result):
    """What a blend will measure at 15 °C.

    Attributes
    ----------
    parts : DataFrame
        ``name, volume, share, meter_value, abv, acidity, amino_acidity, glucose``.
    volume : float
        Of the blend, in the unit of the parts.
    volume_change : float
        Blend minus sum of the parts: contraction (−) or expansion (+).
    abv : float
        % by volume.
    meter_value : float
        From the density.
    averaged_meter_value : float
        The average by volume, to show what it would have misled by.
    density : float
        g/mL at 15 °C.
    extract : float
        g/100 mL.
    acidity, amino_acidity, glucose : float or None
        None where a part does not state it.
    """

    parts: pd.DataFrame
    volume: float
    volume_change: float
    abv: float
    meter_value: float
    averaged_meter_value: float
    density: float
    extract: float
    acidity: float | None
    amino_acidity: float | None
    glucose: float | None

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the blend will measure."""
        said = [
            Sentence.of(
                "blending.blend",
                meter=self.meter_value,
                abv=self.abv,
                extract=self.extract,
                volume=self.volume,
            )
        ]
        carried = [
            Sentence.of(f"blending.{name}", value=getattr(self, name))
            for name in CARRIED
            if getattr(self, name) is not None
        ]
        if carried:
            said.append(Sentence.of("blending.carried", listed=carried))
        if abs(self.averaged_meter_value - self.meter_value) >= AS_READ:
            said.append(
                Sentence.of(
                    "blending.averaged", average=self.averaged_meter_value, true=self.meter_value
                )
            )
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the parts."""
        return copies(**{"blending.parts": self.parts})


def blend(parts: Sequence[Part]) -> Blend:
    """Mix fractions and predict what the blend measures.

    Parameters
    ----------
    parts : sequence of Part
        Two or more fractions, water among them if any is added (`water`).

    Notes
    -----
    With V the unknown volume of the blend, M the mass and ``a`` the volume of
    alcohol of all parts, V solves ``V × density(a / V, extract) = M``, where
    density follows from the official extract formula read backwards. At equal
    alcohol V is the sum of the parts. Acid is added in equivalents.

    Raises
    ------
    OptionError
        With fewer than two parts.

    Examples
    --------
    >>> mixed = blend([Part(100, 5.0, 16.0, 1.3), Part(50, -20.0, 16.0, 2.0)])
    >>> round(mixed.meter_value, 2), round(mixed.averaged_meter_value, 2), round(mixed.acidity, 3)
    (-3.43, -3.33, 1.533)
    """
    if len(parts) < 2:
        raise OptionError("blending.few", n=len(parts))
    total = sum(part.volume for part in parts)
    mass = sum(part.mass for part in parts)
    alcohol = sum(part.volume * part.abv for part in parts)
    dissolved = sum(part.volume * extract(part.meter_value, part.abv) for part in parts)

    def too_heavy(volume: float) -> float:
        rest = (dissolved / volume - EXTRACT_CONSTANT) / EXTRACT_PER_GRAVITY
        return volume * WATER_4 * (alcohol_gravity(alcohol / volume) + rest) - mass

    volume = float(brentq(too_heavy, 0.95 * total, 1.05 * total, xtol=1e-12 * total))
    carried = {name: _carried(parts, name, volume) for name in CARRIED}
    per_ml = mass / volume
    warnings = [
        Sentence.of(
            "blending.missing",
            field=Sentence.of(f"blending.name_{name}"),
            listed=[
                part.name or place
                for place, part in enumerate(parts, start=1)
                if getattr(part, name) is None
            ],
        )
        for name, value in carried.items()
        if value is None
        and any(getattr(part, name) is not None for part in parts if part.name != WATER)
    ]
    return Blend(
        parts=_listed(parts, total),
        volume=volume,
        volume_change=volume - total,
        abv=alcohol / volume,
        meter_value=meter_value_of_density(per_ml),
        averaged_meter_value=sum(part.volume * part.meter_value for part in parts) / total,
        density=per_ml,
        extract=dissolved / volume,
        warnings=tuple(warnings),
        **carried,
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Dilution(Result):
    """How much water brings a sake to a wanted alcohol content, and what it then measures.

    Attributes
    ----------
    water : float
        Volume of water, in the unit of the sake's volume.
    abv_before, abv_after : float
        % by volume.
    meter_value_before : float
        At 15 °C.
    blend : Blend
        What the diluted sake measures.
    """

    water: float
    abv_before: float
    abv_after: float
    meter_value_before: float
    blend: Blend

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the water and what changes with it."""
        return (
            Sentence.of(
                "blending.dilute",
                water=self.water,
                before=self.abv_before,
                after=self.abv_after,
                meter_before=self.meter_value_before,
                meter=self.blend.meter_value,
            ),
            *self.blend.sentences(),
        )


def dilute(part: Part, abv: float) -> Dilution:
    """Bring a sake to `abv` with water, by mass balance.

    Parameters
    ----------
    part : Part
        The sake before.
    abv : float
        Wanted alcohol, % by volume at 15 °C, below that of the sake.

    Raises
    ------
    OptionError
        If water cannot lower the alcohol to `abv`.

    Examples
    --------
    >>> thinned = dilute(Part(100, 2.0, 18.0, 1.7), 15.5)
    >>> round(thinned.water, 2), round(thinned.blend.meter_value, 2)
    (16.07, 2.62)
    """
    if not 0 < abv < part.abv:
        raise OptionError("blending.no_dilution", wanted=abv, have=part.abv)
    guess = part.volume * (part.abv / abv - 1)
    added = float(
        brentq(
            lambda volume: blend([part, water(volume)]).abv - abv,
            0.5 * guess,
            1.5 * guess,
            xtol=1e-10 * part.volume,
        )
    )
    drop = part.abv - abv
    key = "blending.genshu_kept" if drop < GENSHU_DROP else "blending.genshu_lost"
    return Dilution(
        water=added,
        abv_before=part.abv,
        abv_after=abv,
        meter_value_before=part.meter_value,
        blend=blend([part, water(added)]),
        warnings=(Sentence.of(key, drop=drop, limit=GENSHU_DROP),),
    )


def share_for(first: Part, second: Part, meter_value: float) -> float:
    """Return the share by volume of `first` at which the blend with `second` reads `meter_value`.

    Raises
    ------
    NotEstimable
        If the wanted value does not lie between the two.

    Examples
    --------
    >>> a, b = Part(1, 5.0, 16.0), Part(1, -20.0, 16.0)
    >>> round(share_for(a, b, -3.43), 3)
    0.667
    """
    low, high = sorted((first.meter_value, second.meter_value))
    if not low < meter_value < high:
        raise NotEstimable("blending.not_between", wanted=meter_value, low=low, high=high)

    def miss(share: float) -> float:
        mixed = blend([_scaled(first, share), _scaled(second, 1 - share)])
        return mixed.meter_value - meter_value

    return float(brentq(miss, 1e-9, 1 - 1e-9, xtol=1e-10))


def parts_of(table: pd.DataFrame) -> list[Part]:
    """Read the parts of a blend from a table with one row a part.

    Parameters
    ----------
    table : DataFrame
        Columns ``volume``, ``meter_value``, ``abv``; ``bottle`` (or ``name``),
        ``acidity``, ``amino_acidity``, ``glucose`` where known.

    Raises
    ------
    TableError
        With all faults, by row.

    Examples
    --------
    >>> rows = pd.DataFrame({"volume": [2, 1], "meter_value": [5, -20], "abv": [16, 16]})
    >>> round(blend(parts_of(rows)).meter_value, 2)
    -3.43
    """
    needed = ("volume", "meter_value", "abv")
    have = [str(name) for name in table.columns]
    faults = [
        Sentence.of("table.no_column", column=name, have=have)
        for name in needed
        if name not in table
    ]
    if faults:
        raise TableError(tuple(faults))
    naming = next((name for name in ("bottle", "name", "sample") if name in table), None)
    parts = []
    for place, (_, row) in enumerate(table.iterrows(), start=1):
        values: dict[str, Any] = {}
        for name in (*needed, *CARRIED):
            cell = row.get(name)
            empty = cell is None or not str(cell).strip() or pd.isna(cell)
            number = None if empty else float(pd.to_numeric(str(cell), errors="coerce"))
            if (empty and name in needed) or (number is not None and pd.isna(number)):
                faults.append(
                    Sentence.of("table.bad_score", row=place, column=name, found=repr(cell))
                )
            values[name] = number
        if not faults:
            try:
                parts.append(Part(**values, name=str(row[naming]) if naming else str(place)))
            except OptionError as refused:
                faults.append(refused.sentence)
    if faults:
        raise TableError(tuple(faults))
    return parts


def _scaled(part: Part, volume: float) -> Part:
    values = {name: getattr(part, name) for name in CARRIED}
    return Part(volume, part.meter_value, part.abv, name=part.name, **values)


def _carried(parts: Sequence[Part], name: str, volume: float) -> float | None:
    """Sum what is kept per volume; None when one part does not state it."""
    values = [getattr(part, name) for part in parts]
    if any(value is None for value in values):
        return None
    amounts = [part.volume * value for part, value in zip(parts, values, strict=True)]
    return float(sum(amounts)) / volume


def _listed(parts: Sequence[Part], total: float) -> pd.DataFrame:
    rows = [
        {
            "name": part.name or str(place),
            "volume": part.volume,
            "share": part.volume / total,
            "meter_value": part.meter_value,
            "abv": part.abv,
            **{name: getattr(part, name) for name in CARRIED},
        }
        for place, part in enumerate(parts, start=1)
    ]
    return pd.DataFrame(rows).astype(dict.fromkeys(CARRIED, float))
