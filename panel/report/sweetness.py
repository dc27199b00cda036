"""Is it cloying at this meter value and acidity, or balanced?"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from ...analysis.chemistry.one_bottle import Chemistry, chemistry
from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import percent
from ...analysis.core.words import Sentence
from ...analysis.inference.proportions import proportion
from ...analysis.profile.balances_figure import draw_balances
from ..base.words import say, sentence
from .context import Context
from .parts import Block, Grid, Line, Picture, Section, caution, lead, method, plain

BALANCE, SWEET, CLOYING = "sweetness_balance", "sweetness", "cloying"


def section(context: Context) -> Section | None:
    """Show just-about-right shares, and the published index beside the perceived sweetness."""
    scored = set(context.answers.scores["attribute"])
    if not {BALANCE, SWEET} & scored:
        return None
    blocks: list[Block] = []
    short_lines: list[Line] = []
    tables: dict[str, pd.DataFrame] = {}
    data: dict[str, object] = {}
    if BALANCE in scored:
        shares = balance_shares(context)
        verdicts = [_verdict(row) for row in shares.to_dict("records")]
        for row, verdict in zip(shares.to_dict("records"), verdicts, strict=True):
            key = verdict.key.replace("balance_", "sweet_")
            context.note(str(row["sample"]), "sweetness", sentence(key))
        blocks.append(lead(*verdicts))
        short_lines += verdicts
        question = context.session.scorecard[BALANCE]
        ends = [option.label.to(context.language) for option in question.options]
        figure = draw_balances(
            _counts(context), samples=context.samples, words=ends, language=context.language
        )
        alt = sentence("report.balance_alt")
        blocks.append(Picture("balance", figure, alt, sentence("report.balance_caption")))
        tables["balance"] = shares
        data["balance"] = shares.to_dict("records")
    chemistry_of = {name: _chemistry(context, name) for name in context.samples}
    known = {name: one for name, one in chemistry_of.items() if one is not None}
    if known:
        index = _index_table(context, known)
        blocks.append(Grid(sentence("report.index_table"), index, sentence("report.index_note")))
        warned = {str(w): w for one in known.values() for w in one.warnings}
        blocks.append(caution(*warned.values()))
        tables["index"] = index
        data["chemistry"] = {name: one.to_dict() for name, one in known.items()}
        blocks.append(plain(_link_note(context)))
    else:
        blocks.append(plain(sentence("report.no_chemistry")))
    blocks.append(method(sentence("report.sweet_method")))
    return Section(
        key="sweetness",
        title=sentence("report.sweetness"),
        blocks=tuple(blocks),
        short=tuple(short_lines),
        tables=tables,
        data=data,
    )


def _per_assessor(context: Context) -> pd.Series:
    """Return each assessor's balance answer for each bottle: replicates averaged, then sided."""
    rows = context.table([BALANCE])
    return rows.groupby(["sample", "assessor"])["score"].mean()


def balance_shares(context: Context) -> pd.DataFrame:
    """Count assessors on each side of just right, one vote an assessor, with limits.

    Returns
    -------
    DataFrame
        ``sample, n, too_dry, just_right, too_sweet, right_low, right_high,
        sweet_low, sweet_high, dry_low, dry_high``.
    """
    means = _per_assessor(context)
    rows = []
    for sample in context.samples:
        if sample not in means.index.get_level_values("sample"):
            continue
        own = means.loc[sample]
        n, dry, sweet = len(own), int((own < 0).sum()), int((own > 0).sum())
        right = n - dry - sweet
        row: dict[str, object] = {
            "sample": sample, "n": n, "too_dry": dry, "just_right": right, "too_sweet": sweet,
        }  # fmt: skip
        for name, count in (("right", right), ("sweet", sweet), ("dry", dry)):
            limits = proportion(count, n).interval
            row[f"{name}_low"], row[f"{name}_high"] = limits.low, limits.high
        rows.append(row)
    return pd.DataFrame(rows)


def _counts(context: Context) -> pd.DataFrame:
    """Count answers by bottle and category."""
    rows = context.table([BALANCE])
    values = [option.value for option in context.session.scorecard[BALANCE].options]
    counted = rows.pivot_table(
        index="sample", columns="score", values="assessor", aggfunc="count", fill_value=0
    )
    return counted.reindex(index=context.samples, columns=values, fill_value=0).fillna(0)


def _verdict(row: Mapping[Hashable, Any]) -> Sentence:
    """Say what one bottle's shares allow: more than half on one side only if the limit says so."""
    values = {key: row[key] for key in ("sample", "n", "too_dry", "just_right", "too_sweet")}
    for side in ("sweet", "dry", "right"):
        if row[f"{side}_low"] > 0.5:
            return sentence(f"report.balance_{side}", low=_percent(row[f"{side}_low"]), **values)
    return sentence("report.balance_open", **values)


def _percent(value: float) -> str:
    return percent(value)


def _chemistry(context: Context, name: str) -> Chemistry | None:
    bottle = context.session.bottle(name)
    if bottle.meter_value is None and bottle.acidity is None and bottle.glucose is None:
        return None
    try:
        return chemistry(
            name=name,
            abv=bottle.abv,
            meter_value=bottle.meter_value,
            acidity=bottle.acidity,
            amino_acidity=bottle.amino_acidity,
            glucose=bottle.glucose,
            polishing_ratio=bottle.polishing,
        )
    except AnalysisError:
        return None


def _index_table(context: Context, known: dict[str, Chemistry]) -> pd.DataFrame:
    """Set the numbers and the published indices beside what the panel perceived."""
    scores = context.table([SWEET, CLOYING]).pivot_table(
        index="sample", columns="attribute", values="score"
    )
    language = context.language
    rows = []
    for name, one in known.items():
        perceived = scores.loc[name].to_dict() if name in scores.index else {}
        numbers = {
            "meter_value": one.meter_value,
            "acidity": one.acidity,
            "amakarado": one.amakarado,
            "glucose_acidity": one.glucose_minus_acidity,
            "sweet": perceived.get(SWEET),
            "cloying": perceived.get(CLOYING),
        }
        row = {say("report.col_bottle", language): name}
        for key, value in numbers.items():
            digits = 1 if key in ("sweet", "cloying", "meter_value") else 2
            shown = "–" if value is None or pd.isna(value) else f"{float(value):.{digits}f}"
            row[say(f"report.col_{key}", language)] = shown
        rows.append(row)
    table = pd.DataFrame(rows)
    return table.loc[:, [column for column in table if set(table[column]) != {"–"}]]


def _link_note(context: Context) -> Line:
    """Say whether these bottles could tell what the numbers do to the sweetness."""
    bottles = [context.session.bottle(name) for name in context.samples]
    values = {bottle.meter_value for bottle in bottles if bottle.meter_value is not None}
    batches = {bottle.batch for bottle in bottles}
    if len(values) <= 1:
        return sentence("report.one_meter_value")
    if len(batches) == 1:
        return sentence("report.one_batch_link", n=len(bottles))
    return sentence("report.few_bottles_link", n=len(bottles))
