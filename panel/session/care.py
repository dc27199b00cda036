"""What whoever opens a bottle must know of it: pressure, heat, what has settled.

For the server and after the tasting only: it would tell a taster which cup is the raw or the
cloudy one. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..base.words import say
from .bottles import Bottle, liquids

WARMED = 30.0
"""°C of a portion from which it was warmed: what may be warmed is then said."""


def care(bottles: Iterable[Bottle], language: str, *, named: bool = True) -> list[str]:
    """Say what must be known of bottles under pressure, raw or settled.

    Parameters
    ----------
    bottles : iterable of Bottle
    language : str
    named : bool
        Name the bottles; otherwise only count them, for a page that tasters may see.
    """
    told = list(bottles)
    found = {
        "pressure": liquids(one for one in told if one.lively),
        "raw": liquids(one for one in told if one.raw),
        "settled": liquids(one for one in told if care_kind(one) == "settled"),
    }
    warm = liquids(one for one in told if care_label(one, language) and _warmed(one))
    said = []
    for kind, names in found.items():
        if not names:
            continue
        listed = names if named else say("care.some", language, n=len(names))
        which = _heated_or_not(told, language) if named and kind == "raw" else ""
        if kind == "raw" and not named:
            stated = all(one.pasteurised == "0" for one in told if one.raw)
            key = f"care.raw_{'known' if stated else 'open'}"
            which = say(key, language, raw=listed, open=listed)
        said.append(say(f"care.{kind}", language, bottles=listed, which=which))
    if warm and named:
        said.append(say("care.warmed", language, bottles=warm))
    return said


def _warmed(bottle: Bottle) -> bool:
    return bottle.temperature_c is not None and bottle.temperature_c >= WARMED


def _heated_or_not(bottles: Sequence[Bottle], language: str) -> str:
    """Name the raw bottles, and apart from them those of which nobody said whether they were."""
    raw = liquids(one for one in bottles if one.pasteurised == "0")
    unsaid = liquids(one for one in bottles if one.raw and one.pasteurised != "0")
    key = "raw_both" if raw and unsaid else "raw_known" if raw else "raw_open"
    return say(f"care.{key}", language, raw=raw, open=unsaid)


def care_kind(bottle: Bottle) -> str:
    """Return ``pressure``, ``raw``, ``settled``, or nothing where no care is due."""
    if bottle.lively:
        return "pressure"
    if bottle.raw:
        return "raw"
    return "settled" if bottle.cloudy else ""


def care_mark(bottle: Bottle, language: str) -> str:
    """Return the care for one row of a list; empty where none is due."""
    kind = care_kind(bottle)
    if bottle.lively and bottle.pasteurised == "0":
        kind = "both"
    return say(f"care.mark_{kind}", language) if kind else ""


def care_label(bottle: Bottle, language: str) -> str:
    """Return the warning on a bottle's label; empty where none is due."""
    kind = care_kind(bottle)
    return say(f"care.label_{kind}", language) if kind in ("pressure", "raw") else ""
