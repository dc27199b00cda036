"""Is there a fault, how sure are we, and what to do with the bottle."""

from __future__ import annotations

import pandas as pd

from ...analysis.citations.fault_rule import DECISIONS
from ...analysis.citations.noted_faults import Controls, Faults, faults
from ...analysis.core.wording import percent, short
from ...forms.questions.question_types import Kind
from ..base.words import say, sentence
from ..key.written_faults import written_faults
from ..session.bottles import CLEAN
from ..session.guide_to_faults import guide_table
from .context import Context
from .parts import Block, Grid, Line, Points, Section, caution, lead, method, plain

_ROLES_FROM = 2


def section(context: Context) -> Section | None:
    """Count for each bottle the assessors who noted each fault, with limits and advice."""
    attributes = context.attributes(Kind.FAULTS)
    if not attributes:
        return None
    roles = {code: one.role for code, one in context.roster.items()}
    table = context.tidy(attributes, everybody=True)
    controls = _known(context, table.samples)
    found = faults(
        table,
        attributes=attributes,
        roles=roles,
        controls=controls,
        written=written_faults(context.answers.words, context.vocabulary, attributes),
    )
    held = found.decisions.set_index("sample")["decision"]
    order = sorted(
        (name for name in context.samples if name in held.index),
        key=lambda name: DECISIONS.index(str(held[name])),
    )
    for name in order:
        context.note(name, "fault", sentence(f"report.decide_{held[name]}"))
    said: list[list[Line]] = [
        [context.named(line) for line in found.bottle(sample)] for sample in order
    ]
    noted = found.table[found.table["k"] > 0]
    blocks: list[Block] = [
        (plain if rank else lead)(*lines) for rank, lines in enumerate(said) if lines
    ]
    blocks += _against_controls(context, found, controls)
    if len(noted):
        blocks += _tables(context, found, noted)
    blocks += [
        Points((sentence("report.fault_next"), sentence("report.fault_no_clearance"))),
        caution(*(context.named(warning) for warning in found.warnings)),
        method(sentence("report.fault_method"), found.rule.sentence(), *found.errors.sentences()),
    ]
    return Section(
        key="faults",
        title=sentence("report.faults"),
        blocks=tuple(blocks),
        short=_short(context, found, order),
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
        data=found.to_dict(),
    )


def _known(context: Context, judged: list[str]) -> Controls:
    """Return the controls that came back, and note in the table of decisions what they are."""
    asked = [question for question in context.session.scorecard if question.kind is Kind.FAULTS]
    rated = {a.partition(":")[2]: a for question in asked for a in question.attributes}
    spiked, clean = {}, []
    for bottle in context.session.samples:
        if not bottle.control or bottle.name not in judged:
            continue
        if bottle.control == CLEAN:
            clean.append(bottle.name)
            context.note(bottle.name, "fault", sentence("report.control_clean"))
        else:
            spiked[bottle.name] = rated[bottle.control]
            name = context.name(rated[bottle.control]).lower()
            context.note(bottle.name, "fault", sentence("report.control_spiked", fault=name))
    return Controls(spiked=spiked, clean=clean)


def _against_controls(context: Context, found: Faults, controls: Controls) -> list[Block]:
    """Say what the panel made of bottles that are known, and of the others beside them."""
    apart = [*controls.spiked, *controls.clean]
    if not apart:
        return []
    made: list[Block] = [
        plain(*(context.named(line) for line in found.about_controls())),
        caution(sentence("report.control_note", samples=apart)),
    ]
    if len(found.against_clean):
        language = context.language
        rows = found.against_clean
        columns = {
            say("report.col_bottle", language): rows["sample"],
            say("report.col_fault", language): [context.name(str(one)) for one in rows["fault"]],
            say("report.col_control", language): rows["control"],
            say("report.col_only_bottle", language): rows["only_sample"],
            say("report.col_only_control", language): rows["only_control"],
            "p": [short(p) for p in rows["p"]],
            say("report.col_p_holm", language): [short(p) for p in rows["holm"]],
        }
        shown = pd.DataFrame(columns)
        made.append(Grid(sentence("report.control_table"), shown, folded=True))
    return made


def _control_tables(context: Context, found: Faults) -> dict[str, pd.DataFrame]:
    """Return the tables of controls that have rows, to keep beside the report."""
    tables = {"fault_controls": found.controls, "faults_against_clean": found.against_clean}
    return {
        key: context.shown(table.rename(columns={"fault": "attribute"}))
        for key, table in tables.items()
        if len(table)
    }


def _short(context: Context, found: Faults, order: list[str]) -> tuple[Line, ...]:
    """Say at the head of the report which bottles are not passed."""
    held = found.decisions[found.decisions["decision"] == "hold"]["sample"]
    worst = [context.named(found.bottle(name)[1]) for name in order if name in set(held)]
    if worst:
        return tuple(worst[:2])
    if not order:
        return ()
    again = [name for name in order if (found.of(name)["k"] > 0).any()]
    if again:
        return (sentence("report.fault_again_short", samples=again),)
    return (sentence("report.fault_none_short", upper=percent(found.table["upper"].max())),)


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
            say("report.col_severity", language): [short(x) for x in rows["severity"]],
        }
    )
