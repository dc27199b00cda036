"""One student's result: numbers, and what they are told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ..core.p_values import holds
from ..core.result import Result, copies
from ..core.wording import fixed, percent
from ..core.words import Sentence
from . import spiked_cups
from .progress_tests import COURSE, StudentCourse
from .turns import Turn

FEW_CELLS = 1 / 3
"""Who filled in less than this share of the places is told no more than that."""
AT_MOST = 3
"""Things to work on that one is told at once."""
CLOSE = 0.5
"""Own cups agree closely when their scatter surely is below this many margins."""
FAIR = 1.0
"""Own cups agree fairly well when their scatter surely is below this many margins."""
TOGETHER = 0.5
"""Marks of all bottles lie close together below this share of the expert's distances."""
APART = 2 / np.sqrt(np.pi)
"""Mean distance of two cups in units of their standard deviation (normal scatter)."""
ORDER = ("reversed", "guessing", "noisy", "narrow", "wide", "high", "low")
"""What is most useful to work on first: direction before width before level."""
_SHARES = {0.25: "quarter", 1 / 3: "third", 0.5: "half", 2 / 3: "two_thirds", 0.75: "most"}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Student(Result):
    """One student against the expert.

    Attributes
    ----------
    student : str
    sessions, absent : list of str
        Sessions of the class that the student attended, and those not.
    joined : bool
        All of `absent` came before the first of `sessions`.
    counted : list of str
        Sessions that the findings are about.
    lines : DataFrame
        One row per scored attribute, columns
        `kikichoko.analysis.teaching.teaching_measures.LINE_COLUMNS`, and ``repeatability``,
        ``ceiling`` (distance of somebody who is as good as the expert), ``state`` (a finding,
        ``follows``, ``same``, ``alike``, ``parted`` or ``open``).
    findings : DataFrame
        ``attribute`` ("" for the whole card), ``finding, value, low, high, p, times,
        of_sessions``: what holds at one rate of error for the whole class.
    follows : list of str
        Attributes on which the order of the bottles is shown to follow the expert's.
    follows_whole : bool
    turns : list of Turn
        Attributes on which the order turned round from one session to the next.
    same : list of str
        Attributes on which every bottle got the same mark.
    distance : dict
        ``rmse, low, high, n_samples`` over the scored attributes that count (scale points),
        and ``ceiling``.
    cups : dict
        ``sd, low, high, df, apart``: scatter of the own cups of one bottle, in scale points,
        and their mean distance; attributes of `same` left out; ``p``: that the own cups do not
        tell the bottles apart (F).
    spread : dict or None
        ``own, expert``: mean distance of two bottles, in scale points, over the attributes that
        count.
    words : DataFrame or None
        ``word, found, missed, invented, neither``: samples by word.
    word_agreement : dict or None
        ``found, missed, invented, precision, recall, kappa`` with limits.
    faults : DataFrame or None
        One row per pour of a control: ``truth, named, outcome``.
    detection : dict or None
        ``hits, n_spiked, named_right, false_alarms, n_clean, d_prime`` with limits.
    repeat : dict or None
        ``share, p``: two pours of one bottle scored more alike than two bottles.
    progress : DataFrame
        One row per session: ``session, rmse, low, high, repeatability, df,
        n_samples, log_error, log_error_cups``.
    courses : list of StudentCourse
        Those that are shown.
    watched : StudentCourse or None
        The course of the distance, shown or not; None below three sessions.
    experts : int
    parted, alike : list of str
        Attributes that nobody is judged on, and those on which no order can be told.
    ways : list of tuple
        ``attribute, with, against``: of three experts or more who part on it, how many put the
        bottles in the student's order, and how many the other way round.
    slips : list of tuple of str
        ``(session, sample)`` on which the class agrees against the expert.
    unsettled : bool
        Of `slips` it cannot be said whose they are.
    experts_missed : tuple of int
        Experts who named nothing in any spiked cup, of those who had some.
    cells : tuple of int
        Scores on lines that the student gave, of the most that a student was asked for there.
    borrowed : bool
        The expert tasted nothing twice.
    margin, level : float
    """

    student: str
    sessions: list[str]
    absent: list[str]
    joined: bool
    counted: list[str]
    lines: pd.DataFrame
    findings: pd.DataFrame
    follows: list[str]
    follows_whole: bool
    turns: list[Turn]
    same: list[str]
    distance: dict[str, float | int | None]
    cups: dict[str, float] | None
    spread: dict[str, float] | None
    words: pd.DataFrame | None
    word_agreement: dict[str, float | int | None] | None
    faults: pd.DataFrame | None
    detection: dict[str, Any] | None
    repeat: dict[str, float | int] | None
    progress: pd.DataFrame
    courses: list[StudentCourse]
    watched: StudentCourse | None
    experts: int
    parted: list[str]
    alike: list[str]
    ways: list[tuple[str, int, int]]
    slips: list[tuple[str, str]]
    unsettled: bool
    experts_missed: tuple[int, int]
    cells: tuple[int, int]
    borrowed: bool
    margin: float
    level: float

    def kinds(self) -> set[str]:
        """Return the names of what was found."""
        return set(self.findings["finding"])

    @property
    def few(self) -> bool:
        """So few places were filled in that nothing is made of them."""
        return self.cells[0] < FEW_CELLS * self.cells[1]

    def ticks_tell_nothing(self) -> bool:
        """Tell whether the ticks do not tell spiked and clean cups apart, with many clean ones."""
        return spiked_cups.tell_nothing(self.detection, self.level)

    def one_mark_for_all(self) -> bool:
        """Tell whether every bottle got the same mark on every attribute."""
        return 0 < len(self.same) == len(self.lines)

    def about(self) -> tuple[Sentence, ...]:
        """Say which sessions this is about, and of how many places if some were left open."""
        said = []
        if self.joined:
            said.append(Sentence.of("teaching.joined", first=self.sessions[0], n=len(self.sessions),
                                    sessions=self.sessions))  # fmt: skip
        elif self.absent:
            said.append(Sentence.of("teaching.absent", n=len(self.absent), sessions=self.absent,
                                    m=len(self.sessions), there=self.sessions))  # fmt: skip
        given, asked = self.cells
        if given < asked:
            said.append(Sentence.of("teaching.cells", n=given, of=asked))
        return tuple(said)

    def went_well(self) -> tuple[Sentence, ...]:
        """Say what the student does well: only what is shown."""
        said = []
        whose = self._whose()
        judged = [name for name in self.lines["attribute"] if self._state(name) not in
                  ("alike", "parted")]  # fmt: skip
        elsewhere = {str(name) for name in self.findings["attribute"]} & set(judged)
        if self.follows and len(self.follows) == len(judged):
            said.append(Sentence.of("teaching.follows_all", whose=whose, names=self.follows))
        elif self.follows and self.follows_whole and not elsewhere:
            said.append(Sentence.of("teaching.follows_some", whose=whose, names=self.follows))
        elif self.follows:
            said.append(Sentence.of("teaching.follows", whose=whose, names=self.follows))
        elif self.follows_whole:
            said.append(Sentence.of("teaching.follows_whole", whose=whose))
        said += self._turned_said(mended=True)
        nearer = [course for course in self.courses if course.ratio < 1]
        if nearer:
            said.append(self._course_said(nearer[0]))
        cups = self._cups_said()
        if cups is not None and self._cups_are_praise(cups):
            said.append(cups)
        if self.detection is not None and spiked_cups.tell_spiked(self.detection, self.level):
            said.append(spiked_cups.counted(self.detection, "detected"))
        if not self.ticks_tell_nothing():
            said += spiked_cups.named_rightly(self.faults, self.level)
        if self.repeat is not None and holds(self.repeat["p"], 1 - self.level):
            said.append(Sentence.of("teaching.recognised"))
        if self.word_agreement is not None and self.word_agreement["found"]:
            n, missed = (int(self.word_agreement[one] or 0) for one in ("found", "missed"))
            said.append(Sentence.of("teaching.words_found", n=n, chances=n + missed, whose=whose))
        if not said and self._fell() is not None:
            first = fixed(self.progress["rmse"].iloc[0])
            said.append(Sentence.of("teaching.well_before", first=first, whom=self._whom(),
                                    start=self.progress["session"].iloc[0]))  # fmt: skip
        if not said and self.lines.empty:
            said.append(Sentence.of("teaching.start_ticks"))
        return tuple(said) or (Sentence.of("teaching.start", n=self._cups_filled()),)

    def to_work_on(self) -> tuple[tuple[str, Sentence], ...]:
        """Return at most `AT_MOST` things to work on, first things first: attribute, sentence.

        Without a finding it is one next step: where the marks lie farthest from the expert's
        beyond what the expert's own scatter makes of it, or the same bottles again.
        """
        found = [row for row in self.findings.to_dict("records")
                 if row["attribute"] not in self.same]  # fmt: skip
        rows = sorted(found, key=lambda row: ORDER.index(row["finding"]))
        lost = {turn.attribute for turn in self.turns if not turn.mended}
        said = []
        if self.detection is not None and self.ticks_tell_nothing():
            said.append((self._spiked_with(), spiked_cups.of_no_use(self.detection)))
        fell = self._fell()
        if fell is not None:
            said.append(("", self._course_said(fell)))
        said += [("", text) for text in self._turned_said(mended=False)]
        said += [
            (str(row["attribute"]), self._advice(row))
            for row in rows
            if row["attribute"] not in lost
        ]
        if self.one_mark_for_all():
            said.append(("", Sentence.of("teaching.do_same_card")))
        else:
            said += [(name, Sentence.of("teaching.do_same", attribute=name)) for name in self.same]
        if not self.ticks_tell_nothing():
            said += spiked_cups.missed_faults(self.faults)
            said += spiked_cups.false_alarms(self.faults)
        if not said:
            said.append(self._next_step())
        return tuple(said[:AT_MOST])

    def cannot_say(self) -> tuple[Sentence, ...]:
        """Say what these data cannot tell, with the reason."""
        said = []
        whose = self._whose()
        if self.parted:
            said.append(Sentence.of("teaching.parted", names=self.parted))
        said += [
            Sentence.of(
                "teaching.parted_side", attribute=name, n=mine, of=mine + other, other=other
            )
            for name, mine, other in self.ways
        ]
        if self.alike and len(self.alike) + len(self.parted) == len(self.lines):
            said.append(Sentence.of("teaching.alike_all", whose=whose))
        elif self.alike:
            said.append(Sentence.of("teaching.alike", names=self.alike, whose=whose))
        for session in dict.fromkeys(session for session, _ in self.slips):
            names = [sample for place, sample in self.slips if place == session]
            if session in self.sessions:
                key = (
                    "slip"
                    if not self.unsettled
                    else ("slip_unsettled_once" if self.borrowed else "slip_unsettled")
                )
                said.append(Sentence.of(f"teaching.{key}", session=session, names=names))
        blank = [str(name) for name in self.lines.loc[self.lines["n_samples"] == 0, "attribute"]]
        if blank and not self.few:
            said.append(Sentence.of("teaching.blank", names=blank))
        not_yet = [
            str(name)
            for name in self.lines["attribute"]
            if self._state(name) == "open" and name not in blank
        ]
        whole = self.kinds() & {"guessing", "reversed"} and "" in set(self.findings["attribute"])
        whole = whole or self.few
        if not_yet and not whole:
            said.append(Sentence.of("teaching.open", names=not_yet, whose=whose))
        if self.borrowed:
            said.append(Sentence.of("teaching.borrowed"))
        if self.cups is None and len(self.lines) and not self.one_mark_for_all():
            said.append(Sentence.of("teaching.one_cup"))
        if len(self.sessions) < COURSE:
            said.append(Sentence.of("teaching.early", n=len(self.sessions)))
        return tuple(said)

    def course_said(self) -> tuple[Sentence, ...]:
        """Say how it went from session to session; nothing below three."""
        if self.watched is None:
            return ()
        names = [turn.attribute for turn in self.turns]
        left_out = [Sentence.of("teaching.course_without", names=names)] if names else []
        if self.courses:
            return (*(self._course_said(course) for course in self.courses), *left_out)
        ends = _ends(self.watched)
        return (Sentence.of("teaching.course_open", whom=self._whom(), **ends), *left_out)

    def sentences(self) -> tuple[Sentence, ...]:
        """Say everything that stands on the student's page, in its order."""
        said = [*self.about(), *self.went_well()]
        said += [text for _, text in self.to_work_on()]
        said += self.plainly()
        said += [text for text in self.course_said() if text not in said]
        return (*said, *self.cannot_say())

    def plainly(self) -> tuple[Sentence, ...]:
        """Say what is neither praise nor work: own cups, spiked and clean cups as counted."""
        said = []
        cups = self._cups_said()
        explained = self.kinds() & {"noisy", "guessing"}
        if cups is not None and not self._cups_are_praise(cups) and not explained:
            said.append(Sentence("teaching.cups", cups.values, cups.room))
        told = self.ticks_tell_nothing() or spiked_cups.tell_spiked(self.detection, self.level)
        if self.detection is not None and not told:
            said.append(spiked_cups.counted(self.detection, "detected"))
        missed, of = self.experts_missed
        if missed and self.faults is not None:
            said.append(Sentence.of("teaching.put_in", n=missed, of=of))
        return (*said, *spiked_cups.lines(self.faults))

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the attributes, and words and faults where there are any."""
        shown = {"teaching.heading_lines": self.lines}
        if self.words is not None:
            used = self.words[["found", "missed", "invented"]].sum(axis=1) > 0
            shown["teaching.heading_words"] = self.words[used]
        if self.faults is not None:
            shown["teaching.heading_faults"] = self.faults
        return copies(**shown)

    def _state(self, attribute: object) -> str:
        return str(dict(zip(self.lines["attribute"], self.lines["state"], strict=True))[attribute])

    def _whose(self) -> Sentence:
        number = {0: "none", 1: "one", 2: "two"}.get(self.experts, "more")
        return Sentence.of(f"teaching.whose_{number}")

    def _whom(self) -> Sentence:
        number = {0: "none", 1: "one"}.get(self.experts, "more")
        return Sentence.of(f"teaching.whom_{number}")

    def _cups_are_praise(self, said: Sentence) -> bool:
        """Tell whether own cups agree, and tell the bottles apart: else they agree on nothing."""
        return said.key != "teaching.cups" and holds((self.cups or {})["p"], 1 - self.level)

    def _spiked_with(self) -> str:
        faults = self.faults
        truths = [] if faults is None else [str(name) for name in faults["truth"] if name]
        return max(truths, key=truths.count) if truths else ""

    def _turned_said(self, *, mended: bool) -> list[Sentence]:
        """Say which orders turned round, those that did so together in one sentence."""
        together: dict[tuple[str, ...], list[Turn]] = {}
        for turn in self.turns:
            if turn.mended is mended:
                together.setdefault(tuple(turn.since), []).append(turn)
        return [
            Sentence.of(
                "teaching.turned" if mended else "teaching.do_turned", whose=self._whose(),
                names=[turn.attribute for turn in mine], before=mine[0].before,
                n=len(mine[0].before), since=mine[0].since[0],
            )
            for mine in together.values()
        ]  # fmt: skip

    def _fell(self) -> StudentCourse | None:
        """Return the course that is shown to go away from the expert, if there is one."""
        return next((course for course in self.courses if course.ratio > 1), None)

    def _cups_filled(self) -> int:
        return int(self.lines["n_samples"].max()) if len(self.lines) else 0

    def _cups_said(self) -> Sentence | None:
        if self.cups is None:
            return None
        key = "cups"
        if self.cups["high"] < CLOSE * self.margin:
            key = "cups_close"
        elif self.cups["high"] < FAIR * self.margin:
            key = "cups_fair"
        return Sentence.of(f"teaching.{key}", points=fixed(self.cups["apart"]))

    def _course_said(self, course: StudentCourse) -> Sentence:
        way = "nearer" if course.ratio < 1 else "farther"
        rows = self.progress.iloc[[0, -1]]
        column = "rmse" if course.measure == "distance" else "repeatability"
        unit = 1.0 if course.measure == "distance" else APART
        first, last = (fixed(unit * value) for value in rows[column])
        key = f"teaching.{course.measure}_{way}"
        return Sentence.of(
            key, first=first, last=last, start=rows["session"].iloc[0],
            end=rows["session"].iloc[-1], whom=self._whom(), **_ends(course),
        )  # fmt: skip

    def _advice(self, row: dict[Any, Any]) -> Sentence:
        kind, value = str(row["finding"]), float(row["value"])
        card = "_card" if row["attribute"] == "" else ""
        values: dict[str, object] = {
            "attribute": row["attribute"],
            "whose": self._whose(),
            "value": fixed(value),
            "points": fixed(abs(value)),
            "share": Sentence.of(f"assessors.share_{_share(value)}"),
            "steady": self._steady(row),
        }
        if kind == "noisy":
            values["points"] = fixed(APART * value)
            values["more"] = Sentence.of(
                "teaching.noisy_follows" if self.follows_whole or self.follows else
                "teaching.nothing", whose=self._whose()
            )  # fmt: skip
        if kind in ("narrow", "wide", "high", "low"):
            named = self.follows_whole if card else row["attribute"] in self.follows
            values["order"] = (
                Sentence.of("teaching.order_right", whose=self._whose())
                if named
                else Sentence.of("teaching.nothing")
            )
        if kind == "guessing":
            values["cups"] = self._of_marks() if card else Sentence.of("teaching.nothing")
            lately = len(self.counted) < len(self.sessions) and self._fell() is not None
            kind = "not_lately" if lately else kind
        return Sentence.of(f"teaching.do_{kind}{card}", **values)

    def _of_marks(self) -> Sentence:
        """Say that the marks lie close together, or how far the own cups of a bottle do."""
        if self.spread is not None and self.spread["own"] < TOGETHER * self.spread["expert"]:
            values = {name: fixed(value) for name, value in self.spread.items()}
            return Sentence.of("teaching.together", whose=self._whose(), **values)
        if self.cups is None:
            return Sentence.of("teaching.nothing")
        return Sentence.of("teaching.cups", points=fixed(self.cups["apart"]))

    def _steady(self, row: dict[Any, Any]) -> Sentence:
        if row["of_sessions"] < 2:
            return Sentence.of("teaching.nothing")
        key = "steady" if row["times"] == row["of_sessions"] else "mostly"
        return Sentence.of(f"teaching.{key}", times=row["times"], n=row["of_sessions"])

    def _next_step(self) -> tuple[str, Sentence]:
        if self.few:
            return "", Sentence.of("teaching.do_mark")
        states = self.lines["state"].isin(["follows", "open"])
        mine = self.lines[states & (self.lines["rmse_low"] > self.lines["ceiling"])]
        if not len(mine):
            against = self.lines[(self.lines["state"] == "open") & (self.lines["slope"] < 0)]
            names = [str(name) for name in against["attribute"]]
            return "", look_again(names, self._whose())
        far = mine.sort_values("rmse", kind="stable").iloc[-1]
        name = str(far["attribute"])
        return name, Sentence.of("teaching.do_next", attribute=name, points=fixed(far["rmse"]),
                                 whose=self._whose())  # fmt: skip


def look_again(leaning: Sequence[str], whose: Sentence) -> Sentence:
    """Advise the same bottles once more; what leans the other way is told, and is not shown."""
    if not leaning:
        return Sentence.of("teaching.do_more")
    return Sentence.of("teaching.do_more_leaning", names=list(leaning), whose=whose)


def _ends(course: StudentCourse) -> dict[str, str]:
    ends = {name: percent(getattr(course, name)) for name in ("ratio", "low", "high")}
    return {**ends, "n": str(course.n_sessions)}


def _share(slope: float) -> str:
    return _SHARES[min(_SHARES, key=lambda share: abs(share - slope))]


def absent_or_joined(sessions: Sequence[str], attended: Sequence[str]) -> tuple[list[str], bool]:
    """Return the sessions missed, and whether all came before the first that was attended."""
    missed = [name for name in sessions if name not in attended]
    first = sessions.index(attended[0]) if attended else len(sessions)
    return missed, bool(missed) and all(sessions.index(name) < first for name in missed)
