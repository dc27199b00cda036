"""The questions that a session names before anybody tastes: at most three."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ...forms.questions.cards import STAGES
from ...forms.questions.question_types import Kind, Scorecard
from ..base.problems import Problem
from ..base.words import Sentence, sentence

MOST = 3
PROMISE, EXPECTED, MAKER = "nose-palate", "expected-found", "maker"
_SCALES = (Kind.LINE, Kind.CATEGORY)


@dataclass(frozen=True, slots=True, kw_only=True)
class Primary:
    """A question named beforehand.

    Attributes
    ----------
    kind : str
        scale, balance, word, fault (do the bottles differ in it?), promise
        (nose against palate), expected (sweetness expected against found), majority (is
        one bottle too sweet or too dry for most?), maker (does the maker stand apart?).
    attribute : str
        Empty for the promise and for what was expected.
    bottles : tuple of str
        The pair in question, or the bottle of a majority; else empty.
    written : str
        As it stands in ``session.toml``.
    """

    kind: str
    written: str
    attribute: str = ""
    bottles: tuple[str, ...] = ()


def read_primary(
    given: Sequence[str],
    scorecard: Scorecard,
    bottles: Sequence[str],
    *,
    makers: bool,
    place: str | Sentence = "session.toml, [questions] primary",
) -> tuple[tuple[Primary, ...], list[Problem]]:
    """Read the questions named beforehand, and tell every fault in them.

    Parameters
    ----------
    given : sequence of str
        ``"sweetness"``, ``"sweetness: cloudy, clear"`` (two bottles),
        ``"aroma:pear"``, ``"fault:stale"``, ``"sweetness_balance: cloudy"``,
        ``"nose-palate"``, ``"expected-found"``, ``"maker: quality"``.
    scorecard : Scorecard
    bottles : sequence of str
        Bottles that are compared, controls left out.
    makers : bool
        Whether the roster has a maker.
    place : str
        Where they stand, for faults.
    """
    found: list[Primary] = []
    problems: list[Problem] = []
    if len(given) > MOST:
        problems.append(Problem(place, sentence("primary.many", n=len(given), most=MOST)))
    for written in given:
        made = _read(written.strip(), scorecard, bottles, makers=makers)
        if isinstance(made, Primary):
            if (made.kind, made.attribute, made.bottles) in {
                (one.kind, one.attribute, one.bottles) for one in found
            }:
                problems.append(Problem(place, sentence("primary.twice", found=written)))
            found.append(made)
        else:
            key, values = made
            problems.append(Problem(place, sentence(f"primary.{key}", found=written, **values)))
    return tuple(found), problems


Fault = tuple[str, dict[str, object]]


def _read(
    written: str, scorecard: Scorecard, bottles: Sequence[str], *, makers: bool
) -> Primary | Fault:
    kinds = {name: one.kind for one in scorecard for name in one.attributes}
    scales = [name for name, kind in kinds.items() if kind in (*_SCALES, Kind.BALANCE)]
    if written == PROMISE:
        return Primary(kind="promise", written=written)
    if written == EXPECTED:
        if not {STAGES[0], STAGES[2]} <= set(kinds):
            return "not_expected", {}
        return Primary(kind="expected", written=written)
    if written in kinds:
        return _whole(written, kinds[written])
    head, colon, rest = (part.strip() for part in written.partition(":"))
    if head == MAKER:
        if not makers:
            return "no_maker", {}
        if rest not in scales:
            return "maker_attribute", {"options": scales}
        return Primary(kind="maker", written=written, attribute=rest)
    if head in kinds and colon:
        return _with_bottles(written, head, rest, kinds[head], bottles)
    return "unknown", {"options": [*scales, "aroma:…", "fault:…", PROMISE, EXPECTED, f"{MAKER}: …"]}


def _whole(attribute: str, kind: Kind) -> Primary | Fault:
    names = {Kind.BALANCE: "balance", Kind.TICKS: "word", Kind.FAULTS: "fault"}
    names |= dict.fromkeys(_SCALES, "scale")
    if kind not in names:
        return "no_answer_to_test", {}
    return Primary(kind=names[kind], written=attribute, attribute=attribute)


def _with_bottles(
    written: str, attribute: str, rest: str, kind: Kind, bottles: Sequence[str]
) -> Primary | Fault:
    if kind is Kind.BALANCE and rest in bottles:
        return Primary(kind="majority", written=written, attribute=attribute, bottles=(rest,))
    pairs = {f"{a}, {b}": (a, b) for a in bottles for b in bottles if a != b}
    pair = pairs.get(", ".join(part.strip() for part in rest.split(",")))
    if pair is None:
        return "pair", {"options": list(bottles)}
    whole = _whole(attribute, kind)
    if not isinstance(whole, Primary):
        return whole
    return Primary(kind=whole.kind, written=written, attribute=attribute, bottles=pair)
