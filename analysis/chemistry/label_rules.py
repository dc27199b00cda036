"""The published labelling standard as data: editions, a batch's facts, and each name's conditions.

A condition is met, not met, or not stated. The rules are those of the editions
in `EDITIONS`; later amendments were not checked, and the local authority decides.
What a label must carry besides its claims stands in `label_items`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from ..core.errors import OptionError
from ..core.words import Sentence


class PublishedRule(NamedTuple):
    """Where a rule is published.

    Attributes
    ----------
    edition : Sentence
        Number and date of the edition meant.
    in_force : str
        Date from which it holds, ISO 8601.
    known_from : str
        How this project knows it: ``secondary`` text or ``memory``.
    """

    edition: Sentence
    in_force: str
    known_from: str


EDITIONS = {
    "act": PublishedRule(
        Sentence.of("labelling.edition_act"),
        "2006-05-01",
        "memory",
    ),
    "standard": PublishedRule(
        Sentence.of("labelling.edition_standard"),
        "2004-01-01",
        "secondary",
    ),
    "amended": PublishedRule(
        Sentence.of("labelling.edition_amended"),
        "2023-01-01",
        "secondary",
    ),
    "superlatives": PublishedRule(
        Sentence.of("labelling.edition_superlatives"),
        "1990-04-01",
        "memory",
    ),
    "strength": PublishedRule(
        Sentence.of("labelling.edition_strength"),
        "–",
        "memory",
    ),
    "health": PublishedRule(
        Sentence.of("labelling.edition_health"),
        "1962-08-15",
        "memory",
    ),
    "indication": PublishedRule(
        Sentence.of("labelling.edition_indication"), "2015-12-25", "memory"
    ),
    "trade": PublishedRule(Sentence.of("labelling.edition_trade"), "–", "memory"),
}

MOST_ALCOHOL = 22.0
MOST_OTHER_MATERIALS = 50.0
LEAST_KOJI_RICE = 15.0
MOST_ADDED_ALCOHOL = 10.0
GENSHU_DROP = 1.0
LEAST_VARIETY = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What is known about a batch; None is not stated.

    Attributes
    ----------
    abv : float
        % by volume at 15 °C.
    polishing_ratio : float
        % of the brown rice that is left; of several rices the greatest (from memory).
        Printed, the part below 1 % is cut off, so 60.4 must not be read as 60 or as above it.
    koji_rice : float
        Koji rice in % of the white rice by weight.
    added_alcohol : float
        Brewer's alcohol, counted as 95 % by volume, in % of the white rice by
        weight; 0 for none. See `added_alcohol`.
    other_materials : float
        Other permitted materials (sugar, acid, lees …) in % of the rice by weight; 0 for none.
        Lactic acid for a healthy starter is none.
    ginjo_making, special_method, inspected_rice, filtered : bool
        Ginjo-zukuri; a special method of making that the label names; rice inspected
        grade 3 or better; mash separated into liquid and lees (kosu), by a cloth of any mesh.
    water_drop : float
        % alcohol by which water after pressing lowered it; 0 for none.
    heated_before_storage, heated_at_bottling : bool
        Pasteurisation, each time.
    single_site, wood_stored : bool
        Brewed at one site of one maker; stored in wood with its aroma.
    stored_years : float
        Storage in years.
    rice_variety : float
        % of the rice that is the variety named.
    made_at_origin : bool
        Wholly made at the place named.
    japanese : bool
        Japanese rice, brewed in Japan.
    keeping_caution : bool
        A caution on keeping or drinking stands on the label.
    says_not_junmai : bool
        Beside the words stands that this is no junmai.
    starter_acid_added : bool
        Lactic acid was added to the starter.
    polishing_printed, variety_share_printed : bool
        Beside the ingredients, and beside the variety's name.
    prize_named, prize_same_sake : bool
        Body and year of a prize stand on the label; this very sake won it.
    gas_injected, drip_only : bool
        Carbon dioxide was injected; only the drip of hung bags is in the bottle.
    """

    abv: float | None = None
    polishing_ratio: float | None = None
    koji_rice: float | None = None
    added_alcohol: float | None = None
    other_materials: float | None = None
    ginjo_making: bool | None = None
    special_method: bool | None = None
    inspected_rice: bool | None = None
    filtered: bool | None = None
    water_drop: float | None = None
    heated_before_storage: bool | None = None
    heated_at_bottling: bool | None = None
    single_site: bool | None = None
    wood_stored: bool | None = None
    stored_years: float | None = None
    rice_variety: float | None = None
    made_at_origin: bool | None = None
    japanese: bool | None = None
    keeping_caution: bool | None = None
    says_not_junmai: bool | None = None
    starter_acid_added: bool | None = None
    polishing_printed: bool | None = None
    variety_share_printed: bool | None = None
    prize_named: bool | None = None
    prize_same_sake: bool | None = None
    gas_injected: bool | None = None
    drip_only: bool | None = None

    def __post_init__(self) -> None:
        for name in ("abv", "polishing_ratio", "koji_rice", "rice_variety"):
            _between(name, getattr(self, name), 100)
        for name in ("added_alcohol", "other_materials", "water_drop", "stored_years"):
            _between(name, getattr(self, name), 1000)
        if self.polishing_ratio == 0:
            raise OptionError("labelling.polishing", value=0)


Condition = tuple[str, Callable[[Batch], "bool | None"]]


def _at_most(field: str, limit: float, *, strictly: bool = False) -> Condition:
    def holds(batch: Batch) -> bool | None:
        value = getattr(batch, field)
        return None if value is None else bool(value < limit or (value == limit and not strictly))

    return f"{field}_{'below' if strictly else 'most'}_{limit:g}", holds


def _at_least(field: str, limit: float) -> Condition:
    def holds(batch: Batch) -> bool | None:
        value = getattr(batch, field)
        return None if value is None else bool(value >= limit)

    return f"{field}_least_{limit:g}", holds


def _above(field: str, limit: float) -> Condition:
    def holds(batch: Batch) -> bool | None:
        value = getattr(batch, field)
        return None if value is None else bool(value > limit)

    return f"{field}_above_{limit:g}", holds


def _polished(limit: float) -> Condition:
    """Ask for at most `limit` % left; a figure that is cut off to it is left to people."""

    def holds(batch: Batch) -> bool | None:
        value = batch.polishing_ratio
        if value is None or limit < value < limit + 1:
            return None
        return value <= limit

    return f"polishing_ratio_most_{limit:g}", holds


def _together(limit: float) -> Condition:
    """Ask for at most `limit` % of the rice for alcohol and other materials together."""

    def holds(batch: Batch) -> bool | None:
        known = [batch.added_alcohol, batch.other_materials]
        stated = sum(value for value in known if value is not None)
        if stated > limit:
            return False
        return None if None in known else True

    return f"materials_together_most_{limit:g}", holds


def _is(field: str, *, wanted: bool = True) -> Condition:
    def holds(batch: Batch) -> bool | None:
        value = getattr(batch, field)
        return None if value is None else bool(value) is wanted

    return f"{field}_{'yes' if wanted else 'no'}", holds


def _either(first: Condition, second: Condition) -> Condition:
    def holds(batch: Batch) -> bool | None:
        answers = (first[1](batch), second[1](batch))
        return True if True in answers else None if None in answers else False

    return f"{first[0]}_or_{second[0]}", holds


def _not_denied(field: str) -> Condition:
    """Ask that it is not said to be missing: what is only not stated stands in the label's list."""
    return f"{field}_yes", lambda batch: getattr(batch, field) is not False


def _never(reason: str) -> Condition:
    return reason, lambda _: False


SAKE = (
    _at_most("abv", MOST_ALCOHOL, strictly=True),
    _is("filtered"),
    _together(MOST_OTHER_MATERIALS),
)
_NO_ALCOHOL = _at_most("added_alcohol", 0)
# Ginjo and daiginjo: rice, koji and water, or these with brewer's alcohol. Honjozo: with it.
_ANY_ALCOHOL = (_at_most("added_alcohol", MOST_ADDED_ALCOHOL),)
_WITH_ALCOHOL = (_above("added_alcohol", 0), *_ANY_ALCOHOL)
_SPECIAL = (
    _is("inspected_rice"),
    _at_least("koji_rice", LEAST_KOJI_RICE),
    _at_most("other_materials", 0),
)
_GINJO = _is("ginjo_making")
_FINE = _either(_polished(60), _is("special_method"))


class Name(NamedTuple):
    """A name that a label may carry: its conditions and where they are published."""

    japanese: str
    rule: str
    conditions: tuple[Condition, ...]
    judged: str | None = None


def _designation(japanese: str, judged: str, *conditions: Condition) -> Name:
    printed = _not_denied("polishing_printed")
    return Name(japanese, "standard", (*SAKE[:2], *_SPECIAL, *conditions, printed), judged)


_50, _60, _70 = (_polished(limit) for limit in (50, 60, 70))
DESIGNATIONS: Mapping[str, Name] = {
    "junmai daiginjo": _designation("純米大吟醸酒", "especially", _NO_ALCOHOL, _50, _GINJO),
    "daiginjo": _designation("大吟醸酒", "especially", *_ANY_ALCOHOL, _50, _GINJO),
    "junmai ginjo": _designation("純米吟醸酒", "good", _NO_ALCOHOL, _60, _GINJO),
    "ginjo": _designation("吟醸酒", "good", *_ANY_ALCOHOL, _60, _GINJO),
    "tokubetsu junmai": _designation("特別純米酒", "especially", _NO_ALCOHOL, _FINE),
    "junmai": _designation("純米酒", "good", _NO_ALCOHOL),
    "tokubetsu honjozo": _designation("特別本醸造酒", "especially", *_WITH_ALCOHOL, _70, _FINE),
    "honjozo": _designation("本醸造酒", "good", *_WITH_ALCOHOL, _70),
}
"""Special designations, most demanding first."""

TERMS: Mapping[str, Name] = {
    "sake": Name("清酒", "act", SAKE),
    "nihonshu": Name("日本酒", "indication", (*SAKE, _is("japanese"))),
    "genshu": Name("原酒", "standard", (_at_most("water_drop", GENSHU_DROP, strictly=True),)),
    "namazake": Name(
        "生酒",
        "standard",
        (
            _is("heated_before_storage", wanted=False),
            _is("heated_at_bottling", wanted=False),
            _is("keeping_caution"),
        ),
    ),
    "namachozo": Name(
        "生貯蔵酒",
        "standard",
        (_is("heated_before_storage", wanted=False), _is("heated_at_bottling")),
    ),
    "namazume": Name(
        "生詰酒", "trade", (_is("heated_before_storage"), _is("heated_at_bottling", wanted=False))
    ),
    "hiyaoroshi": Name(
        "ひやおろし",
        "trade",
        (_is("heated_before_storage"), _is("heated_at_bottling", wanted=False)),
    ),
    "nigori": Name("にごり酒", "act", (_is("filtered"),)),
    "kimoto": Name("生酛", "trade", (_is("starter_acid_added", wanted=False),)),
    "yamahai": Name("山廃", "trade", (_is("starter_acid_added", wanted=False),)),
    "koshu": Name("古酒", "trade", (_at_least("stored_years", 1),)),
    "rice only": Name("米だけの酒", "standard", (_is("says_not_junmai"),)),
    "kiippon": Name("生一本", "standard", (_NO_ALCOHOL, *_SPECIAL, _is("single_site"))),
    "taruzake": Name("樽酒", "standard", (_is("wood_stored"),)),
    "years stored": Name("貯蔵年数", "standard", (_at_least("stored_years", 1),)),
    "rice variety": Name(
        "原料米の品種",
        "standard",
        (_at_least("rice_variety", LEAST_VARIETY), _is("variety_share_printed")),
    ),
    "place of origin": Name("産地", "standard", (_is("made_at_origin"),)),
    "prize": Name("受賞", "amended", (_is("prize_named"), _is("prize_same_sake"))),
    "no month": Name("製造時期なし", "amended", ()),
    "superlative": Name("最上級の語", "superlatives", (_never("superlative_none"),)),
    "health remark": Name("健康の語", "health", (_never("health_none"),)),
    "kept warm": Name("常温保存", "trade", (_is("heated_at_bottling"),)),
    "kassei": Name(
        "活性",
        "trade",
        (_is("heated_at_bottling", wanted=False), _is("gas_injected", wanted=False)),
    ),
    "fukurozuri": Name("袋吊り", "trade", (_is("drip_only"),)),
    "shizuku": Name("雫", "trade", (_is("drip_only"),)),
}
"""Other terms with conditions."""

TRADE_TERMS = {
    "arabashiri": "荒走り",
    "nakadori": "中取り",
    "nakagumi": "中汲み",
    "seme": "責め",
    "tobin": "斗瓶囲い",
    "muroka": "無濾過",
    "origarami": "おりがらみ",
    "usunigori": "うすにごり",
    "sparkling": "スパークリング",
    "karakuchi": "辛口",
    "amakuchi": "甘口",
    "additive free": "無添加",
    "shiboritate": "しぼりたて",
    "shinshu": "新酒",
    "choki chozo": "長期貯蔵",
}
"""Terms without a legal definition: nothing to contradict, and nothing that protects them.
They must be true all the same, and only the maker's record shows that."""

SPELLINGS = {
    "あらばしり": "arabashiri",
    "荒ばしり": "arabashiri",
    "中どり": "nakadori",
    "なかどり": "nakadori",
    "中ぐみ": "nakagumi",
    "せめ": "seme",
    "袋しぼり": "fukurozuri",
    "袋搾り": "fukurozuri",
    "袋取り": "fukurozuri",
    "しずく": "shizuku",
    "斗瓶": "tobin",
    "斗びん囲い": "tobin",
    "無ろ過": "muroka",
    "滓がらみ": "origarami",
    "澱がらみ": "origarami",
    "薄にごり": "usunigori",
    "ささにごり": "usunigori",
    "にごり": "nigori",
    "濁酒": "nigori",
    "活性にごり": "kassei",
    "品種": "rice variety",
    "品種名": "rice variety",
    "品種名の表示": "rice variety",
    "産地名": "place of origin",
    "製造年月なし": "no month",
    "dry": "karakuchi",
    "sweet": "amakuchi",
    "発泡": "sparkling",
    "搾りたて": "shiboritate",
    "絞りたて": "shiboritate",
    "きもと": "kimoto",
    "生もと": "kimoto",
    "山廃仕込": "yamahai",
    "山廃酛": "yamahai",
    "冷やおろし": "hiyaoroshi",
    "冷卸": "hiyaoroshi",
    "秋あがり": "hiyaoroshi",
    "生詰め": "namazume",
    "生": "namazake",
    "nama": "namazake",
    "米だけ": "rice only",
    "たる酒": "taruzake",
    "樽": "taruzake",
    "熟成古酒": "koshu",
    "長期熟成": "choki chozo",
}
"""Other ways to write a term."""

SLOGAN_WORDS = {
    "superlative": (
        *(
            "最高",
            "最上",
            "第一",
            "一番",
            "代表",
            "日本一",
            "世界一",
            "随一",
            "唯一",
            "無比",
            "究極",
        ),
        *("best", "finest", "greatest", "number one", "no. 1", "unrivalled", "unequalled"),
    ),
    "health remark": (
        *(
            "翌日",
            "翌朝",
            "二日酔",
            "悪酔",
            "体に",
            "身体に",
            "からだに",
            "健康",
            "ヘルシー",
            "美肌",
        ),
        *("太らない", "hangover", "healthy", "health", "good for you", "next morning"),
    ),
    "kept warm": ("常温", "室温", "room temperature"),
    "prize": ("受賞", "入賞", "金賞", "銀賞", "銅賞", "medal", "award", "prize"),
}
"""Words that make a claim wherever they stand in a free sentence, such as a slogan."""


def _between(name: str, value: float | None, high: float) -> None:
    if value is not None and not (math.isfinite(value) and 0 <= value <= high):
        raise OptionError("density.within", name=name, value=value, low=0, high=high)
