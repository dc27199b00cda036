"""Is there a fault, how sure are we, and what to do with the bottle."""

from __future__ import annotations

import pandas as pd

from ...analysis.citations.noted_faults import Faults
from ...analysis.core.wording import percent, same_decimals
from ..base.words import sentence
from ..findings.tainted import controls, noted
from ..session.guide_to_faults import guide_table
from .context import Context
from .parts import Block, Grid, Points, Section, caution, from_to, lead, method, plain

_ROLES_FROM = 2


def section(context: Context) -> Section | None:
    """Count for each bottle who noted each fault; controls come first."""
    evidence = context.findings.evidence
    found = noted(evidence)
    if found is None:
        return None
    said = [
        one.sentence
        for one in context.findings.statements
        if one.section == "faults" and one.kind != "caution"
    ]
    seen = found.table[found.table["k"] > 0]
    blocks: list[Block] = []
    if controls(evidence):
        about = len(controls(evidence))
        bad = context.said("faults", "caution")
        ours = [one for one in said if "findings.control" in getattr(one, "key", "")]
        said = [one for one in said if one not in ours]
        blocks += [caution(*bad)] if bad else []
        blocks += [plain(*ours)] if ours else []
        names = [one.sample for one in controls(evidence)]
        blocks.append(plain(sentence("report.control_note", samples=names, n=about)))
    blocks += [lead(*said[:1]), plain(*said[1:], *context.beyond("faults"))]
    blocks += _beside_clean(context, found)
    if len(seen):
        blocks += _tables(context, found, seen)
    blocks += [
        Points((sentence("report.fault_next"), sentence("report.fault_no_clearance"))),
        method(
            sentence("report.fault_method_maker" if evidence.makers else "report.fault_method"),
            found.rule.sentence(),
            sentence("report.fault_alarm"),
            *found.errors.sentences(),
        ),
    ]
    return Section(
        key="faults",
        title=sentence("report.faults"),
        blocks=tuple(blocks),
        tables={
            **_control_tables(context, found),
            "faults": context.shown(found.table.rename(columns={"fault": "attribute"})),
            "fault_decisions": found.decisions.assign(
                faults=[
                    ", ".join(context.name(one) for one in str(names).split(", ") if one)
                    for names in found.decisions["faults"]
                ]
            ),
        },
        data=found,
    )


def _beside_clean(context: Context, found: Faults) -> list[Block]:
    """Show each bottle beside the clean control: who noted a fault in one and not the other."""
    rows = found.against_clean
    if rows.empty:
        return []
    shown = pd.DataFrame(
        {
            sentence("report.col_bottle"): rows["sample"],
            sentence("report.col_fault"): [context.name(str(one)) for one in rows["fault"]],
            sentence("report.col_control"): rows["control"],
            sentence("report.col_only_bottle"): rows["only_sample"],
            sentence("report.col_only_control"): rows["only_control"],
        }
    )
    return [Grid(sentence("report.control_table"), shown, folded=True)]


def _control_tables(context: Context, found: Faults) -> dict[str, pd.DataFrame]:
    """Return the tables of controls that have rows, to keep beside the report."""
    tables = {"fault_controls": found.controls, "faults_against_clean": found.against_clean}
    return {
        key: context.shown(table.rename(columns={"fault": "attribute"}))
        for key, table in tables.items()
        if len(table)
    }


def _roles_differ(roles: pd.DataFrame) -> bool:
    return bool(roles["role"].nunique() >= _ROLES_FROM)


def _tables(context: Context, found: Faults, seen: pd.DataFrame) -> list[Block]:
    """Show what was noted, by whom, and what a brewer checks next."""
    made: list[Block] = [Grid(sentence("report.fault_table"), _shown(context, seen))]
    roles = found.by_role
    if _roles_differ(roles):
        made.append(Grid(sentence("report.fault_roles"), _by_role(context, roles), folded=True))
    named = list(dict.fromkeys(str(name) for name in seen["fault"]))
    guide = guide_table(named, context.language)
    guide.iloc[:, 0] = [context.name(name) for name in named]
    made.append(Grid(sentence("report.fault_guide"), guide, sentence("report.fault_guide_note")))
    return made


def _by_role(context: Context, roles: pd.DataFrame) -> pd.DataFrame:
    counts = [f"{k} / {n}" for k, n in zip(roles["k"], roles["n"], strict=True)]
    table = roles.assign(
        count=counts,
        fault=[context.name(str(fault)) for fault in roles["fault"]],
    )
    wide = table.pivot_table(
        index=["sample", "fault"], columns="role", values="count", aggfunc="first"
    )
    names = {
        "sample": sentence("report.col_bottle"),
        "fault": sentence("report.col_fault"),
        **{role: sentence(f"report.role_{role}") for role in roles["role"]},
    }
    return wide.fillna("–").reset_index().rename(columns=names).rename_axis(columns=None)


def _shown(context: Context, seen: pd.DataFrame) -> pd.DataFrame:
    place = {name: rank for rank, name in enumerate(context.samples)}
    rows = seen.sort_values(["k", "strong"], ascending=False, kind="stable")
    rows = rows.sort_values("sample", key=lambda names: names.map(place), kind="stable")
    return pd.DataFrame(
        {
            sentence("report.col_bottle"): rows["sample"],
            sentence("report.col_fault"): [context.name(str(a)) for a in rows["fault"]],
            sentence("report.col_noted"): [
                f"{k} / {n}" for k, n in zip(rows["k"], rows["n"], strict=True)
            ],
            sentence("report.col_limits"): [
                from_to(percent(low), percent(high))
                for low, high in zip(rows["low"], rows["high"], strict=True)
            ],
            sentence("report.col_severity"): same_decimals(rows["severity"]),
        }
    )
