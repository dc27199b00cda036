"""Is it cloying at this meter value and acidity, or balanced?"""

from __future__ import annotations

import pandas as pd

from ...analysis.chemistry.one_bottle import Chemistry
from ...analysis.core.wording import add_up, same_decimals
from ...analysis.profile.balances_figure import draw_balances
from ...rounding import rounded
from ..base.words import sentence
from ..findings.balance import counts
from ..findings.measured import chemistry_of
from .context import Context
from .parts import Block, Grid, Line, Picture, Section, caution, lead, method, plain

BALANCE, SWEET, CLOYING = "sweetness_balance", "sweetness", "cloying"


def nothing_beside(context: Context) -> bool:
    """Tell whether sweetness alone was scored and no number of a bottle is known to set beside it.

    A chapter would hold nothing then: one line beside the bottles says what is missing.
    """
    scored = set(context.answers.scores["attribute"])
    if SWEET not in scored or BALANCE in scored or chemistry_of(context.findings.evidence):
        return False
    said = (one.section == "sweetness" for one in context.findings.statements)
    return not any(said) and not context.beyond("sweetness")


def section(context: Context) -> Section | None:
    """Show counts around just right, and the published index beside the perceived sweetness."""
    scored = set(context.answers.scores["attribute"])
    if not {BALANCE, SWEET} & scored or not context.products or nothing_beside(context):
        return None
    evidence = context.findings.evidence
    said = context.findings.statements
    mine = [one for one in said if one.section == "sweetness"]
    counted = [one for one in mine if SWEET not in one.about and one.kind != "caution"]
    about_numbers = [one.sentence for one in mine if SWEET in one.about]
    blocks: list[Block] = []
    tables: dict[str, pd.DataFrame] = {}
    data: dict[str, object] = {}
    if BALANCE in scored:
        shares = counts(evidence)
        blocks.append(lead(*(one.sentence for one in counted)))
        blocks.append(plain(*context.beyond("sweetness")))
        blocks += context.picture(lambda: _figure(context))
        tables["balance"] = shares
        data["balance"] = shares.to_dict("records")
    known = chemistry_of(evidence)
    if known:
        if about_numbers:
            blocks.append(plain(*about_numbers))
        index = _index_table(context, known)
        blocks.append(Grid(sentence("report.index_table"), index, sentence("report.index_note")))
        warned = {str(w): w for one in known.values() for w in one.warnings}
        blocks.append(caution(*context.said("sweetness", "caution"), *warned.values()))
        tables["index"] = index
        data["chemistry"] = known
        if len(context.products) > 1:
            blocks.append(plain(_link_note(context)))
    else:
        blocks.append(plain(sentence("report.no_chemistry")))
    whole = any(
        getattr(one.sentence, "key", "").startswith("findings.balance_all_") for one in counted
    )
    at_least = [sentence("report.sweet_at_least")] if whole else []
    blocks.append(method(sentence("report.sweet_method"), *at_least))
    return Section(
        key="sweetness",
        title=sentence("report.sweetness"),
        blocks=tuple(blocks),
        tables=tables,
        data=data,
    )


def _figure(context: Context) -> Picture:
    question = context.session.scorecard[BALANCE]
    ends = [option.label.to(context.language) for option in question.options]
    counts = _counts(context)
    wide, narrow = (
        draw_balances(
            counts, samples=context.products, words=ends, language=context.language, narrow=one
        )
        for one in (False, True)
    )
    alt, caption = sentence("report.balance_alt"), sentence("report.balance_caption")
    shares = counts.div(counts.sum(axis=1), axis=0).dropna()
    if not all(add_up(own) for own in shares.to_numpy(float)):
        caption = sentence("report.rounded_besides", text=caption)
    return Picture("balance", wide, alt, caption, narrow)


def _counts(context: Context) -> pd.DataFrame:
    """Count answers by bottle and category."""
    rows = context.table([BALANCE])
    values = [option.value for option in context.session.scorecard[BALANCE].options]
    counted = rows.pivot_table(
        index="sample", columns="score", values="assessor", aggfunc="count", fill_value=0
    )
    return counted.reindex(index=context.products, columns=values, fill_value=0).fillna(0)


def _index_table(context: Context, known: dict[str, Chemistry]) -> pd.DataFrame:
    """Set the numbers and the published indices beside what the panel perceived."""
    means = context.findings.evidence.means
    headings: dict[str, Line] = {"cloying": context.name(CLOYING)}  # a card names it otherwise
    rows = []
    entered = {
        field: dict(
            zip(known, same_decimals(getattr(one, field) for one in known.values()), strict=True)
        )
        for field in ("meter_value", "acidity")
    }
    for name, one in known.items():
        numbers = {
            "amakarado": one.amakarado,
            "glucose_acidity": one.glucose_minus_acidity,
            "sweet": means[SWEET].get(name) if SWEET in means else None,
            "cloying": means[CLOYING].get(name) if CLOYING in means else None,
        }
        row: dict[Line, object] = {sentence("report.col_bottle"): name}
        row |= {sentence(f"report.col_{field}"): own[name] for field, own in entered.items()}
        for key, value in numbers.items():
            digits = 1 if key in ("sweet", "cloying") else 2
            shown = "–" if value is None or pd.isna(value) else rounded(float(value), f".{digits}f")
            heading = headings[key] if key in headings else sentence(f"report.col_{key}")
            row[heading] = shown
        rows.append(row)
    table = pd.DataFrame(rows)
    return table.loc[:, [column for column in table if set(table[column]) != {"–"}]]


def _link_note(context: Context) -> Line:
    """Say whether these bottles could tell what the numbers do to the sweetness."""
    bottles = [context.session.bottle(name) for name in context.products]
    values = {bottle.meter_value for bottle in bottles if bottle.meter_value is not None}
    batches = {bottle.batch for bottle in bottles}
    if len(values) <= 1:
        return sentence("report.one_meter_value")
    if len(batches) == 1 and batches != {""}:
        return sentence("report.one_batch_link", n=len(bottles))
    return sentence("report.few_bottles_link", n=len(bottles))
