"""Methods that a statistician can check: model, tests, what was checked, versions, digests."""

from __future__ import annotations

import platform
from hashlib import sha256
from importlib.metadata import version
from typing import TYPE_CHECKING

import numpy as np

from ... import __version__
from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed, p_words
from ...rounding import half_up, rounded
from ..base.words import Sentence, sentence
from ..overview.left_out import checks_of_means
from .context import Context
from .parts import Block, Grid, Line, Section, plain

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.anova.whole_table import Anova

LIBRARIES = ("numpy", "scipy", "pandas")
INPUTS = ("session.toml", "bottles.csv", "assessors.csv")
"""What people wrote; the answers are digested as they were counted."""
DIGITS = 16
"""Hexadecimal digits of a digest that are printed; ``results.json`` has all 64."""


def _whose(context: Context) -> Sentence:
    """Say what the deviations are, and where a maker stands outside them."""
    evidence = context.findings.evidence
    if not evidence.maker_apart:
        return sentence("methods.note")
    return sentence("methods.note_apart", n=len(evidence.makers))


def section(context: Context) -> Section:
    """Write the model, each test with its error term, what was checked, and what went in."""
    blocks: list[Block] = []
    tables = {}
    if context.products and not isinstance(context.anova, AnalysisError):
        table = _tests(context, context.anova)
        blocks += [
            plain(sentence("methods.model"), sentence("methods.checked")),
            Grid(sentence("methods.tests"), _written(context, table), _whose(context)),
        ]
        tables["methods"] = context.shown(table)
    if context.alone:
        blocks.append(plain(sentence("alone.method")))
    versions, digests = _versions(), _digests(context)
    blocks.append(
        plain(
            sentence("methods.versions", listed=_pairs(versions)),
            sentence(
                "methods.digests",
                listed=_pairs({name: _grouped(text[:DIGITS]) for name, text in digests.items()}),
            ),
        )
    )
    return Section(
        key="methods",
        title=sentence("methods.title"),
        blocks=tuple(blocks),
        tables=tables,
        data={
            "versions": versions,
            "sha256": digests,
            "tests": tables["methods"].to_dict("records") if tables else [],
        },
    )


def _pairs(values: dict[str, str]) -> list[Line]:
    return [
        sentence("findings.pair_value", name=name, value=value) for name, value in values.items()
    ]


def _grouped(digits: str) -> str:
    """Write digits in groups of four.

    >>> _grouped("b80a84a523975581")
    'b80a 84a5 2397 5581'
    """
    return " ".join(digits[at : at + 4] for at in range(0, len(digits), 4))


def _versions() -> dict[str, str]:
    return {
        "kikichoko": __version__,
        "Python": platform.python_version(),
        **{name: version(name) for name in LIBRARIES},
    }


def _digests(context: Context) -> dict[str, str]:
    """Return the SHA-256 of what people wrote and of the answers that were counted."""
    folder = context.session.folder
    found = {
        name: sha256((folder / name).read_bytes()).hexdigest()
        for name in INPUTS
        if (folder / name).is_file()
    }
    answers = context.answers.scores.to_csv(index=False, lineterminator="\n")
    return found | {"answers": sha256(answers.encode()).hexdigest()}


def _tests(context: Context, found: Anova) -> pd.DataFrame:
    """Return one row an attribute: test, error term, components, and the mean furthest off.

    Returns
    -------
    DataFrame
        ``attribute, F, df_num, df_den, p, error_term``, standard deviations ``sd_assessor,
        sd_interaction, sd_scatter``, and ``far_assessor, far_sample, far_p``: the mean of
        assessor and sample furthest from what both let expect, with Holm's p.
    """
    import pandas as pd

    table = found.tests().drop(columns=["p_holm", "p_bh"])
    checks = checks_of_means(context.findings.evidence)
    cells = checks.cells.dropna(subset=["p_adjusted"])
    rows = []
    for name in table["attribute"]:
        parts = found.attributes[str(name)].components
        sds = [parts.get(one, float("nan")) for one in ("assessor", "assessor:sample", "residual")]
        own = cells[cells["attribute"] == name]
        far = own.loc[own["studentised"].abs().idxmax()] if len(own) else None
        last: tuple[str | None, str | None, float] = (None, None, float("nan"))
        if far is not None:
            last = (str(far["assessor"]), str(far["sample"]), float(far["p_adjusted"]))
        rows.append([*np.sqrt(np.clip(sds, 0.0, None)), *last])
    columns = ["sd_assessor", "sd_interaction", "sd_scatter", "far_assessor", "far_sample", "far_p"]
    return pd.concat([table, pd.DataFrame(rows, columns=columns, index=table.index)], axis=1)


def _written(context: Context, table: pd.DataFrame) -> pd.DataFrame:
    import pandas as pd

    rows = []
    for row in table.to_dict("records"):
        far = row["far_assessor"]
        rows.append(
            {
                sentence("report.col_attribute"): context.name(str(row["attribute"])),
                sentence("methods.col_f"): rounded(row["F"], ".2f"),
                sentence("methods.col_df"): f"{row['df_num']:g}, {float(half_up(row['df_den'])):g}",
                sentence("methods.col_p"): p_words(row["p"]),
                sentence("methods.col_sds"): " / ".join(
                    "–" if np.isnan(row[key]) else fixed(row[key], 2)
                    for key in ("sd_assessor", "sd_interaction", "sd_scatter")
                ),
                sentence("methods.col_far"): sentence(
                    "methods.far", assessor=far, sample=row["far_sample"], p=p_words(row["far_p"])
                )
                if far is not None
                else "–",
            }
        )
    return pd.DataFrame(rows)
