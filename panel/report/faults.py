"""Is there a fault, and how sure are we?"""

from __future__ import annotations

import pandas as pd

from ...analysis.proportion import Proportion, proportion
from ...analysis.words import Sentence
from ...forms.questions import Kind
from ..words import say, sentence
from .context import Context
from .parts import Block, Grid, Line, Points, Section, lead, method, plain


def section(context: Context) -> Section | None:
    """Count for each bottle the assessors who noted each fault, with limits and severity."""
    attributes = context.attributes(Kind.FAULTS)
    if not attributes:
        return None
    found = fault_table(context, attributes)
    noted = found[found["k"] > 0].sort_values(["low", "k"], ascending=False, kind="stable")
    said: list[Line] = []
    for sample in context.samples:
        own = noted[noted["sample"] == sample]
        said.append(_bottle(context, sample, own, found))
    blocks: list[Block] = [lead(*said[:1]), plain(*said[1:])]
    if len(noted):
        blocks.append(Grid(sentence("report.fault_table"), _shown(context, noted)))
    blocks += [
        Points((sentence("report.fault_next"), sentence("report.fault_no_clearance"))),
        method(sentence("report.fault_method")),
    ]
    strong = noted[noted["low"] > 0.1]
    worst = [
        sentence(
            "report.fault_short",
            sample=row["sample"],
            fault=context.name(row["attribute"]).lower(),
            k=row["k"],
            n=row["n"],
        )
        for row in strong.head(2).to_dict("records")
    ]
    return Section(
        key="faults",
        title=sentence("report.faults"),
        blocks=tuple(blocks),
        short=tuple(worst) or (sentence("report.fault_none_short"),),
        tables={"faults": context.shown(found)},
        data=found.to_dict("records"),
    )


def fault_table(context: Context, attributes: list[str]) -> pd.DataFrame:
    """Count assessors by bottle and fault; an assessor noted it if any replicate says so.

    Returns
    -------
    DataFrame
        ``sample, attribute, k, n, low, high, upper, severity``; severity is the
        mean of those who noted it (1 to 3), missing where nobody did.
    """
    rows = context.table(attributes, everybody=True)
    worst = rows.groupby(["sample", "attribute", "assessor"])["score"].max().reset_index()
    listed = []
    for sample in context.samples:
        for attribute in attributes:
            own = worst[(worst["sample"] == sample) & (worst["attribute"] == attribute)]["score"]
            if own.empty:
                continue
            counted = _count(own)
            listed.append(
                {
                    "sample": sample,
                    "attribute": attribute,
                    "k": counted.k,
                    "n": counted.n,
                    "low": counted.interval.low,
                    "high": counted.interval.high,
                    "upper": counted.upper,
                    "severity": float(own[own > 0].mean()) if counted.k else float("nan"),
                }
            )
    return pd.DataFrame(listed)


def _count(severities: pd.Series) -> Proportion:
    return proportion(int((severities > 0).sum()), len(severities))


def _bottle(context: Context, sample: str, noted: pd.DataFrame, found: pd.DataFrame) -> Sentence:
    """Say the most noted fault of a bottle, or what silence is worth."""
    if noted.empty:
        own = found[found["sample"] == sample]
        worst = own.sort_values("upper", ascending=False).iloc[0]
        upper = f"{100 * worst['upper']:.0f} %"
        return sentence("report.fault_silent", sample=sample, n=int(worst["n"]), upper=upper)
    first = noted.iloc[0]
    others = [context.name(name).lower() for name in noted["attribute"].iloc[1:]]
    said = sentence(
        "report.fault_noted",
        sample=sample,
        fault=context.name(first["attribute"]).lower(),
        k=int(first["k"]),
        n=int(first["n"]),
        low=f"{100 * first['low']:.0f} %",
        high=f"{100 * first['high']:.0f} %",
        severity=f"{first['severity']:.1f}",
    )
    return sentence("report.fault_also", said=said, others=others) if others else said


def _shown(context: Context, noted: pd.DataFrame) -> pd.DataFrame:
    language = context.language
    return pd.DataFrame(
        {
            say("report.col_bottle", language): noted["sample"],
            say("report.col_fault", language): [context.name(a) for a in noted["attribute"]],
            say("report.col_noted", language): [
                f"{k} / {n}" for k, n in zip(noted["k"], noted["n"], strict=True)
            ],
            say("report.col_limits", language): [
                f"{100 * low:.0f} – {100 * high:.0f} %"
                for low, high in zip(noted["low"], noted["high"], strict=True)
            ],
            say("report.col_severity", language): [f"{x:.1f}" for x in noted["severity"]],
        }
    )
