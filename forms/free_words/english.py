"""Reading free English: plurals, endings, misspellings, compounds, negation.

First a clause is cut into items, always taking the longest thing that is
known; then the items are read in order. What is not known stays as an item
too, so that nothing is lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from ..questions.term_vocabulary import Vocabulary
from .match import SIGNS, Found, Item, around, each_vocabulary, entries, plain

_TOKEN = re.compile(
    r"(?<=\s)[-–—]+(?=\s)|\b(?:\d[A-Za-z]{2}|[A-Za-z]\d[A-Za-z]|[A-Za-z]{2}\d)\b|[^\W\d_]+(?:['’][^\W\d_]+)?|\d[\d.,]*|\S"
)
_CLAUSE_END = frozenset(",.;:!?()[]/…、。・！？，．")
_LONGEST = 6
_ENDINGS = ("like", "ish", "esque", "ness", "y")
_GRAMMAR = (*SIGNS, "pairing", "elsewhere", "stop", "slight", "strong", "unsure", "grammar", "nose")
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
# Alone after a doubt these deny it: "diacetyl? none"; "musty? I don't get it".
_DENIALS = frozenset({"no", "none", "not", "nope", "nah", "disagree", "don't", "can't", "gone"})
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
# Before "too" or "very" these leave a thing there, only less of it; "no" and its like do not.
_NONE = frozenset({"no", "without", "zero", "none", "nothing"})
_NOT_I = re.compile(
    r" i (?:say |do |find |think )?(?:not|no|don't|can't|cannot|disagree|fine|say|didn't) "
)
_LIKED = frozenset(
    {"a", "very", "so", "here", "that", "and", "better", "more", "this", "in", "too"}
)
_OF_VERBS = frozenset({"not", "isn't", "wasn't", "aren't", "doesn't", "don't", "didn't"})
_OR = frozenset({"or", "nor", "neither"})
_SIZES = frozenset({"little", "light", "slight", "gentle", "soft", "bit", "of"})


@dataclass(frozen=True, slots=True)
class Token:
    """A word: as written, as compared, how it was understood, where it stands."""

    text: str
    stem: str
    how: str
    start: int
    end: int
    glued: bool


@dataclass(frozen=True, slots=True)
class EnglishLexicon:
    """Every way to say something, by its stems."""

    ways: Mapping[tuple[str, ...], tuple[str, str]]
    liking: Mapping[tuple[str, ...], str]
    around: Mapping[tuple[str, ...], str]
    senses: Mapping[str, str]
    spelt: frozenset[str]
    known: frozenset[str]
    means: Mapping[str, str]


def stem(word: str) -> str:
    """Take the plural off a word.

    >>> [stem(word) for word in ("berries", "leaves", "radishes", "apples", "citrus", "grass")]
    ['berry', 'leaf', 'radish', 'apple', 'citrus', 'grass']
    """
    word = plain(word).replace("’", "'").removesuffix("'s")
    if len(word) <= 3 or word.endswith(("ss", "us", "is")):
        return word
    for ending, instead in (("ies", "y"), ("ves", "f"), ("shes", "sh"), ("ches", "ch")):
        if word.endswith(ending):
            return word.removesuffix(ending) + instead
    return word.removesuffix("es" if word.endswith(("xes", "sses")) else "s")


def stems(text: str) -> tuple[str, ...]:
    """Return the stems of a phrase; hyphens part words."""
    return tuple(stem(word) for word in re.findall(r"[^\s\-()]+", text))


@each_vocabulary
def lexicon(words: Vocabulary) -> EnglishLexicon:
    """Return the lexicon of a vocabulary."""
    ways: dict[tuple[str, ...], tuple[str, str]] = {}
    for level, entry in entries(words):
        for way in entry.ways("en"):
            # "Rice and koji" are two things, also where they are one family.
            if "," not in way and (level == "term" or " and " not in way):
                ways.setdefault(stems(way), (level, entry.key))
    for level, entry in entries(words):
        label = entry.label.to("en")
        romaji = [part.strip() for part in entry.romaji.split(",")]
        outside, _, inside = label.partition("(")
        parts = [*outside.split(","), inside.rstrip(")"), *(p for p in romaji if len(p) > 4)]
        for part in parts:
            if part.strip() and " and " not in part:
                ways.setdefault(stems(part), (level, entry.key))
    liking = {
        stems(word): direction
        for direction, by_language in words.hedonic.items()
        for word in by_language["en"]
    }
    close = around("en")
    others = {stems(word): "negator" for word in close["negators"]}
    for kind in _GRAMMAR:
        for word in close[kind]:
            others.setdefault(stems(word), "grammar" if kind == "nose" else kind)
    known = {part for way in (*ways, *liking, *others) for part in way}
    return EnglishLexicon(
        ways=ways,
        liking=liking,
        around=others,
        senses={term.key: words.family_of(term).sense for term in words.terms},
        spelt=frozenset(part for way in [*ways, *liking] for part in way if len(part) >= 5),
        known=frozenset(known | {stem(word) for word in close["real_words"].split()}),
        means={way[0]: key for way, (_, key) in ways.items() if len(way) == 1},
    )


def read(text: str, offset: int, words: Vocabulary, found: Found) -> None:
    """Read English text that begins at `offset` of the whole into `found`."""
    known = lexicon(words)
    clause: list[Token] = []
    last = -1
    listed = _denied_lists(text)
    for sign in _TOKEN.finditer(text):
        written = sign.group()
        if written == "," and any(first < sign.start() < past for first, past in listed):
            continue
        if written in _CLAUSE_END or (written[0] in "-–—" and text[sign.start() - 1].isspace()):
            _clause(clause, text, offset, known, found, doubtful=written in "?？")
            clause = []
        elif written[0].isalnum():
            glued = last >= 0 and text[last : sign.start()] == "-"
            meant, how = understood(stem(written), known)
            how = "form" if how == "exact" and meant != plain(written) else how
            clause.append(Token(written, meant, how, sign.start(), sign.end(), glued))
            last = sign.end()
    _clause(clause, text, offset, known, found, doubtful=False)


_DENIED = re.compile(
    r"\b(?:no|without|free of|free from|not|neither|devoid of)\b((?: [\w'-]+){1,5})"
    r"((?:, [\w'-]+(?: [\w'-]+)?)*,? (?:or|nor) [\w'-]+)",
    re.IGNORECASE,
)


def _denied_lists(text: str) -> list[tuple[int, int]]:
    """Return where one negation leads a whole list: "no glue, vinegar or butter"."""
    anew = set(around("en")["anew"])
    return [
        found.span()
        for found in _DENIED.finditer(text)
        if not anew & set(re.findall(r"[\w']+", found.group(2).lower()))
    ]


def understood(word: str, known: EnglishLexicon) -> tuple[str, str]:
    """Return the known word that a stem stands for, and how it was read.

    A word that is known, or is another English word, stays as it is. "Flawless" is its
    word with "without".
    """
    if word in known.known:
        return word, "exact"
    if word.endswith("less") and (word.removesuffix("less"),) in known.ways:
        return word.removesuffix("less"), "without"
    for ending in _ENDINGS:
        base = word.removesuffix(ending)
        for form in (base, base + "e", base.removesuffix(base[-1:])):
            if base != word and len(form) > 2 and (form,) in known.ways:
                return form, "form"
    near = nearest(word, known.spelt, known.means)
    return (near, "spelling") if near else (word, "exact")


def nearest(word: str, spelt: Iterable[str], means: Mapping[str, str] | None = None) -> str:
    """Return the one known word that `word` is a misspelling of, or nothing.

    One slip (a letter too many, too few, wrong, or two exchanged) is allowed
    from five letters on, two from eight; the first letter must be right; and
    no other known word may be as near, but one that `means` the same. Slips are
    counted by the optimal string alignment distance.

    >>> nearest("bananna", {"banana", "bandana"}), nearest("pear", {"bear"})
    ('banana', '')
    """
    allowed = 0 if len(word) < 5 else 1 if len(word) < 8 else 2
    from rapidfuzz.distance import OSA

    best, score, tied = "", allowed + 1, False
    for candidate in spelt:
        if candidate[0] != word[0] or abs(len(candidate) - len(word)) > allowed:
            continue
        slips = OSA.distance(word, candidate)
        if slips < score:
            best, score, tied = candidate, slips, False
        elif slips == score:
            same = means is not None and means.get(candidate, candidate) == means.get(best)
            tied = tied or not same
    return "" if tied or score > allowed else best


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
    items = _compounds(_items(tokens, known), tokens, known)
    second = tokens[1].stem if len(tokens) > 1 else ""
    asks = doubtful and tokens and tokens[0].stem in _ASKING and second not in _DOUBTING
    if asks or any(item.kind == "elsewhere" for item in items):
        items = [replace(item, kind="left") if item.kind == "match" else item for item in items]
    items = _mistaken(items, tokens, text)
    items = _manners(_longed_for(items, tokens, known), tokens)
    items = _promised(_scenes(items, tokens, known), tokens)
    items = _judged(items, tokens, doubtful=doubtful)
    said = {token.stem for token in tokens}
    denied = len(tokens) <= 5 and said & _DENIALS and said <= _DENIALS | _MERE
    if denied and found.matches:
        found.matches[-1] = replace(found.matches[-1], negated=True)
    carriers = around("en")["carriers"]
    others = any(item.kind == "match" and item.key not in carriers for item in items)
    if not found.matches and not any(item.kind == "match" for item in items):
        items = [_itself(item, tokens) for item in items]
    if tokens:
        found.breaks.append(offset + tokens[-1].end)
    for item in items:
        start, end = tokens[item.first].start, tokens[item.past - 1].end
        if item.kind == "stop":
            found.breaks.append(offset + start)
        beside = {token.stem for token in tokens[max(item.first - 1, 0) : item.past + 1]}
        listed = item.key == "body" and "and" in beside
        carrier = item.key in carriers and item.past - item.first == 1 and not listed
        if item.kind != "match" or not (others and carrier):
            found.take(item, "en", text[start:end], offset + start, leads=False)


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
    ends = first > 0 and past == len(tokens) and part[0] in ("free", "absent")
    if past - first == 1 and (tokens[first].glued or ends) and part[0] in around("en")["after"]:
        return Item("after", first, past)
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


def _compounds(items: list[Item], tokens: list[Token], known: EnglishLexicon) -> list[Item]:
    """Join "apple blossom" to one flower, "sour cherry" to one cherry."""
    finish = any(one.key in ("after", "short_finish") for one in items)
    made: list[Item] = []
    for item in items:
        before = made[-1] if made else Item("", 0, 0)
        between = tokens[before.past : item.first]
        beside = before.kind == "match" and not between
        sense, other = known.senses.get(item.key), known.senses.get(before.key, "aroma")
        near = all(token.stem in _SIZES for token in between)
        if before.key == "bright" and near and item.kind == "match" and sense == "taste":
            made[-1:] = [replace(before, kind="praise"), item]
        elif beside and item.kind == "match" and before.key == "clean" and sense == "finish":
            cut = replace(before, key="clean_cut") if finish else before
            whole = replace(item, key="clean_cut", first=before.first, how="compound")
            made[-1:] = [whole] if item.key == "short_finish" else [cut, item]
        elif beside and item.kind == "match" and _described(before, item, tokens, known):
            whole = replace(item, first=before.first, how="compound")
            made.pop()
            first = made[-1] if made and made[-1].past == whole.first else None
            if first and first.kind == "match" and _described(first, whole, tokens, known):
                whole = replace(whole, first=made.pop().first)
            made.append(whole)
        elif beside and item.kind == "match" and _describing(before, item, tokens, known):
            made[-1] = replace(before, past=item.past, how="compound")
        elif (
            beside
            and item.kind == "grammar"
            and tokens[item.first].stem in around("en")["nose"]
            and other in ("mouthfeel", "finish")
        ):
            # "a light nose" says nothing about body: for a person.
            made[-1] = Item("left", before.first, item.past)
        else:
            made.append(item)
    return made


def _described(before: Item, item: Item, tokens: list[Token], known: EnglishLexicon) -> bool:
    """Tell whether the first of two only describes the second: "fresh pear", "peach tea"."""
    close, word = around("en"), tokens[item.past - 1].text.lower()
    smells = known.senses.get(item.key) in ("aroma", "fault")
    modifies = (
        tokens[before.past - 1].stem in close["modifiers"] and before.past == before.first + 1
    )
    smelt = known.senses.get(before.key) == "aroma"
    return (smells and modifies) or (smelt and word in (*close["heads"], *close["chemicals"]))


def _describing(before: Item, item: Item, tokens: list[Token], known: EnglishLexicon) -> bool:
    """Tell whether the second of two adds nothing: "banana bread", "mouldy bread", "koji heavy"."""
    close, word = around("en"), tokens[item.past - 1].text.lower()
    spoilt = tokens[before.first].text.lower() in close["spoilt"]
    smelt = known.senses.get(before.key) == "aroma"
    if spoilt and known.senses.get(item.key) == "aroma":
        return True
    return smelt and word in (*close["dishes"], "warmth", "heavy")


def _scenes(items: list[Item], tokens: list[Token], known: EnglishLexicon) -> list[Item]:
    """Leave what only paints a scene: "stewed, like it sat in a hot van" is not hot."""
    words = [token.text.lower() for token in tokens]
    actors = around("en")["actors"]
    begins = next(
        (
            at
            for at in range(1, len(words) - 1)
            if words[at] in actors and words[at - 1] in ("like", "if", "though")
        ),
        len(words),
    )
    painted = ("taste", "mouthfeel", "finish", "look")
    return [
        replace(item, kind="left")
        if item.first > begins and item.kind == "match" and known.senses.get(item.key) in painted
        else item
        for item in items
    ]


def _longed_for(items: list[Item], tokens: list[Token], known: EnglishLexicon) -> list[Item]:
    """Read "crying out for acidity" as too little of it, "crying out for oysters" as food."""
    close, made = around("en"), list(items)
    for place, item in enumerate(items):
        said = " ".join(token.text.lower() for token in tokens[item.first : item.past])
        following = next((one for one in items[place + 1 :] if one.kind != "grammar"), None)
        if item.kind != "pairing" or following is None or following.kind != "match":
            continue
        if known.senses.get(following.key) in ("taste", "mouthfeel", "finish"):
            if said in close["longing"]:
                made[place] = replace(item, kind="little")
            elif said in close["working"]:
                made[place] = replace(item, kind="praise")
    return made


def _itself(item: Item, tokens: list[Token]) -> Item:
    """Read "fragrant" where nothing is named that it could be said of."""
    key = around("en")["alone"].get(tokens[item.first].text.lower())
    if key is None or item.past != item.first + 1:
        return item
    return replace(item, kind="match", key=key, level="term")


def _mistaken(items: list[Item], tokens: list[Token], text: str) -> list[Item]:
    """Read "I thought it was vinegar, but …" as vinegar that is not there."""
    close = around("en")
    for place, item in enumerate(items):
        word = tokens[item.past - 1].text.lower()
        said = re.findall(r"[\w']+", text[tokens[item.past - 1].end :].lower())
        later = f" {' '.join(said[:16])} "
        earlier = {token.text.lower() for token in tokens[: item.first]}
        others = word in close["claims"] and earlier and not earlier & {"i", "we", "which", "it"}
        if (others and _NOT_I.search(later)) or (
            word in close["thought"] and any(f" {turn} " in later for turn in close["turned"])
        ):
            return [*items[:place], replace(item, kind="negator"), *items[place + 1 :]]
    return items


def _manners(items: list[Item], tokens: list[Token]) -> list[Item]:
    """Join "in the best country way" to one word of praise."""
    words = [token.text.lower() for token in tokens]
    for first in range(len(words) - 2):
        if words[first] != "in" or words[first + 1] not in ("a", "an", "the"):
            continue
        past = next((n + 1 for n in range(first + 2, len(words)) if words[n] == "way"), 0)
        inside = [item for item in items if item.first >= first + 2 and item.past <= past]
        kinds = {item.key if item.kind == "liking" else item.kind for item in inside}
        best = "best" in words[first:past] or kinds & {"good", "praise"}
        if 0 < past <= first + 6 and (best or kinds & {"bad"}):
            manner = Item("praise" if best else "bad", first, past)
            return [
                *(item for item in items if item.past <= first),
                manner,
                *(item for item in items if item.first >= past),
            ]
    return items


def _promised(items: list[Item], tokens: list[Token]) -> list[Item]:
    """Read whether the mouth kept what the nose promised."""
    words = [token.text.lower() for token in tokens]
    said = f" {' '.join(words)} "
    if not any(word.startswith("promis") for word in words):
        return items
    close = around("en")
    broken = any(f" {word} " in said for word in close["broken"])
    if not broken and not any(f" {word} " in said for word in close["kept"]):
        return items
    at = next(at for at, word in enumerate(words) if word.startswith("promis"))
    verb = next((at for at, word in enumerate(words) if word in close["kept"]), at)
    keys = ("fades", "fukumi")
    made = [
        item
        for item in items
        if item.kind not in ("negator", "liking", *SIGNS)
        and not (item.kind == "match" and item.key in keys)
        and at not in range(item.first, item.past)
        and (broken or verb not in range(item.first, item.past))
    ]
    if broken:
        made.append(Item("match", at, at + 1, "fades", "term"))
    else:
        made += [Item("match", verb, verb + 1, "fukumi", "term"), Item("praise", at, at + 1)]
    return sorted(made, key=lambda one: one.first)


def _judged(items: list[Item], tokens: list[Token], *, doubtful: bool) -> list[Item]:
    """Give matches their negation and degree, in the order of reading."""
    close = around("en")
    too = {stem(word) for word in close["too"]}
    wanted = {*close["keys"]["virtues"], *close["keys"]["admired"], *close["keys"]["wanted"]}
    unsure = doubtful or any(item.kind == "unsure" for item in items)
    made: list[Item] = []
    negated = noun = soft = joined = False
    degree = ""
    pending = -1
    food = False
    for place, item in enumerate(items):
        food = food or item.kind == "pairing"
        if food:
            made.append(replace(item, kind="left"))
            continue
        words = [token.stem for token in tokens[item.first : item.past]]
        following = items[place + 1] if place + 1 < len(items) else None
        if words[-1:] == ["gone"] and following is not None and following.kind == "match":
            continue  # "Gone brown" has become so.
        if item.kind == "negator":
            negated, joined, soft = True, False, False
            noun = words[0] not in _OF_VERBS
            softener = (
                following is not None
                and following.kind != "match"
                and (tokens[following.first].stem in too)
            ) or _superlative(items[place + 1 : place + 3], tokens)
            if softener and words[0] not in _NONE:
                negated, soft, degree = False, True, "slight"
            pending = item.first
        elif item.kind == "stop":
            made = _backward(made, "", negated=negated and pending >= 0)
            negated, degree, pending = False, "", -1
            made.append(item)
        elif item.kind in SIGNS:
            turned_off = item.kind == "much" and (soft or negated)
            if not turned_off and not (negated and item.kind in ("bad", "praise")):
                made.append(item)
            elif turned_off or (item.kind == "bad" and not noun):
                # "Not too sweet", "not unpleasantly sour": it is there.
                soft, degree, negated = turned_off, "slight", False
        elif item.kind in ("slight", "strong"):
            degree = degree if soft else item.kind
            if item.kind == "strong" and 0 <= pending == item.first - 1 and not noun:
                negated, degree, pending = False, "slight", -1  # "It does not dominate."
        elif item.kind == "after" and made and made[-1].kind == "match":
            made[-1] = replace(made[-1], negated=True)
        elif item.kind == "match" and _only_likened(items[:place], tokens, item.key):
            made.append(replace(item, kind="left"))
        elif item.kind == "match":
            wavering = False
            if negated and joined:
                negated = wavering = noun and items[place - 1].kind == "grammar"
            made.append(
                replace(
                    item,
                    negated=negated or item.negated,
                    degree=degree,
                    unsure=unsure or wavering,
                    little=soft and item.key in wanted,
                )
            )
            degree, soft, joined, pending = "", False, False, -1
        elif item.kind == "liking":
            turned = {"good": "bad", "bad": "good"}[item.key] if negated else item.key
            made.append(replace(item, key=turned))
            negated = negated and noun
            pending = -1
        elif item.kind == "left":
            _leave(made, item, pending)
            pending = -1
        if item.kind == "grammar" and words == ["and"]:
            joined = True
        elif words and words[0] in _OR:
            joined = False
    return _backward(made, degree, negated=negated and pending >= 0)


def _superlative(items: list[Item], tokens: list[Token]) -> bool:
    """Tell whether "the driest" follows: after "not" it is there, only less."""
    if len(items) < 2 or items[1].kind != "match":
        return False
    return tokens[items[0].first].stem == "the" and tokens[items[1].first].text.endswith("est")


def _only_likened(before: list[Item], tokens: list[Token], key: str) -> bool:
    """Tell whether a thing is only named beside another: "more pear than apple", "in a koshu"."""
    words = [token.stem for item in before for token in tokens[item.first : item.past]]
    while words and words[-1] in ("a", "an", "the", "like"):
        words.pop()
    compared = {"more", "closer", "nearer"} & set(words) and words[-1:] == ["than"]
    styled = key in around("en")["styles"] and words[-1:] in (["in"], ["for"])
    purpose = any(one.kind == "grammar" and tokens[one.first].stem == "for" for one in before[-2:])
    short = purpose and any(item.kind in ("much", "little") for item in before)
    return (bool(compared) and any(item.kind == "match" for item in before)) or styled or short


def _leave(made: list[Item], item: Item, pending: int) -> None:
    """Keep what was not understood, with a negation before it and words beside it."""
    first = item.first if pending < 0 else pending
    if made and made[-1].kind == "left" and made[-1].past == item.first:
        made[-1] = replace(made[-1], past=item.past)
    else:
        made.append(replace(item, first=first))


def _backward(made: list[Item], degree: str, *, negated: bool) -> list[Item]:
    """Let a negation or degree that nothing follows speak of what stands before it."""
    at = next((n for n in reversed(range(len(made))) if made[n].kind not in (*SIGNS, "stop")), -1)
    if at >= 0 and made[at].kind == "match":
        last = made[at]
        made[at] = replace(last, negated=last.negated or negated, degree=last.degree or degree)
    return made
