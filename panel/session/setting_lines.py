"""Changing single settings in the text of ``session.toml``; everything else stays as it is."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping

from ..base.toml_text import toml_of

Place = tuple[str, str]
"""Section, empty for the top, and key; without a key, whether the section is there."""
Given = str | tuple[str, ...]
"""What was typed, or which of several keys were ticked."""
_NUMBER = re.compile(r"-?\d{1,9}(\.\d{1,9})?")
_DATE = re.compile(r"\d{4}-\d\d-\d\d")


def with_settings(text: str, given: Mapping[Place, Given]) -> str:
    r"""Return the text with settings as they were typed; explanations stay.

    What is no number or date stands as text where one is expected, so that reading the session
    says what is wrong with it. The lines of a section that is taken away stay as a comment.

    Parameters
    ----------
    text : str
    given : mapping of (str, str) to str or tuple of str
        What was typed, by section and key; where a list is held, the keys that were ticked, of
        which entries with a label of their own stay as they are.

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
        if not key:
            text = _with_section(text, section, there=typed == "true")
            continue
        held = before.get(section, {}) if section else before
        now = held.get(key) if isinstance(held, dict) else None
        if now is None and typed in ("", "false") and (section, "") not in given:
            continue  # what was not said is not said now
        if isinstance(typed, tuple):
            if now is None or keys_of(now) != typed:
                text = _with_one(text, section, key, _list(typed, now))
            continue
        if str(now).lower() == typed.lower() and not isinstance(now, str):
            continue
        if now != typed:
            text = _with_one(text, section, key, _written(typed, now))
    try:
        after = toml_of(text)
    except ValueError as broken:  # a value that goes over several lines
        raise ValueError("session.toml") from broken
    if _without(before, given) != _without(after, given):
        raise ValueError("session.toml")
    return text


def keys_of(held: object) -> tuple[str, ...]:
    """Return the keys that a list of a session holds, of entries with a label theirs."""
    listed = held if isinstance(held, list) else []
    keys = (one.get("key") if isinstance(one, dict) else one for one in listed)
    return tuple(str(key) for key in keys)


def _list(keys: tuple[str, ...], now: object) -> str:
    """Write a list of keys; entries of their own are written as they were."""
    held = now if isinstance(now, list) else []
    own = {str(one.get("key")): one for one in held if isinstance(one, dict)}
    return f"[{', '.join(_inline(own.get(key, key)) for key in keys)}]"


def _inline(value: object) -> str:
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {_inline(one)}' for key, one in value.items())} }}"
    return _written(str(value), "")


def _with_section(text: str, section: str, *, there: bool) -> str:
    """Let a section be there, or stand as a comment."""
    if there == (section in toml_of(text)):
        return text
    if there:
        return f"{text.rstrip()}\n\n[{section}]\n"
    lines = text.splitlines(keepends=True)
    own = re.compile(rf"\s*\[\s*{re.escape(section)}\s*\]")
    start = next((n for n, line in enumerate(lines) if own.match(line)), len(lines))
    heading = re.compile(r"\s*\[")
    end = next((n for n in range(start + 1, len(lines)) if heading.match(lines[n])), len(lines))
    plain = re.compile(r"\s*(#|$)")
    lines[start:end] = [
        line if plain.match(line) else f"# {line}" for line in lines[start:end]
    ]  # fmt: skip
    return "".join(lines)


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
    """Return all settings but some, and but sections that come or go, flat."""
    flat: dict[tuple[str, str], object] = {}
    for name, value in content.items():
        inside = value if isinstance(value, dict) else None
        if inside is None:
            flat["", name] = value
        else:
            flat |= {(name, key): own for key, own in inside.items()}
    whole = {section for section, key in places if not key}
    return {
        place: value
        for place, value in flat.items()
        if place not in places and place[0] not in whole
    }
