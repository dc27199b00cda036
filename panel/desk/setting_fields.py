"""The settings that have a field of their own on the desk's pages; all others are in the text."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ...forms.questions.cards import CARDS
from ...forms.questions.question_types import Scorecard
from ...forms.questions.timed_part import SECONDS, WORDS, timed_part
from ...forms.questions.words import languages
from ..base.words import say
from ..session.methods import METHODS
from ..session.setting_lines import Given, Place, keys_of

OFFERED = (*WORDS, "astringency", "body", "carbonation", "flavour_intensity")
"""Words that can be ticked for the time in the mouth; others are written into the text."""
FIELDS: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    ("", "name", "text", ()),
    ("", "title", "text", ()),
    ("", "date", "date", ()),
    ("", "question", "text", ()),
    ("", "language", "choice", languages()),
    ("", "method", "choice", tuple(METHODS)),
    ("questions", "card", "choice", tuple(CARDS)),
    ("serving", "replicates", "number", ()),
    ("serving", "pour_ml", "number", ()),
    ("serving", "flight_size", "number", ()),
    ("serving", "rest_minutes", "number", ()),
    ("serving", "warm_up", "text", ()),
    ("serving", "codes", "choice", ("shared", "per-assessor")),
    ("serving", "order", "choice", ("balanced", "grouped")),
    ("serving", "masking", "choice", ("opaque", "red-light", "none")),
    ("serving", "appearance", "choice", ("flight", "with", "off")),
    ("serving", "spare_sheets", "number", ()),
    ("serving", "open_flight", "check", ()),
    ("serving", "alone", "check", ()),
    ("panel", "maker_in_means", "check", ()),
    ("timed", "", "check", ()),
    ("timed", "words", "keys", OFFERED),
    ("timed", "intensity", "choice", ("", *OFFERED)),
    ("timed", "seconds", "number", ()),
)
"""Section, key, kind, choices; without a key, whether the section is there."""
AT_FIRST = ("title", "date", "question", "card", "replicates", "pour_ml", "spare_sheets", "timed")
"""What a new session is asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingField:
    """A field of a page."""

    name: str
    place: Place
    kind: str
    label: str
    hint: str = ""
    options: tuple[tuple[str, str], ...] = ()
    needed: bool = False

    @property
    def keys(self) -> list[str]:
        """What can be chosen."""
        return [key for key, _ in self.options]


def setting_fields(
    language: str, only: Iterable[str] = (), held: Mapping[str, Any] | None = None
) -> list[SettingField]:
    """Return the fields of a page in a language: those of a new session, or all.

    Parameters
    ----------
    language : str
    only : iterable of str
        Which; all where none is named.
    held : mapping, optional
        The content of ``session.toml``: its own words for the time in the mouth can be ticked too.
    """
    wanted = set(only)
    made = []
    for section, key, kind, choices in FIELDS:
        own = key or section
        if wanted and own not in wanted:
            continue
        labels = {one: _option(own, one, language) for one in choices}
        if section == "timed" and choices:
            labels |= _own_words(held or {}, language, labels)
        made.append(
            SettingField(
                name=f"{section}.{key}" if section and key else own,
                place=(section, key),
                kind=kind,
                label=say(f"desk.set_{own}", language),
                hint=say(f"desk.hint_{own}", language) if own in _HINTED else "",
                options=tuple(labels.items()),
            )
        )
    return made


def _own_words(held: Mapping[str, Any], language: str, known: Collection[str]) -> dict[str, str]:
    """Return what a session follows beside the words that are offered, with its labels."""
    timed = held.get("timed", {})
    timed = timed if isinstance(timed, dict) else {}
    words = timed.get("words", [])
    part = timed_part(words if isinstance(words, list) else [], SECONDS, "", Scorecard(()))[0]
    labels = {one.key: one.label.to(language) for one in part.words}
    keys = (*keys_of(words), str(timed.get("intensity", "")))
    return {key: labels.get(key, key) for key in keys if key and key not in known}


_HINTED = (
    "name", "title", "question", "card", "method", "replicates", "pour_ml", "flight_size",
    "warm_up", "codes", "order", "masking", "appearance", "spare_sheets", "timed", "words",
    "intensity", "seconds",
)  # fmt: skip


def _option(key: str, one: str, language: str) -> str:
    if key in ("words", "intensity"):
        named = timed_part([one], SECONDS, "", Scorecard(()))[0].words
        return named[0].label.to(language) if one else say("desk.not_followed", language)
    return say(f"desk.card_{one}", language) if key == "card" else one


def values_of(fields: Iterable[SettingField], settings: Mapping[str, Any]) -> dict[str, str]:
    """Return what stands in the fields, of the content of ``session.toml``.

    Of keys that can be ticked, those that are, a blank between them.
    """
    found = {}
    for one in fields:
        section, key = one.place
        held = settings.get(section, {}) if section else settings
        if not key:
            found[one.name] = str(section in settings).lower()
            continue
        value = held.get(key) if isinstance(held, dict) else None
        if section == "timed" and value is None:
            value = _USUAL[key]
        if one.kind == "keys":
            found[one.name] = " ".join(keys_of(value))
            continue
        text = "" if value is None else str(value)
        found[one.name] = text.lower() if isinstance(value, bool) else text
    return found


_USUAL: Mapping[str, Any] = {"words": list(WORDS), "intensity": WORDS[0], "seconds": SECONDS}
"""What holds where the section of the time in the mouth does not say it."""


def given_of(fields: Iterable[SettingField], form: Mapping[str, str]) -> dict[Place, Given]:
    """Return what a form says of the fields; a box that is not ticked says no.

    What is asked of the time in the mouth counts only where that is to be followed.
    """
    given: dict[Place, Given] = {}
    for one in fields:
        section, key = one.place
        if section == "timed" and key and form.get("timed") != "true":
            continue
        if one.kind == "keys":
            given[one.place] = tuple(key for key in one.keys if f"{one.name}:{key}" in form)
        elif one.kind == "check" or one.name in form:
            given[one.place] = form.get(one.name, "false" if one.kind == "check" else "").strip()
    return given


def untold(
    fields: Iterable[SettingField], form: Mapping[str, str], settings: Mapping[str, Any]
) -> bool:
    """Tell whether a form asks something of the time in the mouth without its box.

    Parameters
    ----------
    fields : iterable of SettingField
    form : mapping
    settings : mapping
        What the page was made from.
    """
    own = [one for one in fields if one.place[0] == "timed" and one.place[1]]
    if form.get("timed") == "true" or not own or own[-1].name not in form:
        return False
    given = given_of(own, {**form, "timed": "true"})
    typed = {
        one.name: " ".join(value) if isinstance(value, tuple) else value
        for one in own
        for value in [given.get(one.place, "")]
    }
    return typed != values_of(own, settings)
