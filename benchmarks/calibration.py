"""How often a report claims something false, and how often it finds what is there.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 nice -n 10 python benchmarks/calibration.py \
        [--results FILE] [--sessions 1000] [--true 300] [--only WORD] [--table]

Simulates whole sessions (18 scales, balance, nose and palate, 20 words, 15 faults, a maker where
the design has one) in which nothing differs and in which one, three or five attributes do, lets
the rules of the report decide, and counts sessions with any false claim: a bottle, pair, word,
direction, majority or maker's shift that is not there. All designs go on together, some sessions
at a time, and the counts are kept in benchmarks/calibration.json: a stopped run goes on, and asking
for more sessions adds them; a change of the rule begins with a new file. --table writes the counts
as the table of docs/claims.md.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from kikichoko.analysis.claims.claim_members import Named
from kikichoko.analysis.claims.claims_result import Claims
from kikichoko.analysis.claims.one_budget import claims
from kikichoko.analysis.core.tidy_table import Tidy

SCALES, WORDS, FAULTS = 18, 20, 15
NOSE, PALATE, BALANCE = "scale-00", "scale-01", "balance"
INTERACTION, RESIDUAL, RHO, WIDTHS = 0.4, 0.8, 0.3, 0.25
SD = float(np.hypot(INTERACTION, RESIDUAL))
TRUE_SD = {0: 0.0, 1: 2.0, 3: 1.5, 5: 1.5}
"""By how many standard deviations of a score the true attributes differ."""
CHUNK = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """A kind of session.

    Attributes
    ----------
    assessors, bottles, replicates : int
    maker : bool
        One more assessor, drawn from the same people.
    step : float
        Scores are written in whole steps of this size.
    blanks, absent : float
        Share of single answers, and of whole cups, that are missing.
    uneven : bool
        The second replicate of half of the cups is missing.
    shape : {'one', 'spread', 'small'}
        One bottle stands apart; all lie evenly apart; or they differ by a
        tenth of that, so that right directions are hard.
    scatter : float
        The first bottle's scores scatter so many times more.
    noise : float
        Scatter of the scores, times the usual one.
    half_sweet : bool
        Exactly half of the people find every bottle too sweet.
    named : int
        How many of the attributes are named beforehand.
    """

    assessors: int
    bottles: int
    replicates: int = 1
    maker: bool = False
    step: float = 1.0
    blanks: float = 0.0
    absent: float = 0.0
    uneven: bool = False
    shape: str = "one"
    scatter: float = 1.0
    noise: float = 1.0
    widths: float = WIDTHS
    half_sweet: bool = True
    named: int = 0

    @property
    def name(self) -> str:
        """Return a short name."""
        plain = Design(assessors=0, bottles=0)
        size = f"{self.assessors}{' + maker' if self.maker else ''} × {self.bottles}"
        rest = [
            f"{key} {value}"
            for key, value in asdict(self).items()
            if key not in {"assessors", "bottles", "replicates", "maker"}
            and value != getattr(plain, key)
        ]
        return ", ".join([f"{size} × {self.replicates}", *rest])


DESIGNS = (
    Design(assessors=3, bottles=3, replicates=2),
    Design(assessors=5, bottles=4),
    Design(assessors=6, bottles=3, replicates=2, maker=True),
    Design(assessors=9, bottles=6, maker=True),
    Design(assessors=12, bottles=3, replicates=3),
    Design(assessors=8, bottles=2, replicates=2),
    Design(assessors=2, bottles=2),
    Design(assessors=10, bottles=6, absent=0.3, shape="spread"),
    Design(assessors=7, bottles=4, blanks=0.03, absent=0.1),
    Design(assessors=6, bottles=4, replicates=2, uneven=True),
    Design(assessors=5, bottles=4, scatter=1.5),
    Design(assessors=12, bottles=4, scatter=2.0, shape="spread"),
    Design(assessors=7, bottles=5, shape="spread", step=0.5, widths=0.6),
    Design(assessors=10, bottles=4, shape="small"),
    Design(assessors=6, bottles=3, replicates=2, named=1),
    Design(assessors=9, bottles=6, named=3),
    Design(assessors=10, bottles=2, noise=0.35),
    Design(assessors=3, bottles=3, noise=0.35),
    Design(assessors=2, bottles=6),
    Design(assessors=4, bottles=3, replicates=2, blanks=0.05, maker=True),
    Design(assessors=9, bottles=6, scatter=2.0),
)


@dataclass(frozen=True, slots=True)
class Session:
    """One simulated session and its truth.

    Attributes
    ----------
    table : Tidy
    effects : dict of str to ndarray
        True means of the bottles, for every question that has a difference.
    named : tuple of Named
    makers, people : list of str
    """

    table: Tidy
    effects: dict[str, np.ndarray]
    named: tuple[Named, ...]
    makers: list[str]
    people: list[str]


def session(design: Design, true: int, rng: np.random.Generator) -> Session:
    """Simulate one session in which `true` attributes differ (of five, one is a word)."""
    i, j, k = design.assessors + design.maker, design.bottles, design.replicates
    scales = [f"scale-{n:02d}" for n in range(SCALES)]
    words = [f"word-{n:02d}" for n in range(WORDS)]
    faults = [f"fault-{n:02d}" for n in range(FAULTS)]
    shape = _shape(design)
    if design.shape == "one":
        shape = np.roll(shape, int(rng.integers(j)))
    effects: dict[str, np.ndarray] = {}
    for place in range(true - (true == 5)):
        scale = scales[2 + place] if place < 3 else PALATE
        effects[scale] = shape * (TRUE_SD[true] * SD * (-1) ** place)
    if true == 5:
        effects[words[0]] = shape - shape.min()
    size = SCALES + 1
    means = np.zeros((j, size))
    for n, scale in enumerate(scales):
        means[:, n] = effects.get(scale, 0.0)
    root = np.linalg.cholesky(np.full((size, size), RHO) + (1 - RHO) * np.eye(size))
    width = np.exp(design.widths * rng.normal(size=(i, 1, 1)))
    spread = np.ones((1, j, 1))
    spread[0, 0] = design.scatter
    noise = design.noise * spread
    inner = noise * INTERACTION * (rng.normal(size=(i, j, size)) @ root.T)
    left = noise[..., None, :] * RESIDUAL * (rng.normal(size=(i, j, k, size)) @ root.T)
    level = 5 + rng.normal(size=(i, 1, 1, size))
    moved = (means[None, :, None] + inner[:, :, None] + left) * width[..., None]
    scores = np.clip(np.round((level + moved) / design.step) * design.step, 0, 10)
    latent = moved[..., -1] / 1.2 + (0.0 if design.half_sweet else -0.5)
    balance = np.where(latent > 0, np.ceil(latent), np.floor(latent + 0.5)).clip(-2, 2)
    use = np.clip(rng.beta(1.2, 4, size=WORDS), 0.02, 0.7)
    ticked = rng.random((i, j, k, WORDS)) < use
    if true == 5:
        chance = 0.05 + 0.75 * effects[words[0]]
        ticked[..., 0] = rng.random((i, j, k)) < chance[None, :, None]
    noted = rng.random((i, j, k, FAULTS)) < 0.01
    every = np.concatenate([scores[..., :-1], balance[..., None], ticked, noted], axis=-1)
    names = [*scales, BALANCE, *words, *faults]
    keep = rng.random(every.shape) >= design.blanks
    keep &= (rng.random((i, j)) >= design.absent)[..., None, None]
    if design.uneven and k > 1:
        keep[:, :, 1] &= (rng.random((i, j)) < 0.5)[..., None]
    if PALATE in effects:
        effects["gap"] = effects[PALATE]
    chosen = [scales[2], scales[3], words[0]][: design.named]
    named = tuple(Named(kind="word" if one in words else "scale", about=one) for one in chosen)
    people = [f"T{n:02d}" for n in range(i)]
    makers = people[design.assessors :]
    return Session(_tidy(every, names, keep, people), effects, named, makers, people)


def _shape(design: Design) -> np.ndarray:
    """Return the bottles' places, 1 between the highest and the lowest."""
    if design.shape == "one":
        return np.eye(design.bottles)[0]
    places = np.linspace(0, 1, design.bottles)
    return places if design.shape == "spread" else places / 10


def _tidy(every: np.ndarray, names: list[str], keep: np.ndarray, people: list[str]) -> Tidy:
    a, i, j, k = (part.ravel() for part in np.indices((every.shape[-1], *every.shape[:-1])))
    here = keep[i, j, k, a]
    a, i, j, k = a[here], i[here], j[here], k[here]
    data = pd.DataFrame(
        {
            "session": pd.Categorical.from_codes(np.zeros(len(a), int), ["1"]),
            "assessor": pd.Categorical.from_codes(i, people),
            "sample": pd.Categorical.from_codes(j, [f"b{n}" for n in range(every.shape[1])]),
            "replicate": k + 1,
            "position": 1,
            "attribute": pd.Categorical.from_codes(a, names),
            "score": every[i, j, k, a],
        }
    )
    return Tidy(data=data, dropped=data.iloc[:0].assign(reason=""))


@dataclass(frozen=True, slots=True)
class Statement:
    """One claim: kind, what about, and for a pair the higher and the lower bottle."""

    kind: str
    about: str
    higher: str = ""
    lower: str = ""


def decide(made: Session, shuffles: int) -> Claims:
    """Let the rules of the report decide on a session."""
    names = made.table.attributes
    return claims(
        made.table,
        scales=[one for one in names if one.startswith("scale")],
        balances=[BALANCE],
        words=[one for one in names if one.startswith("word")],
        faults=[one for one in names if one.startswith("fault")],
        gap=(PALATE, NOSE),
        makers=made.makers,
        assessors=[one for one in made.people if one not in made.makers],
        named=made.named,
        shuffles=shuffles,
        seed=1,
    )


def statements(found: Claims) -> list[Statement]:
    """Return what the rules of the report claim of a session."""
    if not found.any_claimed:
        return []
    said = [
        Statement(row.kind, row.about) for row in found.table[found.table["claimed"]].itertuples()
    ]
    for row in found.pairs[found.pairs["claimed"]].itertuples():
        lower = row.sample_b if row.higher == row.sample_a else row.sample_a
        said.append(Statement(row.kind, row.about, row.higher, lower))
    majority = found.majority[found.majority["claimed"]]
    said += [Statement("majority", row.attribute, row.sample) for row in majority.itertuples()]
    shifts = found.shifts[found.shifts["claimed"]]
    said += [Statement("maker", row.attribute, row.maker) for row in shifts.itertuples()]
    return said


def is_false(one: Statement, made: Session) -> bool:
    """Tell whether a claim says what is not so."""
    if one.kind in {"majority", "maker"}:
        return True
    if one.kind == "overall":
        return not made.effects
    effects = made.effects.get("gap" if one.kind == "gap" else one.about)
    if effects is None:
        return True
    if not one.higher:
        return False
    return bool(effects[int(one.higher[1:])] <= effects[int(one.lower[1:])])


def run(design: Design, true: int, chunk: int, shuffles: int) -> Counter[str]:
    """Count sessions with any false claim, and what was found, over one chunk of sessions."""
    seed = [design.assessors, design.bottles, true, len(design.name), chunk]
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    count: Counter[str] = Counter()
    for _ in range(CHUNK):
        made = session(design, true, rng)
        said = statements(decide(made, shuffles))
        wrong = {one.kind for one in said if is_false(one, made)}
        right = {
            one.kind
            for one in said
            if not is_false(one, made) and (one.higher or one.kind != "scale")
        }
        count["sessions"] += 1
        count["false"] += bool(wrong)
        count.update(f"false {kind}" for kind in wrong)
        count.update(f"found {kind}" for kind in right)
    return count


def going_on(
    results: dict[str, dict[str, int]], chosen: list[Design], targets: dict[int, int]
) -> Iterator[tuple[str, Design, int, int]]:
    """Yield key, design, true attributes and chunk, the least advanced first, until all is done."""
    while True:
        open_ones = []
        for design in chosen:
            for true, target in targets.items():
                key = f"{design.name} | {true}"
                done = results.get(key, {}).get("sessions", 0)
                if done < target:
                    open_ones.append((done / target, key, design, true, done // CHUNK))
        if not open_ones:
            return
        _, key, design, true, chunk = min(open_ones, key=lambda one: one[:2])
        yield key, design, true, chunk


def table(results: dict[str, dict[str, int]]) -> str:
    """Write the counts as a table in Markdown."""
    lines = [
        "| design | nothing true | one | three | five | one found | any of five found |",
        "|" + "---|" * 7,
    ]
    for design in DESIGNS:
        found = {true: results.get(f"{design.name} | {true}", {}) for true in TRUE_SD}
        cells = [_rate(found[true], "false") for true in TRUE_SD]
        cells += [_rate(found[true], "found scale") for true in (1, 5)]
        lines.append(f"| {design.name} | {' | '.join(cells)} |")
    return "\n".join(lines)


def _rate(count: dict[str, int], what: str) -> str:
    """Write a share in per cent with its sessions; bold where false claims are too many."""
    n = count.get("sessions", 0)
    if not n:
        return "–"
    share = count.get(what, 0) / n
    text = f"{100 * share:.1f}" if what == "false" else f"{100 * share:.0f}"
    over = what == "false" and share > 0.05 + 2 * np.sqrt(0.05 * 0.95 / n)
    return f"{f'**{text}**' if over else text} ({n})"


def main() -> None:
    """Run what is missing, and keep it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--results", type=Path, default=Path(__file__).with_suffix(".json"))
    parser.add_argument("--sessions", type=int, default=1000)
    parser.add_argument("--true", type=int, default=300)
    parser.add_argument("--shuffles", type=int, default=499)
    parser.add_argument("--only", default="")
    parser.add_argument("--part", default="1/1", help="2/3: the second third of the designs")
    parser.add_argument("--table", action="store_true")
    asked = parser.parse_args()
    kept = asked.results
    results = json.loads(kept.read_text("utf-8")) if kept.is_file() else {}
    if not asked.table:
        place, parts = (int(one) for one in asked.part.split("/"))
        chosen = [design for design in DESIGNS[place - 1 :: parts] if asked.only in design.name]
        targets = {true: asked.sessions if true == 0 else asked.true for true in TRUE_SD}
        for key, design, true, chunk in going_on(results, chosen, targets):
            count = Counter(results.get(key, {})) + run(design, true, chunk, asked.shuffles)
            results[key] = dict(count)
            kept.write_text(json.dumps(results, indent=1, ensure_ascii=False), "utf-8")
            print(key, dict(count), flush=True)
    print(table(results))


if __name__ == "__main__":
    main()
