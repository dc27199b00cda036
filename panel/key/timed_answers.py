"""What telephones told of sips, with the bottle in place of the code: one row an event."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ...forms.questions.timed_part import DOMINANCE, TimedPart
from ..plan.open_plan import OpenPlan
from ..returns.store import Store
from ..returns.timed_events import AWAY, LEVEL, SIP, Moment, Sip, sips
from ..returns.turned_cups import turned_cups
from .opening import Key

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = (
    "session", "assessor", "sample", "replicate", "position", "part", "run", "state", "time",
    "event", "attribute", "score", "seconds", "offered",
)  # fmt: skip


def timed_parts(plan: OpenPlan) -> dict[tuple[str, str], TimedPart]:
    """Return what was asked while a sip was in the mouth, by plan version and assessor."""
    return {
        (version.version, code): sheet.timed
        for version in plan.versions
        for code, sheet in version.own_sheets.items()
        if sheet.timed is not None
    }


def timed_answers(plan: OpenPlan, store: Store, key: Key) -> pd.DataFrame | None:
    """Return every event of every sip, those of the warm-up left out.

    Returns
    -------
    DataFrame or None
        As `kikichoko.analysis.profile.timed_sips` takes it: times in seconds since the sip; in
        ``attribute`` the word, what the intensity is of, spat or swallowed, or why it ended; in
        ``score`` the intensity, or the seconds out of sight; in ``offered``, at the sip, the
        words in the order of that assessor. None where no sip was to be followed.
    """
    import pandas as pd

    asked = timed_parts(plan)
    if not asked:
        return None
    cups = {
        (pour.assessor, pour.code): pour for version in plan.versions for pour in version.every_pour
    }
    turned = turned_cups(plan, store).codes
    rows: list[tuple[object, ...]] = []
    for sip in sips(store):
        code = turned.get((sip.assessor, sip.code), sip.code)
        pour = cups.get((sip.assessor, code))
        part = asked.get((sip.plan, sip.assessor)) or next(iter(asked.values()))
        if pour is None or not pour.counted or plan.is_unknown(sip.assessor, code):
            continue
        cup = key.cups[sip.assessor, code]
        where = (plan.session, sip.assessor, cup.bottle, cup.replicate, pour.presentation,
                 sip.part, sip.number, sip.state)  # fmt: skip
        rows += [(*where, *_told(sip, moment, part)) for moment in sip.moments]
    made = pd.DataFrame(rows, columns=list(COLUMNS))
    return made.astype({"replicate": "Int64", "position": "Int64", "score": float})


def _told(sip: Sip, moment: Moment, asked: TimedPart) -> tuple[Any, ...]:
    """Return time, event, attribute, score, seconds and offered words of one event."""
    attribute = moment.value if isinstance(moment.value, str) else ""
    score = moment.value if isinstance(moment.value, float) else None
    if moment.event == LEVEL and asked.intensity is not None:
        attribute = asked.intensity.key
    if moment.event == AWAY and score is not None:
        score /= 1000
    offered = "|".join(asked.keys) if (moment.event, sip.part) == (SIP, DOMINANCE) else ""
    return moment.ms / 1000, moment.event, attribute, score, asked.seconds, offered
