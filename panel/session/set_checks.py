"""What a test session must say about itself, and what it must not claim to be able to do."""

from __future__ import annotations

from collections.abc import Sequence

from ...analysis.core.words import Sentence
from ..base.errors import PlanRefused
from ..base.problems import Problem
from ..base.words import sentence
from .bottles import Bottle
from .methods import Method
from .session import Session
from .settings import Settings


def set_faults(method: Method, settings: Settings, bottles: Sequence[Bottle]) -> list[Problem]:
    """Find what the part ``[test]`` lacks or contradicts; nothing for a profile session."""
    test = settings.test
    if not method.compares:
        return []
    names = [bottle.name for bottle in bottles if bottle.use == "sample"]
    found: list[Problem] = []

    def fault(key: str, **values: object) -> None:
        found.append(Problem("session.toml, [test]", sentence(f"set.{key}", **values)))

    if method.samples == "two" and len(names) != 2:
        fault("two_samples", method=method.name, n=len(names))
    if method.samples == "several" and len(names) < 3:
        fault("three_samples", n=len(names))
    if method.samples == "several" and test.per_flight and not 2 <= test.per_flight <= len(names):
        fault("per_flight", k=test.per_flight, v=len(names))
    if test.expected_order and sorted(test.expected_order) != sorted(names):
        fault("expected_order", found=test.expected_order, names=names)
    for setting in ("reference", "stronger"):
        value = getattr(test, setting)
        if value and value not in names:
            fault("unknown_bottle", setting=setting, found=value, names=names)
    if ("reference" in method.needs or test.constant_reference) and not test.reference:
        fault("needs_reference", method=method.name, names=names)
    if "stronger" in method.needs and not test.stronger:
        fault("needs_stronger", names=names)
    if method.samples == "levels":
        unknown = [name for name in test.levels if name not in names]
        left = [name for name in names if name not in test.levels and name != test.reference]
        if unknown or left or len(test.levels) < 3 or any(c <= 0 for c in test.levels.values()):
            fault("levels", names=[name for name in names if name != test.reference])
    if test.purpose == "similarity":
        if not method.counts_right or (method.two_sided and not test.stronger):
            fault("no_similarity", method=method.name)
        if test.pd is None or test.beta is None:
            fault("state_similarity")
        if settings.serving.replicates > 1:
            fault("one_answer")
    if test.ties and not method.two_sided:
        fault("ties_only_pairs")
    if settings.serving.warm_up:
        fault("no_warm_up")
    return found


def refuse_what_cannot_be_told(session: Session) -> tuple[Sentence, ...]:
    """Refuse a test of the eye and a similarity that this panel cannot show.

    Returns
    -------
    tuple of Sentence
        What is allowed but must be known.

    Raises
    ------
    PlanRefused
        With the reason and the way out.
    """
    settings = session.settings
    method = session.method
    cloudy = {bottle.looks_cloudy for bottle in session.samples}
    if len(cloudy) == 2 and settings.serving.masking == "none":
        raise PlanRefused("set.seen", method=_name(method.name))
    said = []
    if len(cloudy) == 2:
        said.append(sentence("set.mouthfeel"))
    n = len([one for one in session.assessors if one.role != "maker" or _counts_maker(session)])
    if method.counts_right and settings.serving.replicates == 1:
        said += _reach(session, n)
    return tuple(said)


def _counts_maker(session: Session) -> bool:
    others = [one for one in session.assessors if one.role != "maker"]
    return session.settings.panel.maker_in_means or len(others) < 2


def _reach(session: Session, n: int) -> list[Sentence]:
    """Say what `n` answers can find or show; refuse a similarity they cannot show."""
    from ...analysis.core.wording import percent, stated_percent
    from ...analysis.difference.critical_counts import allowed, needed, smallest_found
    from ...analysis.difference.psychometric import named
    from ...analysis.power.numbers_of_assessors import USUAL_RISKS, assessors_for

    settings = session.settings
    test = settings.test
    choice = named(settings.method)
    if test.purpose == "similarity":
        assert test.pd is not None  # noqa: S101 - set_faults has seen to it
        assert test.beta is not None  # noqa: S101
        most = allowed(n, choice.p_of_distinguishers(test.pd), test.beta)
        alpha = USUAL_RISKS["similarity"][0]
        size = assessors_for(settings.method, alpha=alpha, beta=test.beta, pd=test.pd)
        values = {"n": n, "pd": stated_percent(test.pd), "beta": test.beta, "needed": size.n}
        if most is None or most < n * choice.chance:
            if not test.accept_small:
                raise PlanRefused("set.too_small", **values)
            return [sentence("set.accepted_small", **values)]
        return [sentence("set.similarity_reach", most=most, **values)]
    alpha = test.alpha / (2 if session.method.two_sided and not test.stronger else 1)
    least = needed(n, choice.chance, alpha)
    if least is None:
        if not test.accept_small:
            raise PlanRefused("set.hopeless", n=n, alpha=test.alpha)
        return [sentence("set.accepted_hopeless", n=n, alpha=test.alpha)]
    found = smallest_found(n, choice.chance, alpha)
    return [
        sentence(
            "set.difference_reach",
            n=n,
            needed=least,
            pd=percent(found if found is not None else 1.0),
            alpha=test.alpha,
        )
    ]


def _name(method: str) -> Sentence:
    return sentence(f"set.name_{method.replace('-', '_')}")
