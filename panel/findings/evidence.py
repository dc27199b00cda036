"""What all findings draw from: answers by bottle, who gave them, and what is known of both."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, wraps
from itertools import combinations
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, TypeVar

from ...analysis.core.errors import AnalysisError
from ...forms.questions.cards import STAGES
from ...forms.questions.question_types import Kind, Question, Scorecard
from ..base.words import Sentence
from ..session.bottles import CONDITIONS, Bottle
from ..session.conditions import in_order, varied
from ..session.primary_questions import Primary
from ..session.roster import Assessor

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    import pandas as pd

    from ...analysis.anova.whole_table import Anova
    from ...analysis.core.tidy_table import Tidy

    Places = npt.NDArray[np.intp]
    Chosen = npt.NDArray[np.bool_]

SCALED = (Kind.LINE, Kind.CATEGORY, Kind.BALANCE)
QUALITY = "quality"
NOSE, PALATE = "aroma_intensity", "flavour_intensity"
BALANCE = "sweetness_balance"
BOTTLE_FACTORS = ("fraction", "pasteurised", "tank")
"""What bottles may differ in besides how they are served."""
TASTINGS = 2
"""Tastings of a bottle without which it is compared with no other, and nothing is decided but
to hold it back."""
FEWEST_OTHERS = 2
"""Others beside the maker from which on the panel's means are theirs alone."""
P = ParamSpec("P")
T = TypeVar("T")


def _order(factor: str, levels: Sequence[str]) -> list[str]:
    """Return levels in the order in which they are told: conditions by size, others as listed."""
    return in_order(factor, levels) if factor in CONDITIONS else list(dict.fromkeys(levels))


def _crossed(bottles: Sequence[Bottle], conditions: Sequence[str]) -> pd.DataFrame | None:
    """Return what bottles cross, conditions first, with as many other factors as are whole."""
    import pandas as pd

    levels = {name: [one.level(name) for one in bottles] for name in (*conditions, *BOTTLE_FACTORS)}
    known = [name for name in BOTTLE_FACTORS if all(levels[name])]
    known = [name for name in known if len(set(levels[name])) > 1]
    served = [name for name in conditions if len(set(levels[name])) > 1]
    for size in range(len(known) if served else -1, -1, -1):
        for rest in combinations(known, size):
            chosen = (*served, *rest)
            cells = set(zip(*(levels[name] for name in chosen), strict=True))
            whole = math.prod(len(set(levels[name])) for name in chosen)
            if len(chosen) > 1 and len(cells) == whole == len(bottles):
                return pd.DataFrame(
                    {
                        name: pd.Categorical(levels[name], _order(name, levels[name]))
                        for name in chosen
                    },
                    index=[one.name for one in bottles],
                )
    return None


def once(make: Callable[Concatenate[Evidence, P], T]) -> Callable[Concatenate[Evidence, P], T]:
    """Keep what `make` returns, of each bottle or attribute, beside the evidence it was made from.

    Further arguments must be hashable. Who asks changes nothing in what is kept.
    """
    own = f"{make.__module__}.{make.__qualname__}"

    @wraps(make)
    def kept(evidence: Evidence, /, *args: P.args, **kwargs: P.kwargs) -> T:
        key = (own, *args, *kwargs.items())
        if key not in evidence.kept:
            evidence.kept[key] = make(evidence, *args, **kwargs)
        found: T = evidence.kept[key]
        return found

    return kept


@dataclass(frozen=True, eq=False, kw_only=True)
class Evidence:
    """The answers of one profile session.

    Attributes
    ----------
    scores : DataFrame
        Tidy rows of everybody: ``assessor, sample, replicate, position,
        attribute, score``.
    bottles : tuple of Bottle
        Those that were judged, in the order of ``bottles.csv``.
    people : tuple of Assessor
        Those who answered.
    scorecard : Scorecard
    primary : tuple of Primary
        Questions named before the tasting.
    replicates : int
        Times each bottle was to be served to each assessor.
    absent : tuple of str
        Assessors who were to answer and did not.
    maker_in_means : bool
    language : str
    shuffles, seed : int
        Of the step-down.
    written : DataFrame, optional
        Faults written in own words: ``assessor, sample, replicate, fault``.
    alone : bool
        Whether who tasted also poured, blind by shuffled cups alone.
    earlier : tuple of int
        False notes and answers about faults in clean controls of earlier sessions.
    asks : str
        What the session is to answer, as its planner wrote it.
    made : tuple of (name, mapping of str to str)
        What further columns and the batch book know of the making: column, value by bottle.
    unread : tuple of (str, str, str, str)
        Marks that came back and were not understood: assessor, sample, attribute, what stood there.
    kept : dict
        What was computed already, see `once`.
    """

    scores: pd.DataFrame
    bottles: tuple[Bottle, ...]
    people: tuple[Assessor, ...]
    scorecard: Scorecard
    primary: tuple[Primary, ...] = ()
    replicates: int = 1
    absent: tuple[str, ...] = ()
    maker_in_means: bool = False
    alone: bool = False
    language: str = "en"
    asks: str = ""
    unread: tuple[tuple[str, str, str, str], ...] = ()
    made: tuple[tuple[Sentence | str, Mapping[str, str]], ...] = ()
    shuffles: int = 1999
    seed: int = 1
    written: pd.DataFrame | None = None
    earlier: tuple[int, int] = (0, 0)
    kept: dict[Hashable, Any] = field(init=False, default_factory=dict)
    _names: dict[str, str] = field(init=False, default_factory=dict)

    @cached_property
    def samples(self) -> list[str]:
        """Names of all bottles that were judged."""
        return [bottle.name for bottle in self.bottles]

    @cached_property
    def products(self) -> list[str]:
        """Names of the bottles that are no controls: the report is about these."""
        return [bottle.name for bottle in self.bottles if not bottle.control]

    @cached_property
    def compared(self) -> list[str]:
        """Products that are compared: one tasting of one bottle beside more of others is none."""
        cups = self.scores[["assessor", "replicate", "sample"]].drop_duplicates()["sample"]
        counts = cups.astype(str).value_counts()
        kept = [name for name in self.products if counts.get(name, 0) >= TASTINGS]
        return kept or self.products

    @cached_property
    def thin(self) -> list[str]:
        """Products with one tasting, where others have more."""
        return [name for name in self.products if name not in self.compared]

    @cached_property
    def varied(self) -> list[str]:
        """Conditions in which the bottles were served apart, each known of all."""
        return varied(self.bottles)

    @cached_property
    def factors(self) -> pd.DataFrame | None:
        """What the bottles cross, a row each, where a condition is among it; conditions first.

        What always changes with something else is left out, and so are bottles of other tanks
        where only those of one make a whole cross; None where none do.
        """
        if not self.varied or self.compared != self.products:
            return None
        every = [self.bottle(name) for name in self.products]
        tanks = Counter(one.tank for one in every)
        groups = [every, *([one for one in every if one.tank == tank] for tank in tanks)]
        found = [_crossed(own, self.varied) for own in groups]
        made = [one for one in found if one is not None]
        return max(made, key=len) if made else None

    def bottle(self, name: str) -> Bottle:
        """Return a bottle by its name."""
        return next(bottle for bottle in self.bottles if bottle.name == name)

    @cached_property
    def roles(self) -> dict[str, str]:
        """Role of everybody who answered, by code."""
        return {one.code: one.role for one in self.people}

    def by_roster(self, found: Mapping[str, T]) -> dict[str, T]:
        """Return what is known by assessor in the order in which they stand in the roster."""
        return {code: found[code] for code in self.roles if code in found}

    @cached_property
    def makers(self) -> list[str]:
        """Codes of makers who answered."""
        return [code for code, role in self.roles.items() if role == "maker"]

    @cached_property
    def maker_apart(self) -> bool:
        """Whether the maker's scores stay out of the panel's means.

        With fewer than two others there would be no panel left; then everybody counts.
        """
        others = len(self.people) - len(self.makers)
        return bool(self.makers) and not self.maker_in_means and others >= FEWEST_OTHERS

    @cached_property
    def counted(self) -> list[str]:
        """Codes of the assessors who make the panel's means."""
        out = self.makers if self.maker_apart else []
        return [code for code in self.roles if code not in out]

    @cached_property
    def _questions(self) -> dict[str, Question]:
        return {name: one for one in self.scorecard for name in one.attributes}

    @cached_property
    def _scored(self) -> set[str]:
        return set(self.scores["attribute"])

    def question(self, attribute: str) -> Question:
        """Return the question that an attribute belongs to."""
        return self._questions[attribute]

    def attributes(self, *kinds: Kind) -> list[str]:
        """Return the attributes of some kinds that were scored, in the scorecard's order."""
        return [
            name
            for name, one in self._questions.items()
            if one.kind in kinds and name in self._scored and not one.aside
        ]

    def also_apart(self, pairs: Iterable[tuple[str, str]]) -> list[Sentence | str]:
        """Name the further columns of the making in which both bottles of every pair differ."""
        both = list(pairs)
        return [
            column
            for column, known in self.made
            if both
            and all(one in known and other in known for one, other in both)
            and all(known[one].casefold() != known[other].casefold() for one, other in both)
        ]

    def rows(
        self,
        attributes: Sequence[str],
        *,
        everybody: bool = False,
        controls: bool = False,
        twins: bool = False,
    ) -> pd.DataFrame:
        """Return the rows of some attributes, of the panel and the products unless told else.

        With `twins` a hidden duplicate counts as further tastings of its twin.
        """
        import numpy as np

        scores = self._joined if twins else self.scores
        of_attribute, of_panel, of_products = self._whose[twins]
        kept = np.zeros(len(scores), dtype=bool)
        for name in set(attributes) & of_attribute.keys():
            kept[of_attribute[name]] = True
        if not everybody:
            kept &= of_panel
        if not controls:
            kept &= of_products
        return scores[kept]

    @cached_property
    def _whose(self) -> dict[bool, tuple[dict[Any, Places], Chosen, Chosen]]:
        """Rows of each attribute, of the panel, of the products; with twins joined and without."""
        import numpy as np

        return {
            twins: (
                {
                    name: np.asarray(own)
                    for name, own in scores.groupby("attribute", observed=True).indices.items()
                },
                scores["assessor"].isin(self.counted).to_numpy(bool),
                scores["sample"].isin(self.products).to_numpy(bool),
            )
            for twins, scores in ((False, self.scores), (True, self._joined))
        }

    @cached_property
    def _joined(self) -> pd.DataFrame:
        """The scores with each hidden duplicate as further replicates of its twin."""
        import pandas as pd

        twin = {one.name: one.twin for one in self.bottles if one.twin}
        own = self.scores["sample"].isin(list(twin))
        moved = self.scores[own]
        moved = moved.assign(
            sample=moved["sample"].map(twin), replicate=moved["replicate"] + self.replicates
        )
        return pd.concat([self.scores[~own], moved], ignore_index=True) if twin else self.scores

    def tidy(
        self, attributes: Sequence[str], *, everybody: bool = False, controls: bool = False
    ) -> Tidy:
        """Return `rows`, checked."""
        from ...analysis.core.tidy_table import tidy

        return tidy(self.rows(attributes, everybody=everybody, controls=controls))

    def wide(self, attributes: Sequence[str], *, controls: bool = False) -> dict[str, pd.DataFrame]:
        """Return each attribute's marks of the panel: a row an assessor, a column a bottle."""
        of = self._wide_with_controls if controls else self._wide
        return {name: of[name].copy() for name in attributes if name in of}

    @cached_property
    def _wide(self) -> dict[str, pd.DataFrame]:
        return self._all_wide(controls=False)

    @cached_property
    def _wide_with_controls(self) -> dict[str, pd.DataFrame]:
        return self._all_wide(controls=True)

    def _all_wide(self, *, controls: bool) -> dict[str, pd.DataFrame]:
        rows = self.rows(list(self._scored), controls=controls)
        cells = rows.pivot_table(
            index=["attribute", "assessor"], columns="sample", values="score", observed=True
        )
        return {
            str(name): own.droplevel("attribute").dropna(axis="columns", how="all")
            for name, own in cells.groupby(level="attribute")
        }

    @cached_property
    def anova(self) -> Anova | AnalysisError:
        """The comparison of the bottles in all scaled attributes, or why there is none."""
        from ...analysis.anova.whole_table import anova
        from ...analysis.core.tidy_table import tidy

        rows = self.rows(self.attributes(*SCALED))
        try:
            return anova(tidy(rows[rows["sample"].isin(self.compared)]))
        except AnalysisError as refusal:
            return refusal

    @cached_property
    def promise_pair(self) -> tuple[str, str] | None:
        """The question on the smell and the one on the mouth that keeps its promise, if asked.

        The default scorecard's intensities, else the first two of a name that
        begin with "nose" and "palate".
        """
        lines = self.attributes(Kind.LINE)
        if NOSE in lines and PALATE in lines:
            return NOSE, PALATE
        for name in lines:
            kept = name.replace("nose_", "palate_", 1)
            if name.startswith("nose_") and kept in lines:
                return name, kept
        return None

    @cached_property
    def expected_pair(self) -> tuple[str, str] | None:
        """Sweetness expected from the smell, and found: the questions, if both were answered."""
        asked = set(self.scores["attribute"].astype(str))
        return (STAGES[0], STAGES[2]) if {STAGES[0], STAGES[2]} <= asked else None

    def name(self, attribute: str) -> str:
        """Write an attribute as people read it, inside a sentence."""
        if attribute not in self._names:
            try:
                name = self.scorecard.name(attribute, self.language)
            except KeyError:
                name = attribute
            self._names[attribute] = name.lower()
        return self._names[attribute]

    def row_name(self, attribute: str) -> str:
        """Write an attribute as people read it in a table."""
        name = self.name(attribute)
        return name[:1].upper() + name[1:]

    @cached_property
    def means(self) -> pd.DataFrame:
        """Mean of each product (rows) in each scaled attribute (columns), over the panel.

        The mixed model's where there is one: with holes they hold for a full
        panel. Plain means over assessors elsewhere.
        """
        scaled = self.attributes(*SCALED)
        rows = self.rows(scaled)
        cells = rows.groupby(["attribute", "sample", "assessor"])["score"].mean()
        each = cells.groupby(level=["attribute", "sample"]).mean().reset_index()
        plain = each.pivot_table(index="sample", columns="attribute", values="score")
        plain = plain.reindex(index=self.products, columns=scaled)
        if not isinstance(self.anova, AnalysisError):
            for name, one in self.anova.attributes.items():
                for row in one.means.to_dict("records"):
                    plain.loc[str(row["sample"]), name] = float(row["mean"])
        return plain
