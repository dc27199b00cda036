"""A difference that can be tasted, or none that matters.

Two questions, two tests, and one is never read as the other. A *difference*
test asks whether more answers are right than guessing explains. A
*similarity* test asks whether fewer assessors than a stated proportion can
tell the samples apart. A difference that was not shown is no similarity.

References
----------
ISO 4120 (triangle), ISO 10399 (duo-trio), ISO 5495:2005 with Amd 1:2016
(paired comparison): critical counts, proportion of distinguishers, similarity.
Ennis (1993) and Bi, Ennis & O'Mahony (1997): d' and its variance.
Brockhoff & Christensen (2010), Food Quality and Preference 21:330-338, and the manual of the R
functions of its authors: estimates and their limits are kept within their range.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, isfinite, nan, sqrt
from typing import Any

from pandas import DataFrame
from scipy.special import xlogy
from scipy.stats import binom, norm

from ...rounding import half_up
from ..core.errors import OptionError
from ..core.options import share_of, whole
from ..core.result import Interval, Result
from ..core.wording import alike, p_words, percent, stated_percent, test_word
from ..core.words import Sentence
from ..inference.profile_likelihood import likelihood_interval
from .critical_counts import allowed, count, exact_interval, needed, smallest_found, smallest_panel
from .psychometric import ForcedChoice, named

POWER = 0.8


def _guessed(mean: float) -> str:
    """Write the number expected by guessing: one decimal at most."""
    return f"{float(half_up(mean)):g}"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CountedAnswers(Result):
    """Right answers of a forced-choice test, and what they tell of the assessors.

    Attributes
    ----------
    test : str
        Name of the test.
    correct, n : int
        Right answers and all answers, one answer an assessor.
    chance : float
        Share of right answers by guessing.
    share : float
        ``correct / n``.
    distinguishers : float
        ``(share - chance) / (1 - chance)``; below 0 when fewer were right than by guessing.
        Raw, for who computes on; tables write `distinguishers_shown`.
    distinguishers_se : float
        Standard error of `distinguishers` (ISO 5495 Amd 1:2016).
    distinguishers_interval : Interval
        Exact (Clopper-Pearson) limits, within 0 and 1.
    d_prime : float
        Size of the difference in standard deviations of one cup's percept; 0
        at or below guessing, infinite when all are right.
    d_prime_se : float
        ``sqrt(B / n)``; not a number where d' is 0 or infinite.
    d_prime_interval : Interval
        Exact: the Clopper-Pearson limits of the share, as d'; an upper limit
        of infinity means that there is none.
    level : float
        Confidence level of the intervals.
    """

    test: str
    correct: int
    n: int
    chance: float
    share: float
    distinguishers: float
    distinguishers_se: float
    distinguishers_interval: Interval
    d_prime: float
    d_prime_se: float
    d_prime_interval: Interval
    level: float

    def interval(
        self, level: float = 0.95, *, sides: int = 2, how: str = "exact", of: str = "distinguishers"
    ) -> Interval:
        """Return other limits of the proportion of distinguishers or of d'.

        Parameters
        ----------
        level : float
            Confidence level, 0 to 1.
        sides : {1, 2}
            1: each limit alone has the level (the one-sided form of the standards).
        how : {"exact", "likelihood", "wald"}
            Clopper-Pearson, likelihood ratio, or estimate and standard error.
            Wald limits are those of the standards' worked examples and may
            leave the possible range.
        of : {"distinguishers", "d_prime"}
            Which of the two.
        """
        share_of("level", level)
        if sides not in {1, 2} or of not in {"distinguishers", "d_prime"}:
            raise OptionError("difference.bad_interval")
        test = named(self.test)
        if how == "wald":
            z = float(norm.ppf(1 - (1 - level) / sides))
            centre = self.distinguishers if of == "distinguishers" else self.d_prime
            error = self.distinguishers_se if of == "distinguishers" else self.d_prime_se
            return Interval(centre - z * error, centre + z * error, level)
        if how == "exact":
            low, high, _ = exact_limits(test, self.correct, self.n, level, sides=sides)
        elif how == "likelihood":
            two_sided = level if sides == 2 else 2 * level - 1
            low, high, _ = likelihood_limits(test, self.correct, self.n, two_sided)
        else:
            raise OptionError("difference.bad_interval")
        if of == "distinguishers":
            low, high = (max(0.0, test.distinguishers(test.p_correct(d))) for d in (low, high))
        return Interval(low, high, level)

    def tables(self) -> Mapping[str, DataFrame]:
        """Return counts and estimates as one table."""
        shares, ds = self.distinguishers_interval, self.d_prime_interval
        likely = self.interval(self.level, of="d_prime", how="likelihood")
        rows = [
            (Sentence.of("difference.row_share"), self.share, *self.share_interval[:2]),
            (Sentence.of("difference.row_pd"), self.distinguishers_shown, *shares[:2]),
            (Sentence.of("difference.row_d"), self.d_prime, ds.low, ds.high),
            (Sentence.of("difference.row_d_likelihood"), self.d_prime, likely.low, likely.high),
        ]
        columns = ["quantity", "estimate", "low", "high"]
        return {"difference.table_estimates": DataFrame(rows, columns=columns)}

    @property
    def distinguishers_shown(self) -> float:
        """Proportion of distinguishers as it is told: 0 where fewer were right than by guessing.

        No share of assessors is below 0, and the limits are kept within 0 and 1 as well.
        """
        return max(0.0, self.distinguishers)

    @property
    def share_interval(self) -> Interval:
        """Exact limits of the share of right answers."""
        return exact_interval(self.correct, self.n, self.level)

    def _about_d(self) -> Sentence:
        low, high, _ = self.d_prime_interval
        values = dict(zip(("d", "low", "high"), alike([self.d_prime, low, high]), strict=True))
        key = "difference.d_prime" if isfinite(high) else "difference.d_prime_open"
        if not isfinite(self.d_prime):
            key = "difference.d_prime_all"
        return Sentence.of(key, level=stated_percent(self.level), **values)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class DifferenceTest(CountedAnswers):
    """Outcome of a difference test.

    Attributes
    ----------
    alpha : float
        Risk of finding a difference where there is none.
    p : float
        Exact probability of so many right answers or more by guessing.
    needed : int or None
        Right answers needed at `alpha`; None when even all would not do.
    significant : bool
        Whether ``p <= alpha``.
    found_with_80 : float or None
        Least true proportion of distinguishers that n answers find 8 times in 10.
    """

    alpha: float
    p: float
    needed: int | None
    significant: bool
    found_with_80: float | None

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the count shows, and what it does not."""
        low, high, _ = self.distinguishers_interval
        first = Sentence.of(
            "difference.counted",
            test=test_word(self.test),
            correct=self.correct,
            n=self.n,
            guessed=_guessed(self.n * self.chance),
            p=p_words(self.p),
        )
        if self.needed is None:
            verdict = Sentence.of("difference.hopeless", n=self.n, alpha=self.alpha)
        elif self.significant:
            verdict = Sentence.of(
                "difference.shown",
                needed=self.needed,
                alpha=self.alpha,
                pd=percent(self.distinguishers_shown),
                low=percent(low),
                high=percent(high),
                level=stated_percent(self.level),
            )
        else:
            verdict = Sentence.of(
                "difference.not_shown",
                needed=self.needed,
                alpha=self.alpha,
                found=percent(self.found_with_80 or nan),
                high=percent(high),
                level=stated_percent(self.level),
            )
        return first, verdict, self._about_d()


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SimilarityTest(CountedAnswers):
    """Outcome of a similarity test.

    Attributes
    ----------
    pd : float
        The proportion of distinguishers that would matter, stated beforehand.
    beta : float
        Risk of calling samples similar though `pd` can tell them apart.
    p : float
        Exact probability of so few right answers if `pd` could tell.
    most : int or None
        Most right answers that still allow the claim; None when none does.
    upper : float
        One-sided exact upper limit of the distinguishers, confidence 1 - beta.
    too_small : bool
        Whether the claim would need fewer right answers than guessing gives.
    shown : bool
        Whether similarity is shown: ``p <= beta`` and not `too_small`.
    chance_of_claim : float
        Probability of the claim if nobody could tell the samples apart.
    n_needed : int
        Answers with which that probability is at least 8 in 10.
    """

    pd: float
    beta: float
    p: float
    most: int | None
    upper: float
    too_small: bool
    shown: bool
    chance_of_claim: float
    n_needed: int

    @property
    def share_allowed(self) -> float:
        """Share of right answers if just `pd` could tell the samples apart."""
        return named(self.test).p_of_distinguishers(self.pd)

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether likeness is shown, for which limit and at which risk."""
        values = {
            "pd": stated_percent(self.pd),
            "beta": self.beta,
            "upper": percent(self.upper),
            "level": stated_percent(1 - self.beta),
        }
        first = Sentence.of(
            "difference.counted_similar",
            test=test_word(self.test),
            correct=self.correct,
            n=self.n,
            guessed=_guessed(self.n * self.chance),
            **values,
        )
        if self.too_small:
            least = "difference.too_small" if self.most is not None else "difference.too_small_none"
            verdict = Sentence.of(
                least,
                n=self.n,
                most=self.most,
                guessed=_guessed(self.n * self.chance),
                needed=self.n_needed,
                **values,
            )
        elif self.shown:
            verdict = Sentence.of("difference.similar", **values)
        else:
            verdict = Sentence.of(
                "difference.not_similar",
                most=self.most,
                claim=percent(self.chance_of_claim),
                needed=self.n_needed,
                **values,
            )
        return first, verdict, self._about_d()


def difference(
    test: str, correct: int, n: int, *, alpha: float = 0.05, level: float = 0.95
) -> DifferenceTest:
    """Test whether more answers are right than guessing explains.

    Parameters
    ----------
    test : str
        A name in `psychometric.TESTS`.
    correct, n : int
        Right answers and all answers. Every assessor answers once; for
        several answers an assessor see `replicated`.
    alpha : float
        Risk of finding a difference where there is none.
    level : float
        Confidence level of the intervals.

    Returns
    -------
    DifferenceTest

    Raises
    ------
    OptionError
        For an unknown test, counts that do not fit, or a risk outside 0 to 1.

    Examples
    --------
    >>> result = difference("triangle", 14, 30)
    >>> round(result.p, 6), result.needed, result.significant
    (0.089771, 15, False)
    """
    choice = named(test)
    estimates = _estimates(choice, correct, n, level)
    share_of("alpha", alpha)
    p = float(binom.sf(correct - 1, n, choice.chance))
    least = needed(n, choice.chance, alpha)
    return DifferenceTest(
        **estimates,
        alpha=alpha,
        p=p,
        needed=least,
        significant=least is not None and correct >= least,
        found_with_80=smallest_found(n, choice.chance, alpha, POWER),
    )


def similarity(
    test: str, correct: int, n: int, *, pd: float, beta: float, level: float = 0.95
) -> SimilarityTest:
    """Test whether fewer than `pd` of the assessors can tell the samples apart.

    Parameters
    ----------
    test, correct, n, level
        As in `difference`.
    pd : float
        The proportion of distinguishers (0 to 1) that would matter. To be
        stated before the session; there is no default.
    beta : float
        Risk of calling samples similar though `pd` can tell them apart.

    Returns
    -------
    SimilarityTest

    Raises
    ------
    OptionError
        For an unknown test, counts that do not fit, or a share outside 0 to 1.

    Examples
    --------
    >>> result = similarity("triangle", 21, 66, pd=0.2, beta=0.05)
    >>> result.most, result.shown, result.too_small
    (23, True, False)
    """
    choice = named(test)
    estimates = _estimates(choice, correct, n, level)
    share_of("pd", pd)
    share_of("beta", beta)
    p_right = choice.p_of_distinguishers(pd)
    most = allowed(n, p_right, beta)
    too_small = most is None or most < n * choice.chance
    limit = exact_interval(correct, n, 1 - beta, sides=1).high
    return SimilarityTest(
        **estimates,
        pd=pd,
        beta=beta,
        p=float(binom.cdf(correct, n, p_right)),
        most=most,
        upper=max(0.0, choice.distinguishers(limit)),
        too_small=too_small,
        shown=most is not None and not too_small and correct <= most,
        chance_of_claim=0.0 if most is None else float(binom.cdf(most, n, choice.chance)),
        n_needed=smallest_panel(choice.chance, p_right, 1 - POWER, beta)[0],
    )


def exact_limits(
    choice: ForcedChoice, correct: int, n: int, level: float = 0.95, *, sides: int = 2
) -> Interval:
    """Return the exact limits of d': d' grows with the share of right answers, so they turn over.

    They hold the truth in at least `level` of all panels, whatever d' is.
    """
    low, high, _ = exact_interval(correct, n, level, sides=sides)
    return Interval(choice.d_prime(low), choice.d_prime(high), level)


def likelihood_limits(choice: ForcedChoice, correct: int, n: int, level: float = 0.95) -> Interval:
    """Return the likelihood interval of d' from right answers; narrower, and it covers less."""

    def loglik(d: float) -> float:
        p = min(choice.p_correct(d), 1 - 1e-15)
        return float(xlogy(correct, p) + xlogy(n - correct, 1 - p))

    best = choice.d_prime(correct / n)
    # 12 further on, a wrong answer is all but impossible
    high = 12.0 + (best if isfinite(best) else 0.0)
    return likelihood_interval(loglik, best, level=level, high=high)


def _estimates(choice: ForcedChoice, correct: int, n: int, level: float) -> dict[str, Any]:
    n = whole("n", n, 1)
    correct = count("correct", correct, n)
    share_of("level", level)
    share = correct / n
    d = choice.d_prime(share)
    inside = 0 < d < inf
    exact = exact_interval(correct, n, level)
    return {
        "test": choice.name,
        "correct": correct,
        "n": n,
        "chance": choice.chance,
        "share": share,
        "distinguishers": choice.distinguishers(share),
        "distinguishers_se": sqrt(share * (1 - share) / n) / (1 - choice.chance),
        "distinguishers_interval": Interval(
            max(0.0, choice.distinguishers(exact.low)),
            max(0.0, choice.distinguishers(exact.high)),
            level,
        ),
        "d_prime": d,
        "d_prime_se": sqrt(choice.b_value(d) / n) if inside else nan,
        "d_prime_interval": exact_limits(choice, correct, n, level),
        "level": level,
    }
