"""Do the samples differ, and by how much? Mixed-model ANOVA with random assessors.

Assessors use the scale differently and disagree about samples. Whether
samples differ for *other* assessors too can only be judged against that
disagreement, the interaction of assessors and samples: judged against the
repeatability of single scores, a panel of eight raises false alarms in 42 of
100 cases where nothing differs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from ...rounding import rounded
from ..core.errors import NotEstimable, OptionError
from ..core.look import drawing_on
from ..core.options import one_of, share_of
from ..core.p_values import holds
from ..core.plotted import chosen, current_axes
from ..core.result import FTest, Result, plain
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.wording import below, term_words
from ..core.words import FALLBACK, Sentence
from ..inference.adjusted_p import adjust
from ..mixed_model.denominator_df import METHODS
from ..mixed_model.fitted_model import Estimates, fit_attributes
from ..mixed_model.mixed_design import Design, design, factor_table, faults
from .change_between_sessions import EFFECT, change_between_sessions, never_followed
from .comparisons import Pairs
from .contrasts import error_term, questions
from .one_attribute import AttributeAnova, panel_sd

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_FEW = 3
_NO_EFFECTS = pd.DataFrame(columns=["effect", "level", "estimate", "se", "df", "low", "high"])


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Anova(Result):
    """Mixed-model ANOVA of all attributes of a table.

    Attributes
    ----------
    attributes : mapping of str to AttributeAnova
    refused : mapping of str to Sentence
        Attributes that could not be analysed, and why.
    dropped : DataFrame
        Rows that were left out, with ``reason``.
    """

    attributes: Mapping[str, AttributeAnova]
    refused: Mapping[str, Sentence]
    dropped: pd.DataFrame

    def __getitem__(self, attribute: str) -> AttributeAnova:
        """Return the result of one attribute."""
        if attribute in self.refused:
            raise NotEstimable(self.refused[attribute].key, **dict(self.refused[attribute].values))
        if attribute not in self.attributes:
            raise OptionError(
                "anova.no_attribute", attribute=attribute, attributes=list(self.attributes)
            )
        return self.attributes[attribute]

    def tests(self, effect: str = "sample") -> pd.DataFrame:
        """Return one test of all attributes, its p values adjusted for their number.

        Returns
        -------
        DataFrame
            ``attribute, F, df_num, df_den, p, p_holm, p_bh, error_term``: Holm's
            p holds the chance of any false alarm, Benjamini and Hochberg's
            their expected share.
        """
        rows = []
        for name, found in self.attributes.items():
            test = found.sample if effect == "sample" else found.effects.get(effect)
            if test is not None:
                rows.append({"attribute": name, **test._asdict()})
        if not rows:
            known = ["sample", *{name for one in self.attributes.values() for name in one.effects}]
            raise OptionError("anova.no_effect", effect=effect, effects=known)
        table = pd.DataFrame(rows)
        table.insert(5, "p_holm", adjust(table["p"], "holm"))
        table.insert(6, "p_bh", adjust(table["p"], "bh"))
        return table

    def means(self) -> pd.DataFrame:
        """Return the means of all attributes with their intervals."""
        return _stacked({name: found.means for name, found in self.attributes.items()})

    def differences(self) -> pd.DataFrame:
        """Return all pairs of samples of all attributes."""
        return _stacked({name: found.differences for name, found in self.attributes.items()})

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what each attribute shows, and what stands after allowing for their number."""
        said = [sentence for found in self.attributes.values() for sentence in found.sentences()]
        if len(self.attributes) > 1:
            tests = self.tests()
            alpha = 1 - next(iter(self.attributes.values())).level
            stand = [str(name) for name in tests.loc[holds(tests["p_holm"], alpha), "attribute"]]
            key = "anova.together" if stand else "anova.together_none"
            said.append(Sentence.of(key, count=len(tests), names=stand))
        scope = next(iter(self.attributes.values())).sessions if self.attributes else ""
        if scope:
            said.append(Sentence.of(f"anova.scope_{scope}"))
        said += list(self.refused.values())
        if len(self.dropped):
            reasons = self.dropped["reason"].value_counts().sort_index()
            listed = [
                Sentence.of(f"anova.{str(reason).replace(' ', '_')}", n=count)
                for reason, count in reasons.items()
            ]
            said.append(Sentence.of("anova.dropped", n=len(self.dropped), reasons=listed))
        return tuple(said)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return tests, means and differences of all attributes."""
        if len(self.attributes) == 1:
            return next(iter(self.attributes.values())).tables()
        components = pd.DataFrame(
            [{"attribute": name, **found.components} for name, found in self.attributes.items()]
        )
        letters = pd.concat(
            [found.letters().assign(attribute=name) for name, found in self.attributes.items()]
        )
        shown = {
            "anova.tests": self.tests(),
            "anova.components": components,
            "anova.means": self.means().merge(
                letters[["attribute", "sample", "letters"]], on=["attribute", "sample"]
            ),
            "anova.differences": self.differences().drop(columns="t"),
        }
        against = {
            name: found.against(str(found.reference)).drop(columns="t")
            for name, found in self.attributes.items()
            if found.reference in found.samples
        }
        if against:
            shown["anova.against"] = _stacked(against)
        return shown

    def figure(
        self,
        table: Tidy | pd.DataFrame | None = None,
        attributes: Sequence[str] | None = None,
        *,
        columns: int = 2,
        language: str = FALLBACK,
    ) -> Figure:
        """Draw the means of each attribute with intervals and letters, the highest first.

        Samples that share a letter were not told apart.

        Parameters
        ----------
        table : Tidy or DataFrame, optional
            The table that this was made from; with it each assessor's own mean is
            drawn as a dot.
        attributes : sequence of str, optional
            Attributes to draw; all by default.
        columns : int
            Fields side by side.
        language : str

        Raises
        ------
        OptionError
            For an attribute that has no result.
        """
        from .mean_scores_figure import draw_means

        parts = {}
        for name in self.attributes if attributes is None else attributes:
            one = self[name]
            parts[name] = one.letters().drop(columns="mean").merge(one.means, on="sample")
        own = None
        if table is not None:
            by = ["attribute", "assessor", "sample"]
            scores = as_tidy(table).data.groupby(by, observed=True, sort=False)["score"]
            own = scores.mean().reset_index()
            own = own[own["attribute"].isin(list(parts))]
        return draw_means(_stacked(parts), own, columns=columns, language=language)

    def plot(
        self,
        ax: Axes | None = None,
        attribute: str | None = None,
        *,
        table: Tidy | pd.DataFrame | None = None,
        language: str = FALLBACK,
    ) -> Axes:
        """Draw the means of one attribute into axes, in the settings and theme that hold there.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Where to draw; the current axes by default, as seaborn does.
        attribute : str, optional
            May be left out where there is one only.
        table : Tidy or DataFrame, optional
            As in `figure`.
        language : str

        Returns
        -------
        matplotlib Axes

        Raises
        ------
        OptionError
            If there are several attributes and none is named, or it has no result.
        """
        attribute = chosen("attribute", attribute, self.attributes)
        ax = ax or current_axes()
        with drawing_on(ax):
            self.figure(table, [attribute], language=language)
        return ax

    def to_dict(self, language: str = FALLBACK) -> dict[str, Any]:
        """Return the results by attribute as a dict that is valid JSON."""
        spoken: dict[str, Any] = plain(
            {
                "attributes": self.attributes,
                "refused": self.refused,
                "across": self.tests()[["attribute", "p", "p_holm", "p_bh"]],
                "dropped": self.dropped,
                "sentences": self.sentences(),
                "warnings": self.warnings,
            },
            language,
        )
        return spoken


def _stacked(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    parts = []
    for name, table in tables.items():
        part = table.copy()
        part.insert(0, "attribute", name)
        parts.append(part)
    return pd.concat(parts, ignore_index=True)


def anova(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    df: str = "satterthwaite",
    boundary: str = "design",
    factors: pd.DataFrame | Mapping[str, Mapping[str, object]] | None = None,
    sessions: str = "pooled",
    position: str | None = None,
    carry_over: bool = False,
    random: Sequence[str] | None = None,
    reference: str | None = None,
    level: float = 0.95,
    **column_names: Unpack[LongColumns],
) -> Anova:
    """Compare samples by mixed-model ANOVA: assessors random, samples fixed.

    Balanced attributes take the exact mean squares; others REML with random
    assessors and, where samples were scored more than once, assessor x sample.
    Without replicates that interaction is part of the residual, which is then
    the error term.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table: ``assessor, sample, score`` and, as far as there are any,
        ``attribute, replicate, position, session``.
    attributes : sequence of str, optional
        Attributes to analyse; all by default.
    df : {'satterthwaite', 'kenward-roger'}
        Denominator degrees of freedom where they are not exact. Kenward and
        Roger's also corrects standard errors for small panels with many holes.
    boundary : {'design', 'drop'}
        What a variance is worth that comes out below 0. 'design': tests keep
        the error term of the design. 'drop': it is set to 0 and taken as
        known, as mixed-model programs do; the degrees of freedom may jump.
    factors : DataFrame or mapping, optional
        Factorial structure of the samples: one row a sample, one column a
        factor, or ``{"A": {"fraction": "clear", "pasteurised": "no"}, ...}``.
        Each factor and each interaction is tested against its own interaction
        with assessors.
    sessions : {'pooled', 'fixed', 'random'}
        'pooled' counts scores of several sessions as replicates; 'fixed' adds
        an effect of each session and random assessor x session: both ask about
        these sessions. 'random' asks about sessions in general: session,
        assessor x session and sample x session are random, so that samples which
        change from session to session do not count as lasting differences.
        'fixed' and 'random' also test sample x session (effect
        ``sample:session``): do the samples change between these sessions?
    position : {None, 'linear', 'each'}
        Add a slope over the serving order, or an effect of each place.
    carry_over : bool
        Add an effect of the sample served before.
    random : sequence of str, optional
        Random terms to use instead, such as ``("assessor", "assessor:sample",
        "session")``; one at least must hold assessors.
    reference : str, optional
        A sample that all others are compared with besides (Dunnett).
    level : float
        Confidence level of intervals, between 0 and 1.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Anova

    Raises
    ------
    TableError
        If the table is not tidy.
    NotEstimable
        If no attribute can be analysed; a single one is otherwise named in
        ``refused``.
    OptionError
        If an argument is out of its range.

    Notes
    -----
    With I assessors, J samples and K replicates, all complete,
    F = MS_sample / MS_assessor:sample on J - 1 and (I - 1)(J - 1). Means have
    the variance (s_A^2 + s_AS^2 + s_e^2 / K) / I, for new assessors of the same
    kind; their degrees of freedom are Satterthwaite's. All pairs are compared
    by Tukey's method.

    References
    ----------
    Kuznetsova, Brockhoff & Christensen 2017, J. Stat. Softw. 82(13). Kenward &
    Roger 1997, Biometrics 53:983-997. Patterson & Thompson 1971, Biometrika
    58:545-554.

    Examples
    --------
    >>> scores = {"A": (4.0, 5.0, 7.5), "B": (3.0, 4.5, 6.0), "C": (5.0, 5.5, 8.0)}
    >>> bottles = ("free-run", "clear", "cloudy")
    >>> rows = [(who, what, score) for who in scores for what, score in zip(bottles, scores[who])]
    >>> found = anova(pd.DataFrame(rows, columns=["assessor", "sample", "score"]))
    >>> print(found["score"].sentences()[0])
    The samples differ in score (F(2, 4) = 70.8, p < 0.001); cloudy is 3.17 points above \
free-run, 95 % interval 2.20 to 4.14 (3.6 panel standard deviations).
    """
    one_of("df", df, METHODS)
    one_of("boundary", boundary, ("design", "drop"))
    one_of("sessions", sessions, ("pooled", "fixed", "random"))
    if position is not None:
        one_of("position", position, ("linear", "each"))
    share_of("level", level)
    checked = as_tidy(table, **column_names)
    known = checked.attributes
    wanted = known if attributes is None else [str(name) for name in attributes]
    for name in wanted:
        one_of("attributes", name, known)
    if not wanted:
        raise NotEstimable("anova.empty")
    if reference is not None and reference not in checked.samples:
        raise OptionError("anova.no_sample", sample=reference, samples=checked.samples)
    levels = factor_table(factors, checked.samples)
    if random is not None:
        _check_random(random, [str(name) for name in levels])
        if sessions == "pooled" and any("session" in term.split(":") for term in random):
            sessions = "random"
    plan = design(
        checked,
        attributes=wanted,
        factors=levels,
        sessions=sessions,
        position=position,
        carry_over=carry_over,
    )
    refused = faults(plan)
    if sessions == "random" and len(plan.sessions) > 1:
        refused |= never_followed(plan)
    able = [a for a, name in enumerate(plan.attributes) if name not in refused]
    outcome = fit_attributes(
        plan,
        able,
        random=None if random is None else tuple(random),
        method=df,
        boundary=boundary,
    )
    refused |= outcome.refused
    refused = {name: refused[name] for name in plan.attributes if name in refused}
    if not outcome.fitted:
        sentence = next(iter(refused.values()))
        if len(refused) == 1:
            raise NotEstimable(sentence.key, **dict(sentence.values))
        raise NotEstimable(
            "anova.none",
            n=len(refused),
            listed=reduce(below, refused.values()),
            refused=list(refused.items()),
        )
    results = _results(
        plan, outcome.fitted, df=df, boundary=boundary, level=level, reference=reference
    )
    if len(plan.sessions) > 1:
        scope = "general" if sessions == "random" else "these"
        results = {name: replace(one, sessions=scope) for name, one in results.items()}
    if sessions != "pooled" and random is None:
        changed = change_between_sessions(checked, list(results), df=df, boundary=boundary)
        results = {
            name: replace(one, effects={**one.effects, EFFECT: changed[name]})
            if name in changed
            else one
            for name, one in results.items()
        }
    return Anova(
        attributes={name: results[name] for name in plan.attributes if name in results},
        refused=refused,
        dropped=plan.dropped.reset_index(drop=True),
        warnings=_table_warnings(plan, sessions),
    )


def _check_random(random: Sequence[str], factors: Sequence[str]) -> None:
    """Refuse random terms without assessors, and samples that would be random beside fixed."""
    if not any("assessor" in term.split(":") for term in random):
        raise OptionError("anova.random_assessor", terms=list(random) or Sentence.of("term.none"))
    for term in random:
        if set(term.split(":")) <= {"sample", *factors}:
            raise OptionError("anova.random_sample", term=term)


def _table_warnings(plan: Design, sessions: str) -> tuple[Sentence, ...]:
    found = []
    if sessions == "pooled" and len(plan.sessions) > 1:
        found.append(Sentence.of("anova.pooled", n=len(plan.sessions)))
    if len(plan.assessors) <= _FEW:
        found.append(Sentence.of("anova.few", n=len(plan.assessors)))
    return tuple(found)


def _results(
    plan: Design,
    fitted: Mapping[str, Estimates],
    *,
    df: str,
    boundary: str,
    level: float,
    reference: str | None,
) -> dict[str, AttributeAnova]:
    """Make the results, attributes of one fit together."""
    together: dict[int, list[str]] = {}
    for name, found in fitted.items():
        together.setdefault(id(found.inference), []).append(name)
    results: dict[str, AttributeAnova] = {}
    for names in together.values():
        first = fitted[names[0]]
        made = first.inference
        samples = tuple(plan.samples[i] for i in first.samples)
        a = len(made.beta)
        sds = np.ones(a)
        for name in names:
            sds[fitted[name].index] = panel_sd(fitted[name].variances)
        alone = not plan.effects and not len(plan.factors.columns)
        asked = questions(plan, first.samples, made.beta.shape[1])
        tested = {name: made.test(weights, sequential=alone) for name, weights in asked.items()}
        pairs = Pairs(made, samples, level, sds)
        for name in names:
            found = fitted[name]
            row = found.index
            number = plan.attributes.index(name)
            present = plan.filled[number]
            tests = {
                effect: FTest(
                    float(values[0][row]),
                    float(len(asked[effect])),
                    float(values[1][row]),
                    float(values[2][row]),
                    error_term(plan, effect, found.variances),
                )
                for effect, values in tested.items()
            }
            one = made.take(np.array([row]))
            results[name] = AttributeAnova(
                attribute=name,
                samples=samples,
                sample=tests.pop("sample"),
                effects=tests,
                components=_components(found.variances),
                estimates=found.variances,
                method=_method(found, df),
                level=level,
                n_scores=int(present.sum()),
                n_assessors=int((present.sum(axis=1) > 0).sum()),
                order=_order_table(plan, one, len(samples), level),
                reference=reference,
                inference=one,
                pairs=pairs,
                index=row,
                warnings=_warnings(plan, found, number, boundary, reference),
            )
    return results


def _components(variances: Mapping[str, float]) -> dict[str, float]:
    """Show variances, none below 0; the three that every panel has come first."""
    shown = {name: float("nan") for name in ("assessor", "assessor:sample", "residual")}
    return shown | {name: max(value, 0.0) for name, value in variances.items()}


def _method(found: Estimates, df: str) -> str:
    if found.exact:
        return "mean squares (balanced)"
    name = "Kenward-Roger" if df == "kenward-roger" else "Satterthwaite"
    return f"REML, {name} degrees of freedom"


def _order_table(plan: Design, one: Any, k: int, level: float) -> pd.DataFrame:
    """Estimate the effects of position, carry-over and session."""
    if not plan.effects:
        return _NO_EFFECTS
    parts = []
    start = k
    for effect in plan.effects:
        width = effect.columns.shape[1]
        weights = np.zeros((len(effect.weights), one.beta.shape[1]))
        weights[:, start : start + width] = effect.weights
        start += width
        estimate, se, df = (part[0] for part in one.contrasts(weights))
        half = stdtrit(df, (1 + level) / 2) * se
        values = (effect.name, effect.labels, estimate, se, df, estimate - half, estimate + half)
        parts.append(pd.DataFrame(dict(zip(_NO_EFFECTS.columns, values, strict=True))))
    return pd.concat(parts, ignore_index=True)


def _warnings(
    plan: Design, found: Estimates, number: int, boundary: str, reference: str | None
) -> tuple[Sentence, ...]:
    """Say what was computed but needs care."""
    notes = list(found.notes)
    negative = [name for name, value in found.variances.items() if value < 0]
    notes += [
        Sentence.of(
            "anova.below_zero", term=term_words(name), value=rounded(found.variances[name], ".3g")
        )
        for name in negative
    ]
    for name in found.held:
        known = boundary == "drop" and not found.inference.scaled
        key = "anova.held" if known else "anova.held_fallback"
        notes.append(Sentence.of(key, term=term_words(name)))
    if reference is not None and plan.samples.index(reference) not in found.samples:
        attribute = plan.attributes[number]
        notes.append(Sentence.of("anova.no_reference", sample=reference, attribute=attribute))
    absent = [plan.samples[i] for i in range(len(plan.samples)) if i not in found.samples]
    if absent:
        notes.append(Sentence.of("anova.absent_samples", samples=absent))
    missing = [
        name for name, row in zip(plan.assessors, plan.filled[number], strict=True) if not row.any()
    ]
    if missing:
        notes.append(Sentence.of("anova.absent_assessors", assessors=missing))
    return tuple(notes)
