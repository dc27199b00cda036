"""Is there a fault, how sure are we, and what to do with the bottle.

Per bottle and fault: how many assessors noted it, with exact limits; and what
the silence of all of them still allows. Where clean or spiked controls were
poured blind, the panel's own hits and false alarms stand beside it. The
recommendation follows a rule that is stated and can be changed; it is common
practice, no source, and never a clearance of safety.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Unpack

import pandas as pd

from ..core.errors import NotEstimable, OptionError
from ..core.options import share_of
from ..core.p_values import holds
from ..core.result import Result, copies, each_row
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.wording import p_words, percent, stated_percent
from ..core.words import Sentence
from ..inference.adjusted_p import adjust_discrete
from ..inference.proportions import clopper_pearson, upper_limit
from ..ordinal.ordinal_model import compared
from .cochran_q import mcnemar
from .fault_rule import DECISIONS, FaultErrors, Rule, false_notes, fault_errors

_SHUFFLES = 1999


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Faults(Result):
    """Faults by bottle.

    Attributes
    ----------
    table : DataFrame
        Columns ``sample, fault, k, n, share, low, high, upper, strong, severity,
        cups, written, decision``: exact limits, the one-sided upper limit,
        assessors at severity `Rule.strong_from` or more, the median severity of
        those who marked it (missing where nobody did), cups in which it was
        noted, assessors who only wrote it in their own words (they count in
        `k`), the rule's word for this fault.
    decisions : DataFrame
        Columns ``sample, decision, faults``: the strictest word of a bottle
        and the faults that asked for it.
    by_role : DataFrame
        Columns ``sample, fault, role, k, n, low, high``; empty without roles.
    controls : DataFrame
        Columns ``sample, fault, kind, k, n, share, low, high``: hits on spiked
        controls (kind "spiked"), false alarms on clean ones ("clean"); a clean
        control in which nobody noted anything has one row without a fault.
    against_clean : DataFrame
        Columns ``sample, fault, control, only_sample, only_control, p, holm``:
        exact McNemar of a bottle against the clean control.
    severity : DataFrame
        Columns ``fault, p, p_shuffled, worst, mildest, difference, low, high``:
        the ordinal model of severities over bottles (a cumulative link with
        assessors random), for faults that at least two assessors noted: its
        test, and the largest difference on its hidden scale (logits), missing
        where it has no finite estimate.
    rule : Rule
        With the number of notes that it takes in a session of this size.
    errors : FaultErrors
        How often that rule flags sound bottles and misses faults.
    level : float
    """

    table: pd.DataFrame
    decisions: pd.DataFrame
    by_role: pd.DataFrame
    controls: pd.DataFrame
    against_clean: pd.DataFrame
    severity: pd.DataFrame
    rule: Rule
    errors: FaultErrors
    level: float
    method: str = "k of n assessors (worst replicate), Clopper-Pearson; McNemar exact, Holm"

    def of(self, sample: str) -> pd.DataFrame:
        """Return the rows of one bottle, most noted fault first."""
        rows = self.table[self.table["sample"] == sample]
        return rows.sort_values(["k", "strong"], ascending=False, kind="stable")

    def sentences(self) -> tuple[Sentence, ...]:
        """Say for each bottle what was noted and what the rule asks for."""
        said: list[Sentence] = []
        for sample in self.decisions["sample"]:
            said += self.bottle(str(sample))
        said += self.about_controls()
        differing = self.severity[
            holds(self.severity[["p", "p_shuffled"]].max(axis=1), 1 - self.level)
        ]
        said += each_row(
            differing,
            lambda row: Sentence.of(
                "faults.severity_differs", fault=row.fault, p=p_words(row.p_shuffled)
            ),
        )
        rule = (self.rule.sentence(), *self.errors.sentences())
        return (*said, *rule, Sentence.of("faults.no_clearance"))

    def bottle(self, sample: str) -> tuple[Sentence, Sentence]:
        """Say what was noted in one bottle, and what the rule asks for."""
        row = self.decisions["sample"] == sample
        decision = str(self.decisions.loc[row, "decision"].item())
        return self._noted(sample), Sentence.of(f"faults.{decision}", sample=sample)

    def about_controls(self) -> tuple[Sentence, ...]:
        """Say hits and false alarms, and what was noted beyond the clean control."""
        said: list[Sentence] = list(each_row(self.controls, _control))
        beyond = self.against_clean[holds(self.against_clean["holm"], 1 - self.level)]
        said += each_row(
            beyond,
            lambda row: Sentence.of(
                "faults.beyond_clean",
                sample=row.sample,
                fault=row.fault,
                control=row.control,
                p=p_words(row.holm),
            ),
        )
        if len(self.against_clean) and beyond.empty:
            said.append(Sentence.of("faults.none_beyond"))
        return tuple(said)

    def _noted(self, sample: str) -> Sentence:
        rows = self.of(sample)
        first = rows.iloc[0]
        level = stated_percent(self.level)
        if first["k"] == 0:
            fewest = int(rows["n"].min())
            return Sentence.of(
                "faults.silent",
                sample=sample,
                n=fewest,
                upper=percent(rows["upper"].max()),
                level=level,
            )
        noted = each_row(
            rows[rows["k"] > 0],
            lambda row: Sentence.of(
                f"faults.noted{_how(row.k, row.written)}",
                fault=row.fault,
                k=row.k,
                n=row.n,
                low=percent(row.low),
                high=percent(row.high),
                severity=f"{row.severity:g}",
                written=row.written,
            ),
        )
        return Sentence.of("faults.bottle", sample=sample, listed=noted, level=level)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the tables that have rows."""
        shown = {
            "faults.heading": self.table[self.table["k"] > 0],
            "faults.decisions": self.decisions,
            "faults.by_role": self.by_role,
            "faults.controls": self.controls,
            "faults.against_clean": self.against_clean,
            "faults.severity": self.severity,
            **self.errors.tables(),
        }
        return copies(**{key: table for key, table in shown.items() if len(table)})


def _how(k: int, written: int) -> str:
    """Return the end of the key that says how a fault was noted."""
    if not written:
        return ""
    return "_only_written" if written == k else "_written"


def _control(row: object) -> Sentence:
    values = row._asdict()  # type: ignore[attr-defined]
    name = f"faults.control_{values['kind']}" if values["fault"] else "faults.control_silent"
    return Sentence.of(
        name,
        sample=values["sample"],
        fault=values["fault"],
        k=values["k"],
        n=values["n"],
        low=percent(values["low"]),
        high=percent(values["high"]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Controls:
    """Bottles of which the server knows what they are.

    Attributes
    ----------
    spiked : mapping of str to str
        Sample to the fault that was put into it.
    clean : sequence of str
        Samples known to be sound.
    """

    spiked: Mapping[str, str] = field(default_factory=dict)
    clean: Sequence[str] = ()


def faults(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    roles: Mapping[str, str] | None = None,
    controls: Controls | None = None,
    rule: Rule | None = None,
    written: pd.DataFrame | None = None,
    earlier: tuple[int, int] = (0, 0),
    level: float = 0.95,
    **column_names: Unpack[LongColumns],
) -> Faults:
    """Count who noted which fault in which bottle, and apply the rule.

    Parameters
    ----------
    table : Tidy or DataFrame
        Severities: 0 not noticed, above 0 noticed. An assessor noted a fault
        if any replicate says so; the worst one gives the severity.
    attributes : sequence of str, optional
        The faults; by default all attributes of the table.
    roles : mapping, optional
        Assessor to role, for counts by role.
    controls : Controls, optional
        They are judged apart and get no recommendation.
    rule : Rule, optional
        By default `Rule()`, the notes that it takes to taste again fitted to
        the size of the session; state it when you change it.
    written : DataFrame, optional
        Faults found in free words: columns ``assessor, sample, fault``, and
        ``replicate`` where cups are known apart. Who wrote a fault without
        marking it counts beside those who marked it, without a severity; a
        fault that the card does not ask for is judged of all who answered about
        the bottle's faults.
    earlier : tuple of int
        False notes and answers about faults in clean controls of earlier
        sessions of this panel; those of this session are added.
    level : float
        Confidence level.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Faults

    Raises
    ------
    OptionError
        For a fault that is not in the table, a negative severity, or a control
        that was not judged.
    NotEstimable
        If there is no answer at all.
    """
    share_of("level", level)
    checked = as_tidy(table, **column_names)
    data = checked.data
    names = list(attributes) if attributes is not None else checked.attributes
    unknown = [name for name in names if name not in checked.attributes]
    if unknown:
        raise OptionError("citations.no_attribute", name=unknown[0], have=checked.attributes)
    data = data[data["attribute"].isin(names)]
    if data.empty:
        raise NotEstimable("faults.nothing")
    if (data["score"] < 0).any():
        raise OptionError("faults.negative", found=float(data["score"].min()))
    known = controls or Controls()
    absent = [s for s in [*known.spiked, *known.clean] if s not in set(data["sample"])]
    if absent:
        raise OptionError("faults.no_control", name=absent[0], have=checked.samples)
    worst = _worst(data, written)
    names += [str(name) for name in worst["fault"].unique() if name not in names]
    apart = {*known.spiked, *known.clean}
    errors = _errors(data, apart, known, earlier, rule, len(names), level)
    rule = errors.rule
    counted = _counted(worst, rule, level, names)
    bottles = counted[~counted["sample"].isin(apart)].reset_index(drop=True)
    careful = []
    if known.spiked:
        careful += _missed(counted, known)
    return Faults(
        table=bottles,
        decisions=_decisions(bottles),
        by_role=_by_role(worst[~worst["sample"].isin(apart)], roles or {}, level),
        controls=_controls(counted, known),
        against_clean=_against(worst, known, apart),
        severity=_severity(data[~data["sample"].isin(apart)], bottles, level),
        rule=rule,
        errors=errors,
        level=level,
        warnings=tuple(careful),
    )


def _worst(data: pd.DataFrame, written: pd.DataFrame | None) -> pd.DataFrame:
    """Return who noted what: ``fault, sample, assessor, score, cups, noted, written``."""
    keys = ["fault", "sample", "assessor"]
    marked = data.rename(columns={"attribute": "fault"})
    marked = marked.assign(cup=marked["score"] > 0)
    worst = marked.groupby(keys).agg(score=("score", "max"), cups=("cup", "sum")).reset_index()
    if written is None or written.empty:
        return worst.assign(noted=worst["score"] > 0, written=False)
    own = written.astype(dict.fromkeys(keys, str))
    judged = worst[["sample", "assessor"]].drop_duplicates()
    asked = worst["fault"].unique()
    extra = pd.DataFrame({"fault": [f for f in own["fault"].unique() if f not in asked]})
    added = judged.merge(extra, how="cross").assign(score=0.0, cups=0)[worst.columns]
    worst = pd.concat([worst, added], ignore_index=True)
    cup = [*keys, "replicate"] if "replicate" in own else keys
    texts = own.drop_duplicates(cup).groupby(keys).size().rename("texts").reset_index()
    both = worst.merge(texts, on=keys, how="left")
    only = both["texts"].notna() & (both["score"] == 0)
    cups = both["cups"].where(~only, both["texts"]).astype(int)
    noted = (both["score"] > 0) | only
    return both.assign(cups=cups, noted=noted, written=only).drop(columns="texts")


def _errors(  # noqa: PLR0917 - what a session is made of
    data: pd.DataFrame,
    apart: set[str],
    known: Controls,
    earlier: tuple[int, int],
    rule: Rule | None,
    kinds: int,
    level: float,
) -> FaultErrors:
    """Count out the rule's errors for this session, by the panel's own rate of false notes."""
    sound = data[data["sample"].isin(known.clean)]
    k, n = int((sound["score"] > 0).sum()), len(sound)
    products = data[~data["sample"].isin(apart)]
    cups = products.groupby(["assessor", "sample", "attribute"]).size()
    return fault_errors(
        max(1, products["assessor"].nunique()),
        max(1, products["sample"].nunique()),
        kinds,
        replicates=int(cups.max()) if len(cups) else 1,
        false=false_notes(earlier[0] + k, earlier[1] + n, level=level),
        rule=rule,
    )


def _counted(worst: pd.DataFrame, rule: Rule, level: float, names: list[str]) -> pd.DataFrame:
    rows = []
    for (fault, sample), own in worst.groupby(["fault", "sample"], sort=True):
        k, cups = int(own["noted"].sum()), int(own["cups"].sum())
        strong = int((own["score"] >= rule.strong_from).sum())
        rows.append(
            {
                "sample": str(sample),
                "fault": str(fault),
                "k": k,
                "n": len(own),
                "strong": strong,
                "severity": float(own.loc[own["score"] > 0, "score"].median()),
                "cups": cups,
                "written": int(own["written"].sum()),
                "decision": rule.decide(k, strong, len(own), cups),
            }
        )
    table = pd.DataFrame(rows)
    place = {name: rank for rank, name in enumerate(names)}
    table = table.sort_values(
        ["sample", "fault"], key=lambda c: c.map(place) if c.name == "fault" else c, kind="stable"
    ).reset_index(drop=True)
    low, high = clopper_pearson(table["k"], table["n"], level)
    table.insert(4, "share", table["k"] / table["n"])
    table.insert(5, "low", low)
    table.insert(6, "high", high)
    table.insert(7, "upper", upper_limit(table["k"], table["n"], level))
    return table


def _decisions(table: pd.DataFrame) -> pd.DataFrame:
    """Take the strictest word of each bottle."""
    rows = []
    for sample, own in table.groupby("sample", sort=True):
        word = next(one for one in DECISIONS if (own["decision"] == one).any())
        asked = own[(own["decision"] == word) & (own["k"] > 0)]
        rows.append({"sample": str(sample), "decision": word, "faults": ", ".join(asked["fault"])})
    return pd.DataFrame(rows, columns=["sample", "decision", "faults"])


def _by_role(worst: pd.DataFrame, roles: Mapping[str, str], level: float) -> pd.DataFrame:
    names = ["sample", "fault", "role", "k", "n", "low", "high"]
    known = worst.assign(role=worst["assessor"].map(dict(roles))).dropna(subset=["role"])
    if known.empty:
        return pd.DataFrame(columns=names)
    counts = known.groupby(["sample", "fault", "role"])["noted"]
    table = counts.agg(k="sum", n="size").reset_index()
    low, high = clopper_pearson(table["k"], table["n"], level)
    table = table.assign(low=low, high=high)
    seen = table.groupby(["sample", "fault"])["k"].transform("sum") > 0
    return table.loc[seen, names].reset_index(drop=True)


def _controls(counted: pd.DataFrame, known: Controls) -> pd.DataFrame:
    """Return hits on the spiked fault, and false alarms of any fault on clean bottles."""
    names = ["sample", "fault", "kind", "k", "n", "share", "low", "high"]
    parts = []
    for sample, fault in known.spiked.items():
        own = counted[(counted["sample"] == sample) & (counted["fault"] == fault)]
        parts.append(own.assign(kind="spiked"))
    for sample in known.clean:
        own = counted[counted["sample"] == sample]
        alarms = own[own["k"] > 0]
        if alarms.empty:  # silence is a finding too; the fewest who answered bound it
            alarms = own.nsmallest(1, "n").assign(fault="")
        parts.append(alarms.assign(kind="clean"))
    if not parts:
        return pd.DataFrame(columns=names)
    return pd.concat(parts, ignore_index=True)[names]


def _missed(counted: pd.DataFrame, known: Controls) -> list[Sentence]:
    """Warn of faults that the panel did not notice where they were."""
    found = []
    for sample, fault in known.spiked.items():
        own = counted[(counted["sample"] == sample) & (counted["fault"] == fault)]
        if len(own) and int(own["k"].iloc[0]) * 2 < int(own["n"].iloc[0]):
            k, n = int(own["k"].iloc[0]), int(own["n"].iloc[0])
            found.append(Sentence.of("faults.deaf", fault=fault, sample=sample, k=k, n=n))
    return found


def _severity(data: pd.DataFrame, counted: pd.DataFrame, level: float) -> pd.DataFrame:
    """Compare severities between bottles by the ordinal model, where enough noted the fault."""
    rows = []
    for fault, own in data.groupby("attribute", sort=False):
        k = counted.loc[counted["fault"] == fault, "k"]
        if own["sample"].nunique() < 2 or own["assessor"].nunique() < 2 or k.max() < 2:
            continue
        try:
            found = compared(own, str(fault), level=level, shuffles=_SHUFFLES)
        except NotEstimable:
            continue
        finite = found.differences.dropna(subset=["se"])
        worst, mildest, gap, low, high = "", "", math.nan, math.nan, math.nan
        if len(finite):  # of pairs that are as far apart to rounding the first one
            widest = finite.iloc[int(finite["difference"].abs().round(6).to_numpy().argmax())]
            gap, low, high = (float(widest[name]) for name in ("difference", "low", "high"))
            worst, mildest = str(widest["sample_1"]), str(widest["sample_2"])
            if gap < 0:
                worst, mildest, gap, low, high = mildest, worst, -gap, -high, -low
        p = float(found.tests["p"].iloc[0])
        rows.append((str(fault), p, found.p_shuffled, worst, mildest, gap, low, high))
    names = ["fault", "p", "p_shuffled", "worst", "mildest", "difference", "low", "high"]
    return pd.DataFrame(rows, columns=names)


def _against(worst: pd.DataFrame, known: Controls, apart: set[str]) -> pd.DataFrame:
    """Compare every bottle with every clean control, for the faults noted in the bottle."""
    names = ["sample", "fault", "control", "only_sample", "only_control", "p", "holm"]
    rows = []
    for control in known.clean:
        own = worst[worst["sample"] == control].set_index(["fault", "assessor"])["noted"]
        for (sample, fault), part in worst.groupby(["sample", "fault"], sort=True):
            if sample in apart or not part["noted"].any():
                continue
            here = part.set_index(["fault", "assessor"])["noted"]
            both = pd.concat([here, own], axis=1, join="inner", keys=["here", "there"])
            b = int((both["here"] & ~both["there"]).sum())
            c = int((~both["here"] & both["there"]).sum())
            rows.append((str(sample), str(fault), control, b, c, mcnemar(b, c)))
    table = pd.DataFrame(rows, columns=names[:-1])
    most = [mcnemar(n, 0) for n in table["only_sample"] + table["only_control"]]
    return table.assign(holm=adjust_discrete(table["p"].astype(float), most))
