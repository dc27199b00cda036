"""Is there a fault, how sure are we, and what to do with the bottle."""

from __future__ import annotations

import pandas as pd

from ...analysis.faults import Faults, faults
from ...forms.questions import Kind
from ..fault_guide import guide_table
from ..words import say, sentence
from .context import Context
from .parts import Block, Grid, Line, Points, Section, caution, lead, method, plain

_ROLES_FROM = 2


def section(context: Context) -> Section | None:
    """Count for each bottle the assessors who noted each fault, with limits and advice."""
    attributes = context.attributes(Kind.FAULTS)
    if not attributes:
        return None
    roles = {code: one.role for code, one in context.roster.items()}
    found = faults(context.tidy(attributes, everybody=True), attributes=attributes, roles=roles)
    held = found.decisions.set_index("sample")["decision"]
    order = sorted(
        (name for name in context.samples if name in held.index),
        key=lambda name: ["hold", "recheck", "pass"].index(str(held[name])),
    )
    for name in order:
        context.note(name, "fault", sentence(f"report.decide_{held[name]}"))
    said: list[list[Line]] = [
        [context.named(line) for line in found.bottle(sample)] for sample in order
    ]
    noted = found.table[found.table["k"] > 0]
    blocks: list[Block] = [lead(*said[0]), *(plain(*lines) for lines in said[1:])]
    if len(noted):
        blocks += _tables(context, found, noted)
    blocks += [
        Points((sentence("report.fault_next"), sentence("report.fault_no_clearance"))),
        caution(*(context.named(warning) for warning in found.warnings)),
        method(sentence("report.fault_method"), found.rule.sentence()),
    ]
    return Section(
        key="faults",
        title=sentence("report.faults"),
        blocks=tuple(blocks),
        short=_short(context, found, order),
        tables={
            "faults": context.shown(found.table.rename(columns={"fault": "attribute"})),
            "fault_decisions": found.decisions.assign(
                faults=[
                    ", ".join(context.name(one) for one in str(names).split(", ") if one)
                    for names in found.decisions["faults"]
                ]
            ),
        },
        data=found.to_dict(),
    )


def _short(context: Context, found: Faults, order: list[str]) -> tuple[Line, ...]:
    """Say at the head of the report which bottles are not passed."""
    held = found.decisions[found.decisions["decision"] == "hold"]["sample"]
    worst = [context.named(found.bottle(name)[1]) for name in order if name in set(held)]
    if worst:
        return tuple(worst[:2])
    again = [name for name in order if (found.of(name)["k"] > 0).any()]
    if again:
        return (sentence("report.fault_again_short", samples=again),)
    return (sentence("report.fault_none_short", upper=f"{found.table['upper'].max():.0%}"),)


def _tables(context: Context, found: Faults, noted: pd.DataFrame) -> list[Block]:
    """Show what was noted, by whom, and what a brewer checks next."""
    made: list[Block] = [Grid(sentence("report.fault_table"), _shown(context, noted))]
    roles = found.by_role
    if roles["role"].nunique() >= _ROLES_FROM:
        made.append(Grid(sentence("report.fault_roles"), _by_role(context, roles), folded=True))
    named = list(dict.fromkeys(str(name) for name in noted["fault"]))
    guide = guide_table(named, context.language)
    guide.iloc[:, 0] = [context.name(name) for name in named]
    made.append(Grid(sentence("report.fault_guide"), guide, sentence("report.fault_guide_note")))
    return made


def _by_role(context: Context, roles: pd.DataFrame) -> pd.DataFrame:
    language = context.language
    counts = [f"{k} / {n}" for k, n in zip(roles["k"], roles["n"], strict=True)]
    table = roles.assign(
        count=counts,
        role=[sentence(f"report.role_{role}").to(language) for role in roles["role"]],
        fault=[context.name(str(fault)) for fault in roles["fault"]],
    )
    wide = table.pivot_table(
        index=["sample", "fault"], columns="role", values="count", aggfunc="first"
    )
    names = {
        "sample": say("report.col_bottle", language),
        "fault": say("report.col_fault", language),
    }
    return wide.fillna("–").reset_index().rename(columns=names).rename_axis(columns=None)


def _shown(context: Context, noted: pd.DataFrame) -> pd.DataFrame:
    language = context.language
    place = {name: rank for rank, name in enumerate(context.samples)}
    rows = noted.sort_values(["k", "strong"], ascending=False, kind="stable")
    rows = rows.sort_values("sample", key=lambda names: names.map(place), kind="stable")
    return pd.DataFrame(
        {
            say("report.col_bottle", language): rows["sample"],
            say("report.col_fault", language): [context.name(str(a)) for a in rows["fault"]],
            say("report.col_noted", language): [
                f"{k} / {n}" for k, n in zip(rows["k"], rows["n"], strict=True)
            ],
            say("report.col_limits", language): [
                f"{100 * low:.0f} – {100 * high:.0f} %"
                for low, high in zip(rows["low"], rows["high"], strict=True)
            ],
            say("report.col_severity", language): [f"{x:g}" for x in rows["severity"]],
        }
    )
