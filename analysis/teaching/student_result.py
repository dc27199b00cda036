"""One student's result: numbers, and what they are told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ..core.p_values import holds
from ..core.result import Result, copies
from ..core.wording import percent
from ..core.words import Sentence
from .progress_tests import COURSE, StudentCourse

HALF = 0.5
"""Spiked cups noticed in more than this share are learned, missed in so many to be practised."""
AT_MOST = 3
"""Things to work on that one is told at once."""
CLOSE = 0.5
"""Own cups agree closely when their scatter surely is below this many margins."""
FAIR = 1.0
"""Own cups agree fairly well when their scatter surely is below this many margins."""
APART = 2 / np.sqrt(np.pi)
"""Mean distance of two cups in units of their standard deviation (normal scatter)."""
ORDER = ("reversed", "guessing", "noisy", "narrow", "wide", "high", "low")
"""What is most useful to work on first: direction before width before level."""
HITS = ("right", "wrong")
"""Outcomes of a spiked cup in which a fault was noticed, the true one or another."""
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
    turned : list of str
        Reversed over the sessions, but no longer in the latest.
    same : list of str
        Attributes on which every bottle got the same mark.
    distance : dict
        ``rmse, low, high, n_samples`` over the scored attributes that count (scale points),
        and ``ceiling``.
    cups : dict
        ``sd, low, high, df, apart``: scatter of the own cups of one bottle, in scale points,
        and their mean distance; attributes of `same` left out.
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
        One row per session: ``session, rmse, low, high, repeatability, n_samples, log_error``.
    courses : list of StudentCourse
        Those that are shown.
    watched : StudentCourse or None
        The course of the distance, shown or not; None below three sessions.
    experts : int
    parted, alike : list of str
        Attributes that nobody is judged on, and those on which no order can be told.
    slips : list of tuple of str
        ``(session, sample)`` on which the class agrees against the expert.
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
    turned: list[str]
    same: list[str]
    distance: dict[str, float | int | None]
    cups: dict[str, float] | None
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
    slips: list[tuple[str, str]]
    borrowed: bool
    margin: float
    level: float

    def kinds(self) -> set[str]:
        """Return the names of what was found."""
        return set(self.findings["finding"])

    def every_cup_ticked(self) -> bool:
        """Tell whether every spiked cup and every clean one was called faulty."""
        found = self.detection
        return (
            found is not None
            and 0 < found["n_clean"] == found["false_alarms"]
            and (0 < found["n_spiked"] == found["hits"])
        )

    def one_mark_for_all(self) -> bool:
        """Tell whether every bottle got the same mark on every attribute."""
        return 0 < len(self.same) == len(self.lines)

    def about(self) -> tuple[Sentence, ...]:
        """Say which sessions this is about."""
        said = []
        if self.joined:
            said.append(Sentence.of("teaching.joined", first=self.sessions[0], n=len(self.sessions),
                                    sessions=self.sessions))  # fmt: skip
        elif self.absent:
            said.append(Sentence.of("teaching.absent", n=len(self.absent), sessions=self.absent,
                                    there=self.sessions))  # fmt: skip
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
        said += [
            Sentence.of("teaching.turned", attribute=name, whose=whose) for name in self.turned
        ]
        nearer = [course for course in self.courses if course.ratio < 1]
        if nearer:
            said.append(self._course_said(nearer[0]))
        cups = self._cups_said()
        if cups is not None and cups.key != "teaching.cups":
            said.append(cups)
        if self._tells_spiked():
            said.append(self._detected())
        if self.repeat is not None and holds(self.repeat["p"], 1 - self.level):
            said.append(Sentence.of("teaching.recognised"))
        if self.word_agreement is not None and self.word_agreement["found"]:
            n = int(self.word_agreement["found"])
            said.append(Sentence.of("teaching.words_found", n=n, whose=whose))
        return tuple(said) or (Sentence.of("teaching.start", n=self._cups_filled()),)

    def to_work_on(self) -> tuple[tuple[str, Sentence], ...]:
        """Return at most `AT_MOST` things to work on, first things first: attribute, sentence.

        Without a finding it is one next step: where the marks lie farthest from the expert's
        beyond what the expert's own scatter makes of it, or the same bottles again.
        """
        found = [row for row in self.findings.to_dict("records")
                 if row["attribute"] not in self.same]  # fmt: skip
        rows = sorted(found, key=lambda row: ORDER.index(row["finding"]))
        said = [("", Sentence.of("teaching.do_ticks"))] if self.every_cup_ticked() else []
        said += [(str(row["attribute"]), self._advice(row)) for row in rows]
        if self.one_mark_for_all():
            said.append(("", Sentence.of("teaching.do_same_card")))
        else:
            said += [(name, Sentence.of("teaching.do_same", attribute=name)) for name in self.same]
        said += [("", self._course_said(course)) for course in self.courses if course.ratio > 1][:1]
        said += self._missed_faults()
        if not said:
            said.append(self._next_step())
        return tuple(said[:AT_MOST])

    def cannot_say(self) -> tuple[Sentence, ...]:
        """Say what these data cannot tell, with the reason."""
        said = []
        whose = self._whose()
        if self.parted:
            said.append(Sentence.of("teaching.parted", names=self.parted))
        if self.alike and len(self.alike) + len(self.parted) == len(self.lines):
            said.append(Sentence.of("teaching.alike_all", whose=whose))
        elif self.alike:
            said.append(Sentence.of("teaching.alike", names=self.alike, whose=whose))
        for session in dict.fromkeys(session for session, _ in self.slips):
            names = [sample for place, sample in self.slips if place == session]
            if session in self.sessions:
                said.append(Sentence.of("teaching.slip", session=session, names=names))
        not_yet = [str(name) for name in self.lines["attribute"] if self._state(name) == "open"]
        whole = self.kinds() & {"guessing", "reversed"} and "" in set(self.findings["attribute"])
        if not_yet and not whole:
            said.append(Sentence.of("teaching.open", names=not_yet))
        if self.borrowed:
            said.append(Sentence.of("teaching.borrowed"))
        if len(self.sessions) < COURSE:
            said.append(Sentence.of("teaching.early", n=len(self.sessions)))
        return tuple(said)

    def course_said(self) -> tuple[Sentence, ...]:
        """Say how it went from session to session; nothing below three."""
        if self.watched is None:
            return ()
        if self.courses:
            return tuple(self._course_said(course) for course in self.courses)
        return (Sentence.of("teaching.course_open", **_ends(self.watched)),)

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
        if (
            cups is not None
            and cups.key == "teaching.cups"
            and not (self.kinds() & {"noisy", "guessing"})
        ):
            said.append(cups)
        if self.detection is not None and not self._tells_spiked():
            said.append(self._detected())
        return (*said, *self.fault_lines())

    def fault_lines(self) -> tuple[Sentence, ...]:
        """Say of each control what was in it and what was named: counts, session by session."""
        if self.faults is None or not len(self.faults):
            return ()
        calls = self.faults.to_dict("records")
        spiked = [one for one in calls if one["truth"]]
        clean = [one for one in calls if not one["truth"]]
        said = []
        for (session, sample, truth), mine in _by(spiked, "session", "sample", "truth"):
            named = {name for one in mine for name in one["named"]}
            hits = sum(one["outcome"] in HITS for one in mine)
            values: dict[str, object] = {"session": session, "sample": sample, "truth": truth,
                                         "n": len(mine), "hits": hits}  # fmt: skip
            key = "spike_found" if hits else "spike_missed"
            if named and truth not in named:
                key, values["named"] = "spike_other", sorted(named)
            said.append(Sentence.of(f"teaching.{key}", **values))
        said += self._learned(spiked)
        few = len({one["session"] for one in spiked}) <= COURSE
        twice = {one["sample"] for one in spiked}
        for (sample,), mine in _by([one for one in clean if one["sample"] in twice], "sample"):
            sessions = [
                str(session)
                for (session,), cups in _by(mine, "session")
                if all(one["outcome"] == "clean" for one in cups)
            ]
            if sessions and few:
                said.append(Sentence.of("teaching.clean_right", sample=sample, sessions=sessions))
        for (session, sample), mine in _by(clean, "session", "sample"):
            alarms = sum(one["outcome"] == "false alarm" for one in mine)
            if alarms:
                said.append(Sentence.of("teaching.clean_alarm", session=session, sample=sample,
                                        alarms=alarms, n=len(mine)))  # fmt: skip
        return tuple(said)

    def _learned(self, spiked: Sequence[Mapping[Any, Any]]) -> list[Sentence]:
        """Say the hits of the first and the last half of the sessions, from four spiked ones on."""
        said = []
        for (truth,), mine in _by(spiked, "truth"):
            sessions = [cups for _, cups in _by(mine, "session")]
            if len(sessions) <= COURSE:
                continue
            half = len(sessions) // 2
            early, late = (
                [one["outcome"] in HITS for cups in some for one in cups]
                for some in (sessions[:half], sessions[-half:])
            )
            learned = sum(early) <= HALF * len(early) and sum(late) > HALF * len(late)
            said.append(
                Sentence.of(
                    "teaching.spikes_learned" if learned else "teaching.spikes_halves",
                    truth=truth, early=sum(early), early_of=len(early),
                    late=sum(late), late_of=len(late),
                )
            )  # fmt: skip
        return said

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
        number = {1: "one", 2: "two"}.get(self.experts, "more")
        return Sentence.of(f"teaching.whose_{number}")

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
        return Sentence.of(f"teaching.{key}", points=f"{self.cups['apart']:.1f}")

    def _tells_spiked(self) -> bool:
        """Tell whether spiked cups were called faulty oftener than clean ones, if there are any."""
        found = self.detection
        if found is None or not found["hits"]:
            return False
        clean = found["n_clean"]
        return not clean or bool(found["hits"] * clean > found["false_alarms"] * found["n_spiked"])

    def _detected(self) -> Sentence:
        found: dict[str, Any] = dict(self.detection or {})
        values = {name: found[name] for name in ("hits", "n_spiked", "false_alarms", "n_clean")}
        return Sentence.of("teaching.detected", **values)

    def _course_said(self, course: StudentCourse) -> Sentence:
        way = "nearer" if course.ratio < 1 else "farther"
        rows = self.progress.iloc[[0, -1]]
        column = "rmse" if course.measure == "distance" else "repeatability"
        unit = 1.0 if course.measure == "distance" else APART
        first, last = (f"{unit * value:.1f}" for value in rows[column])
        key = f"teaching.{course.measure}_{way}"
        return Sentence.of(
            key, first=first, last=last, start=rows["session"].iloc[0],
            end=rows["session"].iloc[-1], whose=self._whose(), **_ends(course),
        )  # fmt: skip

    def _advice(self, row: dict[Any, Any]) -> Sentence:
        kind, value = str(row["finding"]), float(row["value"])
        card = "_card" if row["attribute"] == "" else ""
        values: dict[str, object] = {
            "attribute": row["attribute"],
            "whose": self._whose(),
            "value": f"{value:.1f}",
            "points": f"{abs(value):.1f}",
            "share": Sentence.of(f"assessors.share_{_share(value)}"),
            "steady": self._steady(row),
        }
        if kind == "noisy":
            values["points"] = f"{APART * value:.1f}"
            values["more"] = Sentence.of(
                "teaching.noisy_follows" if self.follows_whole or self.follows else
                "teaching.nothing"
            )  # fmt: skip
        if kind in ("narrow", "wide", "high", "low"):
            named = self.follows_whole if card else row["attribute"] in self.follows
            values["order"] = Sentence.of("teaching.order_right" if named else "teaching.nothing")
        if kind == "guessing" and card and self.cups is not None:
            values["cups"] = Sentence.of("teaching.cups", points=f"{self.cups['apart']:.1f}")
        elif kind == "guessing":
            values["cups"] = Sentence.of("teaching.nothing")
        return Sentence.of(f"teaching.do_{kind}{card}", **values)

    def _steady(self, row: dict[Any, Any]) -> Sentence:
        if row["of_sessions"] < 2:
            return Sentence.of("teaching.nothing")
        key = "steady" if row["times"] == row["of_sessions"] else "mostly"
        return Sentence.of(f"teaching.{key}", times=row["times"], n=row["of_sessions"])

    def _missed_faults(self) -> list[tuple[str, Sentence]]:
        """Return the faults of which at least half of the spiked cups went by, at the latest."""
        if self.faults is None:
            return []
        spiked = self.faults[self.faults["truth"] != ""]
        said = []
        for truth, mine in spiked.groupby("truth", sort=True):
            late = mine[mine["session"] == mine["session"].max()]
            missed = late["outcome"].isin(["missed", "wrong"])
            if missed.mean() >= HALF:
                every = int(mine["outcome"].isin(["missed", "wrong"]).sum())
                text = Sentence.of("teaching.do_fault", truth=str(truth), missed=every,
                                   n=len(mine))  # fmt: skip
                said.append((str(truth), text))
        return said

    def _next_step(self) -> tuple[str, Sentence]:
        states = self.lines["state"].isin(["follows", "open"])
        mine = self.lines[states & (self.lines["rmse_low"] > self.lines["ceiling"])]
        if not len(mine):
            return "", Sentence.of("teaching.do_more")
        far = mine.sort_values("rmse", kind="stable").iloc[-1]
        name = str(far["attribute"])
        return name, Sentence.of("teaching.do_next", attribute=name, points=f"{far['rmse']:.1f}",
                                 whose=self._whose())  # fmt: skip


def _by(
    rows: Sequence[Mapping[Any, Any]], *columns: str
) -> list[tuple[tuple[Any, ...], list[Mapping[Any, Any]]]]:
    """Return the rows by the values of some columns, sorted by these."""
    found: dict[tuple[Any, ...], list[Mapping[Any, Any]]] = {}
    for row in rows:
        found.setdefault(tuple(row[name] for name in columns), []).append(row)
    return sorted(found.items(), key=lambda item: item[0])


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
