"""Where a line may end, on paper and on a terminal, in English and Japanese."""

from __future__ import annotations

import re
import unicodedata

# Marks that must not begin a line in Japanese, and those that must not end one.
_NOT_FIRST = frozenset(
    "、。，．・：；？！）］｝」』】〉》ー々ぁぃぅぇぉっゃゅょァィゥェォッャュョ…‥,.;:!?)]}%"
)
_NOT_LAST = frozenset("（［｛「『【〈《([{")
_JOINER = "\u2060"
_QUOTED = r"""(?:'[^']*'|"[^"]*"|\\.|[\w@%+=:,./~-])+"""
_COMMAND = re.compile(
    rf"kikichoko [a-z]+(?: (?!-){_QUOTED})?(?: (?:--?[a-z][a-z-]*(?: (?!-){_QUOTED})?|undo"
    r"""|[A-Z0-9][\w.]*|(?=['"])"""
    rf"{_QUOTED}))*",
    re.ASCII,
)
"""A command to paste: its word, a folder, options with their values, capitals to be replaced."""
_HEAD = re.compile(r" *(?:[-·] |\d+[:.] )?")
"""What stands before the words of a line in a list."""
_WORD = re.compile(r"""(?:'[^']*'|"[^"]*"|[^\s'"])+\s*""")


def is_wide(letter: str) -> bool:
    """Tell whether a letter is Japanese, so that a line may end beside it."""
    return ord(letter) > 0x2E7F


def columns(text: str) -> int:
    """Count the columns that a text takes on a terminal (Unicode Standard Annex 11).

    Examples
    --------
    >>> columns("sake"), columns("酒"), columns("か\u3099")
    (4, 2, 2)
    """
    if text.isascii():
        return len(text)
    alone = [letter for letter in text if not unicodedata.combining(letter)]
    return len(alone) + sum(unicodedata.east_asian_width(letter) in "WF" for letter in alone)


def pieces(text: str) -> list[str]:
    """Cut a text where a line may end: after blanks, and between Japanese characters.

    Examples
    --------
    >>> pieces("a cup"), pieces("杯（水）、")
    (['a ', 'cup'], ['杯', '（水）、'])
    >>> len(pieces("1～2")), len(pieces("1\u2060～\u20602"))
    (3, 1)
    """
    found: list[str] = []
    for letter in text:
        last = found[-1][-1] if found else ""
        new = (
            not last
            or last == " "
            or (
                (is_wide(last) or is_wide(letter))
                and letter not in _NOT_FIRST
                and last not in _NOT_LAST
                and letter != " "
                and _JOINER not in (letter, last)
            )
        )
        if new:
            found.append(letter)
        else:
            found[-1] += letter
    return found


def broken(text: str, width: int, indent: str = "") -> list[str]:
    r"""Break one line into lines of so many columns; a command to paste stays whole.

    Later lines begin with `indent`. A command that is too long goes on below as a shell has it,
    after a backslash; what cannot be broken is longer than `width`.

    Examples
    --------
    >>> broken("瓶を一本開ける。 kikichoko plan tank", 20)
    ['瓶を一本開ける。', 'kikichoko plan tank']
    >>> broken("kikichoko plan 'tank 3' --again", 26)
    ["kikichoko plan 'tank 3' \\", '    --again']
    """
    lines = [""]
    for piece in _whole_commands(text):
        if lines[-1].strip() and columns(lines[-1] + piece.rstrip()) > width:
            lines.append(indent)
        if columns(lines[-1] + piece.rstrip()) > width and _COMMAND.search(piece):
            lines[-1:] = _continued(piece, width)
        else:
            lines[-1] += piece
    return [line.rstrip() for line in lines]


def _whole_commands(text: str) -> list[str]:
    found: list[str] = []
    start = 0
    for command in _COMMAND.finditer(text):
        begin, end = command.span()
        while begin > start and text[begin - 1] in _NOT_LAST:
            begin -= 1
        found += pieces(text[start:begin])
        while end < len(text) and text[end] in _NOT_FIRST:
            end += 1
        found.append(text[begin:end])
        start = end
    return found + pieces(text[start:])


def _continued(command: str, width: int) -> list[str]:
    """Break a command between its words, as a shell reads it."""
    lines = [""]
    for word in _WORD.findall(command):
        if lines[-1].strip() and columns(lines[-1] + word.rstrip()) > width - 2:
            lines[-1] += "\\"
            lines.append("    ")
        lines[-1] += word
    return lines


def folded(text: str, width: int) -> str:
    r"""Break the lines of a message to `width` columns; what is set out in columns stays.

    A line within which two blanks stand together is set out; the later lines of a list stand
    below the words of its first.

    Examples
    --------
    >>> print(folded("- a cup of sake\na  b  c  d  e", 10))
    - a cup of
      sake
    a  b  c  d  e
    """
    lines: list[str] = []
    for line in text.split("\n"):
        if columns(line) <= width or "  " in line.lstrip():
            lines.append(line)
        else:
            head = _HEAD.match(line)
            lines += broken(line, width, " " * (len(head[0]) if head else 0))
    return "\n".join(lines)
