"""Time in the mouth as telephones told it: sips, each with what happened in it.

The events are touches of the kind ``timed`` and stay what they are; nothing of them is an answer.
A sip counts if it was followed to its end and no later one of the same cup took its place.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from typing import Any

from .store import Store

KIND = "timed"
SIP, WORD, LEVEL, OUT, AWAY, END = "sip", "word", "level", "out", "away", "end"
EVENTS = (SIP, WORD, LEVEL, OUT, AWAY, END)
"""The sip; what strikes from now on (or nothing); how strong it is now; spat or swallowed; the
page was out of sight since then, for so many milliseconds; the end."""
OUTS = ("spat", "swallowed")
WHOLE, EARLY, AGAIN, SLEPT = "time", "early", "again", "slept"
ENDS = (WHOLE, EARLY, AGAIN, SLEPT)
"""Why a sip ended: its time was over; nothing was left to tell; the assessor began again; the
telephone stood still, so that its clock told no more."""
COUNTED, REPLACED, BROKEN = "counted", "begun again", "broken off"
_RUN = re.compile(r"[0-9a-f]{8}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What happened in a sip, as the telephone's own clock has it.

    Attributes
    ----------
    run : str
        Eight hexadecimal digits that the page drew for this sip.
    ms : int
        Milliseconds since the sip.
    event : str
        One of `EVENTS`.
    value : str, float or None
        A word's key, or nothing; a level; one of `OUTS`; milliseconds; one of `ENDS`.
    """

    run: str
    ms: int
    event: str
    value: str | float | None = None

    def plain(self) -> dict[str, Any]:
        """Return it as the page sends it."""
        return asdict(self)


def moment_of(told: Any) -> Moment | None:
    """Read what a page sent; None if no page of ours sends it.

    Examples
    --------
    >>> moment_of({"run": "0123abcd", "ms": 1200, "event": "word", "value": "sweetness"}).ms
    1200
    >>> moment_of({"run": "0123abcd", "ms": 1.5, "event": "sip"}) is None
    True
    """
    if not isinstance(told, dict) or not set(told) <= {"run", "ms", "event", "value"}:
        return None
    run, ms, event, value = (told.get(name) for name in ("run", "ms", "event", "value"))
    if not isinstance(run, str) or not _RUN.fullmatch(run) or event not in EVENTS:
        return None
    if type(ms) is not int or abs(ms) > 1 << 50:
        return None
    if type(value) not in (str, int, float, type(None)):
        return None
    if isinstance(value, str):
        return Moment(run=run, ms=ms, event=event, value=value) if len(value) <= 60 else None
    if value is None:
        return Moment(run=run, ms=ms, event=event)
    number = float(value) if abs(value) < 1e9 else math.inf
    return Moment(run=run, ms=ms, event=event, value=number) if math.isfinite(number) else None


@dataclass(slots=True, kw_only=True)
class Sip:
    """One sip of a cup.

    Attributes
    ----------
    plan, assessor, code, part : str
    number : int
        From 1, of this cup and part.
    state : str
        ``counted``, ``begun again`` or ``broken off``.
    moments : list of Moment
    """

    plan: str
    assessor: str
    code: str
    part: str
    number: int = 1
    state: str = BROKEN
    moments: list[Moment] = field(default_factory=list)

    @property
    def end(self) -> str:
        """Why it ended; empty if it did not."""
        last = self.moments[-1]
        return str(last.value) if last.event == END else ""


def sips(store: Store) -> list[Sip]:
    """Return all sips of a store, in the order in which they were begun."""
    rows = store.database.execute(
        "SELECT plan, assessor, device, code, attribute, value FROM touches "
        "WHERE kind = ? AND outcome = 'saved' ORDER BY id",
        (KIND,),
    )
    found: dict[tuple[str, ...], Sip] = {}
    for plan, assessor, device, code, part, said in rows:
        moment = moment_of(json.loads(said))
        if moment is None:
            continue
        key = (plan, assessor, device, code, part, moment.run)
        if key not in found:
            found[key] = Sip(plan=plan, assessor=assessor, code=code, part=part)
        found[key].moments.append(moment)
    _count(found.values())
    return list(found.values())


def _count(every: Iterable[Sip]) -> None:
    """Give the sips of each cup their numbers, and say which one counts."""
    cups: dict[tuple[str, ...], list[Sip]] = {}
    for sip in every:
        cups.setdefault((sip.plan, sip.assessor, sip.code, sip.part), []).append(sip)
    for own in cups.values():
        for number, sip in enumerate(own, start=1):
            sip.number = number
            if sip.end in (WHOLE, EARLY):
                sip.state = COUNTED if sip is own[-1] else REPLACED
            elif sip.end == AGAIN:
                sip.state = REPLACED
