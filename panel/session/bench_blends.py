"""A blind session of trial blends: small mixtures of fractions, tasted beside the parts.

What a mixture measures follows from sums; how it tastes does not. `kikichoko new DIR --bench`
writes a session whose bottles are trial mixtures, each with how to mix it and what it reads.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ...rounding import rounded
from ..base.errors import InputRefused
from ..base.words import say
from .bottles import COLUMNS, Bottle
from .template_files import table_text, template, write_new

if TYPE_CHECKING:
    from ...analysis.chemistry.blending import Blend

TRIAL = 300.0
"""mL that is mixed of each trial: ten cups of 25 mL and what stays in the glass."""
_DIGITS = {"abv": 1, "meter_value": 1, "acidity": 2, "amino_acidity": 2, "glucose": 2}


@dataclass(frozen=True, slots=True)
class Trial:
    """One trial mixture.

    Attributes
    ----------
    shares : mapping of str to float
        Share of each bottle by volume, by its name; they sum to 1.
    """

    shares: Mapping[str, float]

    @property
    def name(self) -> str:
        """The bottle's name, or each with its per cent."""
        if len(self.shares) == 1:
            return next(iter(self.shares))
        return " + ".join(
            f"{name} {rounded(100 * share, '.3g')}" for name, share in self.shares.items()
        )


def trial_of(written: str) -> Trial:
    """Read ``clear=90,cloudy=10``: per cent, parts or millilitres; only their ratio counts.

    Raises
    ------
    InputRefused
        If it is not understood.
    """
    parts: dict[str, float] = {}
    for pair in written.split(","):
        name, equals, amount = (piece.strip() for piece in pair.rpartition("="))
        try:
            value = float(amount)
        except ValueError:
            value = -1.0
        if not equals or not name or not 0 < value < float("inf") or name in parts:
            raise InputRefused("bench.bad_trial", found=pair.strip(), trial=written)
        parts[name] = value
    total = sum(parts.values())
    return Trial({name: value / total for name, value in parts.items()})


def write_bench(
    folder: Path, bottles: Sequence[Bottle], trials: Sequence[Trial], *, card: str = "brewery"
) -> list[Path]:
    """Write a session folder whose bottles are the trials.

    Raises
    ------
    InputRefused
        If a trial names a bottle that is not there, two trials are the same, there are fewer
        than two, or the folder holds other files.
    """
    known = {bottle.name: bottle for bottle in bottles}
    for trial in trials:
        unknown = [name for name in trial.shares if name not in known]
        if unknown:
            raise InputRefused("bench.no_bottle", found=unknown[0], have=list(known))
    names = [trial.name for trial in trials]
    if len(trials) < 2 or len(set(names)) < len(names):
        raise InputRefused("bench.few" if len(set(names)) < 2 else "bench.twice")
    content = template(card)
    content["bottles.csv"] = table_text(COLUMNS, [_row(trial, known) for trial in trials])
    return write_new(folder, content)


def _row(trial: Trial, known: Mapping[str, Bottle]) -> dict[str, str]:
    parts = [known[name] for name in trial.shares]
    shared = {
        name: str(getattr(parts[0], name))
        for name in ("lot", "tank", "fraction", "pasteurised")
        if len({getattr(part, name) for part in parts}) == 1
    }
    if any(part.pasteurised == "0" for part in parts):
        shared["pasteurised"] = "0"  # raw sake in it makes the whole raw
    recipe = [
        say("bench.measure", millilitres=rounded(share * TRIAL, ".4g"), name=name)
        for name, share in trial.shares.items()
    ]
    return {
        "bottle": trial.name,
        "use": "sample",
        **shared,
        **_numbers(parts, list(trial.shares.values())),
        "supernatant": "no" if any(part.supernatant == "no" for part in parts) else "",
        "available": "1",
        "volume_ml": f"{TRIAL:g}",
        "storage": say("bench.mix", recipe=" + ".join(recipe)) if len(parts) > 1 else "",
        "group": "1",
    }


def _numbers(parts: Sequence[Bottle], shares: Sequence[float]) -> dict[str, str]:
    """Compute what is known of all parts by mass balance; leave the rest blank."""
    if len(parts) == 1:
        stated = {name: getattr(parts[0], name) for name in (*_DIGITS, "polishing")}
        return {name: f"{value:g}" for name, value in stated.items() if value is not None}
    if any(part.abv is None or part.meter_value is None for part in parts):
        return {}
    mixed = _mixed(parts, shares)
    found = {name: getattr(mixed, name) for name in _DIGITS}
    return {
        name: rounded(value, f".{_DIGITS[name]}f")
        for name, value in found.items()
        if value is not None
    }


def _mixed(parts: Sequence[Bottle], shares: Sequence[float]) -> Blend:
    from ...analysis.chemistry.blending import Part, blend

    return blend(
        [
            Part(
                share,
                part.meter_value or 0.0,
                part.abv or 0.0,
                part.acidity,
                part.amino_acidity,
                part.glucose,
                name=part.name,
            )
            for part, share in zip(parts, shares, strict=True)
        ]
    )
