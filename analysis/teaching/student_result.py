"""One student's result: numbers, and what they mean for practice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ..core.result import Result, copies
from ..core.wording import percent, short, stated_percent
from ..core.words import Sentence


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Student(Result):
    """One student against the expert.

    Attributes
    ----------
    student : str
    lines : DataFrame
        One row per scored attribute, columns
        `kikichoko.analysis.teaching.teaching_measures.LINE_COLUMNS`, and ``slope_expected``:
        what the expert's own scatter leaves of a slope of 1.
    distance : dict
        ``rmse, low, high, n_samples`` over all scored attributes (scale points),
        and ``ceiling``, what somebody as good as the expert would have.
    words : DataFrame or None
        ``word, found, missed, invented, neither``: samples by word.
    word_agreement : dict or None
        ``found, missed, invented, precision, recall, kappa`` with limits.
    faults : DataFrame or None
        One row per pour of a spiked or clean bottle: ``truth, named, outcome``.
    detection : dict or None
        ``hits, n_spiked, named_right, false_alarms, n_clean, d_prime`` with limits.
    repeat : dict or None
        ``share, p``: two pours of one bottle scored more alike than two bottles.
    progress : DataFrame
        One row per session: ``session, rmse, low, high``.
    change : dict or None
        Ratio of the last to the first session's distance, with limits (below 1:
        nearer to the expert).
    margin, level : float
    """

    student: str
    lines: pd.DataFrame
    distance: dict[str, float | int | None]
    words: pd.DataFrame | None
    word_agreement: dict[str, float | int | None] | None
    faults: pd.DataFrame | None
    detection: dict[str, Any] | None
    repeat: dict[str, float | int] | None
    progress: pd.DataFrame
    change: dict[str, float] | None
    margin: float
    level: float

    def near(self) -> list[str]:
        """Attributes shown to be within the margin on average, with no other scale use shown."""
        mine = self.lines[self.lines["verdict"].isin(["equivalent", "both"])]
        off = (mine["slope_high"] < mine["slope_expected"]) | (mine["slope_low"] > 1)
        mine = mine[~off]
        order = mine["rmse"].sort_values(kind="stable").index
        return [str(name) for name in mine.loc[order, "attribute"]]

    def to_practise(self, most: int = 3) -> list[tuple[str, str]]:
        """Return attributes to practise with the reason, the farthest first.

        The reason is ``too_high`` or ``too_low`` (bias shown, and not shown to be
        within the margin), ``narrow`` or ``wide`` (slope limits off what the
        expert's own scatter lets expect), or ``scatter`` (farther than the margin).
        """
        found = []
        for row in self.lines.to_dict("records"):
            near = row["verdict"] in ("equivalent", "both")
            if not near and (row["bias_low"] > 0 or row["bias_high"] < 0):
                reason = "too_high" if row["bias"] > 0 else "too_low"
            elif row["slope_high"] < row["slope_expected"]:
                reason = "narrow"
            elif row["slope_low"] > 1:
                reason = "wide"
            elif not near and row["rmse"] > self.margin:
                reason = "scatter"
            else:
                continue
            found.append((float(row["rmse"]), str(row["attribute"]), reason))
        return [(name, reason) for _, name, reason in sorted(found, key=lambda x: -x[0])[:most]]

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the distance beside the ceiling, words, faults, repeat and progress."""
        said = []
        far = self.distance
        if far["rmse"] is not None:
            known = far["low"] is not None
            key = "teaching.distance" if known else "teaching.distance_alone"
            said.append(
                Sentence.of(
                    key,
                    student=self.student,
                    rmse=short(far["rmse"]),
                    low=short(far["low"] or 0.0),
                    high=short(far["high"] or 0.0),
                    level=stated_percent(self.level),
                )
            )
            if far["ceiling"] is not None:
                said.append(Sentence.of("teaching.ceiling", ceiling=short(far["ceiling"])))
        near = self.near()
        if near:
            said.append(Sentence.of("teaching.near", margin=f"{self.margin:g}", attributes=near))
        for name, reason in self.to_practise():
            said.append(Sentence.of(f"teaching.practise_{reason}", attribute=name))
        if self.word_agreement is not None:
            said.append(Sentence.of("teaching.words", **_counts(self.word_agreement)))
        if self.detection is not None:
            said.append(Sentence.of("teaching.faults", **_detected(self.detection)))
        if self.repeat is not None:
            key = (
                "teaching.repeat" if self.repeat["p"] <= 1 - self.level else "teaching.repeat_open"
            )
            said.append(Sentence.of(key, share=percent(self.repeat["share"])))
        if self.change is not None:
            said.append(_changed(self.change, self.level))
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the attributes, and words and faults where there are any."""
        shown = {"teaching.heading_lines": self.lines}
        if self.words is not None:
            used = self.words[["found", "missed", "invented"]].sum(axis=1) > 0
            shown["teaching.heading_words"] = self.words[used]
        if self.faults is not None:
            shown["teaching.heading_faults"] = self.faults
        return copies(**shown)


def _counts(found: Mapping[str, float | int | None]) -> dict[str, object]:
    return {name: found[name] for name in ("found", "missed", "invented")}


def _detected(found: Mapping[str, Any]) -> dict[str, object]:
    high = float(found["d_prime_high"])
    return {
        **{k: found[k] for k in ("hits", "n_spiked", "named_right", "false_alarms", "n_clean")},
        "low": short(float(found["d_prime_low"])),
        "high": short(high) if np.isfinite(high) else Sentence.of("teaching.no_limit"),
    }


def _changed(change: Mapping[str, float], level: float) -> Sentence:
    key = "open"
    if change["high"] < 1:
        key = "nearer"
    elif change["low"] > 1:
        key = "farther"
    ends = {name: percent(change[name]) for name in ("ratio", "low", "high")}
    return Sentence.of(f"teaching.change_{key}", level=stated_percent(level), **ends)
