"""Reading free English: a clause is cut into items, which are then read in order.

The longest thing that is known is always taken. What is not known stays as an item too, so
that nothing is lost.
"""

from __future__ import annotations

import re
from dataclasses import replace

from ..questions.term_vocabulary import Vocabulary
from .companions import one_thing
from .english_context import (
    alone,
    charmed,
    compounds,
    exclaimed,
    itself,
    judged,
    likened,
    longed_for,
    manners,
    mistaken,
    other_things,
    promised,
    scenes,
    wished,
)
from .english_subjects import TITLES, off_subject
from .english_words import EnglishLexicon, Token, lexicon, stem, understood
from .match import Found, Item, Piece, around, plain

_TOKEN = re.compile(
    r"\b(?:[wW]/[oO]|[dD]/[aA]|[nN]/[aA])\b|(?<=\s)[-–—]+(?=\s)|\b(?:\d[A-Za-z]{2}|[A-Za-z]\d[A-Za-z]|[A-Za-z]{2}\d)\b|[^\W\d_]+(?:['’][^\W\d_]+)?|\d+(?:[.,]\d+)*|\S"
)
# "A bit to sweet", "to much alcohol" at the head of a clause: "too".
_TOO = re.compile(
    r"(?:(?<=\bis )|(?<=\bwas )|(?<=\bbit )|(?<=\bfar )|(?<=\bway )|(?<=\btouch )|(?<=\blittle )"
    r"|(?<=\bjust )|(?<=^)|(?<=, ))to(?= (?:much|weak|strong|sweet|dry|bitter|sour|acidic|heavy"
    r"|light|thin|hot|faint|short|long|salty|woody|rich|young|old|little|loud|intense|sharp|rough)\b"
    r"(?! (?:it|the|my)\b))",
    re.IGNORECASE,
)
# "No. 3" is a bottle, no denial.
_NUMBER = re.compile(r"\b[Nn]os?(?:\.\s?|\s)(?=\d+(?![\w-]))")
_CLAUSE_END = frozenset(",.;:!?()[]/…、。・！？，．")
_LONGEST = 6
# A clause that begins so and ends in a question mark asserts nothing.
_ASKING = frozenset(
    {
        "is",
        "are",
        "was",
        "do",
        "doe",
        "does",
        "did",
        "has",
        "have",
        "any",
        "what",
        "why",
        "how",
        "who",
        "should",
        "am",
        "can",
        "which",
        "when",
        "shall",
    }
)
# "Is it hineka?" doubts; "is there any hineka?" asks.
_DOUBTING = frozenset({"it", "that", "this", "anyone", "anybody"})
# "Is the gas intended?" says that there is gas.
_MEANT = frozenset(
    {"intended", "meant", "intentional", "deliberate", "purpose", "design", "wanted"}
)
# "Does this have added alcohol?" asks for a fact.
_OF_FACTS = frozenset({"do", "doe", "does", "did", "has", "have", "how", "what", "why", "which"})
# Alone after a doubt these deny it: "diacetyl? none"; "musty? I don't get it".
_DENIALS = frozenset(
    {"no", "none", "not", "nope", "nah", "disagree", "don't", "can't", "gone", "impossible"}
)
_MERE = frozenset(
    {"really", "there", "here", "at", "all", "but", "detected", "i", "do", "agree", "get", "it"}
    | {
        "find",
        "see",
        "think",
        "so",
        "that",
        "smell",
        "taste",
        "is",
        "has",
        "now",
        "by",
        "completely",
    }
)
# "Green apple, by which I mean aldehyde": the second word is meant.
_BY_WHICH = re.compile(
    r"(?:by (?:which|that) i mean|i mean|or rather|that is|namely)\b", re.IGNORECASE
)
# "Sulphur free for once."
_OF_NOW = frozenset({"for", "this", "today", "now", "again", "at"})
_SEEMS = frozenset({"taste", "smell", "look", "seem", "sound", "feel"})
_LIKED = frozenset(
    {"a", "very", "so", "here", "that", "and", "better", "more", "this", "in", "too"}
)


def read(text: str, offset: int, words: Vocabulary, found: Found) -> None:
    """Read English text that begins at `offset` of the whole into `found`."""
    known = lexicon(words)
    clause: list[Token] = []
    last = -1
    text = _NUMBER.sub(lambda one: "#" * len(one.group()), text)
    listed = _denied_lists(text)
    for sign in _TOKEN.finditer(text):
        written = sign.group()
        if written == "," and any(first < sign.start() < past for first, past in listed):
            continue
        if written == "." and clause and clause[-1].text.lower() in TITLES:
            continue
        if written in _CLAUSE_END or (written[0] in "-–—" and text[sign.start() - 1].isspace()):
            _clause(clause, text, offset, known, found, doubtful=written in "?？")
            clause = []
        elif written[0].isalnum():
            glued = last >= 0 and text[last : sign.start()] == "-"
            whole = stem(clause[-1].text + written) if glued and clause else ""
            if (whole,) in known.ways and (stem(clause[-1].text),) not in known.ways:
                first = clause.pop()  # "Di-acetyl".
                said = text[first.start : sign.end()]
                clause.append(Token(said, whole, "form", first.start, sign.end(), first.glued))
                last = sign.end()
                continue
            meant, how = understood(stem(written), known)
            if written.lower() == "to" and _TOO.match(text, sign.start()):
                meant, how = "too", "spelling"
            how = "form" if how == "exact" and meant != plain(written) else how
            clause.append(Token(written, meant, how, sign.start(), sign.end(), glued))
            last = sign.end()
    _clause(clause, text, offset, known, found, doubtful=False)
    _in_the_mouth(text, offset, known, found)


# "Clean finish", "dry finish" are one thing; "cloying finish" is of the whole.
_NO_FINISH = frozenset(
    {
        "dry",
        "clean_cut",
        "clean",
        "cloying",
        "short_finish",
        "long_finish",
        "light",
        "bright",
        "clear",
    }
)
_NOSE = re.compile(
    r"\b(?:nose|nosing|only (?:in (?:the|my) mouth|on (?:the )?palate))\b", re.IGNORECASE
)
_MOUTH = re.compile(
    r"\b(?:in (?:the|my) mouth|mouth(?=\s*[:=–—-])|(?<=gone )on (?:the )?palate"
    r"|(?<=none )on (?:the )?palate|(?<=only )on (?:the )?palate"
    r"|palate(?= (?:is )?(?:clean|free) of))",
    re.IGNORECASE,
)


_DENIED = re.compile(
    r"\b(?:no|without|free of|free from|not|neither|devoid of)\b((?: [\w'-]+){1,5})"
    r"((?:, [\w'-]+(?: [\w'-]+)?)*,? (?:or|nor) [\w'-]+)",
    re.IGNORECASE,
)


def _denied_lists(text: str) -> list[tuple[int, int]]:
    """Return what no comma parts: "no glue, vinegar or butter", "a clean, dry finish"."""
    anew = set(around("en")["anew"])
    spans = [
        found.span()
        for found in _DENIED.finditer(text)
        if not anew & set(re.findall(r"[\w']+", found.group(2).lower()))
    ]
    return spans + [found.span() for one in one_thing("en") for found in one.finditer(text)]


def _clause(
    tokens: list[Token],
    text: str,
    offset: int,
    known: EnglishLexicon,
    found: Found,
    *,
    doubtful: bool,
) -> None:
    """Read the words between two signs of punctuation."""
    items = compounds(_items(tokens, known), tokens, known)
    second = tokens[1].stem if len(tokens) > 1 else ""
    doubts = second in _DOUBTING and not (second == "this" and tokens[0].stem in _OF_FACTS)
    doubts |= bool(_MEANT & {token.text.lower() for token in tokens[2:]})
    asks = doubtful and tokens and tokens[0].stem in _ASKING and not doubts
    if asks or any(item.kind == "elsewhere" for item in items):
        items = [replace(item, kind="left") if item.kind == "match" else item for item in items]
    items = mistaken(other_things(items, tokens, known), tokens, text)
    items = off_subject(items, tokens, known)
    items = likened(items, tokens, known)
    items = wished(exclaimed(items, tokens, found), tokens)
    items = manners(longed_for(items, tokens, known), tokens)
    items = charmed(promised(scenes(items, tokens, known), tokens), tokens)
    items = judged(items, tokens, known, doubtful=doubtful)
    said = {token.stem for token in tokens}
    denied = len(tokens) <= 5 and said & _DENIALS and said <= _DENIALS | _MERE
    if _BY_WHICH.match(text[tokens[0].start :] if tokens else "") and found.matches:
        unlike = found.matches.pop()
        found.unmatched.append(Piece(text=unlike.text, start=unlike.start, end=unlike.end))
    instead = tokens and tokens[0].stem in ("just", "only", "merely", "simply")
    instead = instead and any(item.kind == "match" for item in items)
    asked = found.matches and text[found.matches[-1].end - offset :].startswith("?")
    if (denied or (instead and asked)) and found.matches:
        found.matches[-1] = replace(found.matches[-1], negated=True)
    carriers = around("en")["carriers"]
    others = any(item.kind == "match" and item.key not in carriers for item in items)
    if not found.matches and not any(item.kind == "match" for item in items):
        items = [itself(item, tokens) for item in items]
        items = alone(items, tokens)
    if tokens:
        found.breaks.append(offset + tokens[-1].end)
    before = Item("", -1, -1)
    for item in items:
        start, end = tokens[item.first].start, tokens[item.past - 1].end
        if item.kind == "stop":
            found.breaks.append(offset + start)
        beside = {token.stem for token in tokens[max(item.first - 1, 0) : item.past + 1]}
        of = item.past < len(tokens) and tokens[item.past].stem == "of"
        led = {token.stem for token in tokens[max(item.first - 2, 0) : item.first]}
        placed = item.key == "after" and (of or {"on", "at", "in"} & led)
        with_body = item.key == "body" and beside & {"and", "with"}
        listed = with_body or placed or _place_of(item, before)
        before = item
        carrier = item.key in carriers and item.past - item.first == 1 and not listed
        if item.kind != "match" or not (others and carrier):
            found.take(item, "en", text[start:end], offset + start, leads=False)


def _place_of(item: Item, before: Item) -> bool:
    """Tell whether a place is named with what is there: "smoky finish", "ginjo nose"."""
    if item.key == "after" and before.kind in ("praise", "liking") and before.past == item.first:
        return True
    touching = before.kind == "match" and before.past == item.first
    if item.key == "nose" or (item.key == "touch" and before.key == "smooth"):
        return touching
    return touching and item.key == "after" and before.key not in _NO_FINISH


def _in_the_mouth(text: str, offset: int, known: EnglishLexicon, found: Found) -> None:
    """Read "nose: banana, mouth: apple", "banana in the mouth" as a smell in the mouth too."""
    if any(one.key in ("fukumi", "fades") for one in found.matches) or not found.matches:
        return
    place = _MOUTH.search(text)
    smelt = any(known.senses.get(one.key) in ("aroma", "fault") for one in found.matches)
    if place is None or not (_NOSE.search(text) or smelt):
        return
    start, end = offset + place.start(), offset + place.end()
    if not any(one.start < end and start < one.end for one in found.matches):
        item = Item("match", 0, 1, "fukumi", "term")
        found.take(item, "en", place.group(), start, leads=False)


def _items(tokens: list[Token], known: EnglishLexicon) -> list[Item]:
    """Cut a clause into the longest things that are known."""
    items: list[Item] = []
    at = 0
    while at < len(tokens):
        for length in range(min(_LONGEST, len(tokens) - at), 0, -1):
            item = _item(tokens, at, at + length, known)
            if item is not None:
                break
        else:
            item = Item("left", at, at + 1)
        items.append(item)
        at = item.past
    return items


def _item(tokens: list[Token], first: int, past: int, known: EnglishLexicon) -> Item | None:
    part = tuple(token.stem for token in tokens[first:past])
    last = past == len(tokens) or tokens[past].stem in _OF_NOW
    ends = first > 0 and last and part[0] in ("free", "absent")
    if past - first == 1 and (tokens[first].glued or ends) and part[0] in around("en")["after"]:
        return Item("after", first, past)
    if past - first == 1 and tokens[first].glued and tokens[first].text.lower() == "san":
        return Item("grammar", first, past)  # "Aya-san": no French "without".
    following = tokens[past] if past < len(tokens) else None
    if part == ("over",) and following and following.glued and following.stem != "ripe":
        return Item("much", first, past)  # "Over-oaked".
    if past - first == 1 and tokens[first].glued and part[0] == "rich":
        return Item("strong", first, past)
    adverb = part[0].removesuffix("ly") if past - first == 1 and part[0].endswith("ly") else ""
    if adverb and part not in known.ways and part not in known.around:
        # "Agreeably", "nastily".
        said = known.liking.get((adverb,)) or known.liking.get((adverb.removesuffix("i") + "y",))
        kind = {"good": "praise", "bad": "bad"}.get(said or "") or known.around.get((adverb,))
        if kind in ("praise", "bad"):
            return Item(kind, first, past)
    if known.liking.get(part) == "bad" and tokens[first].text.lower().endswith("ies"):
        return Item("match", first, past, "off", "term", "form")  # "No nasties."
    if part == ("like", "it") and past < len(tokens) and tokens[past].stem not in _LIKED:
        return Item("grammar", first, past)  # "Like it sat in a van."
    if part == ("like", "it") and first and tokens[first - 1].stem in _SEEMS:
        return Item("grammar", first, past)  # "Iron? Tastes like it."
    if part in known.liking:
        return Item("liking", first, past, key=known.liking[part])
    if part in known.ways:
        level, key = known.ways[part]
        hows = {token.how for token in tokens[first:past]}
        how = next((how for how in ("spelling", "form") if how in hows), "exact")
        if "without" in hows:
            return Item("match", first, past, key, level, "form", negated=True)
        return Item("match", first, past, key=key, level=level, how=how)
    if part in known.around:
        return Item(known.around[part], first, past)
    return None
