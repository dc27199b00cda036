"""How far is each student from the expert, and what should they practise?

First it is asked whether the experts are a measure here (`expert_ground`), then every
student is tested at one rate of error for the whole class (`student_findings`). Advice is
about all sessions, or about the latest third where a student is shown to change; the
course over the sessions is told apart from it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Unpack

import numpy as np
import pandas as pd
from scipy.special import fdtrc
from scipy.stats import chi2

from ..core.errors import NotEstimable, OptionError
from ..core.options import at_least, share_of
from ..core.ratings_matrix import Floats, guess_scale
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.words import Sentence
from .class_result import Teaching
from .class_scores import ClassScores, Mask, centred, class_scores
from .class_summary import by_attribute, by_bottle, by_word
from .expert_ground import Ground, expert_ground
from .expert_sides import Way, ways
from .progress_tests import MEASURES, StudentCourse, by_session, courses
from .retest import Retest, retest
from .spiked_cups import missed_by_experts
from .student_findings import (
    ALPHA,
    Shown,
    class_findings,
    parts_of,
    share_of_alpha,
    shown_courses,
    watched_course,
)
from .student_result import APART, Student, absent_or_joined
from .teaching_measures import (
    LINE_COLUMNS,
    ceiling,
    cell_table,
    detection,
    fault_calls,
    line_measures,
    recognises_repeat,
    rmse_interval,
    word_agreement,
    word_counts,
)
from .turns import turns

FAULT = "fault:"
CONTROL_COLUMNS = ["session", "sample", "truth"]
FEW = 6
"""Samples below which it is said that they are few."""


def teaching(
    table: Tidy | pd.DataFrame,
    experts: Sequence[str],
    *,
    students: Sequence[str] | None = None,
    margin: float = 1.0,
    controls: pd.DataFrame | None = None,
    repeats: Mapping[str, str] | None = None,
    level: float = 0.95,
    alpha: float = ALPHA,
    seed: int = 1,
    **column_names: Unpack[LongColumns],
) -> Teaching:
    """Compare students with one or more experts on the same bottles.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores on lines; ticks (0/1); faults as attributes ``fault:NAME`` (0 = not named).
    experts : sequence of str
        Their mean is the reference, on attributes on which they do not contradict each other.
    students : sequence of str, optional
        Everybody else by default.
    margin : float
        Distance from the expert in scale points that would still be good
        enough; state it before tasting.
    controls : DataFrame, optional
        Bottles that are known, ``session, sample, truth``: the fault attribute that was put
        in, "" for clean. A bottle is one of a session.
    repeats : mapping of sample to sample, optional
        Names that hide the same bottle, e.g. ``{"F": "B"}``.
    level : float
        Confidence level of intervals.
    alpha : float
        Chance, at most, that anybody of a clean class is told anything false.
    seed : int
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Teaching

    Raises
    ------
    OptionError
        For codes or bottles that are not in the table, or a control that is called
        both spiked and clean in one session.
    NotEstimable
        Without an expert or a student in the table.

    Notes
    -----
    `alpha` is shared evenly between what this class can show: direction, width, level and own
    repeats of scale use, from three sessions on the course, the class (from five students on),
    two experts, slips of an expert (three students); half of a part goes to the whole card, half
    to single attributes, each over all students by Holm's method.

    References
    ----------
    Mandel (1961), J. Am. Stat. Assoc. 56:878-888 (slopes). Holm (1979), Scand. J. Stat.
    6:65-70.
    """
    share_of("level", level)
    share_of("alpha", alpha)
    at_least("margin", margin, strictly=True)
    checked = as_tidy(table, **column_names)
    people = checked.assessors
    learning = [who for who in people if who not in experts] if students is None else list(students)
    unknown = [who for who in [*experts, *learning] if who not in people]
    if unknown:
        raise OptionError("teaching.unknown", found=unknown, have=people)
    if not experts or not learning:
        raise NotEstimable("teaching.nobody")
    bottles = [*(repeats or {}), *(repeats or {}).values()]
    strange = [name for name in bottles if name not in checked.samples]
    if strange:
        raise OptionError("teaching.unknown", found=strange, have=checked.samples)
    faults = [name for name in checked.attributes if name.startswith(FAULT)]
    known = _controls(controls, checked, faults)
    rows = _same_bottle(checked.data, repeats or {})
    lines, words = _kinds(checked, faults)
    scores = class_scores(rows, lines)
    sessions = [str(name) for name in sorted(rows["session"].unique())]
    parts = parts_of(sessions=len(sessions), experts=len(experts), students=len(learning))
    part = share_of_alpha(alpha, parts)
    ground = expert_ground(scores, experts, learning, margin=margin, alpha=part)
    there = {
        who: [s for s in sessions if s in set(rows.loc[rows["assessor"] == who, "session"])]
        for who in learning
    }
    turned = turns(scores, ground, there, alpha)
    progress = {
        who: by_session(
            scores, ground, who, level, without=[turn.attribute for turn in turned[who]]
        )
        for who in learning
    }
    followed = courses(progress, level)
    shown = class_findings(
        scores, ground, there, shown_courses(followed, part), turned, margin=margin, part=part
    )
    sides = ways(scores, experts, learning, ground.parted, part)
    calls = {who: fault_calls(rows, who, faults, known) for who in experts if len(known)}
    number = sum(len(found) for found in followed.values())
    pooled = rows.assign(sample=_by_session(rows))
    best = ceiling(pooled, experts, lines, level)
    compared = {
        who: _student(
            who, rows, pooled, scores, ground, shown=shown[who], experts=experts,
            lines=lines, words=words, faults=faults, best=best, margin=margin,
            controls=known, sessions=sessions, there=there[who], progress=progress[who],
            watched=watched_course(followed[who], number, part), repeated=bool(repeats),
            ways=sides[who], experts_missed=missed_by_experts(list(calls.values())),
            level=level, seed=seed,
        )
        for who in learning
    }  # fmt: skip
    every = [one.findings.assign(student=who) for who, one in compared.items()]
    found = pd.concat(every, ignore_index=True)
    return Teaching(
        students=compared,
        experts=list(experts),
        ceiling=best,
        between_experts=ground.between,
        parted=ground.parted,
        alike=ground.alike,
        slips=ground.slips,
        unsettled=ground.unsettled,
        sides=ground.sides,
        expert_calls={
            who: counts
            for who, mine in calls.items()
            if (counts := detection(mine, level)) is not None
        },
        findings=found[["student", *(name for name in found if name != "student")]],
        by_attribute=by_attribute(compared, ground, lines, level=level, alpha=part),
        by_word=by_word(compared, level),
        by_bottle=by_bottle(compared),
        margin=margin,
        level=level,
        alpha=alpha,
        sessions=sessions,
        seed=seed,
        retest=_retest(progress, alpha),
        warnings=_notes(ground, len(experts), len(sessions)),
    )


def _retest(progress: Mapping[str, pd.DataFrame], alpha: float) -> Retest | None:
    """Plan the retest from the median error of a session's distance, as this class has it."""
    every = pd.concat(list(progress.values()))
    known = every["log_error"].dropna()
    if not len(known) or not known.median() > 0:
        return None
    tests = len(MEASURES) * len(progress)
    bottles = int(every["n_samples"].median())
    return retest(float(known.median()), bottles, alpha=share_of_alpha(alpha) / tests)


def _controls(given: pd.DataFrame | None, checked: Tidy, faults: list[str]) -> pd.DataFrame:
    """Check the controls: bottles and faults of the table, each of them one thing.

    Clean bottles count only where faults were asked: in a session with an answer about a fault,
    or with a bottle that was spiked. Who was not asked has left nothing untold.
    """
    if given is None or not len(given):
        return pd.DataFrame(columns=CONTROL_COLUMNS)
    known = given[CONTROL_COLUMNS].astype(str).drop_duplicates()
    strange = sorted(set(known["sample"]) - set(checked.samples))
    if strange:
        raise OptionError("teaching.unknown", found=strange, have=checked.samples)
    odd = sorted(set(known["truth"]) - {"", *faults})
    if odd:
        raise OptionError("teaching.unknown", found=odd, have=faults)
    twice = known[known.duplicated(["session", "sample"])]
    if len(twice):
        row = twice.iloc[0]
        mine = known[(known["session"] == row["session"]) & (known["sample"] == row["sample"])]
        said = [name or Sentence.of("teaching.clean") for name in mine["truth"]]
        raise OptionError(
            "teaching.contradiction", session=row["session"], sample=row["sample"], said=said
        )
    answered = checked.data.loc[checked.data["attribute"].isin(faults), "session"].astype(str)
    asked = {*answered, *known.loc[known["truth"] != "", "session"]}
    return known[known["session"].isin(asked)].reset_index(drop=True)


def _same_bottle(rows: pd.DataFrame, repeats: Mapping[str, str]) -> pd.DataFrame:
    """Give pours of one bottle one name, numbered as its replicates."""
    if not repeats:
        return rows
    named = rows.assign(
        first=rows["sample"],
        sample=rows["sample"].map(lambda name: repeats.get(name, name)),
        replicate=rows["replicate"].astype("Int64").fillna(1),
    )
    keys = ["assessor", "session", "sample", "first", "replicate"]
    pours = named[keys].drop_duplicates().sort_values(keys)
    pours["pour"] = pours.groupby(["assessor", "session", "sample"]).cumcount() + 1
    merged = named.merge(pours, on=keys, how="left")
    merged["replicate"] = merged["pour"].astype("Int64")
    return merged[list(rows.columns)]


def _by_session(rows: pd.DataFrame) -> pd.Series[str]:
    if rows["session"].nunique() < 2:
        return rows["sample"]
    return rows["session"].astype(str) + " · " + rows["sample"].astype(str)


def _kinds(checked: Tidy, faults: list[str]) -> tuple[list[str], list[str]]:
    lines: list[str] = []
    words: list[str] = []
    for name in checked.attributes:
        if name in faults:
            continue
        ticks = guess_scale(checked.of(name)["score"].to_numpy(float)) == "nominal"
        (words if ticks else lines).append(name)
    return lines, words


def _student(
    who: str,
    rows: pd.DataFrame,
    pooled: pd.DataFrame,
    scores: ClassScores,
    ground: Ground,
    *,
    shown: Shown,
    experts: Sequence[str],
    lines: list[str],
    words: list[str],
    faults: list[str],
    best: pd.DataFrame,
    margin: float,
    controls: pd.DataFrame,
    sessions: list[str],
    there: list[str],
    progress: pd.DataFrame,
    watched: StudentCourse | None,
    repeated: bool,
    ways: list[Way],
    experts_missed: tuple[int, int],
    level: float,
    seed: int,
) -> Student:
    own = scores.of(who)
    same = [name for place, name in enumerate(lines) if _one_mark(own[:, place])]
    compared = _lines(scores, who, ground, shown, best, same=same, margin=margin, level=level)
    judged = [name for name in lines if name not in ground.parted]
    at = _counting(scores, shown)
    gaps = np.where(at, own - ground.means, np.nan)[:, [lines.index(name) for name in judged]]
    gaps = gaps[(~np.isnan(gaps)).any(axis=1)] if gaps.size else gaps
    far = rmse_interval(gaps, level) if gaps.size else None
    limit = best.loc[best["attribute"].isin(judged), "ceiling"].to_numpy(float)
    listed, agreed = None, None
    if words:
        listed, counts = word_counts(cell_table(pooled, [who]), cell_table(pooled, experts), words)
        agreed = word_agreement(counts, level)
    calls = fault_calls(rows, who, faults, controls) if len(controls) else None
    absent, joined = absent_or_joined(sessions, there)
    return Student(
        student=who,
        sessions=there,
        absent=absent,
        joined=joined,
        counted=shown.sessions,
        lines=compared,
        findings=shown.findings,
        follows=shown.follows,
        follows_whole=shown.follows_whole,
        turns=shown.turns,
        same=same,
        distance={
            "rmse": float(np.sqrt(np.nanmean(gaps**2))) if gaps.size else None,
            "low": far.low if far else None,
            "high": far.high if far else None,
            "n_samples": len(gaps),
            "ceiling": float(np.sqrt(np.nanmean(limit**2))) if np.isfinite(limit).any() else None,
        },
        cups=_cups(scores, who, same, shown.sessions, level),
        spread=_spread(scores, who, ground, shown.sessions),
        words=listed,
        word_agreement=agreed,
        faults=calls,
        detection=detection(calls, level) if calls is not None and len(calls) else None,
        repeat=recognises_repeat(rows, who, lines, seed) if lines and repeated else None,
        progress=progress,
        courses=shown.courses,
        watched=watched,
        experts=len(experts),
        parted=ground.parted,
        alike=ground.alike,
        ways=ways,
        slips=[(str(row.session), str(row.sample)) for row in ground.slips.itertuples()],
        unsettled=ground.unsettled,
        experts_missed=experts_missed,
        cells=_cells(scores, who, there, experts),
        borrowed=ground.borrowed,
        margin=margin,
        level=level,
    )


def _counting(scores: ClassScores, shown: Shown) -> Mask:
    """Mark the bottles that count by attribute: of one that turned round those since the turn."""
    counts = np.repeat(scores.in_sessions(shown.sessions)[:, None], len(scores.attributes), axis=1)
    for turn in shown.turns:
        counts[:, scores.attributes.index(turn.attribute)] &= scores.in_sessions(turn.since)
    return counts


def _one_mark(own: Floats) -> bool:
    known = own[~np.isnan(own)]
    return known.size > 2 and float(np.ptp(known)) == 0


def _lines(
    scores: ClassScores,
    who: str,
    ground: Ground,
    shown: Shown,
    best: pd.DataFrame,
    *,
    same: list[str],
    margin: float,
    level: float,
) -> pd.DataFrame:
    """Measure every attribute over the sessions that count, and say where it stands."""
    lines, own = scores.attributes, scores.of(who)
    counts = _counting(scores, shown)
    rows = [
        line_measures(own[at, place], ground.means[at, place], name, margin, level)
        for place, (name, at) in enumerate(zip(lines, counts.T, strict=True))
    ]
    table = pd.DataFrame(rows, columns=list(LINE_COLUMNS))
    repeats = [scores.scatter([who], place).sd for place in range(len(lines))]
    found = shown.findings
    states = []
    for name in lines:
        at = found.loc[found["attribute"] == name, "finding"]
        if name in ground.parted:
            states.append("parted")
        elif name in same:
            states.append("same")
        elif len(at):
            states.append(str(at.iloc[0]))
        elif name in shown.follows:
            states.append("follows")
        else:
            states.append("alike" if name in ground.alike else "open")
    limit = best.set_index("attribute")["ceiling"].reindex(lines).to_numpy(float)
    return table.assign(repeatability=repeats, ceiling=limit, state=states)


def _cups(
    scores: ClassScores, who: str, same: list[str], sessions: list[str], level: float
) -> dict[str, float] | None:
    """Return the scatter of the own cups, with chi-square limits.

    Lines on which every bottle got the `same` mark show no scatter and no agreement either.
    """
    parts = [
        scores.scatter([who], place, sessions)
        for place, name in enumerate(scores.attributes)
        if name not in same
    ]
    df = sum(part.df for part in parts)
    if not df:
        return None
    ss = sum(part.df * part.sd**2 for part in parts if part.df)
    low, high = (float(np.sqrt(ss / chi2.ppf(q, df))) for q in ((1 + level) / 2, (1 - level) / 2))
    sd = float(np.sqrt(ss / df))
    p = _tells_apart(scores, who, same, sessions, error=ss / df, df=df)
    return {"sd": sd, "low": low, "high": high, "df": float(df), "apart": float(APART * sd), "p": p}


def _tells_apart(
    scores: ClassScores,
    who: str,
    same: list[str],
    sessions: list[str],
    *,
    error: float,
    df: int,
) -> float:
    """Return p that the own cups do not tell the bottles apart: F over all lines, pooled."""
    there = scores.in_sessions(sessions)
    total, spare = 0.0, 0
    for place, name in enumerate(scores.attributes):
        if name in same:
            continue
        own = np.where(there, scores.of(who)[:, place], np.nan)
        known = ~np.isnan(own)
        if known.any():
            between = centred(own[known], scores.session[known]) ** 2
            total += scores.cups_a_cell([who], place) * float(between.sum())
            spare += int(known.sum()) - np.unique(scores.session[known]).size
    if not spare:
        return 1.0
    return float(fdtrc(spare, df, total / spare / error)) if error > 0 else float(total == 0)


def _spread(
    scores: ClassScores, who: str, ground: Ground, sessions: list[str]
) -> dict[str, float] | None:
    """Return the mean distance of two bottles for a student and for the expert, in scale points."""
    there = scores.in_sessions(sessions)
    places = [scores.attributes.index(name) for name in ground.order_told]
    own, expert = scores.of(who)[there][:, places], ground.means[there][:, places]
    known = ~np.isnan(own) & ~np.isnan(expert)
    session = scores.session[there]
    df = int(known.sum()) - sum(np.unique(session[one]).size for one in known.T)
    if df < 1:
        return None
    sizes = {
        name: sum(
            float((centred(values[one, at], session[one]) ** 2).sum())
            for at, one in enumerate(known.T)
        )
        for name, values in (("own", own), ("expert", expert))
    }
    return {name: float(APART * np.sqrt(size / df)) for name, size in sizes.items()}


def _cells(
    scores: ClassScores, who: str, sessions: list[str], experts: Sequence[str]
) -> tuple[int, int]:
    """Return how many places on lines a student marked, and the most that a student had there.

    Who marked one line of a cup had all lines of it that anybody marked in that session. Experts
    may have had more cups than the class.
    """
    there = scores.in_sessions(sessions)
    asked = np.asarray(scores.cups.any(axis=0))
    lines = np.asarray(
        [asked[scores.session == place].any(axis=0).sum() for place in scores.session]
    )
    cups = scores.cups.max(axis=2, initial=0.0) * lines
    had = {
        one: int(cups[place][there].sum())
        for place, one in enumerate(scores.people)
        if one == who or one not in experts
    }
    return int(scores.cups[scores.people.index(who)][there].sum()), max(had.values())


def _notes(ground: Ground, experts: int, sessions: int) -> tuple[Sentence, ...]:
    notes = []
    if ground.borrowed:
        notes.append(Sentence.of("teaching.no_ceiling"))
    if sessions == 1:
        notes.append(Sentence.of("teaching.one_session"))
    known = int((~np.isnan(ground.means)).any(axis=1).sum())
    if 0 < known < FEW:
        notes.append(Sentence.of("teaching.few_samples", n=known))
    if experts == 1:
        notes.append(Sentence.of("teaching.one_expert"))
    return tuple(notes)
