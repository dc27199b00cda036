"""What the words directly around a thing say of it: "X: nil", "could use more X", "X sticks out".

The readers go from word to word; a frame is a whole turn of speech. Frames are tried last, on each
thing that was read, and know nothing of which thing it is. A sentence that only asks or talks about
a word ("how does one spell umami") is left for a person.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

from .match import PLACES, Found, Match, Piece, around

# In this order: the first frame that fits is taken.
SAYS = (
    *("of_other", "left", "there", "notthat", "liked", "none", "low", "few", "hid", "more", "less"),
    *("unmeant", "bad", "odd", "praise"),
)
# These reach over no other thing that was read.
_NEAR = ("few", "hid", "more", "less", "bad", "odd", "praise")
# A question about the making, beside what is found: "マスカット様、酵母は何ですか".
_OF_MAKING = re.compile(
    "酵母|米|品種|精米|火入れ|原酒|生酒|山廃|生酛|樽|古酒|何年|何号|いくら|値段|度数|狙い"
)
_THERE = re.compile(r"(?:in|on|retro)", re.IGNORECASE)
_SENTENCE = re.compile(r"[^.!。！\n]+")


@dataclass(frozen=True, slots=True)
class Frames:
    """The frames of one language: pairs of what stands before and behind, by what they say."""

    asked: tuple[re.Pattern[str], ...]
    said: dict[str, tuple[tuple[re.Pattern[str] | None, re.Pattern[str] | None], ...]]


@cache
def frames(language: str) -> Frames:
    """Return the frames of a language, compiled."""
    content = tomllib.loads(files(__package__).joinpath("frames.toml").read_text("utf-8"))
    listed: dict[str, Any] = content[language]

    def before(text: str) -> re.Pattern[str]:
        gap = r"\W{0,2}" if language == "en" else ""
        return re.compile(rf"(?:{text}){gap}{listed['lead']}$", re.IGNORECASE)

    def after(text: str) -> re.Pattern[str]:
        return re.compile(rf"{listed['link']}(?:{text})", re.IGNORECASE)

    def any_of(texts: Sequence[str]) -> list[str]:
        return ["|".join(f"(?:{text})" for text in texts)] if texts else []

    def told(says: str) -> Iterator[tuple[re.Pattern[str] | None, re.Pattern[str] | None]]:
        own = listed[says]
        yield from ((before(text), None) for text in any_of(own.get("before", ())))
        # One pattern takes a third of the time of many; but how far each reaches counts for some.
        behind = own.get("after", ())
        for text in behind if says in _NEAR else any_of(behind):
            yield None, after(text)
        yield from ((before(one), after(other)) for one, other in own.get("pairs", ()))

    said = {says: tuple(told(says)) for says in SAYS if says in listed}
    asked = tuple(re.compile(text, re.IGNORECASE) for text in listed["asked"])
    return Frames(asked, said)


def framed(
    matches: Sequence[Match], text: str, faults: Sequence[bool], found: Found
) -> list[Match]:
    """Return the matches with what a frame says of them; what is only asked becomes unmatched.

    Parameters
    ----------
    matches : sequence of Match
        Judged already.
    text : str
        The whole text.
    faults : sequence of bool
        For each match whether its plain name is a complaint.
    found : Found
        Gets what is left for a person.
    """
    plain = text.replace("’", "'")
    made: list[Match] = []
    ends = [*(match.start for match in matches[1:]), len(text)][: len(matches)]
    for match, fault, end in zip(matches, faults, ends, strict=True):
        if _asked(match, plain):
            found.unmatched.append(Piece(text=match.text, start=match.start, end=match.end))
            continue
        says = _says(match, plain, max(end, match.end))
        if says == "of_other":
            found.unmatched.append(Piece(text=match.text, start=match.start, end=match.end))
            continue
        made.append(_read(match, says, fault=fault) if says else match)
    return made


def _asked(match: Match, text: str) -> bool:
    """Tell whether the sentence of a match only asks or talks about it."""
    asked = frames(match.language).asked
    for sentence in _SENTENCE.finditer(text):
        if sentence.start() <= match.start < sentence.end():
            if not any(one.search(sentence.group().strip()) for one in asked):
                return False
            own = _own_clause(match, text)
            others = sentence.group().replace(own, "", 1)
            apart = _OF_MAKING.search(others) and own != sentence.group()
            return not apart or any(one.search(own.strip()) for one in asked)
    return False


def _own_clause(match: Match, text: str) -> str:
    """Return the clause that a match stands in, between commas or stops."""
    first = max(text.rfind(mark, 0, match.start) for mark in "、,。.!！?？\n") + 1
    ends = [at for mark in "、,。.!！?？\n" if (at := text.find(mark, match.end)) >= 0]
    return text[first : min(ends, default=len(text))]


def _says(match: Match, text: str, end: int) -> str:
    """Return what a frame around the match says, or nothing; the next thing begins at `end`."""
    left, right = text[: match.start], text[match.end :]
    placed = match.key in PLACES and right.startswith("に")
    for says, listed in frames(match.language).said.items():
        for before, after in listed:
            if before is not None and before.search(left) is None:
                continue
            fits = after.match(right) if after is not None else None
            if after is not None and fits is None:
                continue
            if says in _NEAR and (placed or (fits and match.end + fits.end() > end)):
                continue
            return says
    return ""


def _read(match: Match, says: str, *, fault: bool) -> Match:
    """Return a match with what a frame says of it."""
    keys = around(match.language)["keys"]
    lacking, virtue = match.key in keys["lacks"], match.key in keys["virtues"]
    said = match.polarity
    if says == "left" and fault:
        return replace(match, negated=False, polarity="fault")
    if says == "left":
        return match
    if says == "there":
        again = said in ("absent", "praised", "noted") and fault
        undone = said == "absent" or match.negated  # "キレがないとは言わせない".
        polarity = "fault" if again else "noted" if undone else said
        return replace(match, negated=False, polarity=polarity)
    if says == "notthat":
        form = match.language != "ja" or match.text.endswith(("ない", "なし", "ず"))
        if match.negated and not form:
            return match  # "辛いわけではない": denied once.
        if match.negated:
            return replace(match, negated=False, polarity="fault" if fault else "noted")
        if said in ("too_much", "too_little"):
            return replace(match, polarity="noted")
        return replace(match, negated=True, polarity="absent")
    if says == "none" and match.key in PLACES and match.text.endswith(("と", "で", "では")):
        return match  # "口に含むと感じない".
    if says in ("none", "few", "more") and match.key == "fukumi" and _THERE.match(match.text):
        return match  # "None retronasally": that is where it is not.
    if says == "low":
        return replace(match, negated=True, polarity="absent") if fault and not lacking else match
    if says == "none" and said == "too_much":
        return match  # "辛すぎて味が見えない".
    if says == "none" or (says in ("few", "hid") and (fault or match.key in keys["unmissed"])):
        if lacking or match.key in PLACES[:2] or (says == "none" and virtue):
            return match
        return replace(match, negated=True, polarity="absent")
    if says in ("few", "more"):
        wanted = match.key in (*keys["virtues"], *keys["scarce"]) or says == "more"
        short = replace(match, negated=False, polarity="too_little")
        return short if wanted and not fault and not lacking else match
    if says == "less":
        return match if fault else replace(match, negated=False, polarity="too_much")
    if says == "liked":
        return match if match.negated else replace(match, polarity="praised")
    if match.negated or fault or lacking:
        return match
    if says == "odd":
        odd = match.key in (*PLACES, "touch") and said == "noted"
        return replace(match, polarity="fault") if odd else match
    if says == "unmeant":
        return replace(match, key="hazy", polarity="fault") if match.key == "cloudy" else match
    if says == "bad":
        worse = said in ("noted", "praised") or match.key == "after"
        return replace(match, polarity="fault") if worse else match
    return replace(match, polarity="praised") if said == "noted" else match
