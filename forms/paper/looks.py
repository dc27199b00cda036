"""How large things are printed, and how much of it stands on a side."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLook:
    """Sizes of a printed sheet: letters in points, lengths in millimetres.

    Attributes
    ----------
    name, ask, end, tick, code : float
        Letters of a question's name, of what it asks, of the ends of a scale, of what stands
        beside a box, of a code below one.
    least : float
        No letters are smaller.
    box, pick : float
        Sides of a box, and of the circle above a code.
    gap : float
        From a word to the next box, the box and what parts it from its word counted in.
    head : float
        Room above the heading of a section.
    pitch : float
        From one box to the one below it, at least.
    below : float
        From a line to the base of the words below it.
    line : float
        From one line of letters to the next at least, in millimetres for each point.
    air : tuple of float
        How far apart things stand, in the order in which it is tried: 1 generous, 0 close.
    scale : float
        By how much heights are stretched.
    wide : bool
        One column over the whole page instead of two.
    several : bool
        Whether presentations that are short share a side.
    spread : bool
        Whether both columns of a side are used where one would hold all, a section that goes on
        on a further side has its heading again, and a comparison that allows "no difference"
        shows the codes of its cups.
    """

    name: float = 9.5
    ask: float = 8.0
    end: float = 8.0
    tick: float = 8.5
    code: float = 11.0
    least: float = 8.0
    box: float = 4.5
    pick: float = 5.0
    gap: float = 4.2
    head: float = 1.2
    pitch: float = 5.3
    below: float = 4.6
    line: float = 0.44
    air: tuple[float, ...] = (1.0, 0.5, 0.0, -0.5)
    scale: float = 1.0
    wide: bool = False
    several: bool = True
    spread: bool = True


NOW = SheetLook()
STANDING = SheetLook(
    name=14.0, ask=12.0, end=11.0, tick=12.0, code=18.0, least=10.0, box=6.5, pick=8.0, gap=7.0,
    pitch=5.1, scale=1.5, wide=True,
)  # fmt: skip
"""Tests of difference, rankings, thresholds: read by people who stand and walk along cups."""
EARLIER = SheetLook(
    ask=7.5, end=7.5, least=0.0, box=4.0, gap=3.0, head=0.0, pitch=5.1, below=4.1,
    line=0.0, air=(1.0, 0.5, 0.0), several=False, spread=False,
)  # fmt: skip
"""As sheets were printed before pages were shared; they are read as they are."""
PRINTINGS = (0, 2, 1)
"""Ways in which sheets were laid out, in which a page is looked for: now, with shared pages in one
column (2, November 2026), before (1)."""


def look_of(printing: int, *, standing: bool) -> SheetLook:
    """Return how large things are in one of `PRINTINGS`."""
    if printing == 1:
        return EARLIER
    look = STANDING if standing else NOW
    return replace(look, spread=False) if printing else look
