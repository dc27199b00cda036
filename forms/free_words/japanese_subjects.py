"""Is a Japanese run about the drink at all, or about a bottle, a person, the weather, work?

A run is left for a person where it tells what was done ("紙コップで飲んだ"), is about a thing or
somebody ("ラベルがきれい", "杜氏が若い"), or where a word of taste only describes one ("甘い言葉").
A word of smelling in it ("ゴム栓の臭い") lets it be read as ever.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from functools import cache

from .match import SIGNS, Item, other_subjects

# A word that ends so names a smell itself.
_SMELT = ("香", "臭", "匂い", "におい", "臭い", "さ", "感", "味", "様")

# "老ねてませんか" doubts, and asks nobody to do anything.
_DOUBTS = re.compile("(?:て(?:い)?|あり|感じ|し)ませんか(?:ね|な)?$")
_ADVERB = re.compile("[^がはのを]{1,3}く")


def _any(words: Sequence[str]) -> str:
    return "|".join(sorted(map(re.escape, words), key=len, reverse=True))


@cache
def _patterns() -> dict[str, re.Pattern[str]]:
    close = other_subjects("ja")
    things, people, abstracts = (_any(close[name]) for name in ("things", "people", "abstracts"))
    anchors = _any(close["anchors"])
    return {
        "anchors": re.compile(anchors),
        "smells": re.compile(rf"(?:の|な|そのもの)?(?:{_any(close['smells'])})"),
        "deeds": re.compile(rf"(?:{_any(close['deeds'])})(?:です|でした|ました|よ|ね|のだ)?$"),
        "requests": re.compile(rf"(?:{_any(close['requests'])})(?:ね|よ)?$"),
        "topic": re.compile(rf"(?:{things})(?:が|は|も)(?!合)"),
        "person": re.compile(rf"(?:{people})(?:が|は|も)(?!合)"),
        "tells": re.compile(_any(close["tells"])),
        "endings": re.compile(
            rf"{_any(close['endings'])}|を(?!.*(?:{_any(close['noticed'])}|{anchors})).*(?:[うくすつぬぶむるた]|です|ます|たい)$"
            r"|に(?:書|貼|包|描|印刷|行|住|乗|座|触|塗)|で(?:作|造|書|拭|洗|包|割|買|冷|温|磨|濾|焼)"
        ),
        "eaten": re.compile(rf"(?:は|が|も)[^、。]{{0,6}}(?:{_any(close['eaten'])})"),
        "deed": re.compile(
            rf"(?!{_any(close['tasted'])})[\u4e00-\u9fff]{{1,2}}(?:した|する|し|った|んだ|いた)"
        ),
        "described": re.compile(
            rf"(?:の|な|い|た|だった|った|ような|(?<=[いたるなの]))(?:古い|新しい|小さな|大きな)?"
            rf"(?:{things}|{people}|{abstracts})(?:[がはもをにでとへや]|の(?!臭|匂|にお|香|味)|だ|です|から|まで|しか|さえ|ばかり|すら|$)"
        ),
    }


def compounds() -> dict[str, int]:
    """Return the words of other things in which a word of taste stands."""
    return dict.fromkeys(other_subjects("ja")["compounds"], 0)


def smelt(text: str, at: int) -> bool:
    """Tell whether a word of smelling or likeness follows."""
    return _patterns()["smells"].match(text, at) is not None


def off_subject(items: Sequence[Item], text: str, named: AbstractSet[str]) -> list[Item]:
    """Leave what is said of something that is no drink.

    Parameters
    ----------
    items : sequence of Item
        What a run was cut into.
    text : str
        The run.
    named : set of str
        The keys of smells and faults.
    """
    if not any(item.kind == "match" for item in items):
        return list(items)
    others = list(text)
    for item in items:
        if item.kind == "match":
            others[item.first : item.past] = "＊" * (item.past - item.first)
    if _whole(text, "".join(others)):
        return [_left(item) for item in items]
    return [_left(item) if _of_a_thing(item, text, named) else item for item in items]


def _of_a_thing(item: Item, text: str, named: AbstractSet[str]) -> bool:
    """Tell whether a word only names or describes a thing: "甘い言葉", "リンゴをかじる"."""
    found = _patterns()
    if item.kind not in ("match", "praise", "liking"):
        return False
    if found["described"].match(text, item.past):
        return True
    said = text[item.first : item.past]
    if item.key not in named or said.endswith(_SMELT):
        adverb = item.kind == "match" and item.first == 0 and _ADVERB.fullmatch(said) is not None
        return adverb and found["deed"].match(text, item.past) is not None
    food = said in other_subjects("ja")["foods"] and found["eaten"].match(text, item.past)
    return bool(food or found["endings"].match(text, item.past))


def _whole(text: str, others: str) -> bool:
    """Tell whether a run is about no drink; `others` is it without the words of taste."""
    found = _patterns()
    if found["requests"].search(others) and "もっと" not in text and not _DOUBTS.search(text):
        return True
    if found["topic"].search(others):
        return True
    person = found["person"].search(others) and not found["tells"].search(text)
    if found["anchors"].search(text):
        return False
    return bool(person) or found["deeds"].search(others) is not None


def _left(item: Item) -> Item:
    """Leave what is said; the words of grammar stay."""
    said = item.kind in ("match", "liking", *SIGNS)
    return replace(item, kind="left", key="", level="") if said else item
