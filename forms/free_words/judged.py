"""What is said *of* a thing: praise, a complaint, too much, too little, or only that it is there.

A reader hands over what it matched and the signs around it (a word of praise, "too",
"not enough"), in segments that a pause or a "but" parts. English puts the sign before
the thing, Japanese after it; a segment with a sign alone speaks of what stood before.
A praised thing is never turned into a complaint, and the name of a fault is taken for
praise only where the praise is said of it directly.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from ..questions.term_vocabulary import Vocabulary
from .clauses import over_clauses
from .companions import without_companions
from .frames import framed
from .match import PLACES, Found, Match, Piece, Sign, around
from .meanings import meant
from .unread import without_unsure

# What a sign in a clause of its own is said of there: "better nose than A, worse palate".
_OWN = re.compile(
    r" (?:palate|taste|flavou?r|mouth|value|price|service|company|room|light|weather)\b",
    re.IGNORECASE,
)
# "A tad sour, otherwise lovely": the rest is.
_OTHERWISE = re.compile(
    r"\b(?:otherwise|apart from that|other than that|the rest is)\W*$", re.IGNORECASE
)
_MINUS = re.compile(r"\s*[(（]\s*[-−–ー－]\s*[)）]")
# "酢エチ-": of the name of a fault on a sheet, not there.
_NONE = re.compile(r"[-−–－](?=\s|$|[、。,.;/])")
# "1番より酢エチは少ない": less of it than there.
_MORE_THERE = re.compile(
    r"(?:[A-Za-z0-9０-９番本回杯年月週日瓶酒品前]|先|さっき|の|隣|カップ|グラス|ロット|タンク)より(?:は|も)?[^、。]*$"
)
# A sign on a sheet: "キレ◎". Of the name of a fault it may mean that it was found.
_CIRCLE = re.compile(r"\s*[◎○◯〇]")
_CROSS = re.compile(r"\s*[×✕✗]")

_BETWEEN = re.compile(
    r"(?:\W|\b(?:the|this|that|its|a|an|of|bit|little|slight|faint|hint|touch|kind|sort|very|quite)\b)*",
    re.IGNORECASE,
)
_IS = re.compile(
    r"[^\w,;.]*(?:here )?(?:is|are|was|were|isn['’]t|wasn['’]t|aren['’]t|feels|seems|and)"
    r"(?: (?:not|rather|quite|actually|really|so|even|very|kind of|sort of|a bit|in fact))*\s*",
    re.IGNORECASE,
)


def judge(text: str, found: Found, words: Vocabulary) -> list[Match]:
    """Return the matches with their polarity, and leave in ``found.signs`` those not used."""
    matches = sorted(found.matches, key=lambda match: (match.start, match.end))
    matches = meant(matches, text, found)
    matches = [replace(m, negated=True) if _minus(m, text, words) else m for m in matches]
    made = _narrow([replace(match, polarity=_plain(match, words)) for match in matches])
    made = [_marked(match, text, words) for match in _merged(made, words, text)]
    breaks = sorted(found.breaks)
    unused: list[Sign] = []
    for sign in sorted(found.signs, key=lambda sign: sign.start):
        own = _segment(made, sign, breaks)
        targets = _targets(made, own, sign)
        alone = not own
        elsewhere = alone and sign.kind != "praise" and _OWN.match(text, sign.end)
        if elsewhere or (alone and _OTHERWISE.search(text[: sign.start])):
            targets = []
        elif alone:
            targets = _before(made, sign, found.signs, breaks)
            for place in _liked_fault(made, sign, breaks, text, words):
                made[place] = replace(made[place], polarity="praised")
                targets.append(place)
        changed = False
        targets = [] if sign.language == "ja" and _of_no_taste(sign, text) else targets
        if alone and sign.language == "ja" and sign.text.startswith(_WANTING):
            targets = [n for n in targets if made[n].key not in around("ja")["keys"]["admired"]]
        if sign.language == "ja" and sign.text.startswith(_WANTING):
            targets = [n for n in targets if made[n].key != "light"]
        if sign.language == "ja" and sign.text.startswith("閉じ"):
            targets = [n for n in targets if made[n].key != "young"]
        for place in targets:
            less = sign.kind == "few" and _MORE_THERE.search(text, 0, sign.start)
            if less and sign.language == "ja" and is_fault(made[place].key, words):
                changed = True
                continue
            new = _said(made[place], sign, words, text, alone=alone)
            changed = True
            made[place] = new
        if not changed:
            unused.append(sign)
    found.signs[:] = unused
    made = _turned(_faced(made), text, words)
    for place, (match, following) in enumerate(pairwise(made)):
        named = is_fault(following.key, words) or following.key == "bitter"
        inside = match.key in PLACES and text[match.end : match.end + 1] == "に"
        if inside and named and following.polarity == "fault" and match.language == "en":
            made[place] = replace(match, polarity="fault")
    made = _nearer(made, text, found)
    made = _only_named(made, text, lambda key: _sense(key, words), found)
    made = _soon_gone(_ended(made, text, words), text)
    made = without_companions(made, text, lambda key: _sense(key, words), found)
    complaints = [_complained(match, words) for match in made]
    made = framed(made, text, complaints, found)
    made = over_clauses(made, text, lambda match: _complained(match, words), found)
    return without_unsure(made, text, found)


def _soon_gone(made: list[Match], text: str) -> list[Match]:
    """Read "旨味がすぐ消える" as a complaint of both: too little of it, and a short end.

    Of the finish itself "すぐ消える" only says how it is, and of a bitterness it is no harm; what
    cuts cleanly may be gone at once and is well.
    """
    wanted = around("ja")["keys"]["goes_soon"]
    praised = [one.start for one in made if one.polarity == "praised"]
    for place, match in enumerate(made):
        soon = match.key == "short_finish" and match.text.startswith(_SOON)
        if not soon or match.negated or any(at > match.start for at in praised):
            continue
        before = made[place - 1] if place else None
        of_it = before is not None and before.key in wanted and before.polarity == "noted"
        if of_it and before and _GOES.fullmatch(text, before.end, match.start):
            made[place - 1] = replace(before, polarity="too_little")
        elif not _TASTE_GOES.search(text[: match.start]):
            continue
        made[place] = replace(match, polarity="too_little")
    return made


_SOON = ("すぐ消え", "すぐに消え")
_GOES = re.compile("(?:が|は|も)、?(?:もう|やや|少し)?")
_TASTE_GOES = re.compile(r"(?:^|[、。,\s]|の|お)味(?:わい)?(?:が|は|も)、?(?:もう|やや|少し)?$")
"""Of the taste, which is no word of the vocabulary: not of "苦味" or "後味"."""


# "特徴に乏しい", "最初は物足りないかと思ったが": no taste is called so, or nobody calls it so.
_CHARACTER = re.compile(
    "(?:特徴|個性|面白み|面白味|おもしろみ|魅力|華|迫力|インパクト|存在感|色気|新鮮味|驚き|主張)(?:が|は|も|に)?(?:やや|少し|もう少し)?$"
)
_THOUGHT = re.compile("(?:の)?か(?:な)?(?:と|も)(?:最初は)?思(?:った(?:が|けど|ら)|いきや|えば)")


# "減点するところがない", "邪魔にならない": nothing is bad.
_NOTHING = re.compile(
    "(?:する|した|になる|となる)?(?:ところ|箇所|点|要素|もの|こと|部分)?(?:が|は|も|に)?(?:特に)?"
    "(?:な[いくし]|無[いくし]|ません|ありません|なら(?:ない|ず)|しない|せず)"
)


# "きれいだけど物足りない": what is wanting is the whole, not what was praised.
_WANTING = ("物足", "もの足", "寂し", "さびし")
# "老ね香しっかり": of the name of a fault this says how much of it there is.
_MUCH_OF_IT = (
    *("しっかり", "十分", "たっぷり", "豊か", "乗って", "のって", "乗り", "よく出", "良く出"),
    *("効いて", "効く", "効いと", "効いてる", "きれいに出"),
)


def _of_no_taste(sign: Sign, text: str) -> bool:
    """Tell whether a sign is said of the character, was only thought, or that nothing is bad."""
    if sign.kind == "bad" and _NOTHING.match(text, sign.end):
        return True
    if sign.kind not in ("little", "lack", "weak"):
        return False
    of_character = _CHARACTER.search(text[: sign.start]) is not None
    return of_character or _THOUGHT.match(text, sign.end) is not None


def _minus(match: Match, text: str, words: Vocabulary) -> bool:
    """Tell whether a sign behind a match says that it is not there: "酢エチ(-)", "DMTS-"."""
    short = match.language == "ja" or match.text.isupper()
    none = short and is_fault(match.key, words) and _NONE.match(text, match.end)
    return bool(none or _MINUS.match(text, match.end))


def _complained(match: Match, words: Vocabulary) -> bool:
    """Tell whether the plain name of a match is a complaint."""
    return is_fault(match.key, words) or match.key in around(match.language)["keys"]["complaints"]


def _ended(made: list[Match], text: str, words: Vocabulary) -> list[Match]:
    """Read "bitter finish", "a metallic twang at the end" as a finish that is named too."""
    if any(one.key in _ENDS for one in made) or len(made) > 2:
        return made  # Of many things "at the end" is said in passing.
    ended = list(made)
    for match in made:
        if match.negated or match.language != "en":
            continue
        start, end = match.start, None
        if match.key == "bitter_end":
            end = _END.search(match.text)
        if end is None and (match.key == "bitter" or is_fault(match.key, words)):
            start, end = match.end, _AT_END.match(text[match.end :])
        if end is not None:
            said = end.group("end")
            start += end.start("end")
            ended.append(
                replace(
                    match,
                    key="after",
                    polarity="noted",
                    text=said,
                    start=start,
                    end=start + len(said),
                )
            )
            break
    return sorted(ended, key=lambda one: (one.start, one.end))


def _narrow(made: list[Match]) -> list[Match]:
    """Read "narrow", "幅が狭い" as too little width, "not narrow" as width."""
    small = [one for one in made if one.key == "width" and _NARROW.match(one.text)]
    if not small:
        return made
    said = "praised" if small[0].negated else "too_little"
    return [
        replace(one, negated=False, polarity=said) if one.key == "width" else one for one in made
    ]


# One of these names the finish already.
_ENDS = frozenset({"after", "long_finish", "short_finish"})
_END = re.compile(
    r"\b(?P<end>finish|end|ending|aftertaste|after-taste|close|tail)\b", re.IGNORECASE
)
_AT_END = re.compile(
    r"(?: [a-z'-]+){0,3},? (?:only )?(?:at|on|towards?) (?:the )?(?:very )?(?P<end>end)\b"
    r"(?! (?:of|would))",
    re.IGNORECASE,
)
_NO_SMELL = re.compile(
    r"smells of (?:very little|(?:almost |next to )?nothing|not much|hardly)|odou?rless"
    r"|(?:hardly|barely|no|little|not much|can['’]t|cannot|couldn['’]t) (?:any )?smell",
    re.IGNORECASE,
)
_NARROW = re.compile("narrow|one-dim|one dim|one-track|狭|せま", re.IGNORECASE)


# What only describes something that is named beside it.
_BELONGS = {
    "clove": "phenolic",
    "milk": "hiochi",
    "hazy": "cloudy",
    "raw_green": "green_wood",
}
_GREEN = re.compile("green|青", re.IGNORECASE)
_NEAR = 4
_SEEN_IN = re.compile("冴|照り|澄|色|外観")
_RATHER = re.compile("(?:と(?:いう|言う))?より(?:も|は)?")  # "甘いというより旨い": is it sweet?
# "甘口が苦手な私でも", "辛口好きには": who likes what; "色も香りも問題なし": nothing to say.
_FOND = re.compile(
    "(?:が|は|の)?(?:苦手|嫌い|大?好き)な(?:私|自分|人|方|僕|俺|父|母|妻|夫|向き|ので|んで)"
    "|(?:党|好き|派)(?:の(?:人|方|私|父)|には|なら|だから|なので|向け)"
    "|(?:[はもが]|[はもがと、][^、。]{1,3}[はもが])?(?:特に|何も)?問題(?:は)?(?:な|あり)"
)
_UNDENIED = re.compile("と(?:は|も|までは)(?:言い切れ|言え|断言でき|いえ)(?:な|ま|ん)")
_FLOATS = re.compile("(?:が|は)?[^、。]{0,4}(?:舞|浮|漂|沈|底に|見え)")
# "エグい(いい意味で)": a word of the young for what is good.
_SLANG = re.compile("[（(、 　]*(?:いい意味|良い意味|よい意味|褒め|ほめ|最高|好き|うま)")
# Beside one of these lees are what makes the sake cloudy, not a smell.
_LOOKS = frozenset({"colour", "straw_colour", "amber"})  # Beside a colour "bright" is a look.
_SEEN = frozenset({"grainy", "cloudy", "particles", "hazy", "prickle"})


def _merged(made: Sequence[Match], words: Vocabulary, text: str) -> list[Match]:
    """Take a smell beside the name of the fault that it belongs to as that fault.

    Clove is a spice, but beside phenol it describes the phenol; "すっきり" directly after
    the finish is said of the finish.
    """
    present = {match.key for match in made if not match.negated}
    named = any(key != "off" and is_fault(key, words) for key in present)
    kept: list[Match] = []
    for match in made:
        before = kept[-1] if kept else None
        general = match.text.lower() in around(match.language).get("general", ())
        if general and named and not match.negated:
            continue
        if not match.negated and _BELONGS.get(match.key) in present:
            continue
        of_aldehyde = before and before.key == "green_wood" and match.start - before.end <= _NEAR
        if match.key == "apple" and of_aldehyde and _GREEN.match(match.text):
            continue
        juice = match.key == "fruity" and match.text.startswith("果汁")
        likened = before and before.key not in PLACES
        if juice and before and likened and text[before.end : match.start] in ("の", ""):
            continue
        rather = match.negated and _RATHER.match(text, match.end)
        if (rather or _FOND.match(text, match.end)) and not is_fault(match.key, words):
            continue
        if match.negated and match.text.endswith("ない") and _UNDENIED.match(text, match.end):
            there = "fault" if is_fault(match.key, words) else "noted"
            kept.append(replace(match, negated=False, polarity=there))
            continue
        narrow = match.key == "thin" and match.text.startswith("線")
        if narrow and any(one.key == "width" for one in made):
            continue
        if match.key == "cluttered" and _SLANG.match(text, match.end):
            continue
        if match.key == "cloudy" and match.negated and match.text.startswith("濁"):
            kept.append(replace(match, key="hazy"))
            continue
        sharp = match.key == "prickle" and match.text.startswith(("ピリ", "ぴり"))
        if sharp and "辛" in text:
            kept.append(replace(match, key="alcohol_burn"))
            continue
        dull = match.key == "slack" and match.text.startswith(("ボケ", "ぼけ"))
        if dull and _SEEN_IN.search(text):
            kept.append(replace(match, key="hazy"))
            continue
        if match.key == "hiochi" and match.text.startswith("腐") and "sulphur" in present:
            continue
        seen = match.key == "lees" and (
            _FLOATS.match(text, match.end) or text[: match.start].endswith(("底に", "下に"))
        )
        if match.key == "lees" and (seen or present & _SEEN):
            if "cloudy" not in present:
                kept.append(replace(match, key="cloudy"))
            continue
        if match.text.lower() in ("bright", "brilliant") and present & _LOOKS:
            kept.append(replace(match, key="clear"))
            continue
        finish = match.key == "clean_cut" and match.text.startswith(
            ("すっきり", "スッキリ", "さっぱり")
        )
        clean = match.key == "clean" and match.language == "ja"
        joined = before and text[before.end : match.start] in ("、", " ", "")
        if before and clean and joined and before.key in _LOOKS:
            kept[-1] = replace(before, polarity="praised")  # "琥珀色、きれい".
            continue
        if before and before.key == "after" and finish and match.start - before.end <= 1:
            kept[-1] = replace(before, polarity="praised")
            continue
        kept.append(match)
    return kept


def _faced(made: Sequence[Match]) -> list[Match]:
    """Take a fault as liked whose other face is praised: "phenolic, but pleasantly spicy"."""
    praised = {match.key for match in made if match.polarity == "praised"}
    return [
        replace(match, polarity="praised")
        if match.polarity == "fault"
        and praised & set(around(match.language).get("faces", {}).get(match.key, ()))
        else match
        for match in made
    ]


# "巨峰より断然マスカット", "バナナより梨に近い": the first is only what it is compared with.
_RATHER_THAN = re.compile(
    "より(?:も|は)?(?:断然|むしろ|どちらかと言えば|どちらかというと|明らかに)?"
)
_NEARER = re.compile("(?:に近|寄り|っぽ|系|様|かな|だ|です)|$|[、。]")
_BECOMES = re.compile(r"に(?:なって|なり|変わ|感じ|つなが|見え|化け)")


def _nearer(made: Sequence[Match], text: str, found: Found) -> list[Match]:
    """Leave what another thing is only compared with: "バナナより梨"."""
    kept = list(made)
    for match, following in pairwise(made):
        between = text[match.end : following.start]
        if _RATHER_THAN.fullmatch(between) and _NEARER.match(text, following.end):
            kept.remove(match)
            found.unmatched.append(Piece(text=match.text, start=match.start, end=match.end))
    return kept


# "香りはリンゴですが", "酢イソ主体の穏やかな香り": the smell is the one that is named.
_IS_IT = re.compile("(?:です|だ|で)?(?:が|けど|けれど)?(?:[、。]|$)")
# "桃を思わせる、うっとりする香り": the smell of peach.
_LIKENED_SMELL = re.compile(
    "(?:を(?:思|想)わせる|を連想させる|を彷彿とさせる|のような|みたいな|っぽい|様の)、[^、。]{2,8}"
)
_LIKED_SMELL = re.compile("(?:いい|良い|よい|好きな|素敵な|すてきな|素晴らしい)$")


def _only_named(
    made: Sequence[Match], text: str, senses: Callable[[str], str], found: Found
) -> list[Match]:
    """Leave "香り" where it only says that what is named beside it is a smell."""
    kept = list(made)
    for place, match in enumerate(made):
        if match.key != "aroma" or match.text != "香り":
            continue
        following = made[place + 1] if place + 1 < len(made) else None
        before = made[place - 1] if place else None
        is_it = (
            following is not None
            and senses(following.key) in ("aroma", "fault")
            and text[match.end : following.start] in ("は", "が")
            and _IS_IT.match(text, following.end)
        )
        of_it = (
            before is not None
            and senses(before.key) in ("aroma", "fault")
            and not re.search("[、。 　,]", text[before.end : match.start])
            and text[: match.start].endswith(("な", "い", "た"))
            and not _LIKED_SMELL.search(text[: match.start])
        )
        again = before is not None and _LIKENED_SMELL.fullmatch(text[before.end : match.start])
        if again and before is not None and senses(before.key) in ("aroma", "fault"):
            praised = match.polarity == "praised" and before.polarity == "noted"
            if praised and before in kept:
                kept[kept.index(before)] = replace(before, polarity="praised")
            of_it = True
        if is_it or of_it or text.startswith("がなければ", match.end):
            kept.remove(match)
            found.unmatched.append(Piece(text=match.text, start=match.start, end=match.end))
    return kept


def _turned(made: Sequence[Match], text: str, words: Vocabulary) -> list[Match]:
    """Take a fault as liked that has become something else: "雑味が旨味になっている"."""
    turned = list(made)
    for place, (match, following) in enumerate(pairwise(made)):
        becomes = _BECOMES.match(text, following.end)
        joined = text[match.end : following.start] in ("が", "も", "は")
        liked = match.polarity == "fault" and not is_fault(following.key, words)
        if becomes and joined and liked:
            turned[place] = replace(match, polarity="praised")
    return turned


def _marked(match: Match, text: str, words: Vocabulary) -> Match:
    """Read a circle or a cross that stands directly after a thing."""
    if is_fault(match.key, words) or match.negated:
        return match
    if _CIRCLE.match(text, match.end):
        return replace(match, polarity="praised")
    virtue = match.key in around(match.language)["keys"]["virtues"]
    return (
        replace(match, polarity="too_little") if virtue and _CROSS.match(text, match.end) else match
    )


def _liked_fault(
    made: Sequence[Match], sign: Sign, breaks: Sequence[int], text: str, words: Vocabulary
) -> list[int]:
    """Return the fault that praise in a clause of its own is said of, if it is.

    "老ね香があるが、この酒では良い" likes the fault; "老ね香があるが美味しい" likes the sake.
    """
    close = around(sign.language)
    before = [n for n, match in enumerate(made) if match.end <= sign.start]
    if sign.kind != "praise" or not before:
        return []
    last, keys = made[before[-1]], close["keys"]
    pair = before[-2:]
    if sign.language == "ja" and len(pair) > 1 and _complaint(made[pair[0]]):
        between = text[made[pair[0]].end : last.start]
        context = any(word in text[last.end : sign.end] for word in close["in_context"])
        if between in ("と", "や", "も") and context and last.polarity == "noted":
            return pair
    if _ALONG.fullmatch(text[last.end : sign.start]) and not _SAKE.match(text, sign.end):
        begins = max((at for at in breaks if at <= last.start), default=0)
        near = [n for n in before if made[n].start >= begins]
        return [n for n in near if made[n].polarity == "fault" or made[n].key in keys["lacks"]]
    if not _complaint(last):
        return []
    if not is_fault(last.key, words) and last.key not in (*keys["lacks"], *keys["complaints"]):
        return []
    since = max((at for at in breaks if at <= sign.start), default=0)
    if sum(last.end <= at <= since for at in breaks) > 2:
        return []
    clause = text[max(since, last.end) : sign.end].lower()
    if any(word in clause for word in close["in_context"]):
        pair = before[-2:]
        joined = len(pair) > 1 and text[made[pair[0]].end : last.start] in ("と", "や", " and ")
        return pair if joined else before[-1:]
    whole = sign.text.lower() in close["of_the_whole"] or any(
        word in clause for word in close["still"]
    )
    return [] if whole else before[-1:]


# Only a comma between a fault and what is said of it: "waxy lemon, delicious".
_ALONG = re.compile(
    r"(?:\s*[A-Za-z'-]+){0,2}\s*[,、]\s*(?:so|very|really|just|quite|(?:odd|strange|weird|curious|surprising)ly|とても|実に)?\s*"
)
_SAKE = re.compile(r"\s*(?:sake|drink|brew|otherwise|overall|な?酒|お酒)", re.IGNORECASE)


def _plain(match: Match, words: Vocabulary) -> str:
    """Return the polarity of a match of which nothing more is said."""
    keys = around(match.language)["keys"]
    if match.negated:
        return "too_little" if match.key in keys["virtues"] else "absent"
    if match.polarity == "too_much" and match.key in keys["lacks"]:
        return "too_little"  # "余韻が短すぎる".
    if match.polarity != "noted":
        return match.polarity
    if is_fault(match.key, words) or match.key in keys["complaints"]:
        return "fault"
    if match.key == "aroma" and _NO_SMELL.match(match.text):
        return "too_little"
    if match.text in keys["plain_lacks"]:
        return "noted"
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


def _sense(key: str, words: Vocabulary) -> str:
    """Return the sense of a term; the name of any fault is one, wherever it is felt."""
    if is_fault(key, words):
        return "fault"
    return words.family_of(words[key]).sense if key in words else ""


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
        return before if sign.kind == "praise" else before[-1:] or past[:1]
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
    if sign.text.lower().endswith("together"):
        since = max((at for at in breaks if before and at <= made[before[-1]].start), default=0)
        return [n for n in before if made[n].start >= since]
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


def _directly(match: Match, sign: Sign, text: str) -> bool:
    """Tell whether English praise is of the thing itself: "lovely faint hineka", "it is lovely"."""
    if sign.end <= match.start:
        return bool(_BETWEEN.fullmatch(text[sign.end : match.start]))
    return bool(_IS.fullmatch(text[match.end : sign.start]))


def _said(match: Match, sign: Sign, words: Vocabulary, text: str, *, alone: bool) -> Match:
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
    japanese = sign.language == "ja"
    if sign.kind == "praise" and fault and japanese and sign.text.startswith(_MUCH_OF_IT):
        return match
    if sign.kind == "praise":
        touching = sign.language == "ja" or _directly(match, sign, text)
        directly = sign.trails or (not alone and touching)
        if match.key in keys["lacks"]:
            return replace(match, polarity="praised") if directly else match
        if match.polarity in ("too_much", "too_little"):
            return match
        return replace(match, polarity="praised") if not fault or directly else match
    if sign.kind == "lack" and (fault or match.key in keys["unmissed"]):
        return replace(match, negated=True, polarity="absent")
    if fault:
        return match
    if sign.kind == "bad":
        worse = sign.text.lower().startswith("worse")
        lacking = virtue and (worse or match.key not in ("balance", *PLACES))
        return replace(match, polarity="too_little" if lacking else "fault")
    if sign.kind == "much" and match.key in keys["lacks"]:
        return replace(match, polarity="too_little")
    if sign.kind == "much":
        return replace(match, polarity="too_much")
    if sign.kind == "lack":
        return replace(match, negated=True, polarity="too_little")
    if sign.kind in ("weak", "little") and match.key == "bright" and match.text.endswith("さ"):
        return replace(match, polarity="too_little")
    if sign.kind == "little" or (sign.kind == "weak" and virtue and match.key not in PLACES[:3]):
        return replace(match, polarity="too_little")
    return match
