"""When "きれい" and "華やか" are findings of their own: a clean taste, a showy smell.

Of a thing that is named they are praise ("酸がきれい"). Alone, of the whole, of the first touch
("入口はきれい") or against another cup ("Bの方がきれい") they say what it tastes like.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from .match import Item

_WORD = "(?:きれい|綺麗|キレイ)"
_CLEAN = re.compile(rf"{_WORD}(?:な|で|だ|です)?")
# "きれいな香り" is praise of the smell.
_OF_SMELL = re.compile("な?(?:香|匂|にお|酸|色|甘|余韻|後)")
# What is clean is the whole, its first touch, or this cup against another.
_OF_ALL = re.compile(
    r"(?:(?:(?:方|ほう|こちら|これ|こっち)(?:が|は)|より(?:も|は)?|一番|いちばん|最も|全体(?:に|的に|として(?:は)?)?(?:は)?"
    r"|(?:入り?口?|出だし|前半|最初|初め|はじめ|味|味わい|酒質)(?:は|が|も)?)"
    rf"(?:まあまあ|わりと|割と|なかなか|意外と|意外に|とても|すごく|実に|かなり)?){_WORD}(?!に)"
    rf"|{_WORD}に(?:まとま|仕上|出来|でき(?!て[^い])|造|作)"
)
_LESS = re.compile(rf"ほど(?:に|は)?{_WORD}(?:では|じゃ|や|で|とは)(?:は)?(?:な[いかく]|言え|あり)")
_TOO = re.compile(rf"{_WORD}(?:すぎ|過ぎ)(?!ず|な)(?:る|て|た|で)?")
# "華やか" of no thing is said of the smell.
_SHOWY = re.compile(
    r"(?:(?:はじめ|初め|最初|前半|入り|第一印象|立ち上がり|開けたて)(?:は|が|に)?)?"
    r"(?:とても|実に|すごく|なんとも|やや|少し|ちょっと)?(?:華やか|はなやか|ハナヤカ|華やぐ)"
    r"(?:(?:だ|です|で|ー|っ|だが|だけど|ですが|だった)*$|(?P<much>(?:すぎ|過ぎ)(?!ず|な)(?:る|て|た)?))"
)

# "華やかな香り" is the smell as a whole; "きれいな香り" praises what was named.
_SHOWN = re.compile("(?<!きれい)(?<!綺麗)(?<!キレイ)な$")


def itself_clean(items: Sequence[Item], text: str) -> list[Item]:
    """Read "きれい" as a clean taste, "華やか" as a smell, where a clause names nothing else.

    Parameters
    ----------
    items : sequence of Item
        What a run was cut into, judged.
    text : str
        The run.
    """
    showy = _SHOWY.match(text)
    if showy and not any(item.kind == "match" and item.first < showy.end() for item in items):
        much = bool(showy["much"])
        said = ("much", "bad") if much else ("much",)
        rest = [item for item in items if item.first >= showy.end() and item.kind not in said]
        end = showy.end() - (not much)
        smell = Item("match", 0, end, "aroma", "term", much=much)
        praise = [] if much else [Item("praise", end, showy.end())]
        return [smell, *praise, *rest]
    for pattern in (_LESS, _TOO, _OF_ALL):
        little, much = pattern is _LESS, pattern is _TOO
        for span in pattern.finditer(text):
            first, past = span.span()
            if any(_named(one, first, past, text) for one in items):
                continue
            here = [one for one in items if not (first <= one.first < past and one.kind != "stop")]
            end = past - (pattern is _OF_ALL)
            clean = Item("match", first, end, "clean", "term", little=little, much=much)
            praise = [Item("praise", end, past)] if pattern is _OF_ALL else []
            return sorted([*here, clean, *praise], key=lambda one: one.first)
    return [_read(item, items, text) for item in items]


def _read(item: Item, items: Sequence[Item], text: str) -> Item:
    """Read one "きれい" as a clean taste, if nothing since the last stop is what it is said of."""
    said = text[item.first : item.past]
    if item.kind != "liking" or not _CLEAN.fullmatch(said):
        return item
    last = max(
        (one.past for one in items if one.kind == "stop" and one.past <= item.first), default=0
    )
    nothing = not any(one.kind in ("match", "left") and one.past > last for one in items)
    alone = nothing and not _OF_SMELL.match(text, item.past)
    apart = text[: item.first].endswith(("なく", "くて")) or item.first == 0
    ends = re.match("で(?!す|は|も)|$", text[item.past :])
    if alone or (not nothing and apart and ends):
        return replace(item, kind="match", key="clean", level="term")
    return item


def _named(item: Item, first: int, past: int, text: str) -> bool:
    """Tell whether a thing is named in a stretch or as its subject: "酸の方がきれい"."""
    subject = text[item.past : first] in ("", "の")
    inside = item.first < past and first < item.past
    return item.kind == "match" and (inside or (item.past <= first and subject))


def just_liked(items: Sequence[Item], text: str) -> Item | None:
    """Return the praise that a text ends with: "いい", "華やかな", but not "きれいな".

    Parameters
    ----------
    items : sequence of Item
        What the text was cut into so far.
    text : str
        The text up to there.
    """
    if not items:
        return None
    last = items[-2] if len(items) > 1 and _SHOWN.search(text) else items[-1]
    return last if last.kind in ("liking", "praise") else None
