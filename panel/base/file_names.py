"""Names of files as they come from anywhere: to be kept under, and to be shown."""

from __future__ import annotations

import re

_LONGEST = 120  # bytes, so that a number before and an ending behind still fit
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")
_NO_LETTER = re.compile("[\ud800-\udfff]")
_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f-\x9f<>:"/\\|?*\u200e\u200f\u202a-\u202e\u2066-\u2069]')


def text_of(text: str) -> str:
    r"""Write what is no letter as signs, so that the text can be kept and shown.

    >>> text_of("sheet\udcff.csv")
    'sheet\\xff.csv'
    """
    return _NO_LETTER.sub(_as_signs, text)


def _as_signs(found: re.Match[str]) -> str:
    number = ord(found[0])
    # Bytes of a file's name that are not UTF-8 come as U+DC80 to U+DCFF.
    return f"\\x{number - 0xDC00:02x}" if 0xDC80 <= number <= 0xDCFF else f"\\u{number:04x}"


def safe_name(name: str) -> str:
    r"""Return a name that every file system takes, with its ending.

    >>> safe_name("CON.csv"), safe_name("a\nb.csv"), safe_name("s" * 250 + ".xlsx")[-9:]
    ('_CON.csv', 'a_b.csv', 'ssss.xlsx')
    """
    plain = _FORBIDDEN.sub("_", text_of(name)).rstrip(" .") or "_"
    if _RESERVED.fullmatch(plain):
        plain = f"_{plain}"
    stem, dot, ending = plain.rpartition(".")
    if not dot or len(ending.encode()) > 12:
        stem, dot, ending = plain, "", ""
    room = _LONGEST - len((dot + ending).encode())
    return stem.encode()[:room].decode("utf-8", "ignore") + dot + ending
