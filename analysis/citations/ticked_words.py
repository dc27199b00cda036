"""Which words tell the samples apart, and how sure we are of it.

Puts together how many assessors used each word (`citations`), Cochran's exact
test per word (`cochran`), and the panel's agreement on the word (`words_agree`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Unpack

import pandas as pd

from ..core.errors import NotEstimable
from ..core.look import drawing_on
from ..core.options import ALPHA
from ..core.p_values import holds
from ..core.plotted import current_axes
from ..core.result import Result, copies, each_row
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.wording import p_words
from ..core.words import FALLBACK, Sentence
from ..inference.adjusted_p import adjust_discrete
from .citation_counts import Citations, citations, cube_of
from .cochran_q import Cochran, cochran
from .word_agreement import WordAgreement, words_agree
from .word_effects import TermEffects, term_effects

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Descriptors(Result):
    """The words of a session: frequencies, tests, pairs, agreement.

    Attributes
    ----------
    citations : Citations
        How many assessors used each word for each sample.
    tests : DataFrame
        Columns ``attribute, Q, df, p, p_chi2, p_least, n, informative,
        adjusted, holds``, one row a word. `adjusted` is Holm's, counting only
        the words that could have given so small a p (`adjust_discrete`);
        missing for words that could not have shown a difference at all
        (`p_least` above 0.05).
    pairs : DataFrame
        Columns ``attribute`` and those of `Cochran.pairs`.
    agreement : WordAgreement or None
        None with a single assessor.
    effects : TermEffects or None
        The score named by `liking` with and without each word, if one was named.
    """

    citations: Citations
    tests: pd.DataFrame
    pairs: pd.DataFrame
    agreement: WordAgreement | None
    effects: TermEffects | None = None
    method: str = "Cochran's Q, exact; Holm over words that could differ (Tarone 1990)"

    @property
    def differing(self) -> list[str]:
        """The words that hold after adjustment, smallest p first."""
        held = self.tests[self.tests["holds"]].sort_values("p", kind="stable")
        return [str(name) for name in held["attribute"]]

    def figure(
        self,
        tree: pd.DataFrame,
        *,
        samples: Sequence[str] | None = None,
        names: Mapping[str, str] | None = None,
        most: int = 36,
        language: str = FALLBACK,
        narrow: bool = False,
    ) -> Figure:
        """Draw the wheel of words.

        Parameters
        ----------
        tree : DataFrame
            ``attribute, label, group, family`` in the order to draw; see `draw_wheel`.
        samples : sequence of str, optional
            Order of the rings from the inside; sorted by default.
        names : mapping, optional
            What to call the samples.
        most : int
            At most so many words, the most used ones.
        language : str
        narrow : bool
            Whether for the screen of a telephone: a row a word.

        Raises
        ------
        OptionError
            If no word of the tree was asked.
        """
        from .words_figure import draw_wheel

        return draw_wheel(
            self.citations.table,
            tree,
            tests=self.tests,
            samples=samples,
            names=names,
            most=most,
            language=language,
            narrow=narrow,
        )

    def plot(
        self,
        tree: pd.DataFrame,
        ax: Axes | None = None,
        *,
        samples: Sequence[str] | None = None,
        names: Mapping[str, str] | None = None,
        most: int = 36,
        language: str = FALLBACK,
    ) -> Axes:
        """Draw the wheel of words into axes: a square of about 8 inches holds all its words.

        Parameters
        ----------
        tree, samples, names, most, language
            As in `figure`.
        ax : matplotlib Axes, optional
            Where to draw; the current axes by default.

        Returns
        -------
        matplotlib Axes

        Raises
        ------
        OptionError
            If no word of the tree was asked.
        """
        ax = ax or current_axes()
        with drawing_on(ax):
            self.figure(tree, samples=samples, names=names, most=most, language=language)
        return ax

    def sentences(self) -> tuple[Sentence, ...]:
        """Say which words tell the samples apart, then what each sample was called."""
        n, could = len(self.tests), int(self.tests["adjusted"].notna().sum())
        held = self.tests[self.tests["holds"]].sort_values("p", kind="stable")
        values = {"n": n, "could": could, "assessors": len(self.citations.assessors)}
        if len(self.citations.samples) < 2 or len(self.citations.assessors) < 2:
            said = [Sentence.of("descriptors.no_test", **values)]
        elif len(held):
            listed = each_row(
                held,
                lambda row: Sentence.of(
                    "descriptors.word", attribute=row.attribute, p=p_words(row.adjusted)
                ),
            )
            said = [Sentence.of("descriptors.differ", listed=listed, k=len(held), **values)]
        elif could:
            said = [Sentence.of("descriptors.not_shown", **values)]
            alone = self.tests[holds(self.tests["p"], ALPHA)]
            if len(alone):
                said.append(
                    Sentence.of("descriptors.hints", listed=[str(a) for a in alone["attribute"]])
                )
        else:
            said = [Sentence.of("descriptors.could_not", **values)]
        if self.agreement is not None:
            said += self.agreement.sentences()
        if self.effects is not None:
            said += self.effects.sentences()
        return (*said, *self.citations.sentences())

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return shares, tests, pairs and agreement."""
        shown = {**self.citations.tables(), "descriptors.tests": self.tests}
        if len(self.pairs):
            shown["descriptors.pairs"] = self.pairs
        if self.agreement is not None:
            shown.update(self.agreement.tables())
        if self.effects is not None:
            shown.update(self.effects.tables())
        return copies(**shown)


def descriptors(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    level: float = 0.95,
    rule: str = "half",
    only_ticks: bool = False,
    liking: str | None = None,
    seed: int = 1,
    **column_names: Unpack[LongColumns],
) -> Descriptors:
    """Analyse ticked words: shares, differences between samples, agreement.

    Parameters
    ----------
    table, attributes, level, rule, only_ticks
        As for `citations`.
    liking : str, optional
        A scored attribute (liking, quality) to compare with and without each word.
    seed : int
        Of the simulation that takes over where exact p would be too long.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Descriptors

    Raises
    ------
    NotEstimable, OptionError, TableError
        As `citations`.

    Notes
    -----
    A word whose marks could not have given so small a p in any arrangement can
    never be claimed beside it; so it does not count among the tests that Holm's
    method adjusts for (Tarone 1990, Biometrics 46:515-522).
    """
    checked = as_tidy(table, **column_names)
    counted = citations(
        checked, attributes=attributes, level=level, rule=rule, only_ticks=only_ticks
    )
    found = _tested(counted, level, seed)
    rows = [
        {
            "attribute": one.attribute,
            "Q": one.Q,
            "df": one.df,
            "p": one.p,
            "p_chi2": one.p_chi2,
            "p_least": one.p_least,
            "n": one.n,
            "informative": one.informative,
        }
        for one in found
    ]
    names = ["attribute", "Q", "df", "p", "p_chi2", "p_least", "n", "informative"]
    tests = pd.DataFrame(rows, columns=names)
    could = holds(tests["p_least"], ALPHA)
    tests["adjusted"] = adjust_discrete(tests["p"].where(could).astype(float), tests["p_least"])
    tests["holds"] = holds(tests["adjusted"], ALPHA)
    compared = [one.pairs.assign(attribute=one.attribute) for one in found if len(one.pairs)]
    pairs = pd.concat(compared, ignore_index=True) if compared else pd.DataFrame()
    if len(pairs):
        pairs.insert(0, "attribute", pairs.pop("attribute"))
    careful = list(counted.warnings)
    incomplete = max((one.incomplete for one in found), default=0)
    if incomplete:
        careful.append(Sentence.of("cochran.incomplete", n=incomplete))
    careful += [one.warnings[-1] for one in found if one.simulated][:1]
    return Descriptors(
        citations=counted,
        tests=tests,
        pairs=pairs,
        agreement=words_agree(counted, level=level) if len(counted.assessors) > 1 else None,
        effects=term_effects(counted, checked, liking, level=level) if liking else None,
        warnings=tuple(careful),
    )


def _tested(counted: Citations, level: float, seed: int) -> list[Cochran]:
    """Test every word that can be tested."""
    found = []
    cube = cube_of(counted)
    for at, name in enumerate(counted.attributes):
        ticks = pd.DataFrame(cube[:, :, at], counted.assessors, counted.samples)
        try:
            found.append(cochran(ticks, attribute=name, level=level, seed=seed))
        except NotEstimable:
            continue
    return found
