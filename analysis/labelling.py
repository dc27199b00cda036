"""What a batch may be called by Japan's published labelling standard, and what it may not.

Three answers to each condition: met, not met, not stated. A missing entry is
never taken for met. What only people can judge (flavour and colour "good") is
named and left to them. The rules are those of the editions in `EDITIONS`;
later amendments were not checked, and the local authority decides.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import pandas as pd

from .density import mass_fraction, mixture_density
from .errors import OptionError
from .result import Result, copies
from .words import Sentence


class Rule(NamedTuple):
    """Where a rule is published.

    Attributes
    ----------
    key : str
        Catalogue key of its title.
    edition : str
        Number and date of the edition meant.
    in_force : str
        Date from which it holds, ISO 8601.
    known_from : str
        How this project knows it: ``secondary`` text or ``memory``.
    """

    key: str
    edition: str
    in_force: str
    known_from: str


EDITIONS = {
    "act": Rule(
        "labelling.act",
        "Liquor Tax Act, article 3 (vii), as amended in 2006",
        "2006-05-01",
        "memory",
    ),
    "standard": Rule(
        "labelling.standard",
        "National Tax Agency Notification No. 8 of 22 November 1989, amended by No. 10 of 2003",
        "2004-01-01",
        "secondary",
    ),
    "indication": Rule(
        "labelling.indication", "designation of December 2015", "2015-12-25", "memory"
    ),
    "trade": Rule("labelling.trade", "–", "–", "memory"),
}

MOST_ALCOHOL = 22.0
MOST_OTHER_MATERIALS = 50.0
LEAST_KOJI_RICE = 15.0
MOST_ADDED_ALCOHOL = 10.0
GENSHU_DROP = 1.0
LEAST_VARIETY = 50.0


class Answer(Enum):
    """Whether a condition or a name holds."""

    YES = "yes"
    NO = "no"
    NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What is known about a batch; None is not stated.

    Attributes
    ----------
    abv : float
        % by volume at 15 °C.
    polishing_ratio : float
        % of the brown rice that is left.
    koji_rice : float
        Koji rice in % of the white rice by weight.
    added_alcohol : float
        Brewer's alcohol, counted as 95 % by volume, in % of the white rice by
        weight; 0 for none. See `added_alcohol`.
    other_materials : float
        Other permitted materials (sugar, acid, lees …) in % of the rice by weight; 0 for none.
    ginjo_making, special_method, inspected_rice, filtered : bool
        Ginjo-zukuri; a special method of making; rice inspected grade 3 or
        better; mash separated into liquid and lees (kosu).
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
        return None if value is None else value < limit or (value == limit and not strictly)

    return f"{field}_{'below' if strictly else 'most'}_{limit:g}", holds


def _at_least(field: str, limit: float) -> Condition:
    def holds(batch: Batch) -> bool | None:
        value = getattr(batch, field)
        return None if value is None else value >= limit

    return f"{field}_least_{limit:g}", holds


def _above(field: str, limit: float) -> Condition:
    def holds(batch: Batch) -> bool | None:
        value = getattr(batch, field)
        return None if value is None else value > limit

    return f"{field}_above_{limit:g}", holds


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


SAKE = (
    _at_most("abv", MOST_ALCOHOL, strictly=True),
    _is("filtered"),
    _at_most("other_materials", MOST_OTHER_MATERIALS),
)
_NO_ALCOHOL = _at_most("added_alcohol", 0)
# The standard's table names brewer's alcohol among the ingredients of these classes.
_LITTLE_ALCOHOL = (_above("added_alcohol", 0), _at_most("added_alcohol", MOST_ADDED_ALCOHOL))
_SPECIAL = (
    _is("inspected_rice"),
    _at_least("koji_rice", LEAST_KOJI_RICE),
    _at_most("other_materials", 0),
)
_GINJO = _is("ginjo_making")
_FINE = _either(_at_most("polishing_ratio", 60), _is("special_method"))


class Name(NamedTuple):
    """A name that a label may carry: its conditions and where they are published."""

    japanese: str
    rule: str
    conditions: tuple[Condition, ...]
    judged: str | None = None


def _designation(japanese: str, judged: str, *conditions: Condition) -> Name:
    return Name(japanese, "standard", (*SAKE[:2], *_SPECIAL, *conditions), judged)


_50, _60, _70 = (_at_most("polishing_ratio", limit) for limit in (50, 60, 70))
DESIGNATIONS: Mapping[str, Name] = {
    "junmai daiginjo": _designation("純米大吟醸酒", "especially", _NO_ALCOHOL, _50, _GINJO),
    "daiginjo": _designation("大吟醸酒", "especially", *_LITTLE_ALCOHOL, _50, _GINJO),
    "junmai ginjo": _designation("純米吟醸酒", "good", _NO_ALCOHOL, _60, _GINJO),
    "ginjo": _designation("吟醸酒", "good", *_LITTLE_ALCOHOL, _60, _GINJO),
    "tokubetsu junmai": _designation("特別純米酒", "especially", _NO_ALCOHOL, _FINE),
    "junmai": _designation("純米酒", "good", _NO_ALCOHOL),
    "tokubetsu honjozo": _designation("特別本醸造酒", "especially", *_LITTLE_ALCOHOL, _70, _FINE),
    "honjozo": _designation("本醸造酒", "good", *_LITTLE_ALCOHOL, _70),
}
"""Special designations, most demanding first."""

TERMS: Mapping[str, Name] = {
    "sake": Name("清酒", "act", SAKE),
    "nihonshu": Name("日本酒", "indication", (*SAKE, _is("japanese"))),
    "genshu": Name("原酒", "standard", (_at_most("water_drop", GENSHU_DROP, strictly=True),)),
    "namazake": Name(
        "生酒",
        "standard",
        (_is("heated_before_storage", wanted=False), _is("heated_at_bottling", wanted=False)),
    ),
    "namachozo": Name(
        "生貯蔵酒",
        "standard",
        (_is("heated_before_storage", wanted=False), _is("heated_at_bottling")),
    ),
    "namazume": Name(
        "生詰酒", "trade", (_is("heated_before_storage"), _is("heated_at_bottling", wanted=False))
    ),
    "kiippon": Name("生一本", "standard", (_NO_ALCOHOL, *_SPECIAL, _is("single_site"))),
    "taruzake": Name("樽酒", "standard", (_is("wood_stored"),)),
    "years stored": Name("貯蔵年数", "standard", (_at_least("stored_years", 1),)),
    "rice variety": Name("原料米の品種", "standard", (_at_least("rice_variety", LEAST_VARIETY),)),
    "place of origin": Name("産地", "standard", (_is("made_at_origin"),)),
}
"""Other terms with conditions."""

TRADE_TERMS = {
    "arabashiri": "荒走り",
    "nakadori": "中取り",
    "nakagumi": "中汲み",
    "seme": "責め",
    "muroka": "無濾過",
    "nigori": "にごり",
    "origarami": "おりがらみ",
    "usunigori": "うすにごり",
    "shizuku": "雫",
    "tobin": "斗瓶",
    "kassei": "活性",
    "shiboritate": "しぼりたて",
}
"""Terms without a legal definition: nothing to contradict, and nothing that protects them."""

_CLAIM_MARKS = {Answer.YES: "supported", Answer.NO: "contradicted", Answer.NOT_STATED: "open"}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LabelCheck(Result):
    """Names that the data allow, and claims that they contradict.

    Attributes
    ----------
    designations : DataFrame
        ``name, japanese, answer`` (yes, no, not stated)``, not_met, not_stated,
        judged``, one row a special designation, most demanding first.
    claims : DataFrame
        ``claim, name, answer`` (supported, contradicted, open, no definition)``,
        not_met, not_stated, rule, in_force, known_from``.
    """

    designations: pd.DataFrame
    claims: pd.DataFrame

    @property
    def allowed(self) -> list[str]:
        """Designations whose stated conditions are all met."""
        rows = self.designations
        return [str(name) for name in rows.loc[rows["answer"] == "yes", "name"]]

    @property
    def contradicted(self) -> list[str]:
        """Claims that the batch data contradict."""
        rows = self.claims
        return [str(claim) for claim in rows.loc[rows["answer"] == "contradicted", "claim"]]

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the batch may be called and which claims stand against its data."""
        said = []
        if self.allowed:
            said.append(Sentence.of("labelling.allowed", listed=self.allowed))
        else:
            said.append(Sentence.of("labelling.none_allowed"))
        open_names = self.designations[self.designations["answer"] == "not stated"]
        missing = list(dict.fromkeys(name for row in open_names["not_stated"] for name in row))
        if missing:
            said.append(
                Sentence.of(
                    "labelling.open",
                    listed=list(open_names["name"]),
                    missing=[_condition(name) for name in missing],
                )
            )
        for row in self.claims.to_dict("records"):
            values = {"claim": row["claim"], "rule": row["rule"], "since": row["in_force"]}
            match row["answer"]:
                case "contradicted":
                    why = [_condition(name) for name in row["not_met"]]
                    said.append(Sentence.of("labelling.contradicted", why=why, **values))
                case "open":
                    why = [_condition(name) for name in row["not_stated"]]
                    said.append(Sentence.of("labelling.claim_open", why=why, **values))
                case "supported":
                    said.append(Sentence.of("labelling.supported", **values))
                case _:
                    said.append(Sentence.of("labelling.no_definition", claim=row["claim"]))
        said.append(Sentence.of("labelling.judged"))
        said.append(
            Sentence.of(
                "labelling.authority",
                edition=EDITIONS["standard"].edition,
                since=EDITIONS["standard"].in_force,
            )
        )
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return both tables with the conditions written out."""
        shown = {}
        for heading, table in (
            ("labelling.designations", self.designations),
            ("labelling.claims", self.claims),
        ):
            if len(table):
                written = table.copy()
                for column in ("not_met", "not_stated"):
                    written[column] = [
                        "; ".join(str(_condition(name)) for name in names)
                        for names in table[column]
                    ]
                shown[heading] = written
        return copies(**shown)


def label_check(batch: Batch, claims: Sequence[str] = ()) -> LabelCheck:
    """Hold a batch's data against the published standard, and a label's claims against both.

    Parameters
    ----------
    batch : Batch
        What is known.
    claims : sequence of str
        Terms on the label, in romaji or Japanese, as ``junmai ginjo`` or ``生酒``.

    Returns
    -------
    LabelCheck

    Raises
    ------
    OptionError
        For a term this check does not know.

    Examples
    --------
    >>> batch = Batch(abv=16, polishing_ratio=58, koji_rice=20, added_alcohol=0,
    ...     other_materials=0, ginjo_making=True, inspected_rice=True, filtered=True, water_drop=2)
    >>> checked = label_check(batch, ["junmai daiginjo", "genshu"])
    >>> checked.allowed
    ['junmai ginjo', 'tokubetsu junmai', 'junmai']
    >>> checked.contradicted
    ['junmai daiginjo', 'genshu']
    """
    designations = [
        {
            "name": name,
            "japanese": known.japanese,
            "answer": answer.value,
            "not_met": not_met,
            "not_stated": not_stated,
            "judged": known.judged,
        }
        for name, known in DESIGNATIONS.items()
        for answer, not_met, not_stated in [_weigh(batch, known.conditions)]
    ]
    return LabelCheck(
        designations=pd.DataFrame(designations),
        claims=pd.DataFrame(
            [_claim(batch, claim) for claim in claims],
            columns=[
                "claim",
                "name",
                "answer",
                "not_met",
                "not_stated",
                "rule",
                "in_force",
                "known_from",
            ],
        ),
    )


def added_alcohol(litres: float, white_rice: float) -> float:
    """Return brewer's alcohol in % of the white rice by weight, counted as 95 % alcohol.

    Parameters
    ----------
    litres : float
        Pure alcohol added, in litres.
    white_rice : float
        White rice with koji rice, in kg.

    Notes
    -----
    That it is counted as 95 % is from memory. The limit of 10 % is then 116.5
    litres a tonne; average ginjo used 104.5, honjozo 114.9, ordinary sake 225.2.

    Examples
    --------
    >>> round(added_alcohol(116.5, 1000), 1)
    10.0
    """
    per_litre = mixture_density(mass_fraction(95.0)) / 1000
    return 100 * litres / 0.95 * per_litre / white_rice


def _weigh(batch: Batch, conditions: Iterable[Condition]) -> tuple[Answer, list[str], list[str]]:
    answers = {name: holds(batch) for name, holds in conditions}
    not_met = [name for name, met in answers.items() if met is False]
    not_stated = [name for name, met in answers.items() if met is None]
    answer = Answer.NO if not_met else Answer.NOT_STATED if not_stated else Answer.YES
    return answer, not_met, not_stated


def _claim(batch: Batch, claim: str) -> dict[str, object]:
    name = _known_name(claim)
    known = DESIGNATIONS.get(name) or TERMS.get(name)
    if known is None:
        rule, answer = EDITIONS["trade"], "no definition"
        not_met: list[str] = []
        not_stated: list[str] = []
    else:
        weighed, not_met, not_stated = _weigh(batch, known.conditions)
        rule, answer = EDITIONS[known.rule], _CLAIM_MARKS[weighed]
    return {
        "claim": claim,
        "name": name,
        "answer": answer,
        "not_met": not_met,
        "not_stated": not_stated,
        "rule": rule.edition,
        "in_force": rule.in_force,
        "known_from": rule.known_from,
    }


def _known_name(claim: str) -> str:
    """Find the name of a claim, in romaji or Japanese."""
    spoken = " ".join(claim.lower().replace("-", " ").replace("_", " ").split())
    all_names = {name: known.japanese for name, known in {**DESIGNATIONS, **TERMS}.items()}
    all_names |= TRADE_TERMS
    for name, japanese in all_names.items():
        if spoken in {name, japanese, japanese.removesuffix("酒")}:
            return name
    raise OptionError("labelling.unknown_claim", claim=claim, known=list(all_names))


def _condition(name: str) -> Sentence:
    return Sentence.of(f"labelling.{name}")


def _between(name: str, value: float | None, high: float) -> None:
    if value is not None and not (math.isfinite(value) and 0 <= value <= high):
        raise OptionError("density.within", name=name, value=value, low=0, high=high)
