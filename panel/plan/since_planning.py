"""What was changed in the session's files since it was planned, against what was sealed."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from ..session.bottles import Bottle
from ..session.session import Session
from .key_file import change_parts, key_content
from .measured_later import records
from .open_plan import OpenPlan
from .planning import as_planned

TELLS_NOTHING = ("title", "date", "question", "language", "seed", "serving.open_flight")
"""Settings that touch neither the plan nor what is concluded of the blind part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that is not as it was planned.

    Attributes
    ----------
    kind : str
        ``bottle_gone``, ``bottle_new``, ``bottle_changed``, ``assessor_gone``,
        ``assessor_new``, ``assessor_changed``, ``setting_changed`` or ``setting_harmless``.
    what : str
        The bottle, assessor or setting.
    field : str
    planned, now : str
        What was planned and what stands there now.
    """

    kind: str
    what: str
    field: str = ""
    planned: str = ""
    now: str = ""


def planned_bottles(session: Session, plan: OpenPlan) -> dict[str, dict[str, Any]]:
    """Return the bottles by name: as planned, with late changes and what was measured later.

    Empty where the plan was made before bottles were sealed with it.
    """
    content = key_content(session, plan)
    if "planned" not in content:
        return {}
    known = {one["name"]: dict(one) for one in content["planned"]["bottles"]}
    for part in change_parts(session, plan):
        known |= {one["name"]: dict(one) for one in part["bottles"]}
    for record in records(session.folder, plan.content.get("made_at", "")):
        if record["bottle"] in known:
            known[record["bottle"]][record["field"]] = record["now"]
    return known


def with_planned_bottles(session: Session, plan: OpenPlan) -> Session:
    """Put bottles back that were served and whose row is no longer in ``bottles.csv``."""
    here = {bottle.name for bottle in session.bottles}
    gone: dict[str, Bottle] = {}
    for version in reversed(plan.versions):
        for name, row in planned_bottles(session, version).items():
            if name not in here:
                gone[name] = Bottle(**row)
    return replace(session, bottles=(*session.bottles, *gone.values())) if gone else session


def with_planned_questions(session: Session, plan: OpenPlan, answered: Collection[str]) -> Session:
    """Put the questions that the sealed plans name in place of those in ``session.toml``.

    Parameters
    ----------
    session : Session
    plan : OpenPlan
    answered : collection of str
        Versions of the plan under which answers came in. Only what all of them
        name was named before the tasting.
    """
    versions = [one for one in plan.versions if one.version in answered] or [plan]
    sealed = [key_content(session, one).get("planned") for one in versions]
    given = [one["settings"]["questions"].get("primary", []) for one in sealed if one is not None]
    if not given:  # plans from before settings were sealed with them
        return session
    named = [one for one in given[0] if all(one in other for other in given)]
    questions = session.settings.questions.model_copy(update={"primary": named})
    return replace(session, settings=session.settings.model_copy(update={"questions": questions}))


def differences(session: Session, plan: OpenPlan) -> list[Difference]:
    """Compare bottles, assessors and settings with what was planned.

    Raises
    ------
    NotReady
        If the key is missing, damaged or not the one that was planned.
    """
    planned = key_content(session, plan).get("planned")
    if planned is None:
        return []
    now = as_planned(session)
    told = list(_bottles(planned_bottles(session, plan), now["bottles"]))
    joined = [
        asdict(one)
        for one in plan.assessors
        if not one.spare and one.code not in {row["code"] for row in planned["assessors"]}
    ]
    before = {one["code"]: one for one in (*planned["assessors"], *joined)}
    told += _rows("assessor", before, {one["code"]: one for one in now["assessors"]})
    for name, old, new in _leaves(planned["settings"], now["settings"]):
        harmless = name in TELLS_NOTHING
        kind = "setting_harmless" if harmless else "setting_changed"
        told.append(Difference(kind=kind, what=name, planned=_text(old), now=_text(new)))
    return told


def _bottles(
    before: Mapping[str, Mapping[str, Any]], rows: Iterable[Mapping[str, Any]]
) -> list[Difference]:
    return _rows("bottle", before, {row["name"]: row for row in rows})


def _rows(
    kind: str, before: Mapping[str, Mapping[str, Any]], now: Mapping[str, Mapping[str, Any]]
) -> list[Difference]:
    told = [Difference(kind=f"{kind}_gone", what=name) for name in before if name not in now]
    told += [Difference(kind=f"{kind}_new", what=name) for name in now if name not in before]
    for name, row in before.items():
        for field, value in row.items():
            other = now.get(name, {}).get(field, value)
            if isinstance(value, dict):
                told += [
                    Difference(kind="setting_harmless", what=f"{name}: {what}", field=what,
                               planned=_text(old), now=_text(new))
                    for what, old, new in _leaves(value, other)
                ]  # fmt: skip
            elif name in now and other != value:
                told.append(
                    Difference(
                        kind=f"{kind}_changed",
                        what=name,
                        field=field,
                        planned=_text(value),
                        now=_text(other),
                    )
                )
    return told


def _leaves(old: Any, new: Any, name: str = "") -> list[tuple[str, Any, Any]]:
    """List the settings that differ, by their dotted names; one that is new counts as unset."""
    if isinstance(old, dict) and isinstance(new, dict):
        found = []
        for key in dict.fromkeys((*old, *new)):
            if key in old:
                found += _leaves(old[key], new.get(key), f"{name}.{key}" if name else key)
        return found
    return [(name, old, new)] if old != new else []


def _text(value: Any) -> str:
    if value is None or value == "":
        return "–"
    return f"{value:g}" if isinstance(value, float) else str(value)
