"""What is said of spiked and clean cups: counts first, hits beside false alarms.

Ticks tell something where spiked cups are called faulty oftener than clean ones (Fisher's
exact test, one-sided). Who ticks many clean cups and is not shown to tell them apart is told
so, in place of praise for the hits or of advice about the misses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from ..core.p_values import holds
from ..core.words import Sentence
from ..difference.a_or_not_a import a_not_a
from ..inference.proportions import wilson
from .progress_tests import COURSE

HALF = 0.5
"""Spiked cups noticed in more than this share are learned, missed in so many to be practised."""
HITS = ("right", "wrong")
"""Outcomes of a spiked cup in which a fault was noticed, the true one or another."""
MANY = 0.2
"""Clean cups called faulty are many where surely more than this share of them was."""
FEW_CUPS = 5
"""Below so many cups of a fault it is said that they are few: who notices every second one misses
five in a row in 3 of 100 cases.
"""
ALARMS = 2
"""Clean cups called faulty from which on it is a thing to work on, at a share of `LOUD`."""
LOUD = 0.25
"""Share of the clean cups: who calls one in 20 faulty reaches both with eight cups in 6 of 100."""
LINES = 3
"""Clean bottles that were called faulty have a line each up to so many, then a line a session."""


def tell_spiked(found: Mapping[str, Any] | None, level: float) -> bool:
    """Tell whether spiked cups are shown to be called faulty oftener than clean ones."""
    return found is not None and found["hits"] > 0 and holds(float(found["p"]), 1 - level)


def tell_nothing(found: Mapping[str, Any] | None, level: float) -> bool:
    """Tell whether many clean cups were called faulty, and spiked ones are not shown to be more."""
    if found is None or tell_spiked(found, level):
        return False
    low, _ = wilson(int(found["false_alarms"]), int(found["n_clean"]), level)
    return float(low) > MANY


def counted(found: Mapping[str, Any], key: str) -> Sentence:
    """Say the counts of hits and false alarms."""
    names = ("hits", "n_spiked", "false_alarms", "n_clean")
    return Sentence.of(f"teaching.{key}", **{name: int(found[name]) for name in names})


def of_no_use(found: Mapping[str, Any]) -> Sentence:
    """Say that ticks like these do not tell spiked and clean cups apart, and what to do."""
    every = found["hits"] == found["n_spiked"] and found["false_alarms"] == found["n_clean"]
    return counted(found, "do_ticks_all" if every else "do_ticks")


def missed_faults(faults: pd.DataFrame | None) -> list[tuple[str, Sentence]]:
    """Return the faults of which half of the cups or more went by in the later sessions.

    The one that is missed most stands first: of the later cups, then of all.
    """
    if faults is None:
        return []
    spiked = faults[faults["truth"] != ""]
    said = []
    for truth, mine in spiked.groupby("truth", sort=True):
        sessions = sorted(mine["session"].unique())
        late = mine[mine["session"].isin(sessions[len(sessions) // 2 :])]
        missed = late["outcome"].isin(["missed", "wrong"])
        if missed.mean() >= HALF:
            gone, otherwise = (int((mine["outcome"] == one).sum()) for one in ("missed", "wrong"))
            named = sorted({name for one in mine.loc[mine["outcome"] == "wrong", "named"]
                            for name in one})  # fmt: skip
            key = "do_fault" if not otherwise else "do_fault_both" if gone else "do_fault_name"
            few = Sentence.of(f"teaching.{'few_cups' if len(mine) < FEW_CUPS else 'nothing'}")
            text = Sentence.of(f"teaching.{key}", truth=str(truth), missed=gone, n=len(mine),
                               otherwise=otherwise, named=named, few=few)  # fmt: skip
            share = mine["outcome"].isin(["missed", "wrong"]).mean()
            said.append((-missed.mean(), -share, str(truth), text))
    said.sort(key=lambda one: one[:3])
    return [(truth, text) for _, _, truth, text in said]


def false_alarms(faults: pd.DataFrame | None) -> list[tuple[str, Sentence]]:
    """Return what to do about clean cups that were called faulty, where they stand out.

    They do from `ALARMS` cups and a share of `LOUD` on, if some of them stood in the later half
    of the sessions: what somebody has left behind is no work.
    """
    clean = [] if faults is None else faults[faults["truth"] == ""].to_dict("records")
    wrong = [one for one in clean if one["outcome"] == "false alarm"]
    if len(wrong) < ALARMS or len(wrong) < LOUD * len(clean):
        return []
    sessions = sorted({one["session"] for one in clean})
    if not any(one["session"] in sessions[len(sessions) // 2 :] for one in wrong):
        return []
    few = Sentence.of(f"teaching.{'few_cups' if len(clean) < FEW_CUPS else 'nothing'}")
    said = Sentence.of("teaching.do_alarms", alarms=len(wrong), n=len(clean), named=_names(wrong),
                       few=few)  # fmt: skip
    return [("", said)]


def named_rightly(faults: pd.DataFrame | None, level: float) -> list[Sentence]:
    """Say which faults were called by their name where they were, and hardly elsewhere.

    Of the cups that carried a fault more than half must have got its name, and a larger share
    than of the other spiked and clean cups (Fisher's exact test, one-sided; `level` is shared
    by the faults that were put in). Who calls every cup the same shows nothing.
    """
    if faults is None:
        return []
    put_in = sorted({str(truth) for truth in faults["truth"] if truth})
    said = []
    for truth in put_in:
        there = faults["truth"] == truth
        called = pd.Series([truth in names for names in faults["named"]], index=faults.index)
        right, n = int((called & there).sum()), int(there.sum())
        alarms, others = int((called & ~there).sum()), int((~there).sum())
        if not others or right <= HALF * n:
            continue
        p = float(a_not_a(right, n, alarms, others, level=level).p)
        if holds(p, (1 - level) / len(put_in)):
            said.append(Sentence.of("teaching.named_rightly", truth=truth, right=right, n=n,
                                    alarms=alarms, others=others))  # fmt: skip
    return said


def missed_by_experts(calls: Sequence[pd.DataFrame]) -> tuple[int, int]:
    """Return how many experts named nothing in any spiked cup, of how many who had some."""
    spiked = [one[one["truth"] != ""] for one in calls]
    spiked = [one for one in spiked if len(one)]
    return sum(not one["outcome"].isin(HITS).any() for one in spiked), len(spiked)


def lines(faults: pd.DataFrame | None) -> tuple[Sentence, ...]:
    """Say of each control what was in it and what was named: counts, session by session."""
    if faults is None or not len(faults):
        return ()
    calls = faults.to_dict("records")
    spiked = [one for one in calls if one["truth"]]
    clean = [one for one in calls if not one["truth"]]
    said = []
    for (session, sample, truth), mine in _by(spiked, "session", "sample", "truth"):
        hits = sum(one["outcome"] in HITS for one in mine)
        right = sum(one["outcome"] == "right" for one in mine)
        values: dict[str, object] = {"session": session, "sample": sample, "truth": truth,
                                     "n": len(mine), "hits": hits}  # fmt: skip
        key = "spike_missed"
        if right:
            key, values["right"] = "spike_right", right
        elif hits:
            key, values["named"] = "spike_other", _names(mine)
        said.append(Sentence.of(f"teaching.{key}", **values))
    said += _learned(spiked)
    few = len({one["session"] for one in spiked}) <= COURSE
    twice = {one["sample"] for one in spiked}
    for (sample,), mine in _by([one for one in clean if one["sample"] in twice], "sample"):
        sessions = [
            str(session)
            for (session,), cups in _by(mine, "session")
            if all(one["outcome"] == "clean" for one in cups)
        ]
        if sessions and few:
            said.append(Sentence.of("teaching.clean_right", sample=sample, sessions=sessions,
                                    n=len(sessions)))  # fmt: skip
    return (*said, *_alarms(clean))


def _names(calls: Sequence[Mapping[Any, Any]]) -> list[str]:
    """Return the faults that were named in some cups, each once."""
    return sorted({str(name) for one in calls for name in one["named"]})


def _alarms(clean: Sequence[Mapping[Any, Any]]) -> list[Sentence]:
    """Say which clean bottles were called faulty; many are put together by session."""
    found = [
        {"session": session, "sample": sample, "n": len(mine),
         "alarms": sum(one["outcome"] == "false alarm" for one in mine), "named": _names(mine)}
        for (session, sample), mine in _by(clean, "session", "sample")
    ]  # fmt: skip
    found = [one for one in found if one["alarms"]]
    if len(found) <= LINES:
        return [Sentence.of("teaching.clean_alarm", **one) for one in found]
    return [
        Sentence.of(
            "teaching.clean_alarms", session=session,
            bottles=[Sentence.of("teaching.clean_alarms_one", **one) for one in mine],
        )
        for (session,), mine in _by(found, "session")
    ]  # fmt: skip


def _learned(spiked: Sequence[Mapping[Any, Any]]) -> list[Sentence]:
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


def _by(
    rows: Sequence[Mapping[Any, Any]], *columns: str
) -> list[tuple[tuple[Any, ...], list[Mapping[Any, Any]]]]:
    """Return the rows by the values of some columns, sorted by these."""
    found: dict[tuple[Any, ...], list[Mapping[Any, Any]]] = {}
    for row in rows:
        found.setdefault(tuple(row[name] for name in columns), []).append(row)
    return sorted(found.items(), key=lambda item: item[0])
