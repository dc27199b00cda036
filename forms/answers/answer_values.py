"""What an answer means: from what stands in a cell to the value of a question.

The same rules hold for score sheets and for typed tables; `docs/faults.md`
lists what is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress

from ..questions.question_types import Kind, Option, Question
from ..questions.words import languages, say
from .cells import Written
from .numbers import Unclear, number_of, tidied, written_number

# Signs of a tick beside the words for yes. A cross says yes in some places and
# no in others, so it is not understood.
TICKS = {"✓", "✔", "☑", "√", "レ", "○", "〇", "◯"}
CROSSES = {"×", "✕", "✖", "✗", "✘", "☒", "☓", "╳", "⨯"}


def listed(key: str, language: str) -> tuple[str, ...]:
    """Return a catalogue entry that is a list of words, one between each ``|``."""
    return tuple(part.strip() for part in say(key, language).split("|"))


def expected(question: Question, language: str, codes: Sequence[str] = ()) -> str:
    """Say what can be answered, in a few signs: a range, or the words in order."""
    match question.kind:
        case Kind.CATEGORY | Kind.BALANCE:
            return "; ".join(option.label.to(language) for option in question.options)
        case Kind.TICKS:
            return "; ".join(listed("value.ticks", language))
        case Kind.FAULTS:
            return "; ".join(written_number(value) for value in question.values)
        case Kind.CHOICE:
            return "; ".join(question.cups(codes))
        case Kind.RANKING:
            return f"1–{len(codes)}"
        case _:
            between = "–" if question.low >= 0 else " … "
            return f"{written_number(question.low)}{between}{written_number(question.high)}"


def understand(
    question: Question,
    cell: Written,
    language: str,
    codes: Sequence[str] = (),
    *,
    places_used: bool | None = None,
) -> float | str:
    """Read the answer to one question from one cell that is not blank.

    Parameters
    ----------
    question : Question
    cell : Written
    language : str
        Language of the assessor's sheet: what a lone ``x`` means depends on it.
    codes : sequence of str
        Codes of the cups that are judged together, for choices and rankings.
    places_used : bool, optional
        Whether numbers in the same file name places in the list of words
        (1 for the first) and not values; None if that cannot be known.

    Returns
    -------
    float or str
        The value; text for free words and for a chosen code.

    Raises
    ------
    Unclear
        With the kind of the `Fault`.
    """
    if question.kind is Kind.WORDS:
        return cell.text
    if cell.trouble:
        raise Unclear(cell.trouble)
    match question.kind:
        case Kind.TICKS:
            return tick(cell, language)
        case Kind.CATEGORY | Kind.BALANCE:
            return _option(question, cell, places_used=places_used)
        case Kind.CHOICE:
            return code_of(cell, question.cups(codes))
        case _:
            return _number(question, cell, len(codes))


def tick(cell: Written, language: str) -> float:
    """Read a tick: 1 where it says yes, 0 where it says no."""
    if isinstance(cell.value, bool):
        raise Unclear("boolean")  # a box that is ticked, a formula's result, or a slip
    text = tidied(str(cell.value)).casefold()
    with suppress(Unclear):  # a sign or a word
        text = written_number(number_of(text))
    if text in CROSSES or (text == "x" and language == "ja"):
        raise Unclear("cross")
    if text in TICKS:
        return 1.0
    for answer, key in ((1.0, "value.yes"), (0.0, "value.no")):
        if any(text in listed(key, spoken) for spoken in languages()):
            return answer
    raise Unclear("not_a_tick")


def code_of(cell: Written, codes: Sequence[str]) -> str:
    """Read the code of a cup: the same sign by sign, or with its zeros put back."""
    text = tidied(written_number(cell.value) if isinstance(cell.value, float) else str(cell.value))
    for code in codes:
        if text == code:
            return code
    padded = [code for code in codes if text.isdigit() and text.zfill(len(code)) == code]
    if len(padded) == 1:
        return padded[0]
    raise Unclear("not_an_option")


def option_of(text: str, options: Sequence[Option]) -> Option | None:
    """Find the one option whose label in any language, or whose key, is `text`."""
    wanted = _folded(text)
    found = [option for option in options if wanted in _names(option)]
    return found[0] if len(found) == 1 else None


def _names(option: Option) -> set[str]:
    names = {_folded(text) for _, text in option.label.texts}
    # A key that is a number is read as a number, with the care that needs.
    return names if option.key.lstrip("+-").isdigit() else names | {_folded(option.key)}


def _folded(text: str) -> str:
    return tidied(text).casefold()


def _option(question: Question, cell: Written, *, places_used: bool | None) -> float:
    """Read one of several words in order; a number counts as its value.

    A number that is one option's value and another option's place in the list
    is not guessed at, unless a sign before it says that it is a value.
    """
    if isinstance(cell.value, bool):
        raise Unclear("not_an_option")
    text = written_number(cell.value) if isinstance(cell.value, float) else str(cell.value)
    option = option_of(text, question.options)
    if option is not None:
        return option.value
    try:
        number = number_of(text)
    except Unclear as unclear:
        raise Unclear("not_an_option") from unclear
    values = [option.value for option in question.options]
    if number not in values:
        raise Unclear("not_an_option")
    place = values.index(number) + 1
    could_be_place = number in range(1, len(values) + 1) and place != number
    if could_be_place and places_used is not False and not tidied(text).startswith("+"):
        raise Unclear("ambiguous_option")
    return number


def _number(question: Question, cell: Written, cups: int) -> float:
    """Read a number on a line, a severity, or a place in a ranking."""
    if isinstance(cell.value, bool):
        raise Unclear("boolean")
    number = cell.value if isinstance(cell.value, float) else number_of(str(cell.value))
    low, high = (1.0, float(cups)) if question.kind is Kind.RANKING else (0.0, 3.0)
    if question.kind is Kind.LINE:
        low, high = question.low, question.high
    if not low <= number <= high:
        raise Unclear("out_of_range")
    if question.kind is Kind.FAULTS and number not in question.values:
        raise Unclear("not_an_option")
    if question.kind is Kind.RANKING and number * 2 % 1:
        raise Unclear("not_an_option")  # the mean of two places ends in .0 or .5
    return number
