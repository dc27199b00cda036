"""Which moment of a sip may be taken: in its order, within its time, of its cup."""

from __future__ import annotations

from dataclasses import dataclass, field

from ...forms.questions.timed_part import DOMINANCE, INTENSITY, TOP, TimedPart
from ..returns.timed_events import (
    AWAY,
    EARLY,
    END,
    ENDS,
    LEVEL,
    OUT,
    OUTS,
    SIP,
    WHOLE,
    WORD,
    Moment,
)

MOST = 1_000
"""Moments of one sip; a page sends at most four levels a second."""
DONE, NOT_WHOLE = "done", "broken"
"""What became of a part of a cup."""
Key = tuple[str, str, str, str]
"""Device, cup, part and run."""


@dataclass(slots=True)
class Followed:
    """How far a sip is.

    Attributes
    ----------
    last : int
        Milliseconds of its last moment.
    moments : int
    out : bool
        Whether it was spat or swallowed.
    end : str
        Why it ended; empty while it goes on.
    """

    last: int = 0
    moments: int = 0
    out: bool = False
    end: str = ""


@dataclass(slots=True)
class FollowedSips:
    """The sips of a seat, in the order in which they were begun."""

    known: dict[Key, Followed] = field(default_factory=dict)

    def may(self, key: Key, moment: Moment, asked: TimedPart) -> bool:
        """Tell whether a moment fits behind what is known of its sip."""
        here = self.known.get(key)
        if moment.event == SIP:
            return here is None and moment.ms == 0 and moment.value is None
        if here is None or here.end or here.moments >= MOST:
            return False
        if not here.last <= moment.ms <= 1000 * asked.seconds:
            return False
        return _fits(key[2], moment, here, asked)

    def note(self, key: Key, moment: Moment) -> None:
        """Note a moment that was taken."""
        here = self.known.setdefault(key, Followed())
        here.last, here.moments = moment.ms, here.moments + 1
        here.out = here.out or moment.event == OUT
        if moment.event == END:
            here.end = str(moment.value)

    def stands(self, cup: str, part: str) -> str:
        """Return what became of a part of a cup: ``done``, ``broken``, or nothing."""
        own = [
            one for (_, name, which, _), one in self.known.items() if (name, which) == (cup, part)
        ]
        if not own:
            return ""
        return DONE if own[-1].end in (WHOLE, EARLY) else NOT_WHOLE


def _fits(part: str, moment: Moment, here: Followed, asked: TimedPart) -> bool:
    """Tell whether a value is one that its event can have."""
    value, event = moment.value, moment.event
    if event == WORD:
        return part == DOMINANCE and (value is None or value in asked.keys)
    if event == LEVEL:
        return part == INTENSITY and isinstance(value, float) and 0 <= value <= TOP
    if event == OUT:
        return not here.out and value in OUTS
    if event == AWAY:
        return isinstance(value, float) and value >= 0
    return value in ENDS and (value != WHOLE or moment.ms == 1000 * asked.seconds)
