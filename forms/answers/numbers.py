"""Numbers as people write them: understood when they can be read in one way only.

Nothing is guessed. What could be two numbers, or a number of something else
(a percentage, points with a unit, a date), is told to a person instead.
"""

from __future__ import annotations

import re

# Japanese input writes digits and signs in full width; U+3000 is its blank.
_NARROW = {code: code - 0xFEE0 for code in range(0xFF01, 0xFF5F)} | {0x3000: 0x20, 0xA0: 0x20}
_INVISIBLE = dict.fromkeys([0x200B, 0x200C, 0x200D, 0x2060, 0xFEFF, 0x200E, 0x200F])
# Signs that stand for minus before a digit: hyphens, dashes, the minus sign,
# and the long-vowel marks that Japanese input gives for the minus key.
_MINUS = re.compile(r"^[\u2010-\u2015\u2212\u30fc\uff70\u2500\ufe63]\s*(?=[0-9.,])")

_PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?|[0-9]*\.[0-9]+)")
_COMMA = re.compile(r"([+-]?)([0-9]*),([0-9]+)")
_GROUPED = re.compile(
    r"[+-]?[1-9][0-9]{0,2}(?:,[0-9]{3}){2,}|[+-]?[1-9][0-9]{0,2}(?:,[0-9]{3})+\.[0-9]+"
)
_GROUPED_BY_POINT = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:\.[0-9]{3})+,[0-9]+")
_WITH_UNIT = re.compile(r"[+-]?[0-9][0-9.,]*\s*(%|‰|°|点|[A-Za-z\u3040-\u9fff]+\.?)")


class Unclear(ValueError):
    """What stands there cannot be taken as an answer.

    Attributes
    ----------
    kind : str
        Kind of the `Fault` to list.
    """

    def __init__(self, kind: str) -> None:
        self.kind = kind
        super().__init__(kind)


def tidied(text: str) -> str:
    """Bring full-width letters and digits to their narrow form and strip blanks.

    Examples
    --------
    >>> tidied("　３．５ "), tidied("Ａ０１")
    ('3.5', 'A01')
    """
    return text.translate(_INVISIBLE).translate(_NARROW).strip()


def number_of(text: str) -> float:
    """Read one number from text.

    A decimal comma is read as such unless exactly three digits follow it
    (``1,500``), which others read as fifteen hundred.

    Raises
    ------
    Unclear
        `ambiguous_number` for what can be read as two numbers, `unit` for a
        percentage or a number with a unit, `not_a_number` for all else.

    Examples
    --------
    >>> number_of("3,5"), number_of("３．５"), number_of("ー２"), number_of("0,125")
    (3.5, 3.5, -2.0, 0.125)
    >>> number_of("1,500")
    Traceback (most recent call last):
    kikichoko.forms.answers.numbers.Unclear: ambiguous_number
    """
    plain = _MINUS.sub("-", tidied(text))
    if _PLAIN.fullmatch(plain):
        return float(plain)
    if found := _COMMA.fullmatch(plain):
        sign, whole, part = found.groups()
        if len(part) == 3 and 1 <= len(whole) <= 3 and whole[0] != "0":
            raise Unclear("ambiguous_number")
        return float(f"{sign}{whole or 0}.{part}")
    if _GROUPED.fullmatch(plain):
        return float(plain.replace(",", ""))
    if _GROUPED_BY_POINT.fullmatch(plain):
        return float(plain.replace(".", "").replace(",", "."))
    raise Unclear("unit" if _WITH_UNIT.fullmatch(plain) else "not_a_number")


def written_number(value: float) -> str:
    """Write a number as it would be typed: 7 for 7.0.

    Examples
    --------
    >>> written_number(7.0), written_number(3.25)
    ('7', '3.25')
    """
    whole = abs(value) < 1e15 and value == int(value)
    return str(int(value)) if whole else repr(float(value))
