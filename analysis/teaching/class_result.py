"""What is said of a class: the experts as a measure, each student by code, all together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ..core.result import Result, copies
from ..core.wording import percent, short, stated_percent
from ..core.words import Sentence
from ..inference.proportions import wilson
from .class_summary import SMALLEST
from .retest import Retest
from .spiked_cups import HALF, missed_faults
from .student_result import Student

LEVEL_TOLD = 0.25
"""Share of the margin from which on two experts are said to have levels of their own."""
OTHERS = 2
"""Others in the same sessions, at least, beside whom one who missed some is set."""
MOSTLY = 0.5
"""Words are told that a class found in less than this share of its chances."""
WORDS_TOLD = 5
"""Words that are told of a class, those found least often first."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Teaching(Result):
    """A class against its expert or experts.

    Attributes
    ----------
    students : dict of str to Student
    experts : list of str
    ceiling : DataFrame
        ``attribute, repeatability, low, high, df, ceiling`` of the experts.
    between_experts : DataFrame
        Each pair of experts on each attribute, see `Ground.between`.
    parted, alike : list of str
        Attributes on which the experts contradict one another, and those on which the
        expert's cups do not tell the bottles apart.
    slips : DataFrame
        ``session, sample, distance, p``: bottles on which the class agrees against the expert.
    unsettled : bool
        With so few students it cannot be said whose the `slips` are.
    sides : DataFrame
        ``expert, attribute, times, of_sessions``: an expert against all others.
    expert_calls : dict of str to dict
        Hits and false alarms of each expert, where spiked and clean cups were tasted.
    findings : DataFrame
        All that is shown of anybody: ``student`` and the columns of `Student.findings`.
    by_attribute : DataFrame
        The class without names: ``attribute, n_students, n_follow, rmse_median, bias_mean,
        bias_low, bias_high, p, shown``.
    by_word, by_bottle : DataFrame
        The class without names: of each word in how many of its chances it was found, with
        limits; of each control how many pours were named right, wrong, not, or falsely.
    margin, level, alpha : float
        `alpha`: chance, at most, that anybody of a clean class is told anything false.
    sessions : list of str
    seed : int
        Of the permutations about the repeated bottle.
    retest : Retest or None
        How many sessions like these show that a distance was halved.
    """

    students: dict[str, Student]
    experts: list[str]
    ceiling: pd.DataFrame
    between_experts: pd.DataFrame
    parted: list[str]
    alike: list[str]
    slips: pd.DataFrame
    unsettled: bool
    sides: pd.DataFrame
    expert_calls: dict[str, dict[str, Any]]
    findings: pd.DataFrame
    by_attribute: pd.DataFrame
    by_word: pd.DataFrame
    by_bottle: pd.DataFrame
    margin: float
    level: float
    alpha: float
    sessions: list[str]
    seed: int
    retest: Retest | None

    def sentences(self) -> tuple[Sentence, ...]:
        """Say to the teacher: the ground first, each student by code, then the class."""
        rate = stated_percent(self.alpha)
        said = [Sentence.of("teaching.class", n=len(self.students), rate=rate)]
        said += self.about_experts()
        said += [text for code in sorted(self.students) for text in self._of_student(code)]
        if not self._anything_found() and len(self.by_attribute):
            said.append(Sentence.of("teaching.nobody_found", n=len(self.students)))
        if len(self.students) < SMALLEST:
            said.append(Sentence.of("teaching.no_class", n=len(self.students), least=SMALLEST))
        if self.retest is not None:
            said += self.retest.sentences()
        return (*said, *self.as_a_class(), *self.as_a_class_on_controls())

    def _anything_found(self) -> bool:
        return bool(len(self.findings)) or any(
            one.same
            or one.ticks_tell_nothing()
            or missed_faults(one.faults)
            or any(course.ratio > 1 for course in one.courses)
            for one in self.students.values()
        )

    def about_experts(self) -> list[Sentence]:
        """Say what the experts are worth as a measure."""
        said = []
        for (first, second), mine in self.between_experts.groupby(["first", "second"]):
            gap = float(mine["level_gap"].mean())
            names = mine.loc[mine["parted"], "attribute"].tolist()
            key = "experts_parted" if names else "experts_agree"
            distance = float(np.sqrt((mine.loc[~mine["parted"], "distance"] ** 2).mean()))
            said.append(Sentence.of(f"teaching.{key}", first=first, second=second, names=names,
                                    points=short(distance, 2)))  # fmt: skip
            if abs(gap) > LEVEL_TOLD * self.margin:
                high, low = (first, second) if gap > 0 else (second, first)
                said.append(Sentence.of("teaching.experts_level", high=high, low=low,
                                        points=short(abs(gap), 2)))  # fmt: skip
        said += [
            Sentence.of("teaching.expert_alone", **{str(k): v for k, v in row.items()},
                        others=[who for who in self.experts if who != row["expert"]])
            for row in self.sides.to_dict("records")
        ]  # fmt: skip
        said += [
            Sentence.of("teaching.expert_missed", expert=code, hits=found["hits"],
                        n=found["n_spiked"])
            for code, found in self.expert_calls.items()
            if found["hits"] <= HALF * found["n_spiked"]
        ]  # fmt: skip
        lines = self.by_attribute["attribute"].tolist()
        if self.alike and len(self.alike) + len(self.parted) == len(lines):
            said.append(Sentence.of("teaching.class_alike_all"))
        elif self.alike:
            said.append(Sentence.of("teaching.class_alike", names=self.alike))
        for session, mine in self.slips.groupby("session"):
            key = "class_slip_unsettled" if self.unsettled else "class_slip"
            said.append(Sentence.of(f"teaching.{key}", session=session, n=len(self.students),
                                    names=mine["sample"].tolist()))  # fmt: skip
        return said

    def as_a_class(self) -> list[Sentence]:
        """Say what the students have in common; nobody is named, nothing of small classes."""
        if len(self.students) < SMALLEST:
            return []
        said = []
        for row in self.by_attribute[self.by_attribute["shown"]].to_dict("records"):
            way = "above" if row["bias_mean"] > 0 else "below"
            ends = sorted([abs(row["bias_low"]), abs(row["bias_high"])])
            said.append(
                Sentence.of(
                    f"teaching.class_{way}", attribute=row["attribute"],
                    bias=short(abs(row["bias_mean"]), 2), low=short(ends[0], 2),
                    high=short(ends[1], 2),
                )
            )  # fmt: skip
        words = self.by_word[(self.by_word["chances"] > 0) & (self.by_word["share"] < MOSTLY)]
        for row in words.head(WORDS_TOLD).to_dict("records"):
            ends_ = {end: percent(float(row[end])) for end in ("low", "high")}
            said.append(Sentence.of("teaching.class_word", attribute=row["word"],
                                    found=row["found"], n=row["chances"], **ends_))  # fmt: skip
        return said

    def as_a_class_on_controls(self) -> list[Sentence]:
        """Say of each fault, and of the clean cups, what became of them; nothing of small classes.

        By session and bottle it stands in `by_bottle`.
        """
        if len(self.students) < SMALLEST:
            return []
        said = []
        spiked = self.by_bottle[self.by_bottle["truth"] != ""]
        counts = ["n", "right", "wrong", "missed"]
        for truth, mine in spiked.groupby("truth"):
            each = mine.groupby("session", sort=True)[counts].sum().reset_index()
            course = [
                Sentence.of("teaching.class_spiked_in", session=row["session"], n=row["n"],
                            noticed=row["right"] + row["wrong"])
                for row in each.to_dict("records")
            ]  # fmt: skip
            total = {name: int(mine[name].sum()) for name in counts}
            key = "class_spiked" if len(course) == 1 else "class_spiked_course"
            said.append(Sentence.of(f"teaching.{key}", truth=truth, sessions=course, **total))
        clean = self.by_bottle[self.by_bottle["truth"] == ""]
        if len(clean):
            n, alarms = int(clean["n"].sum()), int(clean["false_alarms"].sum())
            said.append(Sentence.of("teaching.class_clean", n=n, false_alarms=alarms))
        return said

    def _of_student(self, code: str) -> list[Sentence]:
        one = self.students[code]
        said = []
        if one.joined or one.absent:
            key = "they_joined" if one.joined else "they_were_absent"
            said.append(Sentence.of(f"teaching.{key}", student=code, n=len(one.sessions),
                                    of=len(self.sessions), sessions=one.sessions))  # fmt: skip
            said += self._beside(one)
        given, asked = one.cells
        if given < asked:
            said.append(Sentence.of("teaching.table_they", student=code, n=given, of=asked))
        found = [
            Sentence.of(
                "teaching.found_card" if row["attribute"] == "" else "teaching.found_on",
                what=Sentence.of(f"assessors.kind_{row['finding']}"), attribute=row["attribute"],
                value=short(float(row["value"]), 2),
            )
            for row in one.findings.to_dict("records")
        ]  # fmt: skip
        if found:
            said.append(Sentence.of("teaching.they_found", student=code, found=found,
                                    sessions=one.counted, n=len(one.counted)))  # fmt: skip
        said += [
            Sentence.of(f"teaching.they_{'turned' if turn.mended else 'turned_away'}", student=code,
                        attribute=turn.attribute, before=turn.before, n=len(turn.before),
                        since=turn.since[0])
            for turn in one.turns
        ]  # fmt: skip
        if one.same:
            key = "they_one_mark" if one.one_mark_for_all() else "they_same"
            said.append(Sentence.of(f"teaching.{key}", student=code, names=one.same))
        if one.follows_whole or one.follows:
            key = "they_follow_card" if one.follows_whole else "they_follow"
            said.append(Sentence.of(f"teaching.{key}", student=code, n=len(one.follows),
                                    of=len(one.lines)))  # fmt: skip
        for course in one.courses:
            way = "nearer" if course.ratio < 1 else "farther"
            ends = {name: percent(getattr(course, name)) for name in ("ratio", "low", "high")}
            said.append(Sentence.of(f"teaching.they_{course.measure}_{way}", student=code, **ends))
        if one.detection is not None:
            said.append(Sentence.of("teaching.they_detected", student=code,
                                    **_counted(one.detection, self.level)))  # fmt: skip
        if one.ticks_tell_nothing():
            said.append(Sentence.of("teaching.they_ticked", student=code))
        return said

    def _beside(self, one: Student) -> list[Sentence]:
        """Set the distance of a student who missed sessions beside the others' in the same ones."""
        own = _far(one, one.sessions)
        beside = [
            other
            for other in self.students.values()
            if other is not one and set(one.sessions) <= set(other.sessions)
        ]
        rest = [_far(other, one.sessions) for other in beside]
        rest = [value for value in rest if np.isfinite(value)]
        if len(rest) < OTHERS or not np.isfinite(own):
            return []
        ends = {"low": short(min(rest), 2), "high": short(max(rest), 2)}
        return [Sentence.of("teaching.they_beside", student=one.student, points=short(own, 2),
                            n=len(rest), **ends)]  # fmt: skip

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the class tables, and one row a student in the order of codes."""
        rows = [
            {
                "student": code,
                "sessions": len(one.sessions),
                "follows": len(one.follows) if len(one.lines) else None,
                "rmse": one.distance["rmse"],
                "low": one.distance["low"],
                "high": one.distance["high"],
                "cups_apart": (one.cups or {}).get("apart"),
                "word_kappa": (one.word_agreement or {}).get("kappa"),
                "spikes_noticed": (one.detection or {}).get("hits"),
                "false_alarms": (one.detection or {}).get("false_alarms"),
            }
            for code, one in sorted(self.students.items())
        ]
        shown = {
            "teaching.heading_students": pd.DataFrame(rows).dropna(axis=1, how="all"),
            "teaching.heading_findings": self.findings,
            "teaching.heading_class": self.by_attribute,
            "teaching.heading_ceiling": self.ceiling,
            "teaching.heading_experts": self.between_experts,
            "teaching.heading_words_class": self.by_word,
            "teaching.heading_bottles": self.by_bottle,
        }
        return copies(**{name: table for name, table in shown.items() if len(table)})


def _far(one: Student, sessions: Sequence[str]) -> float:
    """Return a student's distance from the expert over some sessions."""
    mine = one.progress.loc[one.progress["session"].isin(list(sessions)), "rmse"].to_numpy(float)
    return float(np.sqrt(np.mean(mine**2))) if mine.size else float("nan")


def _counted(found: Mapping[str, object], level: float) -> dict[str, object]:
    """Return hits and false alarms as counts with their limits."""
    values: dict[str, object] = {}
    for name, of in (("hits", "n_spiked"), ("false_alarms", "n_clean")):
        k, n = int(str(found[name])), int(str(found[of]))
        low, high = wilson(k, n, level)
        values |= {name: k, of: n, f"{name}_low": percent(float(low)),
                   f"{name}_high": percent(float(high))}  # fmt: skip
    return values
