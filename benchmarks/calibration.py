"""How often a report claims something false, and how often it finds what is there.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 nice -n 10 python benchmarks/calibration.py \
        [--results FILE] [--sessions 1000] [--true 300] [--only PATTERN] [--table]

Simulates whole sessions (18 scales, balance, nose and palate, 20 words, 15 faults, a maker where
the design has one) in which nothing differs and in which one, three or five attributes do, makes
of each the list of statements that the report is made of, and counts sessions with any false
claim in it: a bottle, pair, word, direction, majority, maker or assessor that is said to differ
and does not; and those with any hint, and with a sound bottle that is to be held back. What is
claimed is read out of the sentences themselves. All designs go on together, some sessions at a
time, and the counts are kept in benchmarks/calibration.json: a stopped run goes on, and asking for
more sessions adds them; a change of the rule begins with a new file. --table writes the counts as
the tables of docs/claims.md.
"""

from __future__ import annotations

import argparse
import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
from kikichoko.forms.questions.cards import ASIDE, STAGES
from kikichoko.forms.questions.question_types import Kind, Option, Question, Scorecard, Text
from kikichoko.forms.questions.scorecard import balance
from kikichoko.panel.base.words import Sentence
from kikichoko.panel.findings import camps, tainted
from kikichoko.panel.findings.all_statements import Findings, findings_of_tables
from kikichoko.panel.findings.evidence import BALANCE, NOSE, PALATE
from kikichoko.panel.findings.statement import Statement
from kikichoko.panel.session.primary_questions import Primary

SCALES, WORDS, FAULTS = 18, 20, 15
LINES = (NOSE, PALATE, *(f"line_{n:02d}" for n in range(2, SCALES)))
TICKED = tuple(f"aroma:word_{n:02d}" for n in range(WORDS))
NOTED = tuple(f"fault:fault_{n:02d}" for n in range(FAULTS))
INTERACTION, RESIDUAL, RHO, WIDTHS = 0.4, 0.8, 0.3, 0.25
SD = float(np.hypot(INTERACTION, RESIDUAL))
COUNTED = (0, 1, 3, 5)
POWER = ("named", "lines", "word", "promise")
"""What is looked for besides in the first five designs, see `effects_of`."""
EXPECTED, SWEETNESS = STAGES[0], STAGES[2]
"""Asked in a design of their own, which looks for a difference in what is found less expected."""
TRUE_SD: dict[int | str, float] = {
    0: 0.0, 1: 2.0, 3: 1.5, 5: 1.5, "named": 2.0, "lines": 1.5, "word": 0.0, "promise": 2.0,
    "expected": 2.0,
}  # fmt: skip
"""By how many standard deviations of a score the true attributes differ."""
FOUND = (
    ("one line, 2 SD", 1, "found scale"),
    ("the same, named beforehand", "named", "found scale"),
    ("five lines, 1.5 SD: any of them", "lines", "found scale"),
    ("– anything true, overall included", "lines", "found"),
    ("one word, 80 % against 5 %", "word", "found word"),
    ("palate less nose, 2 SD", "promise", "found promise"),
)
HELD = {"false": 0.05, "hint": 0.20, "false maker": 0.005, "false assessor": 0.002}
"""Rates that are held, or stated."""
CHUNK = 50
LOOKED = 3
"""Where nothing is true, in one session of so many also what is slow is looked at: assessors,
bottles held, camps."""


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
    expected : bool
        The sweetness that is expected from the smell is asked too, and the last line is the
        sweetness that is found.
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
    expected: bool = False

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

    @property
    def lines(self) -> tuple[str, ...]:
        """Return the scales that are asked."""
        return (*LINES[:-1], SWEETNESS, EXPECTED) if self.expected else LINES


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
    Design(assessors=6, bottles=3, replicates=2, maker=True, expected=True),
)


@dataclass(frozen=True, slots=True)
class Session:
    """One simulated session and its truth.

    Attributes
    ----------
    table : DataFrame
        Tidy rows.
    effects : dict of str to ndarray
        True means of the bottles, for every question that has a difference.
    named : tuple of Primary
    roles : dict of str to str
        By assessor.
    widths : dict of str to float
        True width of the scale that each assessor uses, over the others' mean.
    lines : tuple of str
        The scales that are asked.
    """

    table: pd.DataFrame
    effects: dict[str, np.ndarray]
    named: tuple[Primary, ...]
    roles: dict[str, str]
    widths: dict[str, float]
    lines: tuple[str, ...] = LINES


def session(design: Design, true: int | str, rng: np.random.Generator) -> Session:
    """Simulate one session in which something differs: see `effects_of`."""
    i, j, k = design.assessors + design.maker, design.bottles, design.replicates
    shape = _shape(design)
    if design.shape == "one":
        shape = np.roll(shape, int(rng.integers(j)))
    effects = effects_of(true, shape)
    size = len(design.lines) + 1
    means = np.zeros((j, size))
    for n, scale in enumerate(design.lines):
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
    if TICKED[0] in effects:
        chance = 0.05 + 0.75 * effects[TICKED[0]]
        ticked[..., 0] = rng.random((i, j, k)) < chance[None, :, None]
    noted = rng.random((i, j, k, FAULTS)) < 0.01
    every = np.concatenate([scores[..., :-1], balance[..., None], ticked, noted], axis=-1)
    names = [*design.lines, BALANCE, *TICKED, *NOTED]
    keep = rng.random(every.shape) >= design.blanks
    keep &= (rng.random((i, j)) >= design.absent)[..., None, None]
    if design.uneven and k > 1:
        keep[:, :, 1] &= (rng.random((i, j)) < 0.5)[..., None]
    if PALATE in effects:
        effects["promise"] = effects[PALATE]
    if SWEETNESS in effects:
        effects["expected"] = effects[SWEETNESS]
    chosen = (LINES[2], LINES[3], TICKED[0])[: 1 if true == "named" else design.named]
    named = tuple(
        Primary(kind="word" if one in TICKED else "scale", attribute=one, written=one)
        for one in chosen
    )
    people = [f"T{n:02d}" for n in range(i)]
    roles = {one: "maker" if n >= design.assessors else "trained" for n, one in enumerate(people)}
    logs = np.log(width[:, 0, 0])
    apart = np.exp((logs - logs.mean()) * i / (i - 1))
    widths = dict(zip(people, apart.tolist(), strict=True))
    table = _tidy(every, names, keep, people)
    return Session(table, effects, named, roles, widths, design.lines)


def effects_of(true: int | str, shape: np.ndarray) -> dict[str, np.ndarray]:
    """Return the true means of what differs.

    A number: so many attributes, one of two bottles higher in every other one
    of them; of five, one is a word and one the palate. "named": one, named
    beforehand. "lines": five lines, all the same way. "word": one word, 80 %
    against 5 %. "promise": the palate alone. "expected": the sweetness found
    alone, and not that expected.
    """
    sd = TRUE_SD[true] * SD
    if true == "word":
        return {TICKED[0]: shape - shape.min()}
    if true == "promise":
        return {PALATE: shape * sd}
    if true == "expected":
        return {SWEETNESS: shape * sd}
    if isinstance(true, str):
        return dict.fromkeys(LINES[2 : 3 if true == "named" else 7], shape * sd)
    scales = (*LINES[2:5], PALATE)[: true - (true == 5)]
    effects = {scale: shape * (sd * (-1) ** place) for place, scale in enumerate(scales)}
    if true == 5:
        effects[TICKED[0]] = shape - shape.min()
    return effects


def _shape(design: Design) -> np.ndarray:
    """Return the bottles' places, 1 between the highest and the lowest."""
    if design.shape == "one":
        return np.eye(design.bottles)[0]
    places = np.linspace(0, 1, design.bottles)
    return places if design.shape == "spread" else places / 10


def _tidy(every: np.ndarray, names: list[str], keep: np.ndarray, people: list[str]) -> pd.DataFrame:
    a, i, j, k = (part.ravel() for part in np.indices((every.shape[-1], *every.shape[:-1])))
    here = keep[i, j, k, a]
    a, i, j, k = a[here], i[here], j[here], k[here]
    return pd.DataFrame(
        {
            "assessor": np.array(people, dtype=object)[i],
            "sample": np.array([f"b{n}" for n in range(every.shape[1])], dtype=object)[j],
            "replicate": k + 1,
            "attribute": np.array(names, dtype=object)[a],
            "score": every[i, j, k, a],
        }
    )


@cache
def scorecard(lines: tuple[str, ...] = LINES) -> Scorecard:
    """Return the sheet of the simulated sessions."""
    options = {
        name: tuple(Option(key=one.partition(":")[2], label=Text.of(one)) for one in own)
        for name, own in (("aroma", TICKED), ("fault", NOTED))
    }
    return Scorecard(
        (
            *(
                Question(key=one, section="palate", kind=Kind.LINE, aside=one in ASIDE)
                for one in lines
            ),
            Question(key="aroma", section="aroma", kind=Kind.TICKS, options=options["aroma"]),
            balance(BALANCE),
            Question(key="fault", section="faults", kind=Kind.FAULTS, options=options["fault"]),
        )
    )


def findings(made: Session, shuffles: int) -> Findings:
    """Let the report find what it says of a session."""
    return findings_of_tables(
        made.table,
        assessors=made.roles,
        scorecard=scorecard(made.lines),
        primary=made.named,
        shuffles=shuffles,
    )


def pairs_said(said: object) -> list[tuple[str, str]]:
    """Read out of a sentence which bottles it sets above which.

    Every bottle named as higher is taken to stand above every one named as
    lower in the same clause, as a reader would.
    """
    if isinstance(said, list | tuple):
        return [pair for part in said for pair in pairs_said(part)]
    if not isinstance(said, Sentence) or said.key == "findings.surest":
        return []
    values = dict(said.values)
    if {"high", "low"} <= values.keys():
        high, low = (
            [one] if isinstance(one, str) else one for one in (values["high"], values["low"])
        )
        return [(above, below) for above in high for below in low]
    return pairs_said(list(values.values()))


def is_false(one: Statement, made: Session) -> bool:
    """Tell whether a claim says what is not so.

    Assessors differ in nothing but their levels, of which nothing is claimed
    truly, and the width of the scale that they use: that one is wide or narrow
    is true of whoever is on that side, and whoever is wide scatters more.
    """
    if one.family in {"majority", "maker"}:
        return True
    if one.family == "assessor":
        told = getattr(one.sentence, "key", "").rpartition("_")[2]
        width = made.widths[one.about[0]]
        return not (
            width > 1 if told in {"wide", "noisy", "crossing"} else told == "narrow" and width < 1
        )
    if one.family == "overall":
        return not made.effects
    paired = one.family in {"promise", "expected"}
    effects = made.effects.get(one.family if paired else one.about[0])
    pairs = pairs_said(one.sentence)
    if effects is None or not pairs:
        return True
    return any(effects[int(high[1:])] <= effects[int(low[1:])] for high, low in pairs)


def run(design: Design, true: int | str, chunk: int, shuffles: int) -> Counter[str]:
    """Count sessions with any false claim, and what was found, over one chunk of sessions."""
    number = true if isinstance(true, int) else 10 + (*POWER, "expected").index(true)
    seed = [design.assessors, design.bottles, number, len(design.name), chunk]
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    count: Counter[str] = Counter()
    for number in range(CHUNK):
        made = session(design, true, rng)
        found = findings(made, shuffles)
        said = found.about_bottles
        wrong = {one.family for one in said if one.kind == "claim" and is_false(one, made)}
        right = {one.family for one in said if one.kind == "claim" and not is_false(one, made)}
        count["sessions"] += 1
        count["false"] += bool(wrong)
        count["read"] += 1
        count["hint"] += any(one.kind == "hint" for one in said)
        count.update(f"false {family}" for family in wrong)
        count.update(f"found {family}" for family in right)
        count["found"] += bool(right)
        if true == 0 and number % LOOKED == 0:
            count["looked"] += 1
            count["held"] += bool(tainted.held(found.evidence))
            count["camps"] += bool(camps.statements(found.evidence))
            single = [one for one in found.within_budget if one.family == "assessor"]
            count["people"] += 1
            count["assessor"] += bool(single)
            count["false assessor"] += any(is_false(one, made) for one in single)
    return count


def going_on(
    results: dict[str, dict[str, int]], chosen: list[Design], targets: dict[int | str, int]
) -> Iterator[tuple[str, Design, int | str, int]]:
    """Yield key, design, true attributes and chunk, the least advanced first, until all is done."""
    while True:
        open_ones = []
        for design in chosen:
            for true, target in targets.items():
                if true in POWER and design not in DESIGNS[:5]:
                    continue
                if true == "expected" and not design.expected:
                    continue
                key = f"{design.name} | {true}"
                done = results.get(key, {}).get("sessions", 0)
                if done < target:
                    open_ones.append((done / target, key, design, true, done // CHUNK))
        if not open_ones:
            return
        _, key, design, true, chunk = min(open_ones, key=lambda one: one[:2])
        yield key, design, true, chunk


def table(results: dict[str, dict[str, int]]) -> str:
    """Write the counts as tables in Markdown."""
    of = {
        (design.name, true): results.get(f"{design.name} | {true}", {})
        for design in DESIGNS
        for true in TRUE_SD
    }
    lines = [
        "| design | nothing true | one | three | five | one found | any line of five found |",
        "|" + "---|" * 7,
    ]
    for design in DESIGNS:
        cells = [_rate(of[design.name, true], "false") for true in COUNTED]
        cells += [_rate(of[design.name, true], "found scale") for true in (1, 5)]
        lines.append(f"| {design.name} | {' | '.join(cells)} |")
    lines += [
        "",
        "| nothing true | any hint | maker | an assessor | sound bottle held | two camps |",
        "|" + "---|" * 6,
    ]
    for design in DESIGNS:
        found = of[design.name, 0]
        cells = [_rate(found, "hint"), _rate(found, "false maker") if design.maker else "–"]
        cells.append(_rate(found, "false assessor", "people"))
        cells += [_rate(found, key, "looked") for key in ("held", "camps")]
        lines.append(f"| {design.name} | {' | '.join(cells)} |")
    lines += [
        "",
        "| found | " + " | ".join(design.name for design in DESIGNS[:5]) + " |",
        "|" + "---|" * 6,
    ]
    for title, true, what in FOUND:
        cells = [_rate(of[design.name, true], what) for design in DESIGNS[:5]]
        lines.append(f"| {title} | {' | '.join(cells)} |")
    asked = next(design for design in DESIGNS if design.expected)
    found = _rate(of[asked.name, "expected"], "found expected")
    lines += ["", f"Sweetness found less expected, 2 SD, in {asked.name}: {found}."]
    return "\n".join(lines)


def _every(results: dict[str, dict[str, int]]) -> str:
    """Write all designs together: sessions with any false claim."""
    parts = []
    for true in TRUE_SD:
        own = [count for key, count in results.items() if key.endswith(f" | {true}")]
        total = sum(count["sessions"] for count in own)
        if total:
            share = sum(count.get("false", 0) for count in own) / total
            parts.append(f"{true}: {100 * share:.1f} % of {total:,}")
    return "All designs, any false claim. " + "; ".join(parts)


def _rate(count: dict[str, int], what: str, of: str = "sessions") -> str:
    """Write a share in per cent with its sessions; bold where it is above what is held."""
    n = count.get(of, 0)
    if not n:
        return "–"
    share = count.get(what, 0) / n
    exact = what in {"false", "hint", "false maker", "false assessor", "held", "camps"}
    text = f"{100 * share:.1f}" if exact else f"{100 * share:.0f}"
    held = HELD.get(what, 1.0)
    over = share > held + 2 * np.sqrt(held * (1 - held) / n)
    return f"{f'**{text}**' if over else text} ({n})"


def main() -> None:
    """Run what is missing, and keep it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--results", type=Path, default=Path(__file__).with_suffix(".json"))
    parser.add_argument("--sessions", type=int, default=1000)
    parser.add_argument("--true", type=int, default=300)
    parser.add_argument("--shuffles", type=int, default=499)
    parser.add_argument("--only", default="", help="only designs with this pattern in the name")
    parser.add_argument("--part", default="1/1", help="2/3: the second third of the designs")
    parser.add_argument("--table", action="store_true")
    asked = parser.parse_args()
    kept = asked.results
    results = json.loads(kept.read_text("utf-8")) if kept.is_file() else {}
    if not asked.table:
        place, parts = (int(one) for one in asked.part.split("/"))
        chosen = [
            design for design in DESIGNS[place - 1 :: parts] if re.search(asked.only, design.name)
        ]
        targets = dict.fromkeys(TRUE_SD, asked.true) | {0: asked.sessions}
        for key, design, true, chunk in going_on(results, chosen, targets):
            count = Counter(results.get(key, {})) + run(design, true, chunk, asked.shuffles)
            results[key] = dict(count)
            kept.write_text(json.dumps(results, indent=1, ensure_ascii=False), "utf-8")
            print(key, dict(count), flush=True)
    print(table(results), _every(results), sep="\n\n")


if __name__ == "__main__":
    main()
