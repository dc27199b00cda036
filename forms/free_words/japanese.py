"""Reading free Japanese: endings of adjectives, suffixes, negation after the word.

Japanese does not part words, so a run is cut by the longest known way to say
something. A single kanji that stands beside one that is not known is part of
another word; then the whole is left for a person.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from unicodedata import normalize

from ..questions.term_vocabulary import Vocabulary
from . import english_words
from .japanese_clean import itself_clean, just_liked
from .japanese_denied import felt, hardly, in_balance, less_than, light_touch, spared
from .japanese_subjects import compounds, off_subject, smelt
from .match import PLACES, SIGNS, Found, Item, around, each_vocabulary, entries

_KANJI = re.compile(r"[\u4e00-\u9fff々]")
_HIRAGANA = re.compile(r"[\u3041-\u3096]+")
_ENDINGS = (
    "くありません",
    "くなかった",
    "くなくて",
    "くない",
    "くなく",
    "くて",
    "かった",
    "さ",
    "め",
    "く",
    "そう",
    "すぎない",
    "すぎず",
    "過ぎない",
    "過ぎず",
    "すぎる",
    "すぎて",
    "すぎ",
    "過ぎる",
    "過ぎて",
    "過ぎ",
    "くありませ",
    "くても",
    "ければ",
    "うない",
    "うて",
    "うなった",
)
# A predicate before one of these ends what is said; after a noun "が" is a particle.
_BUT = re.compile(r"(?<=[いだたるすなし])(?:が|けれども|けれど|けど|のに|ものの)(?=.)")
# With one of these "口当たり" is only where it is felt.
_FRUITS = (
    *("apple", "pear", "banana", "melon", "pineapple", "peach", "muscat", "strawberry", "citrus"),
    *("lychee", "mango"),
)
_TOUCHES = ("smooth", "round", "soft", "rough", "creamy", "grainy")
# Said of something that is named before, these tell how strong or how pleasant it is.
_OF_OTHERS = {
    "thin": "weak",
    "rich": "strong",
    "full": "praise",
    "soft": "praise",
    "round": "praise",
}
_TASTES = ("sweet", "sour", "umami", "bitter", "astringent", "salty")
_OF_NAMED = re.compile("(?:の?(?:香り|かおり|香|匂い|味|風味))?[がはもの、]?")
# "甘い香り" is a smell, not a taste.
_SMELT = re.compile("(?:香|匂|にお|臭)")
# Before one of these "薄い" is a degree.
_LOOKS = ("cloudy", "hazy", "colour", "straw_colour", "amber")
_KATAKANA = re.compile("[ァ-ヶー]")
# So many katakana a misspelt word must have.
_SPELT = 4
_LARGE = str.maketrans("ぁぃぅぇぉゃゅょゎ", "あいうえおやゆよわ")
_LATIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")
_AROUND = (
    "quoting",
    "pairing",
    "elsewhere",
    "style",
    "negators",
    "slight",
    "strong",
    "unsure",
    "stop",
    "suffixes",
    "grammar",
)
# "香り" of nothing named and before one of these is spoken of itself.
_PEAR = re.compile("(?<=[かやと])ナシ|ナシ(?=[かやっ様系])").match  # "リンゴかナシか"
_ITSELF = re.compile(r"に(?:華|難|乏|欠|力|勢)|[がはも上高弱きつ乏控華強良豊穏少無な閉薄淡よ]|$")
# "Aほど" and "前回ほど" before a negation: less of it than there.
_THAN = re.compile(
    "(?:[A-Za-z0-9０-９]|[番本回先杯前年月週号瓶]|タンク|ロット|カップ|グラス|中取り|責め|荒走り)ほど"
)
# "バター?いや、ヨーグルト": what was just asked is denied.
_NO = re.compile("(?:いや|いえ|いいえ|違う|違った|違います)(?![なだでら]|に|はや|[0-9０-９])")
# "ヒネ、ムレ、ツワリいずれもなし": the denial is of the whole list.
_WHOLE_LIST = re.compile("(?:い)?ずれも|どれも|とも(?:に)?|すべて|全て|一切")
# "(…)ではなくX": what stood before the bracket is denied.
_RATHER = re.compile("(?:では|じゃ|で)(?:なく|ない)")
# Before "くない" and its like these verbs leave a thing there: "カビ臭が拭えない".
_STAYS = re.compile(
    "(?:拭|隠|隠せ|否|否め|避け|許|許せ|耐え|抜け|取れ|消え|飛ば|馴染ま|なじま|慣れ|慣れられ|ぬぐ|ぬぐえ|去ら|離れ|変わら|替わら|かわら)"
    "(?:き(?:ら|れ))?(?:られ)?(?:ない|ません|ず|なかった|ていない)"
)
# "カビ臭と言うが私は感じない": another's finding, which the writer does not share.
_TOLD = re.compile(
    "(?:と|って)(?:言う|言って(?:い(?:る|た))?|言った|言われた|指摘した|指摘する|指摘された)"
    "(?:が|けど|けれど|ものの)(?=.*(?:感じ|分から|わから|思わ|拾え|取れ|気づか)(?:ない|なかった|ません|ず))"
)
# "老ねてませんか", "苦くないですか": a doubt that it is there.
_DOUBTED = re.compile("(?:ません|ない(?:です|の)|なく)か(?:ね|な|しら)?$|[てで]んじゃないの?$")
# "隣の人と同じく": the writer finds it too.
_ALIKE = re.compile("と(?:同じ|同様|一緒で|一致)")
# "古酒" before one of these is the kind of sake in which something is found.
_IN_STYLE = re.compile(
    "(?:古酒|熟成酒|長期熟成酒|長期熟成|秘蔵酒)(?:に|なら|では|だと|の(?!香|味|臭|匂|よう)|か(?:$|な|も|、)|[?？])"
)
# "老ねる手前" is not yet there, and more than nothing: for a person.
_SHORT_OF = ("寸前", "手前")
_SOON = re.compile("(?:すぐ|すぐに|まもなく|間もなく|数分で|じきに|やがて)$")
# "酵母" before one of these is a smell.
_SMELLS = re.compile(
    "の?(?:香|臭|匂|にお|くさ|っぽ|様|感|ぽ|風味|味|由来|的|のよう|みたい)|と|や|、|$"
)
# Behind these "香り" is named anew: "冷えすぎてて香りが開かない", "私は香りが強いと思う".
_ANEW = re.compile(
    "(?:より(?:も|は)?|[てはがも]|けど|のに|[るい]と|たら|れば|一番|いちばん|最も|ほとんど|あまり|全然|まったく|全く|まだ|とても|やや|少し|ちょっと|すごく|思ったより)$"
)
# "嫌味のない香り" is praise of the smell; "うちでは出ない香り" is not.
_PLAIN = re.compile("(?:の|が|く)(?:ない|無い)$")
# "フルーティでいい香り": the smell as a whole; "りんごっぽくてさわやかな香り" is of the apple.
_BEFORE_LIKED = re.compile("(?:^|で|が|は|も)$")
# What is said so is done: "酢イソ高くカプなし".
_ENDED = re.compile("(?:くて|[高強多濃深長弱低良]く)$")
# "ムレ香。冷たいうちは気づかなかった": it was not there before, and is now.
_EARLIER = re.compile("(?:うち|まで|前|間|とき|時|頃)は")
# "鼻では酢エチ、口では感じない": it is there, on the nose.
_PLACED = re.compile("(?:鼻|口|含|舌|上立|飲む|飲んで|飲んだ)")
# "だれん、ひねん": verbs of faults, denied.
_VERBS = ("stale", "raw_stale", "slack", "musty")
_ROOTS = ("ひね", "ヒネ", "老ね", "ムレ", "ダレ", "ボケ")
_UNDONE = (
    *("ない", "ん", "ず", "なかった", "てない", "ていない"),
    *("とらん", "ておらん", "てへん", "とらず", "てはない", "てはいない", "てもない", "てもいない"),
)
_NOUNS = (
    "匂い",
    "におい",
    "臭い",
    "味わい",
    "違い",
    "勢い",
    "具合い",
    "なし",
    "梨",
    "だし",
    "押し",
    "おし",
)


@dataclass(frozen=True, slots=True)
class JapaneseLexicon:
    """Every way to say something, as it is written; with the kana of three letters on folded."""

    ways: Mapping[str, tuple[str, str, str, str]]
    folded: Mapping[str, tuple[str, str, str, str]]
    loose: Mapping[str, tuple[str, str, str, str]]
    others: frozenset[str]
    longest: int


def hiragana(text: str) -> str:
    """Write katakana as hiragana, letter by letter.

    >>> hiragana("リンゴ")
    'りんご'
    """
    return "".join(chr(ord(c) - 0x60) if "ァ" <= c <= "ヶ" else c for c in text)


def loosely(text: str) -> str:
    """Write kana without what slips most: long vowels, small letters, marks of voice.

    >>> loosely("パイナッブル") == loosely("パイナップル")
    True
    """
    plain = normalize("NFD", hiragana(text).translate(_LARGE))
    return "".join(letter for letter in plain if letter not in "\u3099\u309aーっつ")


@each_vocabulary
def lexicon(words: Vocabulary) -> JapaneseLexicon:
    """List all ways: (kind, key, level, what the ending says)."""
    ways: dict[str, tuple[str, str, str, str]] = {}
    for level, entry in entries(words):
        said = list(entry.ways("ja"))
        said += [part for way in said[:1] for part in way.split("・")]
        for way in said:
            ways.setdefault(normalize("NFKC", way), ("match", entry.key, level, ""))
    for direction, by_language in words.hedonic.items():
        for way in by_language["ja"]:
            ways.setdefault(way, ("liking", direction, "", ""))
    for way, (kind, key, level, _) in list(ways.items()):
        if way.endswith("い") and len(way) > 1 and way != "いい" and kind in ("match", "liking"):
            for ending in _ENDINGS:
                denied = any(part in ending for part in ("くな", "くあり", "うない"))
                says = "negated" if denied else "form"
                much = "すぎ" in ending or "過ぎ" in ending
                says = "much" if much and ending[-1] not in "いず" else says
                ways.setdefault(way[:-1] + ending, (kind, key, level, says))
    for way, (kind, key, level, _) in list(ways.items()):
        base = way if way in _ROOTS else way.removesuffix("る")
        if key in _VERBS and (way in _ROOTS or base != way) and not base.endswith(("て", "と")):
            for ending in _UNDONE:
                ways.setdefault(base + ending, (kind, key, level, "negated"))
    for way, (kind, key, level, _) in list(ways.items()):
        if kind == "match" and way.endswith("つく"):
            for ending in ("ない", "ず", "なく", "なくて", "ん"):
                ways.setdefault(way[:-1] + "か" + ending, (kind, key, level, "negated"))
    close = around("ja")
    for kind in (*SIGNS, *_AROUND):
        for way in close[kind]:
            ways.setdefault(way, (kind, "", "", ""))
    for way, (kind, key, level, _) in list(ways.items()):
        if key in _FRUITS and _KATAKANA.fullmatch(way[-1]):
            ways.update(
                {
                    way + end: (kind, key, level, "form")
                    for end in close["made_of"]
                    if way + end not in ways
                }
            )
    for way in close["none_of"]:
        ways[way] = ("match", close["none_of"][way], "term", "negated")
    for way in close["much"]:
        if way.endswith(("すぎ", "過ぎ")):
            # "派手すぎず" is not too much of it.
            ways.update({way + ending: ("slight", "", "", "") for ending in ("ず", "ない", "なく")})
    folded = {hiragana(way): what for way, what in ways.items() if len(way) >= 3 and what[1]}
    for reading, way in around("ja")["readings"].items():
        if way in ways:
            folded.setdefault(reading, ways[way])
    loose: dict[str, tuple[str, str, str, str]] = {}
    for way, what in ways.items():
        if what[0] == "match" and len(_KATAKANA.findall(way)) >= _SPELT:
            other = loose.setdefault(loosely(way), what)
            if other[1] != what[1]:
                loose[loosely(way)] = ("left", "", "", "")
    others = frozenset(compounds()) - set(ways)
    return JapaneseLexicon(ways, folded, loose, others, max(map(len, (*ways, *others))))


def read(text: str, offset: int, words: Vocabulary, found: Found) -> None:
    """Read a run of Japanese that begins at `offset` of the whole into `found`."""
    known = lexicon(words)
    flat, at = _flat(text)
    items = _items(flat, known, english_words.lexicon(words))
    items = [replace(item, first=at[item.first], past=at[item.past]) for item in items]
    items = _whole_words(items, text)
    named = english_words.lexicon(words).named
    if any(item.kind == "quoting" for item in items) or _ALIKE.search(text):
        items = [item for item in items if not _neighbour(item, text)]
    else:
        items = off_subject(items, text, named)
    items = _not_shared(items, text)
    items = _judged(items, text)
    if _DOUBTED.search(text):
        items = [replace(item, negated=False) if item.kind == "match" else item for item in items]
    if any(item.kind == "elsewhere" for item in items):
        items = [replace(item, kind="left") if item.kind == "match" else item for item in items]
    items = itself_clean(items, text)
    if text.startswith(("問題なし", "問題ない", "特に問題な")) and not found.matches:
        items = [
            replace(item, kind="match", key="off", level="term", negated=True)
            if item.kind == "denial"
            else item
            for item in items
        ]
    if (_NO.match(text) or _RATHER.match(text)) and found.matches:
        denied = found.matches[-1].key
        found.matches[:] = [
            replace(match, negated=True) if match.key == denied else match
            for match in found.matches
        ]
    if _WHOLE_LIST.search(text) and any(item.negated for item in items if item.kind == "match"):
        _deny_list(found, offset)
    touched = any(item.kind == "match" and item.key in _TOUCHES for item in items)
    touched = touched or light_touch(text)
    for item in items:
        if item.kind == "match" and item.key == "touch" and touched:
            continue
        placed = _PLACED.match(text) and any(one.key in PLACES for one in found.matches)
        earlier = _EARLIER.search(text) is not None or placed
        if item.kind == "denial" and found.matches and not _judges(items) and not earlier:
            found.matches[-1] = replace(found.matches[-1], negated=True)
        if item.kind == "stop":
            found.breaks.append(offset + item.first)
        said = text[item.first : item.past]
        leads = said.endswith(tuple("いなたの"))
        found.take(item, "ja", said, offset + item.first, leads=leads)


def _neighbour(item: Item, text: str) -> bool:
    """Tell whether an item only says who it is that found something."""
    return item.kind == "elsewhere" and text[item.first : item.past].startswith(("隣", "となり"))


def _not_shared(items: list[Item], text: str) -> list[Item]:
    """Read what somebody else finds, and the writer does not, as not there."""
    told = _TOLD.search(text)
    if told is None:
        return items
    return [
        replace(item, negated=True) if item.kind == "match" and item.past <= told.start() else item
        for item in items
        if item.kind not in ("elsewhere", "pairing") or item.first > told.end()
    ]


def _deny_list(found: Found, start: int) -> None:
    """Deny what was named before `start` with only a comma between, back to the list's first."""
    for place in reversed(range(len(found.matches))):
        match = found.matches[place]
        if start - match.end > 1:
            return
        found.matches[place] = replace(match, negated=True)
        start = match.start


def _foreign(word: re.Match[str], latin: english_words.EnglishLexicon) -> Item:
    """Read a Latin word inside Japanese: "finishが短い"."""
    stem, how = english_words.understood(english_words.stem(word.group()), latin)
    level, key = latin.ways.get((stem,), ("", ""))
    kind = "match" if key else "left"
    return Item(kind, word.start(), word.end(), key, level, how if key else "exact")


def _flat(text: str) -> tuple[str, list[int]]:
    """Write half-width kana full width; return the text and where each letter stood."""
    flat, at = "", []
    for sign in re.finditer(r"[\uff66-\uff9d][\uff9e\uff9f]?|.", text, re.DOTALL):
        letters = normalize("NFKC", sign.group())
        flat += letters
        at += [sign.start()] * len(letters)
    return flat, [*at, len(text)]


def _items(text: str, known: JapaneseLexicon, latin: english_words.EnglishLexicon) -> list[Item]:
    """Cut a run into the longest things that are known, from left to right."""
    alone = around("ja")["alone"].get(text)
    if alone:
        return [Item("match", 0, len(text), alone, "term")]
    items: list[Item] = []
    at = 0
    while at < len(text):
        stays = _STAYS.match(text, at)
        if stays:
            items.append(Item("grammar", at, stays.end()))
            at = stays.end()
            continue
        but = _BUT.match(text, at)
        if but and items and not text[:at].endswith(_NOUNS):
            items.append(Item("stop", at, but.end()))
            at = but.end()
            continue
        foreign = _LATIN.match(text, at)
        ends = range(foreign.end(), min(len(text), at + known.longest) + 1) if foreign else ()
        if foreign and not any(text[at:end].upper() in known.ways for end in ends):
            items.append(_foreign(foreign, latin))
            at = foreign.end()
            continue
        for length in range(min(known.longest, len(text) - at), 0, -1):
            part = text[at : at + length]
            what = known.ways.get(part.upper() if foreign else part)
            after = items[-1].kind if items else ""
            if part == "ナシ" and after in ("match", "grammar", "suffixes") and not _PEAR(text, at):
                what = ("negators", "", "", "")
            named = after in ("match", "grammar", "suffixes", "left", "liking")
            named = named and _ANEW.search(text[:at]) is None
            named = named or (after == "negators" and _PLAIN.search(text[:at]) is None)
            liked = just_liked(items, text[:at])
            if liked:
                named = _BEFORE_LIKED.search(text[: liked.first]) is None
            if part in ("香り", "かおり") and not named and _ITSELF.match(text, at + length):
                what = ("match", "aroma", "term", "")
            if what is None and length >= 3:
                what = known.folded.get(hiragana(part))
            if what is None and len(_KATAKANA.findall(part)) >= _SPELT:
                what = known.loose.get(loosely(part))
            if part in known.others and not smelt(text, at + length):
                what = ("left", "", "", "")
            if what is None:
                continue
            kind, key, level, says = what
            if part.endswith("感") and text.startswith("じ", at + length):
                continue  # "アルコール感じさせない".
            if part == "酵母" and not _SMELLS.match(text, at + length):
                kind, key = "left", ""  # The yeast itself.
            if part == "でも" and after == "match":
                kind, key = "grammar", ""  # "花でも果物でもなく".
            if part == "おり" and text[:at].endswith("て"):
                kind, key = "grammar", ""
            if kind == "negators" and _SOON.search(text[:at]):
                kind = "left"  # "硫黄がすぐ消えた": it was there.
            if kind == "negators" and not _negates(part, text[:at], after):
                kind = "left"
            how = "form" if says or part not in known.ways else "exact"
            if part not in known.ways and hiragana(part) not in known.folded:
                how = "spelling"
            items.append(
                Item(
                    kind,
                    at,
                    at + length,
                    key,
                    level,
                    how,
                    negated=says == "negated",
                    much=says == "much",
                )
            )
            at += length
            break
        else:
            if items and items[-1].kind == "left":
                items[-1] = replace(items[-1], past=at + 1)
            else:
                items.append(Item("left", at, at + 1))
            at += 1
    return items


def _negates(word: str, before: str, kind: str) -> bool:
    """Tell whether "ない" says that a thing is not there, and is no part of another verb."""
    if not word.startswith(("ない", "なく", "なかった")):
        return True
    return kind == "match" or not before.endswith(tuple("らかさたちばまわえけせねべめれげき"))


def _whole_words(items: list[Item], text: str) -> list[Item]:
    """Leave a single kanji, or a katakana stretch, that is only a part of an unknown word."""
    made: list[Item] = []
    for place, item in enumerate(items):
        if item.kind in ("match", "liking") and _cut(items, place, text):
            made.append(replace(item, kind="left"))
        else:
            made.append(item)
    joined: list[Item] = []
    for item in made:
        if joined and item.kind == "left" and joined[-1].kind == "left":
            joined[-1] = replace(joined[-1], past=item.past)
        else:
            joined.append(item)
    return joined


def _cut(items: list[Item], place: int, text: str) -> bool:
    """Tell whether a known way stands inside a longer word that is not known."""
    item = items[place]
    word = text[item.first : item.past]
    beside = around("ja")["beside"]
    for step, edge, inner in ((-1, -1, 0), (1, 0, -1)):
        other = place + step
        if not 0 <= other < len(items):
            continue
        neighbour = text[items[other].first : items[other].past]
        letter, mine = neighbour[edge], word[inner]
        unknown = items[other].kind == "left"
        if len(word) == 1 and _KANJI.match(mine) and _KANJI.match(letter) and unknown:
            return letter not in beside
        if unknown and len(word) < 3 and _HIRAGANA.fullmatch(word + letter):
            return True  # "くり" in "びっくり".
        if unknown and _katakana(mine) and _katakana(letter):
            # Of "デリシャスリンゴ" the end says what it is.
            return step > 0 or len(word) < 3
        if unknown and step > 0 and word[-1] in "酸酢" and _katakana(letter):
            return True
    return False


def _judges(items: list[Item]) -> bool:
    """Tell whether a run says something of its own, so that its "no" denies nothing before."""
    return any(item.kind in ("match", "left", "liking") for item in items)


def _katakana(letter: str) -> bool:
    return "ァ" <= letter <= "ヺ" or letter == "ー"


def _judged(items: list[Item], text: str) -> list[Item]:
    """Give matches the negation and degree that follow, or the degree before."""
    made: list[Item] = []
    open_at = 0
    degree = ""
    less = bool(_THAN.search(text))
    unsure = any(item.kind == "unsure" for item in items)
    for place, item in enumerate(items):
        if _ENDED.search(text[: item.first]):
            open_at = len(made)  # "炭っぽくて味がない" denies the taste only.
        if item.kind == "match" and item.key == "aged" and _IN_STYLE.match(text, item.first):
            made.append(replace(item, kind="left"))
        elif item.kind == "match":
            following = items[place + 1].kind if place + 1 < len(items) else ""
            lightly = text.startswith(("軽", "淡い", "淡く"), item.first)
            thinly = text.startswith(("薄", "うす"), item.first) and item.key == "thin"
            looks = place + 1 < len(items) and items[place + 1].key in _LOOKS
            touch = place + 1 < len(items) and items[place + 1].key == "touch"
            lightly = item.key == "light" and following == "match" and lightly and not touch
            if lightly or (thinly and looks):
                degree = "slight"
                continue
            if item.key == "rich" and made and made[-1].key in _LOOKS:
                made[-1] = replace(made[-1], degree="strong")
                continue
            if item.key == "sweet" and _SMELT.match(text, item.past):
                made.append(replace(item, kind="left"))
                continue
            last = made[-1] if made else None
            if item.key in _OF_OTHERS and last and _speaks_of(last, item, text):
                kind = _OF_OTHERS[item.key]
                if kind == "strong":
                    made[-1] = replace(last, degree="strong")
                elif kind == "weak":
                    made[-1] = replace(last, little=True)
                elif not item.negated:
                    made.append(replace(item, kind="praise"))
                continue
            said = text[item.first : item.past]
            likened = following == "suffixes" or said.endswith(("っぽい", "様", "のような"))
            one = replace(item, degree=degree, unsure=unsure, likened=likened)
            lessened = item.negated and (less or less_than(text[: item.past]))
            made.append(replace(one, negated=False, degree="slight") if lessened else one)
            degree = ""
            if item.negated:
                open_at = len(made)
        elif item.kind == "negators" and made and felt(made[-1], text[made[-1].first : item.past]):
            open_at = len(made)
        elif item.kind == "negators" and made and in_balance(made[-1], text[item.first :]):
            made.append(Item("praise", item.first, item.past))
            open_at = len(made)
        elif item.kind == "negators" and _of_unread(items, place):
            open_at = len(made)  # "紹興酒みたいで日本酒っぽくない".
        elif item.kind == "negators" and not made:
            made.append(replace(item, kind="denial"))
        elif item.kind == "negators":
            first = len(made) - 1 if made[-1].kind == "liking" else open_at
            for at in range(first, len(made)):
                if spared(made, at, text):
                    continue
                if hardly(made[at], text, item):
                    made[at] = replace(made[at], little=True)
                    continue
                lessened = less and made[at].kind == "match"
                weaker = replace(made[at], degree="slight")
                made[at] = weaker if lessened else _turned(made[at])
            open_at = len(made)
        elif item.kind == "style" and made:
            short_of = text[item.first : item.past].rstrip("の").endswith(_SHORT_OF)
            if short_of or made[-1].key in around("ja")["styles"]:
                made[-1] = replace(made[-1], kind="left")
        elif item.kind == "pairing" and text[: item.past].endswith(("のは", "なら")):
            return [*made, *(replace(one, kind="left") for one in items[place:])]
        elif item.kind == "elsewhere":
            made.append(item)
        elif item.kind == "pairing":
            made = [replace(one, kind="left") if one.kind == "match" else one for one in made]
        elif item.kind in SIGNS:
            made.append(item)
            open_at = len(made)
        elif item.kind in ("slight", "strong"):
            after = made and made[-1].kind == "match" and open_at < len(made)
            if after and not made[-1].degree and not _speaks_of_next(items, place):
                made[-1] = replace(made[-1], degree=item.kind)
            else:
                degree = item.kind
        elif item.kind == "stop":
            made.append(item)
            open_at = len(made)
        elif item.kind in ("left", "liking"):
            bad = item.kind == "liking" and item.negated  # "良くない".
            made.append(_turned(item) if bad else item)
    return made


def _of_unread(items: list[Item], place: int) -> bool:
    """Tell whether "っぽくない" is said of something that no term stands for."""
    if place < 2 or items[place - 1].kind != "suffixes":
        return False
    return items[place - 2].kind in ("left", "grammar")


def _speaks_of(last: Item, item: Item, text: str) -> bool:
    """Tell whether an adjective of the body is said of a taste or smell: "旨味が薄い"."""
    own = last.kind == "match" and last.key not in (*_OF_OTHERS, *_TOUCHES, *_LOOKS, "touch")
    if item.key in ("soft", "round") and last.key in _TASTES:
        return False
    return own and _OF_NAMED.fullmatch(text[last.past : item.first]) is not None


def _speaks_of_next(items: list[Item], place: int) -> bool:
    """Tell whether a word of degree stands before the thing it speaks of."""
    return place + 1 < len(items) and items[place + 1].kind == "match"


def _turned(item: Item) -> Item:
    if item.kind == "liking":
        return replace(item, key={"good": "bad", "bad": "good"}[item.key])
    return replace(item, negated=True) if item.kind == "match" else item
