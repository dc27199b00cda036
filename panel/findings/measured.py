"""A bottle's numbers beside what was perceived: which is the sweeter by each?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed, same_decimals
from ..base.words import Sentence, sentence
from ..session.bottles import Bottle
from .budget import Budget
from .evidence import Evidence, once
from .statement import Statement

if TYPE_CHECKING:
    from ...analysis.chemistry.one_bottle import Chemistry

SECTION = "sweetness"
RANK = 54
SWEET = "sweetness"
ALIKE = 0.25
"""Points of sweetness between the highest and the lowest mean below which nobody is called the
sweetest (no source; that of quality)."""
NEARLY = {"meter_value": 1.0, "acidity": 0.1}
"""Spans of the numbers of all bottles up to which they contradict no tongue (a convention,
no source; those of the report of few assessors)."""
_EXACT = 1e-9
APART = 0.05
"""Indices closer than this are not put in an order: acidity is read to 0.05 mL or so."""
CLOSE = 0.2
"""Span of all indices up to which an order by them is told as one by little: that of the meter
values and the acidities that `NEARLY` calls nearly alike (0.09 and 0.12 on the index)."""


@once
def chemistry_of(evidence: Evidence) -> dict[str, Chemistry]:
    """Return what follows from each product's numbers, as far as any are known."""
    from ...analysis.chemistry.one_bottle import chemistry

    found = {}
    for name in evidence.products:
        bottle = evidence.bottle(name)
        if bottle.meter_value is None and bottle.acidity is None and bottle.glucose is None:
            continue
        try:
            found[name] = chemistry(
                name=name,
                abv=bottle.abv,
                meter_value=bottle.meter_value,
                acidity=bottle.acidity,
                amino_acidity=bottle.amino_acidity,
                glucose=bottle.glucose,
                polishing_ratio=bottle.polishing,
            )
        except AnalysisError:
            continue
    return found


def with_lees(bottle: Bottle) -> bool:
    """Tell whether its numbers were read with the lees in, or may have been."""
    read = bottle.meter_value is not None or bottle.acidity is not None
    return bottle.looks_cloudy and read and bottle.supernatant != "yes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """The sweetest and the driest bottle, by numbers and as perceived.

    Attributes
    ----------
    index, perceived : dict of str to float
        By bottle; only those that have both.
    alike : bool
        Whether the numbers nearly agree, so that they contradict no tongue.
    """

    index: dict[str, float]
    perceived: dict[str, float]
    alike: bool = False

    @property
    def by_little(self) -> bool:
        """Tell whether the numbers put the bottles in an order by little."""
        return round(max(self.index.values()) - min(self.index.values()), 2) <= CLOSE

    def end(self, what: str, *, sweetest: bool) -> str:
        """Return the bottle at one end; "" where two share it.

        Numbers that nearly agree name it only where the panel puts the same bottle there.
        """
        at_end = self.at_end(what, sweetest=sweetest)
        if what == "index" and self.alike and at_end != self.at_end("perceived", sweetest=sweetest):
            return ""
        return at_end[0] if len(at_end) == 1 and len(self.index) > 1 else ""

    def at_end(self, what: str, *, sweetest: bool) -> list[str]:
        """Return the bottles at one end: all that cannot be told from the outermost."""
        values = self.index if what == "index" else self.perceived
        if what == "perceived" and max(values.values()) - min(values.values()) < ALIKE:
            return list(values)
        digits = 2 if what == "index" else 1
        step = APART if what == "index" else 0.0
        outer = (max if sweetest else min)(values.values())
        return [
            name
            for name, value in values.items()
            if round(value, digits) == round(outer, digits) or abs(value - outer) < step
        ]


@once
def places(evidence: Evidence) -> Places | None:
    """Return both orders, where two bottles at least have numbers and marks."""
    known = chemistry_of(evidence)
    if SWEET not in evidence.means.columns:
        return None
    means = evidence.means[SWEET].dropna()
    index = {
        name: float(one.amakarado)
        for name, one in known.items()
        if one.amakarado is not None and name in means.index
    }
    if len(index) < 2:
        return None
    perceived = {name: float(means[name]) for name in index}
    return Places(index=index, perceived=perceived, alike=_alike(evidence, list(index)))


def _alike(evidence: Evidence, names: list[str]) -> bool:
    for field, widest in NEARLY.items():
        known = [getattr(evidence.bottle(name), field) for name in names]
        if None in known or max(known) - min(known) > widest + _EXACT:
            return False
    return True


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say per bottle what the numbers make of it, what the panel made, what else differs."""
    found = places(evidence)
    if found is None:
        return []
    pairs = _sweeter(budget)
    said: list[Statement] = []
    for way, key in ((True, "sweetest"), (False, "driest")):
        sample = found.end("perceived", sweetest=way)
        if not sample:
            continue
        other = found.end("index", sweetest=not way) == sample
        same = found.end("index", sweetest=way) == sample
        if not (other or same):
            continue
        rest = [name for name in found.perceived if name != sample]
        claimed = all(((sample, one) if way else (one, sample)) in pairs for one in rest)
        said.append(
            Statement(
                kind="description",
                about=(sample, SWEET),
                sentence=sentence(
                    f"findings.measured_{key}_{'against' if other else 'with'}",
                    sample=sample,
                    near=sentence("findings.measured_by_little") if found.by_little else "",
                    index=fixed(found.index[sample], 2),
                    indices=[
                        sentence("findings.pair_value", name=name, value=fixed(value, 2))
                        for name, value in found.index.items()
                        if name != sample
                    ],
                    mean=fixed(found.perceived[sample]),
                    means=[
                        sentence("findings.pair_value", name=name, value=fixed(value))
                        for name, value in found.perceived.items()
                        if name != sample
                    ],
                    sure=sentence(f"findings.measured_{'told' if claimed else 'untold'}"),
                    besides=what_else(evidence, sample),
                ),
                section=SECTION,
                rank=RANK if other and way else None,
            )
        )
    placed = {one.about[0] for one in said}
    said += [
        Statement(
            kind="description",
            about=(name, SWEET),
            sentence=sentence(
                "findings.measured_beside",
                sample=name,
                index=fixed(index, 2),
                place=place_of(found, "index", name),
                mean=fixed(found.perceived[name]),
                rank=place_of(found, "perceived", name),
                besides=what_else(evidence, name),
            ),
            section=SECTION,
        )
        for name, index in found.index.items()
        if name not in placed
    ]
    lees = [name for name in found.index if with_lees(evidence.bottle(name))]
    return said + [
        Statement(
            kind="caution",
            about=(name,),
            sentence=sentence("findings.with_lees", sample=name),
            section=SECTION,
        )
        for name in lees
    ]


def place_of(found: Places, what: str, sample: str) -> Sentence:
    """Say where a bottle stands among the others by one of the two orders."""
    sweetest, driest = (found.at_end(what, sweetest=way) for way in (True, False))
    if sample in sweetest and sample in driest:
        return sentence("findings.place_alike")
    for names, key in ((sweetest, "sweetest"), (driest, "driest")):
        if sample in names:
            return sentence(f"findings.place_{key if len(names) == 1 else f'among_{key}'}")
    return sentence("findings.place_neither")


def _sweeter(budget: Budget) -> set[tuple[str, str]]:
    """Return the pairs that are claimed, the sweeter first."""
    one = budget.of("scale", SWEET)
    return set(one.pairs) if one is not None else set()


def _surely_at_end(budget: Budget, sample: str, rest: Sequence[str], *, sweetest: bool) -> bool:
    """Tell whether a bottle is shown to be sweeter, or less sweet, than every other."""
    pairs = _sweeter(budget)
    return all(((sample, one) if sweetest else (one, sample)) in pairs for one in rest)


def what_else(evidence: Evidence, sample: str) -> Sentence:
    """Name in what else a bottle differs from the others, without calling it a cause."""
    own = evidence.bottle(sample)
    rest = [evidence.bottle(name) for name in evidence.products if name != sample]
    parts = []
    if own.looks_cloudy and not all(one.looks_cloudy for one in rest):
        parts.append(sentence("findings.else_cloudy"))
    if own.looks_cloudy is False and all(one.looks_cloudy for one in rest):
        parts.append(sentence("findings.else_clear"))
    for field in ("glucose", "amino_acidity", "abv"):  # acidity is part of the index
        value = getattr(own, field)
        others = [getattr(one, field) for one in rest if getattr(one, field) is not None]
        if value is None or not others or min(others) <= value <= max(others):
            continue
        way = "more" if value > max(others) else "less"
        written = same_decimals([value, *others])[0]
        parts.append(sentence(f"findings.else_{field}_{way}", value=written))
    if own.lively and not all(one.lively for one in rest):
        parts.append(sentence("findings.else_gas"))
    if not parts:
        return sentence("findings.else_unknown")
    return sentence("findings.else", parts=parts)


def cell(
    evidence: Evidence, sample: str, budget: Budget | None = None, *, shared: bool = True
) -> Sentence:
    """Say for the table of decisions a bottle's place by its numbers and as perceived.

    With a `budget` it is said where its sweetness is not shown to differ from every other's;
    without, where its place is that of the mean and not `shared` by everybody's own sheet.
    """
    one = chemistry_of(evidence).get(sample)
    if one is None or one.amakarado is None:
        return sentence("findings.cell_none")
    text = fixed(one.amakarado, 2)
    found = places(evidence)
    ends = {}
    if found is not None:
        for what in ("index", "perceived"):
            for way, key in ((True, "sweetest"), (False, "driest")):
                if found.end(what, sweetest=way) == sample:
                    ends[what] = key
    lees = sentence("findings.cell_lees") if with_lees(evidence.bottle(sample)) else ""
    if found is not None and len(ends) == 2:
        key = f"findings.cell_measured_{ends['index']}_{ends['perceived']}"
        near = sentence("findings.cell_measured_by_little") if found.by_little else ""
        place = sentence(key, index=text, lees=lees, near=near)
        if budget is None:
            return place if shared else sentence("findings.cell_measured_by_mean", place=place)
        rest = [name for name in found.perceived if name != sample]
        if _surely_at_end(budget, sample, rest, sweetest=ends["perceived"] == "sweetest"):
            return place
        return sentence("findings.cell_measured_untold", place=place)
    return sentence("findings.cell_measured", index=text, lees=lees)
