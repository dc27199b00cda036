"""What known things of an English clause mean beside each other: compounds, negation, degree."""

from __future__ import annotations

import re
from dataclasses import replace

from .english_words import EnglishLexicon, Token, stem
from .match import PLACES, SIGNS, Found, Item, around, other_subjects

# Before "too" or "very" these leave a thing there, only less of it; "no" and its like do not.
_NONE = frozenset({"no", "without", "zero", "none", "nothing"})
_NOT_I = re.compile(
    r" i (?:say |do |find |think )?(?:not|no|don't|can't|cannot|disagree|fine|say|didn't) "
)
_OF_VERBS = frozenset({"not", "isn't", "wasn't", "aren't", "doesn't", "don't", "didn't"})
# "Not too fruity" asks for no more of it, as "not very fruity" does.
_EXCESS = frozenset({"too", "overly", "excessively", "overtly", "terribly"})
_SCARCELY = frozenset({"hardly", "scarcely", "barely"})
_ARTICLES = frozenset({"a", "an", "the", "some", "very", "me"})
_LIKENS = frozenset({"like", "reminds", "reminiscent", "reminded", "memories"})
_OR = frozenset({"or", "nor", "neither"})
_SIZES = frozenset({"little", "light", "slight", "gentle", "soft", "bit", "of"})


_CLEAN = ("clean", "clean_cut")


def compounds(items: list[Item], tokens: list[Token], known: EnglishLexicon) -> list[Item]:
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
        elif beside and item.kind == "match" and before.key == item.key and sense == "fault":
            made[-1] = replace(before, past=item.past, how="compound")  # "Campfire smoke".
        elif beside and item.kind == "match" and before.key in _CLEAN and sense == "finish":
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
    tasted = known.senses.get(item.key) == "taste" or item.key in ("alcohol_burn", "prickle")
    if tasted and tokens[before.past - 1].stem in close["gentle"]:
        return before.past == before.first + 1
    return (smells and modifies) or (smelt and word in (*close["heads"], *close["chemicals"]))


def _describing(before: Item, item: Item, tokens: list[Token], known: EnglishLexicon) -> bool:
    """Tell whether the second of two adds nothing: "banana bread", "mouldy bread", "koji heavy"."""
    close, word = around("en"), tokens[item.past - 1].text.lower()
    spoilt = tokens[before.first].text.lower() in close["spoilt"]
    smelt = known.senses.get(before.key) == "aroma"
    if spoilt and known.senses.get(item.key) == "aroma":
        return True
    return smelt and word in (*close["dishes"], "warmth", "heavy")


def other_things(items: list[Item], tokens: list[Token], known: EnglishLexicon) -> list[Item]:
    """Leave what is said of another thing: "vinegar rice", "old bottle design"."""
    close, made = around("en"), list(items)
    smelt = {token.text.lower() for token in tokens} & set(close["nose"])
    for place, item in enumerate(items):
        if item.kind != "match" or item.past >= len(tokens):
            continue
        after = tokens[item.past].text.lower()
        food = not smelt and after in close["foods"] and known.senses.get(item.key) == "fault"
        if food or (not smelt and after in close["things"]):
            made[place] = replace(item, kind="left")
            if place + 1 < len(items) and items[place + 1].kind == "match":
                made[place + 1] = replace(items[place + 1], kind="left")
    return made


def exclaimed(items: list[Item], tokens: list[Token], found: Found) -> list[Item]:
    """Read "brilliant" alone, after something else than a look, as praise."""
    alone = [item for item in items if item.kind not in ("grammar", "strong")]
    if len(alone) != 1 or not found.matches or found.matches[-1].key in ("clear", "colour"):
        return items
    if alone[0].kind != "match" or tokens[alone[0].first].text.lower() != "brilliant":
        return items
    return [replace(item, kind="praise") if item is alone[0] else item for item in items]


def wished(items: list[Item], tokens: list[Token]) -> list[Item]:
    """Read "could be sweeter", "wish it were drier" as too little."""
    words = [token.text.lower() for token in tokens]
    close = around("en")
    return [
        replace(item, little=True)
        if item.kind == "match"
        and words[item.first].endswith("er")
        and words[item.first] != "bitter"
        and set(close["be"]) & set(words[max(item.first - 3, 0) : item.first])
        and set(close["wishes"]) & set(words[: item.first])
        else item
        for item in items
    ]


def scenes(items: list[Item], tokens: list[Token], known: EnglishLexicon) -> list[Item]:
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
        if item.first > begins
        and item.kind == "match"
        and known.senses.get(item.key) in painted
        and item.key != "metallic"  # "Like I licked a coin".
        else item
        for item in items
    ]


def likened(items: list[Item], tokens: list[Token], known: EnglishLexicon) -> list[Item]:
    """Leave what only describes a thing that the drink is likened to: "reminds me of dry cider"."""
    words, made = [token.text.lower() for token in tokens], list(items)
    for place, item in enumerate(items[:-1]):
        before = [
            word for word in words[max(item.first - 3, 0) : item.first] if word not in _ARTICLES
        ]
        noun = items[place + 1]
        strange = noun.kind == "left" and words[noun.first].isalpha() and len(words[noun.first]) > 2
        strange = strange and words[noun.first] not in other_subjects("en")["functions"]
        described = item.kind == "match" and item.key not in known.named
        described = described and known.senses.get(item.key) in ("taste", "mouthfeel", "finish")
        if described and strange and before[-1:] in (["like"], ["of"]) and _LIKENS & set(before):
            made[place] = replace(item, kind="left", key="", level="")
    return made


def longed_for(items: list[Item], tokens: list[Token], known: EnglishLexicon) -> list[Item]:
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


def itself(item: Item, tokens: list[Token]) -> Item:
    """Read "fragrant" where nothing is named that it could be said of."""
    key = around("en")["alone"].get(tokens[item.first].text.lower())
    if key is None or item.past != item.first + 1:
        return item
    return replace(item, kind="match", key=key, level="term")


def alone(items: list[Item], tokens: list[Token]) -> list[Item]:
    """Read a clause that is only a verdict: "off", "rather closed", "closed when cold"."""
    bare = around("en")["bare_verdicts"]
    said = [token.text.lower() for token in tokens]
    told = [at for at, word in enumerate(said) if word in bare]
    if len(told) != 1 or set(said) - {said[told[0]]} - set(around("en")["beside_verdicts"]):
        return items
    at, key = told[0], bare[said[told[0]]]
    if (
        key in ("off", "stale")
        and len(said) > 1
        and said[:-1] not in (["just"], ["a", "bit"], ["slightly"])
    ):
        return items
    made = Item("match", at, at + 1, key, "term", little=said[at] in around("en")["shortages"])
    return [made if item.first <= at < item.past else item for item in items]


def mistaken(items: list[Item], tokens: list[Token], text: str) -> list[Item]:
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


def manners(items: list[Item], tokens: list[Token]) -> list[Item]:
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


def charmed(items: list[Item], tokens: list[Token]) -> list[Item]:
    """Join "gives this koshu its charm" to one word of praise."""
    close, words = around("en"), [token.text.lower() for token in tokens]
    last = next((at for at in reversed(range(len(words))) if words[at] in close["charms"]), 0)
    first = next((at for at in range(max(last - 6, 0), last) if words[at] in close["gives"]), last)
    told = any(item.kind == "match" and item.past <= first for item in items)
    if first == last or not told or any(item.kind == "negator" for item in items):
        return items
    return [
        *(item for item in items if item.past <= first),
        Item("praise", first, last + 1),
        *(item for item in items if item.first > last),
    ]


def promised(items: list[Item], tokens: list[Token]) -> list[Item]:
    """Read whether the mouth kept what the nose promised."""
    words = [token.text.lower() for token in tokens]
    said = f" {' '.join(words)} "
    close = around("en")
    verbs = [n for n, word in enumerate(words) if word.startswith("promis")]
    if "nose" in words and {"palate", "mouth", "taste"} & set(words):
        verbs += [n for n, word in enumerate(words) if n and word in ("match", "live", "follow")]
        verbs = verbs if any(f" {word} " in said for word in close["broken"]) else verbs[:1]
    if not verbs or "label" in words:
        return items
    broken = any(f" {word} " in said for word in close["broken"])
    if not broken and not any(f" {word} " in said for word in close["kept"]):
        return items
    at = verbs[0]
    verb = next((at for at, word in enumerate(words) if word in close["kept"]), at)
    keys = ("fades", "fukumi", "nose")
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


def judged(
    items: list[Item], tokens: list[Token], known: EnglishLexicon, *, doubtful: bool
) -> list[Item]:
    """Give matches their negation and degree, in the order of reading."""
    close = around("en")
    too = {stem(word) for word in close["too"]}
    wanted = {*close["keys"]["virtues"], *close["keys"]["admired"], *close["keys"]["wanted"]}
    unsure = doubtful or any(item.kind == "unsure" for item in items)
    made: list[Item] = []
    negated = noun = soft = joined = scarcely = excess = False
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
            scarcely = words[0] in _SCARCELY
            softener = (
                following is not None
                and following.kind != "match"
                and (tokens[following.first].stem in too)
            ) or _superlative(items[place + 1 : place + 3], tokens)
            if softener and words[0] not in _NONE:
                negated, soft, degree = False, True, "slight"
                excess = following is not None and tokens[following.first].stem in _EXCESS
            pending = item.first
        elif item.kind == "stop":
            made = _backward(made, "", negated=negated and pending >= 0)
            negated, degree, pending = False, "", -1
            made.append(item)
        elif item.kind == "much" and words == ["too"] and _also(made, item, tokens):
            made.append(replace(item, kind="grammar"))
        elif item.kind in SIGNS:
            turned_off = item.kind == "much" and (soft or negated)
            excess = excess or turned_off
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
        elif item.kind == "denied":
            named = [n for n, one in enumerate(made) if one.kind == "match"]
            if named:
                made[named[-1]] = replace(made[named[-1]], negated=True)
            else:
                negated, noun, pending = True, True, item.first
        elif item.kind == "match" and _lasts(made, item, known):
            made[-1] = replace(made[-1], degree=made[-1].degree or "strong")
        elif item.kind == "match" and _only_likened(items[:place], tokens, item.key):
            made.append(replace(item, kind="left"))
        elif item.kind == "match":
            wavering = False
            if negated and item.key in PLACES and made and _at_place(item, tokens):
                made.append(replace(item, unsure=unsure))  # "No dust on the nose."
                continue
            if negated and joined:
                negated = wavering = noun and items[place - 1].kind == "grammar"
            scarce = scarcely and negated and item.key in close["keys"]["scarce"]
            made.append(
                replace(
                    item,
                    negated=(negated and not scarce) or item.negated,
                    degree=degree,
                    unsure=unsure or wavering,
                    little=item.little or scarce or (soft and not excess and item.key in wanted),
                )
            )
            degree, soft, joined, scarcely, pending = "", False, False, False, -1
            excess = False
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


def _also(made: list[Item], item: Item, tokens: list[Token]) -> bool:
    """Tell whether "too" at the end of a clause, behind a thing, says "also"."""
    return item.past == len(tokens) and any(one.kind == "match" for one in made)


def _at_place(item: Item, tokens: list[Token]) -> bool:
    """Tell whether a place is only where something is: "on the nose", "retronasally"."""
    said = [token.text.lower() for token in tokens[max(item.first - 2, 0) : item.past]]
    return bool({"on", "in", "at"} & set(said)) or said[-1].endswith("ly")


def _lasts(made: list[Item], item: Item, known: EnglishLexicon) -> bool:
    """Tell whether "lingers" is said of a taste that is named before it."""
    if item.key not in ("long_finish", "draggy") or not made or made[-1].kind != "match":
        return False
    return known.senses.get(made[-1].key) in ("taste", "fault") or made[-1].key == "fukumi"


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
    if words[-1:] == ["as"] and len(before) > 1 and any(one.kind == "match" for one in before):
        return True  # "Smooth as cream."
    compared = {"more", "closer", "nearer"} & set(words) and words[-1:] == ["than"]
    styled = key in around("en")["styles"] and words[-1:] in (["in"], ["for"], ["this"])
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
