"""Which of the things before a Japanese "no" it denies, and which are only missed, or stay.

The negation stands behind what it denies: what stands before it in its clause, but not a place, nor
what another thing is hidden by, nor a taste that was felt before something else came.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from .match import PLACES, Item

_FELT = re.compile("いと思った(?:が|ら|けど)$")
# Between a thing and its negation: there, but hardly.
_HARDLY = re.compile("ほとんど|ほぼ|あまり|さほど|それほど")
_WANTED = ("ginjo", "ester")
_TASTES = ("sweet", "sour", "umami", "bitter", "astringent", "salty", "dry", "heavy", "light")
# "甘さに隠れて気にならない": what something is hidden by is there.
_HIDES = re.compile(
    "(?:の(?:陰|影|裏))?に(?:うまく|よく)?(?:隠れ|隠され|負け|押され|溶け|包まれ|埋もれ|消され|まぎれ|紛れ)"
)


# "甘口でもくどさがない": it is so, and something else is not.
_ALTHOUGH = re.compile(
    "(?:の酒)?(?:でも(?![^、。]*でも(?:な|あ))|といっても|と言っても|とはいえ|とは言え|ながらも?|なのに"
    "|だけで(?!は|も|な)|ばかりで(?!は|な)|だが|だけど|にしては|のわりに|の割に)、?"
)

# "前のより渋くない": less than there, and no more is said.
_LESS_THAN = re.compile(
    "(?:[A-Za-z0-9０-９の回番年月週日本杯瓶]|さっき|昨日|前|隣|先)より[もは]?[^、。]{1,6}くは?な[いくか]"
)
# "軽い口当たり": the touch is only where it is light.
_LIGHT_TOUCH = re.compile("軽(?:い|め|やか)[なの]?口[当あ]たり|口[当あ]たり[がはも]?(?:とても)?軽")


def _missed(key: str, negation: str, *, hardly: bool) -> bool:
    """Tell whether a thing that is wanted is only missed, where it is said not to be there."""
    if key in (*PLACES, "umami"):
        return hardly or key == "aroma"
    return hardly and key in _WANTED and not negation.endswith("なし")


def felt(item: Item, said: str) -> bool:
    """Tell whether a taste was felt and not only thought: "一口目は甘いと思ったが"."""
    return item.kind == "match" and item.key in _TASTES and _FELT.search(said) is not None


def in_balance(item: Item, said: str) -> bool:
    """Tell whether "取れて" says that there is a balance."""
    return item.kind == "match" and item.key == "balance" and said.startswith(("取れて", "とれて"))


def _of_it(item: Item, following: Item, text: str) -> bool:
    """Tell whether a negation is of what is said of a thing: "酸が尖っていない"."""
    said = text[following.first : following.past]
    predicate = following.kind == "match" and said.endswith(tuple("いくてたる"))
    return predicate and text[item.past : following.first] in ("が", "は", "の")


def _where(item: Item, made: Sequence[Item], at: int, text: str) -> bool:
    """Tell whether a place is only where something is: "含み香に", "口に含むと"."""
    if text[item.first : item.past].endswith(("と", "で", "では")):
        return True
    return at + 1 < len(made) and text[item.past] in "にでの"


def spared(made: Sequence[Item], at: int, text: str) -> bool:
    """Tell whether a negation further on does not deny the thing at a place.

    Parameters
    ----------
    made : sequence of Item
        What was read before the negation.
    at : int
        The place of the thing in it.
    text : str
        The run.
    """
    item = made[at]
    if item.much or (item.key in PLACES and _where(item, made, at, text)):
        return True
    if item.kind == "match" and _HIDES.match(text, item.past):
        return True
    if at + 1 < len(made) and item.kind == "match" and _ALTHOUGH.match(text, item.past):
        return True
    return at + 1 < len(made) and _of_it(item, made[at + 1], text)


def hardly(item: Item, text: str, negation: Item) -> bool:
    """Tell whether a thing that is wanted is only missed: "吟香はほとんどない"."""
    said = text[negation.first : negation.past]
    little = _HARDLY.search(text, item.past, negation.first) is not None
    return _missed(item.key, said, hardly=little)


def less_than(said: str) -> bool:
    """Tell whether an adjective is denied only beside another cup: "前のより渋くない"."""
    return _LESS_THAN.search(said) is not None


def light_touch(text: str) -> bool:
    """Tell whether the touch is only where a sake is light: "軽い口当たり"."""
    return _LIGHT_TOUCH.search(text) is not None
