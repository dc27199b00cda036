"""Time in the mouth: what struck when, and how one intensity came and went; a description."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

from ...analysis.core.wording import fixed, limit, percent
from ...analysis.core.words import Sentence
from ...analysis.profile.dominance_over_time import dominance
from ...analysis.profile.intensity_over_time import time_intensity
from ...analysis.profile.over_time_figure import draw_dominance, draw_intensity
from ...analysis.profile.sips_of_table import TimedSips, timed_sips
from ...analysis.profile.timed_means import (
    THIRDS,
    dominance_thirds,
    mean_curves,
    mean_parameters,
    mean_thirds,
)
from ...forms.questions.question_types import Text
from ...rounding import rounded
from ..base.words import sentence
from ..findings.statement import Line
from ..key.timed_answers import timed_parts
from .context import Context
from .parts import Block, Grid, Picture, Points, Section, caution, lead, method, plain, sized

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.profile.dominance_over_time import Dominance

STEP = 0.5
"""Seconds between the moments that are looked at."""
SHOWN = ("imax", "tmax", "plateau", "auc")


def section(context: Context) -> Section | None:
    """Describe what struck over time and how an intensity went; nothing of it is a claim."""
    if context.times is None:
        return None
    rows = context.times[context.times["sample"].isin(context.products)]
    panel = rows[rows["assessor"].isin(context.counted)]
    found = timed_sips(panel)
    if found.dominance.empty and found.intensity.empty:
        nothing = plain(sentence("timed.nothing_in"))
        return _section((nothing, caution(*_record(context, found, rows))), {}, None)
    blocks: list[Block] = [lead(*_said(context, found))]
    tables: dict[str, pd.DataFrame] = {}
    data: dict[str, object] = {}
    if not found.dominance.empty:
        strikes = dominance(found.dominance, attributes=found.words, step=STEP)
        shares = dominance_thirds(found.dominance, found.seconds, found.words)
        blocks += context.picture(lambda: _strikes(context, strikes, found.seconds))
        heading = sentence("timed.strikes_table", seconds=_seconds(found.seconds / 3))
        note = sentence("timed.strikes_note")
        blocks.append(Grid(heading, _shares(context, shares), note))
        blocks.append(Points(tuple(_levels(strikes))))
        tables |= {"dominance": strikes.curves, "dominance_thirds": shares,
                   "dominance_levels": strikes.limits}  # fmt: skip
        data |= {
            "dominance_thirds": shares.to_dict("records"),
            "dominance_levels": strikes.limits.to_dict("records"),
            "dominance_periods": strikes.periods.to_dict("records"),
        }
    if not found.intensity.empty:
        curves = mean_curves(found.intensity, step=STEP)
        thirds = mean_thirds(found.intensity, found.seconds)
        parameters = mean_parameters(time_intensity(found.intensity, height=0.5).parameters)
        blocks += context.picture(lambda: _intensity(context, curves))
        name = _name(context, str(curves["attribute"].iloc[0]))
        heading = sentence("timed.intensity_table", name=name)
        table = _heights(context, thirds, parameters)
        blocks.append(Grid(heading, table, sentence("timed.intensity_note")))
        tables |= {"intensity": curves, "intensity_thirds": thirds,
                   "intensity_parameters": parameters}  # fmt: skip
        data |= {
            "intensity_thirds": thirds.to_dict("records"),
            "intensity_parameters": parameters.to_dict("records"),
        }
    blocks.append(caution(*_record(context, found, rows)))
    blocks.append(method(sentence("timed.method", step=f"{STEP:g}")))
    tables["times"] = rows
    data |= {"seconds": found.seconds, "words": list(found.words), "silent": found.silent,
             "unmarked": found.unmarked, "left_out": found.left_out}  # fmt: skip
    return _section(tuple(blocks), tables, data)


def _section(
    blocks: tuple[Block, ...], tables: dict[str, pd.DataFrame], data: dict[str, object] | None
) -> Section:
    title = sentence("timed.report_title")
    return Section(key="timed", title=title, blocks=blocks, tables=tables, data=data)


def _name(context: Context, key: str) -> str:
    """Write a word as its button had it."""
    known: dict[str, Text] = {}
    for part in timed_parts(context.plan).values():
        known |= {one.key: one.label for one in part.words}
        known |= {part.intensity.key: part.intensity.label} if part.intensity else {}
    return known[key].to(context.language) if key in known else key


def _samples(context: Context, table: pd.DataFrame) -> list[str]:
    there = set(table["sample"])
    return [name for name in context.products if name in there]


def _seconds(value: float) -> str:
    return rounded(value, ".3g")


def _said(context: Context, found: TimedSips) -> Iterator[Line]:
    """Say in a sentence a bottle what struck most in each third, and how the intensity went."""
    shares = dominance_thirds(found.dominance, found.seconds, found.words)
    for sample in _samples(context, shares):
        own = shares[shares["sample"] == sample]
        best = [_leading(context, own[own["third"] == third]) for third in THIRDS]
        yield sentence("timed.said_strikes", sample=sample, first=best[0], middle=best[1],
                       last=best[2], n=int(own["n"].iloc[0]))  # fmt: skip
    heights = mean_thirds(found.intensity, found.seconds)
    for sample in _samples(context, heights):
        own = heights[heights["sample"] == sample]
        first, middle, last = (fixed(mean) for mean in own["mean"])
        name = _name(context, str(own["attribute"].iloc[0])).lower()
        yield sentence("timed.said_intensity", sample=sample, name=name, first=first,
                       middle=middle, last=last, n=int(own["n"].iloc[0]))  # fmt: skip


def _leading(context: Context, own: pd.DataFrame) -> Line:
    """Name what struck for the longest time in a third, or all that did equally long."""
    most = own["share"].max()
    if not most > 0:
        return sentence("timed.leading_none")
    names = own.loc[own["share"] >= most - 1e-9, "attribute"]
    listed = [_name(context, str(name)).lower() for name in names]
    return sentence("timed.leading", names=listed, share=percent(most))


def _strikes(context: Context, found: Dominance, seconds: float) -> Picture:
    curves = found.curves[found.curves["time"] < seconds]  # at the end every sip is over
    words = {str(key): _name(context, str(key)) for key in curves["attribute"].unique()}
    draw = partial(
        draw_dominance, curves, found.limits, samples=_samples(context, curves), names=words,
        language=context.language,
    )  # fmt: skip
    caption = sentence("timed.strikes_caption")
    return Picture("dominance", draw(), sentence("timed.strikes_alt"), caption, draw(narrow=True))


def _intensity(context: Context, curves: pd.DataFrame) -> Picture:
    draw = partial(
        draw_intensity, curves, samples=_samples(context, curves), language=context.language
    )
    caption = sentence("timed.intensity_caption")
    return Picture("intensity", draw(), sentence("timed.intensity_alt"), caption, draw(narrow=True))


def _shares(context: Context, shares: pd.DataFrame) -> pd.DataFrame:
    """Write one row a bottle and word, one column a third."""
    import pandas as pd

    rows = []
    for sample in _samples(context, shares):
        own = shares[shares["sample"] == sample]
        for key in dict.fromkeys(own["attribute"]):
            row: dict[Line, Line] = {
                sentence("report.col_bottle"): sample,
                sentence("timed.col_word"): _name(context, str(key)),
            }
            for one in own[own["attribute"] == key].to_dict("records"):
                row[_third(one)] = percent(one["share"])
            rows.append(row)
    return pd.DataFrame(rows)


def _third(row: Mapping[Any, Any]) -> Line:
    return sentence(
        f"timed.third_{row['third']}", start=_seconds(row["start"]), end=_seconds(row["end"])
    )


def _levels(found: Dominance) -> Iterator[Sentence]:
    """Say how many sips a bottle has, what chance gives, and what would be beyond it."""
    for row in found.limits.to_dict("records"):
        key = "level" if row["count"] <= row["n"] else "no_level"
        yield sentence(f"timed.{key}", sample=row["sample"], n=row["n"], k=row["count"],
                       chance=percent(row["chance"]))  # fmt: skip


def _heights(context: Context, thirds: pd.DataFrame, parameters: pd.DataFrame) -> pd.DataFrame:
    """Write one row a bottle: the thirds and what its curve is described by, with limits."""
    import pandas as pd

    rows = []
    for sample in _samples(context, thirds):
        row: dict[Line, Line] = {sentence("report.col_bottle"): sample}
        for one in thirds[thirds["sample"] == sample].to_dict("records"):
            row[_third(one)] = _with_limits(one)
        own = parameters[parameters["sample"] == sample].set_index("parameter")
        for name in SHOWN:
            row[sentence(f"timed.col_{name}")] = _with_limits(own.loc[name].to_dict())
        rows.append(row)
    return pd.DataFrame(rows)


def _with_limits(row: Mapping[Any, Any]) -> Line:
    if row["mean"] != row["mean"]:
        return "–"
    if row["low"] != row["low"]:
        return fixed(row["mean"])
    return sized(fixed(row["mean"]), limit(row["low"]), limit(row["high"]))


def _record(context: Context, found: TimedSips, rows: pd.DataFrame) -> Iterator[Line]:
    """Say whose sips are missing, which do not count, and what to be careful with."""
    yield sentence("timed.careful")
    there = set(rows.loc[rows["state"] == "counted", "assessor"])
    missing = [code for code in context.roster if code not in there]
    if missing:
        yield sentence("timed.without", who=missing, n=len(missing))
    for state, n in found.left_out.items():
        yield sentence(f"timed.left_out_{state.replace(' ', '_')}", n=n)
    if found.silent:
        yield sentence("timed.silent", n=found.silent)
    if found.unmarked:
        yield sentence("timed.unmarked", n=found.unmarked)
    out_of_sight = rows[rows["event"] == "away"].drop_duplicates(
        ["assessor", "sample", "replicate", "part", "run"]
    )
    if len(out_of_sight):
        yield sentence("timed.out_of_sight", n=len(out_of_sight))
    apart = [code for code in context.makers if context.maker_apart and code in there]
    if apart:
        yield sentence("timed.maker_apart", who=apart)
