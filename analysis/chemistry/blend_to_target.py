"""How much of each fraction, and of water, brings a blend to wanted numbers.

Mass, alcohol, acid and glucose are sums over the parts, so at a known contraction every wanted
number is one linear condition on the volumes. A linear programme finds the blend nearest to all
of them within the volumes at hand; the contraction is then computed anew until it stands.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from ...rounding import rounded
from ..core.errors import OptionError
from ..core.result import Result, copies
from ..core.wording import short
from ..core.words import Sentence
from .blending import Blend, Part, blend, water
from .density_scales import density

Array = npt.NDArray[np.float64]

READING: Mapping[str, float] = {
    "meter_value": 0.5,
    "abv": 0.1,
    "acidity": 0.1,
    "amino_acidity": 0.1,
    "glucose": 0.2,
}
"""What one reading is good to: misses of different numbers are weighed in these units.

Common practice, no source."""
MET = 0.1
"""Share of a reading by which a number may miss and still be met."""
_ROUNDS = 20
_SETTLED = 1e-10
_ROUNDING = 1e-6


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class BlendToTarget(Result):
    """What to take of each part, what the blend then measures, and what cannot be had.

    Attributes
    ----------
    parts : DataFrame
        ``name, available, take, left, share``: volumes in the unit of the parts; `share` of
        what goes in.
    targets : DataFrame
        ``number, from, to, reached, miss, met, least, most``: the wanted range, what the blend
        reads, how far that lies outside the range, and what the parts read at the least and
        at the most.
    blend : Blend or None
        What the blend measures; None where one part alone is nearest.
    volume : float
        Of the blend.
    met : bool
        Whether every wanted number is met.
    """

    parts: pd.DataFrame
    targets: pd.DataFrame
    blend: Blend | None
    volume: float
    met: bool

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what to take, what it reads, and what is not to be had with these parts."""
        taken = self.parts[self.parts["take"] > 0]
        listed = [
            Sentence.of("blend_to.take", take=_volume(row["take"]), name=row["name"])
            for row in taken.to_dict("records")
        ]
        reads = [
            Sentence.of(
                "blend_to.reads",
                name=Sentence.of(f"chemistry.name_{row['number']}"),
                value=rounded(row["reached"], ".2f"),
            )
            for row in self.targets.to_dict("records")
        ]
        said = [
            Sentence.of(
                "blend_to.met" if self.met else "blend_to.nearest",
                listed=listed,
                volume=_volume(self.volume),
                reads=reads,
            )
        ]
        said += [
            Sentence.of(
                "blend_to.outside" if _beyond(row) else "blend_to.together",
                name=Sentence.of(f"chemistry.name_{row['number']}"),
                miss=short(abs(row["miss"])),
                wanted=_range(row["from"], row["to"]),
                least=short(row["least"]),
                most=short(row["most"]),
            )
            for row in self.targets[~self.targets["met"]].to_dict("records")
        ]
        return (*said, Sentence.of("blend_to.by_sums"))

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return what to take and what was wanted."""
        return copies(**{"blend_to.parts": self.parts, "blend_to.targets": self.targets})


def blend_to(
    parts: Sequence[Part],
    *,
    volume: float | None = None,
    water_at_hand: float = 0.0,
    **wanted: float | tuple[float, float],
) -> BlendToTarget:
    """Find the volumes of fractions (and water) whose blend measures what is wanted.

    Parameters
    ----------
    parts : sequence of Part
        Fractions at hand; their volume is what is there.
    volume : float, optional
        Volume of the blend that is wanted; by default as much as the parts give.
    water_at_hand : float
        Volume of water that may go in.
    **wanted : float or (low, high)
        ``meter_value``, ``abv``, ``acidity``, ``amino_acidity`` or ``glucose``: a number, or
        the range in which it should lie.

    Returns
    -------
    BlendToTarget

    Raises
    ------
    OptionError
        With fewer than two parts (water counts as one), nothing wanted, a number that a part
        does not state, or a volume that is not there.

    Notes
    -----
    With ``c`` the volume of the blend over the sum of the volumes ``v``, each wanted number is
    ``Σ v (x - c low) ≥ 0`` and ``Σ v (x - c high) ≤ 0``, x being density, alcohol or acid of a
    part. A linear programme makes the sum of all misses, in units of `READING`, least; a second
    one keeps it and takes the largest volume, or, where a volume is wanted, leaves of each part
    the largest share that can be left of all. ``c`` comes from `blend` and is settled in a few
    rounds. Solved by scipy's HiGHS.

    Examples
    --------
    >>> clear, cloudy = Part(300, 5.0, 16.0, name="clear"), Part(300, -20.0, 16.0, name="cloudy")
    >>> found = blend_to([clear, cloudy], meter_value=0.0)
    >>> found.parts["take"].round(1).tolist(), found.met
    ([300.0, 73.7], True)
    """
    ranges = _ranges(wanted)
    if not (math.isfinite(water_at_hand) and water_at_hand >= 0):
        raise OptionError("blend_to.water", value=water_at_hand)
    parts = [*parts, *([water(water_at_hand)] if water_at_hand > 0 else [])]
    if len(parts) < 2:
        raise OptionError("blending.few", n=len(parts))
    _refuse_unstated(parts, ranges)
    at_hand = np.array([part.volume for part in parts])
    if volume is not None and not 0 < volume <= 1.001 * at_hand.sum():
        raise OptionError("blend_to.volume", wanted=volume, have=float(at_hand.sum()))
    ratio, taken = 1.0, at_hand
    for _ in range(_ROUNDS):
        taken = _volumes(parts, ranges, None if volume is None else volume / ratio, ratio)
        before, ratio = ratio, _contraction(parts, taken)
        if abs(ratio - before) < _SETTLED:
            break
    return _result(parts, ranges, taken)


def _ranges(wanted: Mapping[str, float | tuple[float, float]]) -> dict[str, tuple[float, float]]:
    if not wanted:
        raise OptionError("blend_to.nothing", known=list(READING))
    ranges = {}
    for name, value in wanted.items():
        if name not in READING:
            raise OptionError("blend_to.unknown", found=name, known=list(READING))
        low, high = value if isinstance(value, tuple) else (value, value)
        if not (math.isfinite(low) and math.isfinite(high) and low <= high):
            raise OptionError("blend_to.range", name=name, low=low, high=high)
        ranges[name] = (float(low), float(high))
    return ranges


def _refuse_unstated(parts: Sequence[Part], ranges: Mapping[str, object]) -> None:
    for name in ranges:
        without = [
            part.name or str(place)
            for place, part in enumerate(parts, start=1)
            if getattr(part, name) is None
        ]
        if without:
            raise OptionError(
                "blending.missing", field=Sentence.of(f"chemistry.name_{name}"), listed=without
            )


def _volumes(
    parts: Sequence[Part],
    ranges: Mapping[str, tuple[float, float]],
    total: float | None,
    ratio: float,
) -> Array:
    """Solve both linear programmes at a given contraction."""
    from scipy.optimize import linprog

    at_hand = np.array([part.volume for part in parts])
    n, k = len(parts), len(ranges)
    conditions = np.vstack([_condition(parts, *item, ratio) for item in ranges.items()])
    # Shares of the blend and one miss a number: the least sum of misses.
    rows = np.hstack([conditions, np.repeat(-np.eye(k), 2, axis=0)])
    most = np.ones(n) if total is None else np.minimum(at_hand / total, 1.0)
    first = linprog(
        np.r_[np.zeros(n), np.ones(k)],
        A_ub=rows,
        b_ub=np.zeros(2 * k),
        A_eq=[np.r_[np.ones(n), np.zeros(k)]],
        b_eq=[1.0],
        bounds=[*((0, high) for high in most), *([(0, None)] * k)],
    )
    # The misses are kept, and what is left free is settled by the volumes.
    allowed = np.repeat(np.asarray(first.x)[n:], 2) + 1e-9
    scale = float(at_hand.sum())
    kept = np.hstack([conditions - allowed[:, None], np.zeros((2 * k, 1))])
    if total is None:
        second = linprog(
            np.r_[-np.ones(n), 0.0],
            A_ub=kept,
            b_ub=np.zeros(2 * k),
            bounds=[*((0, high / scale) for high in at_hand), (0, None)],
        )
    else:
        used = np.hstack([np.diag(1.0 / at_hand), -np.ones((n, 1)) / scale])
        second = linprog(
            np.r_[np.zeros(n), 1.0],
            A_ub=np.vstack([kept, used]),
            b_ub=np.zeros(2 * k + n),
            A_eq=[np.r_[np.ones(n), 0.0]],
            b_eq=[total / scale],
            bounds=[*((0, high / scale) for high in at_hand), (0, None)],
        )
    shares = np.asarray(second.x)[:n]
    taken: Array = np.where(shares < _ROUNDING, 0.0, shares * scale)
    whole: Array = np.where(at_hand - taken < _ROUNDING * scale, at_hand, taken)
    return whole


def _condition(
    parts: Sequence[Part], name: str, wanted: tuple[float, float], ratio: float
) -> Array:
    """Return how far each part lies above the range and below it, in readings."""
    low, high = wanted
    unit = READING[name]
    if name == "meter_value":
        # A higher meter value is a lower density.
        values = np.array([density(part.meter_value) for part in parts])
        unit = density(0.0) - density(unit)
        low, high = density(high), density(low)
    else:
        values = np.array([float(getattr(part, name)) for part in parts])
    return np.vstack([values - high * ratio, low * ratio - values]) / unit


def _contraction(parts: Sequence[Part], taken: Array) -> float:
    mixed = _blended(parts, taken)
    return 1.0 if mixed is None else mixed.volume / float(taken.sum())


def _blended(parts: Sequence[Part], taken: Array) -> Blend | None:
    used = [
        replace(part, volume=float(volume))
        for part, volume in zip(parts, taken, strict=True)
        if volume > 0
    ]
    return blend(used) if len(used) > 1 else None


def _result(
    parts: Sequence[Part], ranges: Mapping[str, tuple[float, float]], taken: Array
) -> BlendToTarget:
    mixed = _blended(parts, taken)
    alone = parts[int(np.argmax(taken))]
    rows = []
    for name, (low, high) in ranges.items():
        reached = float(getattr(alone if mixed is None else mixed, name))
        miss = min(reached - low, 0.0) + max(reached - high, 0.0)
        miss = 0.0 if abs(miss) < _ROUNDING else miss
        readings = [float(getattr(part, name)) for part in parts]
        rows.append(
            {
                "number": name,
                "from": low,
                "to": high,
                "reached": reached,
                "miss": miss,
                "met": abs(miss) <= MET * READING[name],
                "least": min(readings),
                "most": max(readings),
            }
        )
    targets = pd.DataFrame(rows)
    at_hand = np.array([part.volume for part in parts])
    return BlendToTarget(
        parts=pd.DataFrame(
            {
                "name": [part.name or str(at) for at, part in enumerate(parts, start=1)],
                "available": at_hand,
                "take": taken,
                "left": at_hand - taken,
                "share": taken / taken.sum(),
            }
        ),
        targets=targets,
        blend=mixed,
        volume=float(taken.sum()) if mixed is None else mixed.volume,
        met=bool(targets["met"].all()),
    )


def _beyond(row: Mapping[Any, Any]) -> bool:
    """Whether no mixture of these parts alone can read what is wanted."""
    return bool(row["to"] < row["least"] or row["from"] > row["most"])


def _range(low: float, high: float) -> Sentence | str:
    if low == high:
        return short(low)
    return Sentence.of("blend_to.range_of", low=short(low), high=short(high))


def _volume(value: float) -> str:
    return rounded(value, ".4g")
