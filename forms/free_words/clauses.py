"""Whole clauses: whose finding is it, was it only feared, is it denied or liked further on?

The readers and the frames know the words beside a thing. What is said of it in the next clause
("酢エチの心配あったが問題なし", "first sniff egg, second sniff nothing") is read here: a text is
cut into clauses, each is told for what it is, and then the clauses are read in order.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from .match import PLACES, Found, Match, Piece

CUES = (
    *("thought", "before", "other", "self", "denies", "loose", "instead", "fine", "listed"),
    *("bare", "placed", "only", "quoted", "gone", "gone_here", "likes", "past", "today"),
    *(
        "away",
        "whole",
        "left",
        "earlier",
        "foretold",
        "reported",
        "agrees",
        "praised",
        "too_little",
        "too_much",
    ),
)
# What the writer finds of what another said: "社長は甘すぎると言うが、私はちょうどいい".
OWN = ("praised", "too_little", "too_much")
# With one of these a thing may be in one place and not in another.
_PLACED = re.compile(r"nose|mouth|palate|sip|finish|鼻|(?<!入)口|含み|上立", re.IGNORECASE)
# "雑味っちゃ雑味だけど", "薄いと言えば薄い".
_SAME = re.compile("っちゃ|っちゃあ|と言えば|といえば|と言ったら|は|には|かと言えば")
# A place where it is looked for: "口では感じない".
_MOUTH = re.compile("口(?:の?中)?では|口中では")
_STYLES = ("young", "aged", "cloudy")
# So many clauses further on a thing may still be denied or taken back.
_REACH = 3
_STOP = re.compile(r"[,;.!?、。]|\b(?:at|in|on)\b")
_NOT_THAT = re.compile(r"\b(?:not|no|rather than)\b", re.IGNORECASE)
# What the label or another says of the one is taken back by the other.
_OPPOSED = {"dry": ("sweet", "sugar", "cloying"), "sweet": ("dry",), "light": ("heavy", "rich")}


@dataclass(frozen=True, slots=True)
class Clause:
    """A clause: where it stands, what it is (of `CUES`), its sentence, the things in it."""

    start: int
    end: int
    is_: frozenset[str]
    sentence: int
    things: tuple[int, ...]


@cache
def _language(
    language: str,
) -> tuple[re.Pattern[str], re.Pattern[str], dict[str, re.Pattern[str]], frozenset[str]]:
    content = tomllib.loads(files(__package__).joinpath("clauses.toml").read_text("utf-8"))
    listed = content[language]
    cues = {name: re.compile("|".join(f"(?:{one})" for one in listed[name])) for name in CUES}
    kinds = frozenset(listed["kinds"])
    return re.compile(listed["cut"]), re.compile(listed["sentence"]), cues, kinds


def clauses(text: str, matches: Sequence[Match], language: str) -> list[Clause]:
    """Cut a text into clauses and tell what each of them is.

    Parameters
    ----------
    text : str
    matches : sequence of Match
        In the order of the text.
    language : {"en", "ja"}
    """
    cut, ends, cues, _ = _language(language)
    masked = list(text.lower().replace("’", "'")) if len(text.lower()) == len(text) else list(text)
    for match in (one for one in matches if not (one.language == "en" and _where(one))):
        masked[match.start : match.end] = "*" * (match.end - match.start)
    flat = "".join(masked)
    made: list[Clause] = []
    at = sentence = 0
    marks = [(one.start(), one.end(), one.group()) for one in cut.finditer(flat)]
    for start, end, mark in [*marks, (len(flat), len(flat), "")]:
        said = re.sub(r"\*+", "*", flat[at:start]).strip()
        if said:
            things = tuple(n for n, one in enumerate(matches) if at <= one.start < start)
            is_ = frozenset(name for name, cue in cues.items() if cue.search(said))
            is_ |= {"asks"} if mark.startswith(("?", "？")) else set()
            made.append(Clause(at, start, is_, sentence, things))
        sentence += bool(ends.search(mark))
        at = end
    return made


def over_clauses(
    matches: Sequence[Match], text: str, fault: Callable[[Match], bool], found: Found
) -> list[Match]:
    """Return the matches as the clauses around them say; what is said of no sake becomes unmatched.

    Parameters
    ----------
    matches : sequence of Match
        Judged already, in the order of the text.
    text : str
        The whole text.
    fault : callable
        Whether the plain name of a match is a complaint.
    found : Found
        Gets what is left for a person.
    """
    made = list(matches)
    if not made:
        return made
    languages = dict.fromkeys(match.language for match in made)
    for language in languages:
        _read(made, text, clauses(text, made, language), fault, language)
    _once(made, text)
    kept = []
    for match in sorted(made, key=lambda one: one.start):
        if match.key:
            kept.append(match)
        else:
            found.unmatched.append(Piece(text=match.text, start=match.start, end=match.end))
    return kept


def _read(
    made: list[Match],
    text: str,
    listed: Sequence[Clause],
    fault: Callable[[Match], bool],
    language: str,
) -> None:
    """Read the clauses in order; a match without a key is left for a person."""
    if any("whole" in clause.is_ for clause in listed):
        made[:] = [replace(match, key="") for match in made]
        return
    added: list[Match] = []
    aside = False
    for place, clause in enumerate(listed):
        mine = [n for n in clause.things if made[n].language == language and made[n].key]
        aside = "away" in clause.is_ or (aside and "bare" in clause.is_)
        if mine and (aside or "foretold" in clause.is_):
            for n in mine:
                made[n] = replace(made[n], key="")
            continue
        if mine:
            _take_back(made, mine, clause, listed[place + 1 : place + 1 + _REACH])
        back = _before(listed, place, made)
        if not back:
            continue
        back = [n for n in back if not _where(made[n])] or back
        last = made[back[-1]]
        if mine and "only" in clause.is_ and fault(last) and last.polarity == "fault":
            _deny(made, back[-1:])
        if all(_where(made[n]) for n in clause.things):
            placed = "placed" in clause.is_ or clause.things
            if placed and clause.is_ & {"denies", "gone"} and fault(last):
                there = _denied_there(last, text, clause)
                added.append(there)
                if _MOUTH.match(there.text) and not clause.things:
                    added.append(replace(there, key="fukumi", polarity="noted", negated=False))
            else:
                _deny(made, _denied(clause, back, last, fault))
        if "likes" in clause.is_ and not mine:
            blamed = next((n for n in reversed(back) if made[n].polarity == "fault"), back[-1])
            beside = [made[n] for n in back if n > blamed]
            if all(one.polarity == "noted" or one.key in _STYLES for one in beside):
                last = made[blamed]  # "Rough, as fresh sake should be, I enjoy that."
            for n in back:
                if made[n].key == last.key and made[n].polarity == "fault":
                    made[n] = replace(made[n], polarity="praised")
                elif made[n].key == last.key and made[n].polarity == "too_little":
                    made[n] = replace(made[n], negated=True, polarity="absent")
    made += added


def _deny(made: list[Match], places: Sequence[int]) -> None:
    """Say of the things at these places that they are not there."""
    for n in places:
        made[n] = replace(made[n], negated=True, polarity="absent")


def _take_back(
    made: list[Match], mine: Sequence[int], clause: Clause, later: Sequence[Clause]
) -> None:
    """Deny the things of a clause that were of another year, thought or said by others alone."""
    past = "past" in clause.is_ and "today" not in clause.is_
    if past and any("today" in one.is_ and (one.things or "fine" in one.is_) for one in later[:1]):
        _deny(made, mine)
    if "other" in clause.is_:
        contrary = {made[n].key for one in later for n in one.things if not made[n].negated}
        _deny(made, [n for n in mine if contrary & set(_OPPOSED.get(made[n].key, ()))])
    if "gone_here" in clause.is_:
        _deny(made, mine[-1:])
    told = bool(later) and not later[0].things and "quoted" in later[0].is_
    if (told or clause.is_ & {"thought", "before", "other", "asks", "reported"}) and any(
        _denies(one, clause, told=told) for one in later
    ):
        _deny(made, mine)
    elif "reported" in clause.is_ and not any("agrees" in one.is_ for one in (clause, *later)):
        own = next((one for one in later if "self" in one.is_ and not one.things), None)
        said = [how for how in OWN if own is not None and how in own.is_]
        for n in mine:
            made[n] = replace(made[n], polarity=said[0]) if said else replace(made[n], key="")


def _denied(
    clause: Clause, back: Sequence[int], last: Match, fault: Callable[[Match], bool]
) -> Sequence[int]:
    """Return which of the things before a clause it says are not there."""
    if "listed" in clause.is_ and (len(back) > 1 or fault(last)):
        return back
    # "ムレ香。冷たいうちは気づかなかった": it is there now.
    denied = "denies" in clause.is_ and "earlier" not in clause.is_ and fault(last)
    gone = "gone" in clause.is_ and not ("left" in clause.is_ and fault(last))
    return back[-1:] if denied or gone else ()


def _denied_there(match: Match, text: str, clause: Clause) -> Match:
    """Return that a fault is not in one place, beside that it is in another."""
    said = text[clause.start : clause.end].strip()
    start = text.index(said, clause.start)
    end = start + len(said)
    return replace(match, negated=True, polarity="absent", text=said, start=start, end=end)


def _where(match: Match) -> bool:
    """Tell whether a place is only where something is looked for: "口に含むと", "in the mouth"."""
    said = match.text.lower()
    return match.key in PLACES and (
        said.endswith(("と", "で", "では"))
        or said.startswith(("in ", "on "))
        or said in ("palate", "mouth")
    )


def _once(made: list[Match], text: str) -> None:
    """Leave a denial that the same word takes back later: "老ね香という程ではない、少々ひね".

    Leave too what is named a second time: "雑味っちゃ雑味だけど", "木の香りがするが樽ではない".
    """
    if any(match.key in PLACES for match in made) or _PLACED.search(text):
        return
    for place, match in enumerate(made):
        again = [one for one in made[place + 1 :] if one.key == match.key and not one.negated]
        kinds = [one for one in made[:place] if one.key == match.key and not one.negated]
        unlike = any(one.text.lower() != match.text.lower() for one in kinds)
        between = text[kinds[-1].end : match.start] if unlike else ""
        close = _NOT_THAT.search(between) and not _STOP.search(between)
        if match.key in _language(match.language)[3] and unlike:
            close = True
        if match.key and match.negated and (again or close):
            made[place] = replace(match, key="")
        other = next((one for one in made[:place] if one.key == match.key), None)
        denied = match.key and match.negated and match.language == "ja"
        rather = text.startswith(
            ("ではなく", "じゃなく", "でなく", "までは", "までいか"), match.end
        )
        named = other and other.text != match.text and (other.polarity == "noted" or rather)
        if denied and named:
            made[place] = replace(match, key="")
        if match.key and again and _SAME.fullmatch(text[match.end : again[0].start]):
            made[place] = replace(match, key="")


def _denies(later: Clause, clause: Clause, *, told: bool) -> bool:
    """Tell whether a later clause takes back what was thought or what somebody else said."""
    if "loose" in later.is_ and "thought" in clause.is_:
        return True
    if told and "only" in later.is_:
        return True
    if later.is_ & {"denies", "instead"}:
        return "likes" not in later.is_
    return "fine" in later.is_ and "thought" in clause.is_


def _before(listed: Sequence[Clause], place: int, made: Sequence[Match]) -> list[int]:
    """Return the things of the clauses directly before one, back to the first without any."""
    back: list[int] = []
    skipped = 0
    for one in reversed(listed[:place]):
        here = [n for n in one.things if made[n].key]
        if not here and (back or skipped):
            break
        skipped += not here
        back = [*here, *back]
    return back
