"""What a batch may be called by Japan's published labelling standard, and what it may not.

Three answers to each condition: met, not met, not stated. A missing entry is
never taken for met. What only people can judge (flavour and colour "good") is
named and left to them. The rules stand in `label_rules`, with their editions.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from enum import Enum
from functools import partial, reduce
from typing import Any

import pandas as pd

from ..core.errors import OptionError, TableError
from ..core.result import Result, copies
from ..core.words import Sentence
from .density_scales import mass_fraction, mixture_density
from .label_items import label_items
from .label_rules import (
    DESIGNATIONS,
    EDITIONS,
    SLOGAN_WORDS,
    SPELLINGS,
    TERMS,
    TRADE_TERMS,
    Batch,
    Condition,
)


class LabelAnswer(Enum):
    """Whether a condition or a name holds."""

    YES = "yes"
    NO = "no"
    NOT_STATED = "not stated"


_LIMITS = (50, 60, 70)
# Names whose 10 % of added alcohol need their basis told.
_WITH_ALCOHOL = frozenset({"honjozo", "tokubetsu honjozo", "ginjo", "daiginjo"})
_CLAIM_MARKS = {
    LabelAnswer.YES: "supported",
    LabelAnswer.NO: "contradicted",
    LabelAnswer.NOT_STATED: "open",
}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LabelCheck(Result):
    """Names that the data allow, and claims that they contradict.

    Attributes
    ----------
    designations : DataFrame
        ``name, japanese, answer`` (yes, no, not stated)``, not_met, not_stated,
        judged``, one row a special designation, most demanding first.
    claims : DataFrame
        ``claim, name, answer`` (supported, contradicted, open, no definition, not usual)``,
        not_met, not_stated, rule, in_force, known_from``; a compound claim such as
        無濾過生原酒 has one row for each of its names.
    items : DataFrame
        What the label must carry, see `label_items.label_items`.
    edge : float or None
        A polishing ratio that is printed as a limit but lies above it.
    """

    designations: pd.DataFrame
    claims: pd.DataFrame
    items: pd.DataFrame
    edge: float | None = None

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
            said.append(Sentence.of("labelling.allowed", listed=_called(self.allowed)))
        else:
            said.append(Sentence.of("labelling.none_allowed"))
        open_names = self.designations[self.designations["answer"] == "not stated"]
        missing = list(dict.fromkeys(name for row in open_names["not_stated"] for name in row))
        if missing:
            said.append(
                Sentence.of(
                    "labelling.open",
                    listed=_called(open_names["name"]),
                    missing=[_condition(name) for name in missing],
                )
            )
        for row in self.claims.to_dict("records"):
            claim = _spoken_claim(row, several=(self.claims["claim"] == row["claim"]).sum() > 1)
            values = {"claim": claim, "rule": row["rule"], "since": row["in_force"]}
            match row["answer"]:
                case "contradicted":
                    why = [_condition(name) for name in row["not_met"]]
                    said.append(Sentence.of("labelling.contradicted", why=why, **values))
                case "open":
                    why = [_condition(name) for name in row["not_stated"]]
                    said.append(Sentence.of("labelling.claim_open", why=why, **values))
                case "not usual":
                    why = [_condition(name) for name in row["not_met"]]
                    said.append(Sentence.of("labelling.not_usual", claim=claim, why=why))
                case "supported":
                    said.append(Sentence.of("labelling.supported", **values))
                case _:
                    said.append(Sentence.of("labelling.no_definition", claim=claim))
        if any(row["name"] in _WITH_ALCOHOL for row in self.claims.to_dict("records")):
            said.append(Sentence.of("labelling.basis"))
        if self.edge is not None:
            said.append(
                Sentence.of("labelling.edge", ratio=f"{self.edge:g}", cut=f"{int(self.edge)}")
            )
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
                    written[column] = table[column].map(_conditions)
                written["answer"] = table["answer"].map(partial(_word, "answer"))
                if "judged" in table:
                    written["judged"] = table["judged"].map(partial(_word, "judged"))
                shown[heading] = written.drop(columns=["rule"], errors="ignore")
        items = self.items.drop(columns=["rule"])
        shown["labelling.items"] = items.assign(
            stated=items["stated"].map(_stated),
            needed=items["needed"].map(partial(_word, "needed")),
        )
        return copies(**shown)


def label_check(batch: Batch, claims: Sequence[str] = ()) -> LabelCheck:
    """Hold a batch's data against the published standard, and a label's claims against both.

    Parameters
    ----------
    batch : Batch
        What is known.
    claims : sequence of str
        Terms on the label, in romaji or Japanese, as ``junmai ginjo`` or ``生酒``; also
        compounds such as ``純米無濾過生原酒``, a number of years as ``3年古酒``, and slogans
        with a word that no label may say, or only under conditions (最高, 翌日, 金賞).

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
    ['junmai ginjo', 'ginjo', 'tokubetsu junmai', 'junmai']
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
    rows = [row for claim in claims for row in _claims(batch, claim)]
    ratio = batch.polishing_ratio
    return LabelCheck(
        designations=pd.DataFrame(designations),
        claims=pd.DataFrame(
            rows,
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
        items=label_items(batch, {str(row["name"]) for row in rows}),
        edge=ratio if ratio is not None and int(ratio) in _LIMITS and ratio % 1 else None,
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LabelTable(Result):
    """The label check of several batches.

    Attributes
    ----------
    checks : dict of str to LabelCheck
        By name of the batch.
    """

    checks: dict[str, LabelCheck]

    def sentences(self) -> tuple[Sentence, ...]:
        """Say for each batch what it may be called and which claims stand against its data."""
        said = [
            Sentence.of(
                "labelling.of_batch",
                name=name,
                allowed=_called(check.allowed) or Sentence.of("labelling.nothing"),
                contradicted=check.contradicted or Sentence.of("labelling.nothing"),
            )
            for name, check in self.checks.items()
        ]
        last = next(iter(self.checks.values()), None)
        return (*said, *(last.sentences()[-2:] if last else ()))


def label_table(table: pd.DataFrame) -> LabelTable:
    """Check each row of a table whose columns are named as the fields of `Batch`.

    Parameters
    ----------
    table : DataFrame
        One row a batch, with ``bottle``, ``batch`` or ``name``, and ``claims``
        separated by semicolons. Yes and no stand as yes/no, true/false or 1/0.

    Raises
    ------
    TableError
        With all faults, by row.

    Examples
    --------
    >>> rows = pd.DataFrame({"bottle": ["a"], "water_drop": [2], "claims": ["genshu; muroka"]})
    >>> label_table(rows).checks["a"].contradicted
    ['genshu']
    """
    kinds = {field.name: "bool" in str(field.type) for field in fields(Batch)}
    naming = next((name for name in ("bottle", "batch", "sample", "name") if name in table), None)
    checks: dict[str, LabelCheck] = {}
    faults = []
    for place, (_, row) in enumerate(table.iterrows(), start=1):
        stated: dict[str, Any] = {}
        for name, yes_no in kinds.items():
            cell = row.get(name)
            if cell is None or not str(cell).strip() or pd.isna(cell):
                continue
            value = _yes_no(cell) if yes_no else pd.to_numeric(str(cell), errors="coerce")
            if value is None or pd.isna(value):
                faults.append(
                    Sentence.of(
                        "labelling.bad_yes_no" if yes_no else "table.bad_score",
                        row=place,
                        column=name,
                        found=repr(cell),
                    )
                )
            else:
                stated[name] = value
        claims = str(row.get("claims") or "").replace("nan", "")
        try:
            checked = label_check(
                Batch(**stated), [claim.strip() for claim in claims.split(";") if claim.strip()]
            )
        except OptionError as refused:
            faults.append(Sentence.of("labelling.row", row=place, why=refused.sentence))
        else:
            checks[str(row[naming]) if naming else str(place)] = checked
    if faults:
        raise TableError(tuple(faults))
    return LabelTable(checks=checks)


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


def _weigh(
    batch: Batch, conditions: Iterable[Condition]
) -> tuple[LabelAnswer, list[str], list[str]]:
    answers = {name: holds(batch) for name, holds in conditions}
    not_met = [name for name, met in answers.items() if met is False]
    not_stated = [name for name, met in answers.items() if met is None]
    answer = (
        LabelAnswer.NO if not_met else LabelAnswer.NOT_STATED if not_stated else LabelAnswer.YES
    )
    return answer, not_met, not_stated


def _claims(batch: Batch, claim: str) -> list[dict[str, object]]:
    """Judge each name of a claim, and the years that it names."""
    degrees = _DEGREES.fullmatch(claim.strip())
    if degrees:
        return [_printed_strength(batch, claim, int(degrees.group(1)))]
    names, years = _known_names(claim)
    return [_claim(batch, claim, name, years) for name in names]


def _claim(batch: Batch, claim: str, name: str, years: int | None) -> dict[str, object]:
    known = DESIGNATIONS.get(name) or TERMS.get(name)
    not_met: list[str] = []
    not_stated: list[str] = []
    if known is None:
        rule, answer = EDITIONS["trade"], "no definition"
    else:
        conditions = known.conditions
        if years is not None and name in {"koshu", "years stored"}:
            conditions = (*conditions, _aged(years))
        weighed, not_met, not_stated = _weigh(batch, conditions)
        rule, answer = EDITIONS[known.rule], _CLAIM_MARKS[weighed]
        if known.rule == "trade" and not_met and years is None:
            answer = "not usual"
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


# "15度", "15度以上16度未満", "15%": whole degrees, the rest cut off.
_DEGREES = re.compile(r"(\d{1,2})\s*(?:度|%|％)(?:以上.*)?")


def _printed_strength(batch: Batch, claim: str, degrees: int) -> dict[str, object]:
    """Hold a printed strength in whole degrees against the measured one."""
    fits = None if batch.abv is None else degrees <= batch.abv < degrees + 1
    name = f"abv_printed_{degrees}"
    marks = {True: "supported", False: "contradicted", None: "open"}
    rule = EDITIONS["strength"]
    return {
        "claim": claim,
        "name": "strength",
        "answer": marks[fits],
        "not_met": [name] if fits is False else [],
        "not_stated": [name] if fits is None else [],
        "rule": rule.edition,
        "in_force": rule.in_force,
        "known_from": rule.known_from,
    }


def _aged(years: int) -> Condition:
    """Ask for the whole years that are claimed: a part of a year is cut off."""

    def holds(batch: Batch) -> bool | None:
        return None if batch.stored_years is None else batch.stored_years >= years

    return f"stored_years_least_{years}", holds


def _spellings() -> dict[str, str]:
    """Return every way to write a name, the longest first."""
    names = {name: known.japanese for name, known in {**DESIGNATIONS, **TERMS}.items()}
    names |= TRADE_TERMS
    ways = {name: name for name in names}
    for name, japanese in names.items():
        for way in (japanese.removesuffix("酒"), japanese):
            ways[way] = name
    ways |= SPELLINGS
    return dict(sorted(ways.items(), key=lambda way: -len(way[0])))


def _known_names(claim: str) -> tuple[list[str], int | None]:
    """Find the names of a claim, in romaji or Japanese, and the years that it states.

    A Japanese compound is cut into the longest names that are known; what is
    left over besides 酒 means that the claim is not known. A sentence with one of
    `SLOGAN_WORDS` may say what it likes besides: its names with conditions are found in it.
    """
    spoken = " ".join(claim.lower().replace("-", " ").replace("_", " ").split())
    ways = _spellings()
    spoken = re.sub(r"^(?P<variety>\S+?)(?:使用|100%使用)$", "品種", spoken)
    if spoken in ways:
        return [ways[spoken]], None
    slogan = [
        name
        for name, words in SLOGAN_WORDS.items()
        if any(_stands_in(word, spoken) for word in words)
    ]
    years = None
    stated = re.search(r"(\d+)\s*(?:年|years?)", spoken)
    rest = spoken
    names: list[str] = []
    if stated:
        years = int(stated.group(1))
        rest = spoken.replace(stated.group(0), " ")
        names.append("years stored")
    for way, name in ways.items():
        if _stands_in(way, rest):
            rest = rest.replace(way, " ")
            names.append(name)
    if slogan:
        conditioned = [name for name in names if name not in TRADE_TERMS]
        return list(dict.fromkeys([*slogan, *conditioned])), years
    if not names or rest.replace("酒", "").replace("貯蔵", "").replace("stored", "").strip():
        raise OptionError("labelling.unknown_claim", claim=claim, known=sorted(set(ways.values())))
    return sorted(set(names), key=names.index), years


def _stands_in(way: str, text: str) -> bool:
    """Tell whether a way to write a name stands in a text; Latin letters as a word, one or many."""
    if way.isascii():
        return re.search(rf"(?<!\w){re.escape(way)}s?(?!\w)", text) is not None
    return way in text


def _yes_no(cell: object) -> bool | None:
    written = str(cell).strip().lower()
    if written in {"yes", "true", "1", "1.0", "y", "はい"}:
        return True
    return False if written in {"no", "false", "0", "0.0", "n", "いいえ"} else None


def _spoken_claim(row: Mapping[Any, Any], *, several: bool) -> str:
    """Name the part of a compound that a row is about."""
    known = {**DESIGNATIONS, **TERMS}.get(str(row["name"]))
    part = known.japanese if known else TRADE_TERMS.get(str(row["name"]), "")
    return f"{row['claim']}: {part}" if several else str(row["claim"])


def _called(names: Iterable[str]) -> list[Sentence]:
    """Name designations as the reader's language does."""
    return [_word("called", name) for name in names]


def _word(kind: str, word: str) -> Sentence:
    return Sentence.of(f"labelling.{kind}_{word.replace(' ', '_')}")


def _stated(stated: bool | None) -> Sentence | str:
    return "–" if stated is None else _word("stated", "yes" if stated else "no")


def _conditions(names: Sequence[str]) -> Sentence | str:
    """Write conditions one after the other, for a cell of a table."""
    written = [_condition(name) for name in names]
    if not written:
        return ""
    return reduce(
        lambda first, more: Sentence.of("labelling.conditions", first=first, more=more), written
    )


def _condition(name: str) -> Sentence:
    degrees = name.removeprefix("abv_printed_")
    if degrees != name:
        above = int(degrees) + 1
        return Sentence.of("labelling.abv_printed", degrees=degrees, above=str(above))
    years = name.removeprefix("stored_years_least_")
    if years not in (name, "1"):
        return Sentence.of("labelling.stored_years_least", years=years)
    return Sentence.of(f"labelling.{name}")
