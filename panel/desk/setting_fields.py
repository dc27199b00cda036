"""The settings that have a field of their own on the desk's pages; all others are in the text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ...forms.questions.cards import CARDS
from ...forms.questions.words import languages
from ..base.words import say
from ..session.methods import METHODS
from ..session.setting_lines import Place

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
)
"""Section, key, kind, choices."""
AT_FIRST = ("title", "date", "question", "card", "replicates", "pour_ml", "spare_sheets")
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


def setting_fields(language: str, only: Iterable[str] = ()) -> list[SettingField]:
    """Return the fields of a page in a language: those of a new session, or all."""
    wanted = set(only)
    made = []
    for section, key, kind, choices in FIELDS:
        if wanted and key not in wanted:
            continue
        options = tuple((one, _option(key, one, language)) for one in choices)
        made.append(
            SettingField(
                name=f"{section}.{key}" if section else key,
                place=(section, key),
                kind=kind,
                label=say(f"desk.set_{key}", language),
                hint=say(f"desk.hint_{key}", language) if key in _HINTED else "",
                options=options,
            )
        )
    return made


_HINTED = (
    "name", "title", "question", "card", "method", "replicates", "pour_ml", "flight_size",
    "warm_up", "codes", "order", "masking", "appearance", "spare_sheets",
)  # fmt: skip


def _option(key: str, one: str, language: str) -> str:
    return say(f"desk.card_{one}", language) if key == "card" else one


def values_of(fields: Iterable[SettingField], settings: Mapping[str, Any]) -> dict[str, str]:
    """Return what stands in the fields, of the content of ``session.toml``."""
    found = {}
    for one in fields:
        section, key = one.place
        held = settings.get(section, {}) if section else settings
        value = held.get(key) if isinstance(held, dict) else None
        text = "" if value is None else str(value)
        found[one.name] = text.lower() if isinstance(value, bool) else text
    return found


def given_of(fields: Iterable[SettingField], form: Mapping[str, str]) -> dict[Place, str]:
    """Return what a form says of the fields; a box that is not ticked says no."""
    return {
        one.place: form.get(one.name, "false" if one.kind == "check" else "").strip()
        for one in fields
        if one.kind == "check" or one.name in form
    }
