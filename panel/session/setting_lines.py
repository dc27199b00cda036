"""Changing single settings in the text of ``session.toml``; everything else stays as it is."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping

from ..base.toml_text import toml_of

Place = tuple[str, str]
"""Section, empty for the top, and key."""
_NUMBER = re.compile(r"-?\d{1,9}(\.\d{1,9})?")
_DATE = re.compile(r"\d{4}-\d\d-\d\d")


def with_settings(text: str, given: Mapping[Place, str]) -> str:
    r"""Return the text with settings as they were typed; explanations stay.

    What is no number or date stands as text where one is expected, so that reading the session
    says what is wrong with it.

    Parameters
    ----------
    text : str
    given : mapping of (str, str) to str
        What was typed, by section and key.

    Raises
    ------
    ValueError
        If the text is no TOML, or a line cannot be found for sure.

    Examples
    --------
    >>> with_settings("# why\ntitle = 'A'  # on sheets\n", {("", "title"): "B"})
    '# why\ntitle = "B"\n'
    """
    before = toml_of(text)
    for (section, key), typed in given.items():
        held = before.get(section, {}) if section else before
        now = held.get(key) if isinstance(held, dict) else None
        if str(now).lower() == typed.lower() and not isinstance(now, str):
            continue
        if now != typed:
            text = _with_one(text, section, key, _written(typed, now))
    after = toml_of(text)
    if _without(before, given) != _without(after, given):
        raise ValueError("session.toml")
    return text


def _written(typed: str, now: object) -> str:
    """Write a value as TOML: text stays text, other things what they look like."""
    plain = typed in ("true", "false") or _NUMBER.fullmatch(typed) or _DATE.fullmatch(typed)
    if plain and not isinstance(now, str):
        return typed
    return json.dumps(typed, ensure_ascii=False).replace("\x7f", "\\u007f")


def _with_one(text: str, section: str, key: str, value: str) -> str:
    lines = text.splitlines(keepends=True)
    heading = re.compile(r"\s*\[")
    start = 0
    if section:
        own = re.compile(rf"\s*\[\s*{re.escape(section)}\s*\]")
        start = next((n + 1 for n, line in enumerate(lines) if own.match(line)), -1)
        if start < 0:
            return f"{text.rstrip()}\n\n[{section}]\n{key} = {value}\n"
    end = next((n for n in range(start, len(lines)) if heading.match(lines[n])), len(lines))
    wanted = re.compile(rf"\s*{re.escape(key)}\s*=")
    for number in range(start, end):
        if wanted.match(lines[number]):
            lines[number] = f"{key} = {value}\n"
            return "".join(lines)
    while end > start and not lines[end - 1].strip():
        end -= 1
    lines.insert(end, f"{key} = {value}\n")
    return "".join(lines)


def _without(
    content: dict[str, object], places: Collection[Place]
) -> dict[tuple[str, str], object]:
    """Return all settings but some, flat."""
    flat: dict[tuple[str, str], object] = {}
    for name, value in content.items():
        inside = value if isinstance(value, dict) else None
        if inside is None:
            flat["", name] = value
        else:
            flat |= {(name, key): own for key, own in inside.items()}
    return {place: value for place, value in flat.items() if place not in places}
