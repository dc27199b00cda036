"""Questions of the cellar that need no session, each answered by its command.

The fields are that command's options, in the words of its help.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..base.words import say
from .setting_fields import SettingField

PARTS = 3
"""Portions of a blend that a page has room for."""
_PART = ("name", "volume", "abv", "meter_value", "acidity")
_AIMS = ("volume", "abv", "meter_value", "acidity")
_TESTS = (
    "profile", "triangle", "duo-trio", "paired", "3-afc", "tetrad", "two-out-of-five",
    "agreement", "fault",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class CellarForm:
    """A form of the cellar.

    Attributes
    ----------
    command : str
        ``chemistry`` or ``size``.
    numbers, yes_no, flags : tuple of str
        Options that take a value, that take yes or no, and that are there or not.
    fixed : tuple of str
        What is always said.
    """

    command: str
    numbers: tuple[str, ...] = ()
    yes_no: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    fixed: tuple[str, ...] = ()


FORMS: Mapping[str, CellarForm] = {
    "bottle": CellarForm(
        command="chemistry",
        numbers=("name", "abv", "meter_value", "temperature", "acidity", "amino_acidity", "glucose",
                 "polishing_ratio", "extract"),
    ),
    "dilution": CellarForm(
        command="chemistry",
        numbers=("abv", "meter_value", "acidity", "dilute_to"),
    ),
    "blend": CellarForm(command="chemistry", numbers=("water",), fixed=("--blend",)),
    "label": CellarForm(
        command="chemistry",
        numbers=("claim", "abv", "polishing_ratio", "koji_rice", "added_alcohol",
                 "other_materials", "water_drop", "stored_years"),
        yes_no=("ginjo_making", "inspected_rice", "filtered", "heated_before_storage",
                "heated_at_bottling", "keeping_caution"),
        fixed=("--label",),
    ),
    "size": CellarForm(
        command="size",
        numbers=("pd", "d_prime", "alpha", "beta", "assessors", "samples", "replicates",
                 "interaction", "residual", "difference", "bottles"),
        flags=("similarity",),
    ),
}  # fmt: skip
_OTHER_WORDS = {"size.option_assessors": "size.option_n"}
_MANY = "claim"


def cellar_fields(form: str, language: str) -> list[SettingField]:
    """Return the fields of a form, in the words of its command's help."""
    asked = FORMS[form]
    made = []
    if form == "size":
        options = tuple((one, one) for one in _TESTS)
        label = say("desk.size_what", language)
        made.append(_field("what", "choice", label, options))
    if form == "blend":
        for part in range(1, PARTS + 1):
            for name in _PART:
                label = say("desk.of_part", language, n=part, name=name)
                made.append(_field(f"part{part}.{name}", "text", label))
        for name in _AIMS:
            label = say("desk.wanted", language, name=name)
            made.append(_field(f"to.{name}", "text", label))
    yes_no = (("", "–"), ("yes", say("desk.yes", language)), ("no", say("desk.no", language)))
    for kind, names in (("text", asked.numbers), ("choice", asked.yes_no), ("check", asked.flags)):
        for name in names:
            key = f"{asked.command}.option_{name}"
            label = say(_OTHER_WORDS.get(key, key), language)
            made.append(_field(name, kind, label, yes_no if kind == "choice" else ()))
    return made


def _field(
    name: str, kind: str, label: str, options: tuple[tuple[str, str], ...] = ()
) -> SettingField:
    return SettingField(name=name, place=("", name), kind=kind, label=label, options=options)


def cellar_words(form: str, given: Mapping[str, str]) -> list[str]:
    """Return the command that a filled form asks for; what is blank is not said.

    Examples
    --------
    >>> cellar_words("dilution", {"abv": "18", "dilute_to": "15", "acidity": " "})
    ['chemistry', '--abv=18', '--dilute-to=15']
    """
    asked = FORMS[form]
    told = {name: text.strip() for name, text in given.items() if text.strip()}
    words = [asked.command]
    if form == "size":
        words.append(told.get("what", "") if told.get("what") in _TESTS else _TESTS[0])
    words += asked.fixed
    if form == "blend":
        for part in range(1, PARTS + 1):
            pairs = [
                f"{name}={told[f'part{part}.{name}'].replace(',', '.')}"
                for name in _PART
                if f"part{part}.{name}" in told
            ]
            words += [f"--part={','.join(pairs)}"] if pairs else []
        words += [f"--to={name}={told[f'to.{name}']}" for name in _AIMS if f"to.{name}" in told]
    for name in (*asked.numbers, *asked.yes_no):
        option = f"--{name.replace('_', '-')}"
        values = told.get(name, "").split(",") if name == _MANY else [told.get(name, "")]
        words += [f"{option}={one.strip()}" for one in values if one.strip()]
    return words + [f"--{name}" for name in asked.flags if name in told]
