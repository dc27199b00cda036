"""The methods of a session: what each asks, serves, needs and takes for right.

A new test of difference is one entry in `METHODS`, its words (``set.name_…``,
``set.method_…`` of panel) and, where neither counting right answers nor the
other ways suit it, its analysis in `panel/report/set_result.py`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from ...forms.questions.cards import EARLIER, EDITION, card
from ...forms.questions.question_types import Scorecard
from ...forms.questions.set_questions import set_scorecard
from .presented_sets import Rule, like_the_first, not_the_blank, odd_one, pair_of, the_stronger
from .set_settings import SetTest


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """What one method asks, serves, needs and takes for right.

    Attributes
    ----------
    name : str
        As ``session.toml`` writes it.
    asked : tuple of str
        The questions of a set of cups, in order; empty for a profile, which
        asks the scorecard's questions of one cup at a time.
    samples : {"any", "two", "several", "levels"}
        Which bottles it takes: two, three or more, or rising concentrations.
    orders : tuple of str
        The orders of a set; A is the reference, B the stronger, where there is one.
    reference_first : bool
        The first cup of a set is the reference, A or B in turn unless it is constant.
    right : callable, optional
        Tells a right answer. Where it is there, everybody names a cup, if need be by guessing.
    needs : tuple of str
        The settings of ``[test]`` that it cannot do without.
    shows_reference : bool
        A is shown openly before the first set.
    two_sided : bool
        Either bottle may be the stronger unless one is named, and ties may be allowed.
    analysed : str
        The key of its analysis in `panel/report/set_result.py`.
    """

    name: str
    asked: tuple[str, ...] = ()
    samples: Literal["any", "two", "several", "levels"] = "two"
    orders: tuple[str, ...] = ()
    reference_first: bool = False
    right: Rule | None = None
    needs: tuple[str, ...] = ()
    shows_reference: bool = False
    two_sided: bool = False
    analysed: Literal["counted", "paired", "yes_no", "ranked", "threshold"] = "counted"

    @property
    def compares(self) -> bool:
        """Whether cups are compared in sets, not scored one at a time."""
        return bool(self.asked)

    @property
    def counts_right(self) -> bool:
        """Whether right answers are counted against one chance."""
        return self.right is not None and self.samples == "two"

    def scorecard(
        self,
        test: SetTest,
        named: str = EARLIER,
        options: Sequence[str] = (),
        edition: int = EDITION,
    ) -> Scorecard:
        """Return the questions that are asked unless the session changes them.

        A profile asks those of a card with its options; see `cards.card`.
        """
        if not self.compares:
            return card(named, options, edition)
        cups = max(map(len, self.orders), default=2)
        return set_scorecard(
            self.asked, test.attribute, ties=test.ties, cups=cups, compared=edition > 2
        )

    def orders_for(self, test: SetTest) -> tuple[str, ...]:
        """Return the orders of a set; with a constant reference it is always A."""
        if self.reference_first and test.constant_reference:
            return tuple(order for order in self.orders if order[0] == "A")
        return self.orders


_ONE_STRONGER = ("AAB", "ABA", "BAA")
_EVERY = (
    Method(name="profile", samples="any"),
    Method(
        name="triangle",
        asked=("odd",),
        orders=("AAB", "ABA", "BAA", "BBA", "BAB", "ABB"),
        right=odd_one,
    ),
    Method(
        name="duo-trio",
        asked=("like_first",),
        orders=("AAB", "ABA", "BBA", "BAB"),
        reference_first=True,
        right=like_the_first,
    ),
    Method(
        name="paired",
        asked=("stronger",),
        orders=("AB", "BA"),
        right=the_stronger,
        two_sided=True,
        analysed="paired",
    ),
    Method(
        name="3-afc",
        asked=("stronger",),
        orders=_ONE_STRONGER,
        right=the_stronger,
        needs=("stronger",),
    ),
    Method(
        name="tetrad",
        asked=("pair_1", "pair_2"),
        orders=("AABB", "ABAB", "ABBA", "BBAA", "BABA", "BAAB"),
        right=pair_of("pair_1", "pair_2"),
    ),
    Method(
        name="two-out-of-five",
        asked=("odd_1", "odd_2"),
        orders=tuple(
            "".join(rare if place in pair else often for place in range(5))
            for rare, often in ("AB", "BA")
            for pair in combinations(range(5), 2)
        ),
        right=pair_of("odd_1", "odd_2"),
    ),
    Method(
        name="a-not-a",
        asked=("is_a",),
        orders=("A", "B"),
        needs=("reference",),
        shows_reference=True,
        analysed="yes_no",
    ),
    Method(
        name="same-different",
        asked=("same",),
        orders=("AA", "BB", "AB", "BA"),
        analysed="yes_no",
    ),
    Method(name="ranking", asked=("order",), samples="several", analysed="ranked"),
    Method(
        name="threshold",
        asked=("stronger",),
        samples="levels",
        orders=_ONE_STRONGER,
        right=not_the_blank,
        needs=("reference",),
        analysed="threshold",
    ),
)
METHODS: Mapping[str, Method] = {method.name: method for method in _EVERY}
