"""Blind codes: three digits that suggest nothing, each used once in a session."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import permutations
from string import digits

from ..base.errors import PlanRefused
from .secret_draw import Draw

_PATIENCE = 2_000
"""Deals tried until no code meets a bottle again; only after hundreds of sessions more than one."""


def _plain(code: str) -> bool:
    """Tell whether three different digits suggest nothing: no nought in front, no run.

    A run counts up or down by one: 123, 789, 321, 210.
    """
    return code[0] != "0" and code not in digits and code[::-1] not in digits


PLAIN = tuple(filter(_plain, map("".join, permutations(digits, 3))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """Codes that were dealt before.

    Attributes
    ----------
    here : frozenset of str
        In this session, by an earlier plan or a late change: never dealt again.
    last : mapping of str to str
        In other sessions: when each code was dealt last (ISO 8601).
    met : mapping of str to frozenset of str
        In other sessions: the bottles that a code stood for, folded by `folded`.
    """

    here: frozenset[str] = frozenset()
    last: Mapping[str, str] = field(default_factory=dict)
    met: Mapping[str, frozenset[str]] = field(default_factory=dict)


def folded(bottle: str) -> str:
    """Return a bottle's name as it is compared between sessions: capitals and blanks aside."""
    import unicodedata

    return " ".join(unicodedata.normalize("NFKC", bottle).casefold().split())


def blind_codes(bottles: Sequence[str], draw: Draw, used: Used | None = None) -> list[str]:
    """Draw a three-digit code for each of `bottles`, a bottle's name standing once a label.

    Codes with a repeated digit and runs such as 123, 987 or 210 are left out: they
    stick in the mind (common practice, no source). Codes that were never dealt
    come first, then those unused longest; which label gets which is by lot, but
    a code never meets the bottle again that it stood for in an earlier session.

    Raises
    ------
    PlanRefused
        If more are asked for than there are, or every deal repeats a meeting.
    """
    used = used or Used()
    left = [code for code in draw.shuffled(PLAIN, "codes") if code not in used.here]
    if len(bottles) > len(left):
        raise PlanRefused("plan.too_many_codes", wanted=len(bottles), have=len(left))
    chosen = sorted(left, key=lambda code: used.last.get(code, ""))[: len(bottles)]
    names = [folded(bottle) for bottle in bottles]
    for turn in range(_PATIENCE):
        dealt = draw.shuffled(sorted(chosen), "deal", turn)
        if not any(name in used.met.get(code, ()) for code, name in zip(dealt, names, strict=True)):
            return dealt
    raise PlanRefused("plan.codes_meet_again")
