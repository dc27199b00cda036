"""Do the samples change between sessions? An answer of its own beside their lasting differences.

Sample x session is tested as a fixed effect of these sessions, against the scatter that is left
beside assessor x sample and assessor x session (assessor x sample x session where samples were
served more than once a session).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..core.result import FTest
from ..core.tidy_table import Tidy
from ..core.words import Sentence
from ..mixed_model.block_layout import Array
from ..mixed_model.fitted_model import fit_attributes
from ..mixed_model.mixed_design import Design, design, factor_table, faults
from .contrasts import factor_contrasts

EFFECT = "sample:session"


def change_between_sessions(
    table: Tidy, attributes: list[str], *, df: str, boundary: str
) -> dict[str, FTest]:
    """Test sample x session, attribute by attribute.

    Parameters
    ----------
    table : Tidy
    attributes : list of str
    df : {'satterthwaite', 'kenward-roger'}
    boundary : {'design', 'drop'}

    Returns
    -------
    dict of str to FTest
        Without the attributes in which no sample can be followed over sessions.

    Notes
    -----
    A fixed mean for each pair of sample and session that was tasted; the contrasts are those
    that vanish if samples and sessions only add up, so empty pairs do no harm.
    """
    data = table.data
    pairs = list(zip(data["sample"].astype(str), data["session"].astype(str), strict=True))
    place = {pair: f"{k}" for k, pair in enumerate(dict.fromkeys(pairs))}
    joined = [place[pair] for pair in pairs]
    levels = pd.DataFrame(
        {"bottle": [one for one, _ in place], "occasion": [one for _, one in place]},
        index=pd.Index(list(place.values()), dtype=str),
    )
    if min(levels["bottle"].nunique(), levels["occasion"].nunique()) < 2:
        return {}
    crossed = Tidy(data=data.assign(sample=joined), dropped=table.dropped)
    plan = design(
        crossed,
        attributes=attributes,
        factors=factor_table(levels, crossed.samples),
        sessions="pooled",
        position=None,
        carry_over=False,
    )
    refused = faults(plan)
    able = [a for a, name in enumerate(plan.attributes) if name not in refused]
    outcome = fit_attributes(plan, able, random=None, method=df, boundary=boundary)
    found: dict[str, FTest] = {}
    tested: dict[int, tuple[Array, tuple[Array, Array, Array]]] = {}  # by what was fitted together
    for name, fitted in outcome.fitted.items():
        together = id(fitted.inference)
        if together not in tested:
            weights = _interaction(plan.factors.iloc[list(fitted.samples)])
            if not len(weights):
                continue
            tested[together] = weights, fitted.inference.test(weights)
        weights, values = tested[together]
        row = fitted.index
        term = "assessor:sample" if "assessor:sample" in fitted.variances else "residual"
        found[name] = FTest(
            float(values[0][row]),
            float(len(weights)),
            float(values[1][row]),
            float(values[2][row]),
            f"{term}:session" if term != "residual" else term,
        )
    return found


def never_followed(plan: Design) -> dict[str, Sentence]:
    """Say in which attributes no sample stands in two sessions: nothing there can last."""
    refused: dict[str, Sentence] = {}
    for a, attribute in enumerate(plan.attributes):
        there = plan.cells.counts[a] > 0
        pairs = set(zip(plan.sample[there], plan.session[there], strict=True))
        if len(pairs) == len({sample for sample, _ in pairs}) and len(pairs) > 1:
            refused[attribute] = Sentence.of("anova.never_followed", attribute=attribute)
    return refused


def _interaction(factors: pd.DataFrame) -> Array:
    """Return the contrasts of the pairs' means that vanish if samples and sessions add up."""
    sizes = [factors[name].nunique() for name in factors]
    if len(factors) == int(np.prod(sizes)):
        return factor_contrasts(factors)["bottle:occasion"]
    from scipy.linalg import null_space  # late: its import takes longer than most tables

    columns = [
        (factors[name].to_numpy()[:, None] == np.unique(factors[name])).astype(float)
        for name in factors
    ]
    found: Array = null_space(np.concatenate(columns, axis=1).T).T
    return found
