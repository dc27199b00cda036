"""What is said *of* a thing: praise, a complaint, too much, too little, or only that it is there.

A reader hands over what it matched and the signs around it (a word of praise, "too",
"not enough"), in segments that a pause or a "but" parts. English puts the sign before
the thing, Japanese after it; a segment with a sign alone speaks of what stood before.
A praised thing is never turned into a complaint, and the name of a fault is taken for
praise only where the praise is said of it directly.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from ..questions.term_vocabulary import Vocabulary
from .match import Found, Match, Sign, around

PLACES = ("nose", "aroma", "fukumi", "after")
_MINUS = re.compile(r"\s*[(（]\s*[-−–ー－]\s*[)）]")


def judge(text: str, found: Found, words: Vocabulary) -> list[Match]:
    """Return the matches with their polarity, and leave in ``found.signs`` those not used."""
    matches = sorted(found.matches, key=lambda match: (match.start, match.end))
    matches = [replace(m, negated=True) if _MINUS.match(text, m.end) else m for m in matches]
    made = [replace(match, polarity=_plain(match, words)) for match in matches]
    breaks = sorted(found.breaks)
    unused: list[Sign] = []
    for sign in sorted(found.signs, key=lambda sign: sign.start):
        own = _segment(made, sign, breaks)
        targets = _targets(made, own, sign)
        alone = not own
        if alone:
            targets = _before(made, sign, found.signs, breaks)
        changed = False
        for place in targets:
            new = _said(made[place], sign, words, alone=alone)
            changed = True
            made[place] = new
        if not changed:
            unused.append(sign)
    found.signs[:] = unused
    for place, (match, following) in enumerate(pairwise(made)):
        named = is_fault(following.key, words) or following.key == "bitter"
        inside = match.key in PLACES and text[match.end : match.end + 1] == "に"
        if inside and named and following.polarity == "fault":
            made[place] = replace(match, polarity="fault")
    return made


def _plain(match: Match, words: Vocabulary) -> str:
    """Return the polarity of a match of which nothing more is said."""
    keys = around(match.language)["keys"]
    if match.negated:
        return "too_little" if match.key in keys["virtues"] else "absent"
    if match.polarity != "noted":
        return match.polarity
    if is_fault(match.key, words) or match.key in keys["complaints"]:
        return "fault"
    if match.key in keys["lacks"] or (match.degree == "slight" and match.key in keys["virtues"]):
        return "too_little" if match.key in keys["lacks"] else "noted"
    return "praised" if match.key in keys["admired"] else "noted"


def is_fault(key: str, words: Vocabulary) -> bool:
    """Tell whether the name itself is a complaint.

    >>> from ..questions.term_vocabulary import vocabulary
    >>> is_fault("stale", vocabulary()), is_fault("banana", vocabulary())
    (True, False)
    """
    return key in words and (words[key].fault or words.family_of(words[key]).sense == "fault")


def _segment(made: Sequence[Match], sign: Sign, breaks: Sequence[int]) -> list[int]:
    """Return the places of the matches between the same two breaks as the sign."""
    low = max((at for at in breaks if at <= sign.start), default=0)
    high = min((at for at in breaks if at >= sign.end), default=1 << 60)
    return [n for n, match in enumerate(made) if low <= match.start and match.end <= high]


def _targets(made: Sequence[Match], own: Sequence[int], sign: Sign) -> list[int]:
    """Return what a sign speaks of inside its segment."""
    before = [n for n in own if made[n].end <= sign.start]
    past = [n for n in own if made[n].start >= sign.end]
    balance = [n for n in own if made[n].key == "balance"]
    if sign.language == "ja":
        touching = past and sign.leads and made[past[0]].start == sign.end
        return past[:1] if touching or not before else _with_similes(made, before, sign)
    if sign.kind == "praise" and balance:
        return balance
    if sign.trails:
        return before if sign.kind == "praise" else before[-1:]
    if past:
        near = past if sign.kind == "praise" else past[:1]
        return [n for n in near if n == past[0] or not _complaint(made[n])]
    return before if sign.kind == "praise" else before[-1:]


def _with_similes(made: Sequence[Match], before: Sequence[int], sign: Sign) -> list[int]:
    """Take with a thing what it is only likened to: "丁子のようなスパイス香が良い"."""
    taken = [before[-1]]
    for place in reversed(before[:-1]):
        if sign.kind != "praise" or not made[place].likened:
            break
        taken.append(place)
    return taken


def _before(
    made: Sequence[Match], sign: Sign, signs: Sequence[Sign], breaks: Sequence[int]
) -> list[int]:
    """Return what a sign that stands alone speaks of: what was said before it."""
    before = [n for n, match in enumerate(made) if match.end <= sign.start]
    if sign.trails and sign.kind in ("praise", "few"):
        return before[-1:]
    if sign.kind == "praise":
        since = max((one.end for one in signs if one.end <= sign.start), default=0)
        since = max((at for at in breaks if at <= since), default=0)
        praised = [n for n in before if made[n].polarity == "noted" and made[n].start >= since]
        return praised if sign.lone else []
    return before[-1:] if sign.lone else []


def _complaint(match: Match) -> bool:
    return match.polarity in ("fault", "too_much", "too_little")


def _said(match: Match, sign: Sign, words: Vocabulary, *, alone: bool) -> Match:
    """Return a match with what a sign says of it."""
    keys = around(match.language)["keys"]
    fault = is_fault(match.key, words) or match.key in keys["complaints"]
    virtue = match.key in keys["virtues"]
    if sign.kind == "few":
        if fault or match.key in keys["unwanted"]:
            return replace(match, negated=True, polarity="absent")
        return replace(match, degree="slight", polarity="too_little" if virtue else match.polarity)
    if sign.kind == "enough":
        short = match.negated and not fault
        return replace(match, negated=False, polarity="too_little") if short else match
    if match.negated:
        return match
    if sign.kind == "praise":
        touching = sign.language == "ja" or 0 <= match.start - sign.end <= 1
        directly = sign.trails or (not alone and touching)
        if match.key in keys["lacks"] or match.polarity in ("too_much", "too_little"):
            return match
        return replace(match, polarity="praised") if not fault or directly else match
    if fault:
        return match
    if sign.kind == "bad":
        lacking = virtue and match.key != "balance"
        return replace(match, polarity="too_little" if lacking else "fault")
    if sign.kind == "much":
        return replace(match, polarity="too_much")
    if sign.kind == "little" or (sign.kind == "weak" and virtue and match.key not in PLACES[:3]):
        return replace(match, polarity="too_little")
    return match
