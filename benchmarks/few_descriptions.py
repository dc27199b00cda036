"""How often the descriptions in a report of few assessors come of one and the same liquid.

``python benchmarks/few_descriptions.py [REPORTS]`` prints the table of docs/small_panels.md. All
bottles are one liquid; people have one level and use the scale alike; a mark scatters as is usual
(drawn about it for each attribute, a fifth of it assessor x sample), `halo` is the part of a
person's view of a bottle that is common to all attributes; marks are written in half points. The
last attribute is quality; answers on sweet and dry are too sweet or too dry in one of five each.
"""

from __future__ import annotations

import sys
from itertools import combinations

import numpy as np
from kikichoko.analysis.performance.usual_spreads import USUAL
from kikichoko.panel.few import (
    bottles,
    choices,
    fair_pairs,
    not_told_apart,
    one_against,
    tasters,
    together,
    turned,
)
from scipy.special import stdtrit

DESIGNS = (
    # assessors, bottles, replicates, attributes, halo
    (2, 3, 1, 12, 0.0),
    (2, 3, 2, 12, 0.5),
    (2, 2, 3, 9, 0.0),
    (2, 4, 1, 12, 0.5),
    (3, 3, 1, 12, 0.0),
    (3, 3, 2, 12, 0.0),
    (3, 3, 2, 12, 0.5),
    (3, 2, 3, 9, 0.5),
)
LENGTH, STEP, CLOSE = 10.0, 0.5, 1e-9
OFF = 0.2
Floats = np.ndarray


def marks_of(design: tuple[float, ...], rng: np.random.Generator) -> Floats:
    """Draw one report, shape (attributes, replicates, assessors, bottles)."""
    assessors, samples, replicates, attributes = (int(value) for value in design[:4])
    halo = design[4]
    common = rng.standard_normal((assessors, samples))
    made = []
    for number in range(attributes):
        usual = USUAL["liking" if number == attributes - 1 else "taste"]
        error = usual.error * LENGTH * np.exp(usual.error_log_sd * rng.standard_normal())
        own = np.sqrt(halo) * common + np.sqrt(1 - halo) * rng.standard_normal(common.shape)
        again = rng.standard_normal((replicates, *common.shape))
        share = usual.interaction_share
        made.append(5 + error * (np.sqrt(share) * own + np.sqrt(1 - share) * again))
    return np.clip(np.round(np.array(made) / STEP) * STEP, 0, LENGTH)


def _ends(means: Floats, sign: int) -> int:
    """Return the bottle that everybody puts alone at one end, or -1."""
    ordered = np.sort(sign * means, axis=1)
    tops = (sign * means).argmax(axis=1)
    alone = (ordered[:, -1] - ordered[:, -2] > CLOSE).all()
    return int(tops[0]) if alone and len(set(tops)) == 1 else -1


def _from_others(means: Floats) -> Floats:
    n = means.shape[1]
    return means - (means.sum(axis=1, keepdims=True) - means) / (n - 1)


def _correlations(lines: Floats) -> list[tuple[float, float]]:
    """Return of each the correlation with the mean of the others, and that among the others."""
    centred = np.hstack(list(lines - lines.mean(axis=2, keepdims=True)))
    found = []
    for place in range(len(centred)):
        others = np.delete(centred, place, axis=0)
        against = float(np.corrcoef(centred[place], others.mean(axis=0))[0, 1])
        found.append((against, float(np.corrcoef(others)[0, 1]) if len(others) == 2 else 1.0))
    return found


def _reach(marks: Floats) -> Floats:
    """Return from what gap each one's own scatter is passed; infinite for one tasting."""
    attributes, replicates, assessors, samples = marks.shape
    df = attributes * samples * (replicates - 1)
    if df < tasters.FEWEST_GAPS:
        return np.full(assessors, np.inf)
    variance = marks.var(axis=1, ddof=1).mean(axis=(0, 2))
    return np.asarray(stdtrit(df, 0.975) * np.sqrt(variance * 2 / replicates))


def _one_way(gaps: Floats) -> bool:
    return bool((gaps > CLOSE).all() or (gaps < -CLOSE).all())


def _turned(means: Floats, reach: Floats) -> bool:
    far = np.where(np.isfinite(reach), reach, turned.FAR)
    if np.ptp(means, axis=1).min() < far.max() and (np.ptp(means, axis=1) < far).any():
        return False
    if not np.isfinite(reach).all() and means.shape[1] < turned.BOTTLES:
        return False
    for place in range(len(means)):
        other = means.copy()
        other[place] *= -1
        orders = {tuple(own) for own in other.argsort(axis=1)}
        if len(orders) == 1 and (np.diff(np.sort(other, axis=1), axis=1) > CLOSE).all():
            return True
    return False


def _odd(means: Floats) -> bool:
    centred = means - means.mean(axis=1, keepdims=True)
    for who in range(len(means)):
        others = np.delete(centred, who, axis=0)
        rest = others.mean(axis=0)
        for bottle, own in enumerate(centred[who]):
            alone = all(own * one <= 0 or abs(one) <= tasters.SHARED * abs(own)
                        for one in others[:, bottle])  # fmt: skip
            far = abs(own - rest[bottle]) / LENGTH >= tasters.OPPOSITE - CLOSE
            if alone and far and abs(own) >= abs(rest[bottle]):
                return True
    return False


def _mostly_one(means: Floats) -> bool:
    gaps = [means[:, a] - means[:, b] for a, b in combinations(range(means.shape[1]), 2)]
    widest = np.abs(max(gaps, key=lambda gap: abs(float(gap.mean()))))
    flat = (np.ptp(means, axis=1) <= CLOSE).any()
    far = float(widest.max())
    return not flat and far >= together.POINT and far >= together.ALONE[len(means)] * widest.sum()


def _if_one(quality: Floats) -> bool:
    apart = _from_others(quality)
    parted = ((apart.max(axis=0) >= bottles.LOWER) & (apart.min(axis=0) <= -bottles.LOWER)).any()
    least = np.sort(quality.min(axis=0))
    lead = least[-1] - least[-2] >= choices.OBJECTION - CLOSE
    return bool(parted and lead and _ends(quality, 1) < 0)


def _answers(design: tuple[float, ...], rng: np.random.Generator) -> Floats:
    assessors, samples, replicates = (int(value) for value in design[:3])
    return np.asarray(rng.choice(
        [-1, 0, 1], p=[OFF, 1 - 2 * OFF, OFF], size=(assessors, replicates, samples)
    ))  # fmt: skip


def _state(answers: Floats) -> bool:
    """Tell whether somebody has all bottles on one side in one tasting, none in another."""
    if answers.shape[1] < 2 or answers.shape[2] < 3:
        return False
    for side in (1, -1):
        on_it = side * answers > 0
        every, any_ = on_it.all(axis=2).sum(axis=1), on_it.any(axis=2).sum(axis=1)
        if ((every == 1) & (any_ == 1)).any():
            return True
    return False


def _misfit(sweet: Floats, answers: Floats) -> bool:
    sides = answers.mean(axis=1)
    for who in range(len(sweet)):
        for a, b in combinations(range(sweet.shape[1]), 2):
            for high, low in ((a, b), (b, a)):
                apart = sweet[who, low] - sweet[who, high] >= together.FIT
                if apart and sides[who, high] > CLOSE and sides[who, low] < -CLOSE:
                    return True
    return False


def _brewed(answers: Floats) -> bool:
    sheets = answers.shape[0] * answers.shape[1]
    for bottle in range(answers.shape[2]):
        own = answers[:, :, bottle]
        for side in (1, -1):
            k, other = int((own == side).sum()), int((own == -side).sum())
            if not other and bottles.FEWEST_SAY * sheets <= k <= sheets / 2 and k:
                return True
    return False


def _closest(means: Floats) -> bool:
    """Tell whether two bottles are named as the closest: three and more were served."""
    found = []
    for a, b in combinations(range(means.shape[2]), 2):
        gaps = means[:, :, a] - means[:, :, b]
        apart = (gaps >= not_told_apart.APART).all(axis=1)
        found.append(int((apart | (gaps <= -not_told_apart.APART).all(axis=1)).sum()))
    return len(found) > 1 and min(found) <= not_told_apart.MOST_APART


def told(design: tuple[float, ...], rng: np.random.Generator) -> dict[str, float]:
    """Return what one report on one liquid says: 1 or 0 of each rule."""
    marks, answers = marks_of(design, rng), _answers(design, rng)
    means = marks.mean(axis=1)
    lines, quality = means[:-1], means[-1]
    reach = _reach(marks)
    three = len(quality) == one_against.THREE
    ranges = np.ptp(means, axis=2).mean(axis=0)
    levels = means.mean(axis=(0, 2))
    gaps_of = {(a, b): means[:, :, a] - means[:, :, b]
               for a, b in combinations(range(means.shape[2]), 2)}  # fmt: skip
    spans = np.ptp(means, axis=2)
    beyond = [
        _one_way(gap) and bool((np.abs(gap) >= reach).all())
        for gaps in gaps_of.values() for gap in gaps
    ]  # fmt: skip
    known = np.isfinite(reach).all()
    high = [_ends(line, 1) for line in lines]
    correlated = _correlations(lines)
    return {
        "last in quality for all, a point": _ends(quality, -1) >= 0
        and bool((_from_others(quality)[:, _ends(quality, -1)] <= -bottles.LOWER).all()),
        "first or last in quality for all": _ends(quality, 1) >= 0 or _ends(quality, -1) >= 0,
        "opinions part": bool(((_from_others(quality).max(axis=0) >= bottles.LOWER)
                               & (_from_others(quality).min(axis=0) <= -bottles.LOWER)).any()),
        "if one only": _if_one(quality),
        "scale used more widely": bool(ranges.max() >= tasters.WIDER * ranges.min() > CLOSE),
        "levels apart": bool(np.ptp(levels) >= tasters.LEVELS * LENGTH),
        "odd mark": any(_odd(line) for line in lines),
        "describes a bottle": any(
            bottle >= 0 and bool((_from_others(line)[:, bottle] >= bottles.SHOWN).all())
            for line, bottle in zip(lines, high, strict=True)
        ),
        "mostly one person's": any(_mostly_one(line) for line in means),
        "correlation of 0.5 or more": max(abs(r) for r, _ in correlated) >= 0.5,
        "beyond all own scatter": bool(known and any(beyond)),
        "beyond one own scatter": bool(known and ((spans >= reach).sum(axis=1) == 1).any()),
        "answers that do not fit": _misfit(lines[0], answers),
        "no ground to brew otherwise": _brewed(answers),
        "a state of one person": _state(answers),
        "closest two": _closest(means),
        "fair pair": any(_one_way(gap) and abs(float(gap.mean())) >= fair_pairs.POINT
                         for gap in gaps_of[0, 1]),
        "against": three and any(r <= -one_against.AGAINST and along >= one_against.GOES_ALONG
                                 for r, along in correlated),
        "turned": three and any(_turned(line, reach) for line in lines),
    }  # fmt: skip


def rates(design: tuple[float, ...], reports: int, rng: np.random.Generator) -> dict[str, float]:
    """Return the share of reports that say something by each rule."""
    found = [told(design, rng) for _ in range(reports)]
    return {name: float(np.mean([one[name] for one in found])) for name in found[0]}


def main(reports: int = 1000) -> None:
    """Print the table, a row a rule and a column a design."""
    made = [rates(design, reports, np.random.default_rng(20)) for design in DESIGNS]
    heads = [f"{a} × {b} × {r}, {n}, halo {h:g}" for a, b, r, n, h in DESIGNS]
    print("| rule | " + " | ".join(heads) + " |")
    print("|---" * (len(DESIGNS) + 1) + "|")
    for name in made[0]:
        print(f"| {name} | " + " | ".join(f"{100 * one[name]:.1f}" for one in made) + " |")


if __name__ == "__main__":
    main(*(int(value) for value in sys.argv[1:]))
