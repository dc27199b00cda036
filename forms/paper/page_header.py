"""Head and foot of a printed page: who, which cup, which page."""

from __future__ import annotations

from collections.abc import Sequence

from ..questions.question_types import Kind
from ..questions.sheet import Presentation, Sheet
from ..questions.words import say
from .page_parts import CORNER, EDGE, LINE_LENGTH, MARGIN, QR_SIZE, SIZES, Canvas
from .typeset import fit, width


def header(
    canvas: Canvas,
    sheet: Sheet,
    presentations: Sequence[Presentation],
    paper: str,
    *,
    page: tuple[int, int],
    part: tuple[int, int],
) -> None:
    """Put head and foot on a page; `page` and `part` are number and total."""
    wide, high = SIZES[paper]
    left = EDGE + CORNER + 4
    right = wide - left - QR_SIZE - 4
    language = sheet.language

    lines, size = fit(sheet.title, right - left, 9.0, lines=1, smallest=8.0)
    canvas.say(left, 10.8, lines[0], size)
    about = f"{say('sheet.assessor', language)} {sheet.assessor}   {sheet.date}"
    if sheet.spare:
        about += f"   {say('sheet.spare', language)}"
    canvas.say(left, 15.4, about, 9.0, bold=True)
    if not presentations:
        canvas.say(left, 25.6, say("sheet.title", language), 22.0, bold=True)
    elif len(presentations) > 1:
        _cups(canvas, sheet, presentations, (left, right))
    else:
        _cup(canvas, sheet, presentations[0], (left, right), part)
    canvas.rule(MARGIN, 31.5, wide - MARGIN, 31.5, width=0.35)

    foot = [say("paper.page", language, page=page[0], total=page[1]), sheet.session]
    foot += [say("sheet.plan", language, number=sheet.plan)] if sheet.plan else []
    canvas.say(left, high - 10.3, "   ".join(foot), 8.0)
    if presentations:
        key = f"paper.hint{_answered(sheet, presentations)}"
        hint = say(key, language, length=f"{LINE_LENGTH:g}")
        room = wide - 2 * left - width("   ".join(foot), 8.0) - 8
        lines, size = fit(hint, room, 8.0, lines=1, smallest=8.0)
        for place, line in enumerate(reversed(lines)):
            canvas.say(wide - left, high - 10.3 - 3.2 * place, line, size, align="r")


def _cups(
    canvas: Canvas, sheet: Sheet, presentations: Sequence[Presentation], room: tuple[float, float]
) -> None:
    """Say which cups or sets stand on a side, and in which flight."""
    left, right = room
    language = sheet.language
    counted = [one for one in presentations if one.counted]
    total = sheet.cups
    sets = any(len(one.codes) > 1 and not one.beneath for one in presentations)
    first, last = counted[0].number, counted[-1].number
    key = "paper.sets_here" if sets else "paper.cups_here"
    if first == last:
        text = say("paper.cup_here", language, number=first, total=total)
    else:
        key += "_two" if last == first + 1 else ""
        text = say(key, language, first=first, last=last, total=total)
    lines, size = fit(text, right - left, 18.0, lines=1, smallest=12.0, bold=True)
    canvas.say(left, 24.4, lines[0], size, bold=True)
    about = [sheet.flight_name(counted[0])]
    rest = next((one for one in presentations if one.rest_before), None)
    if rest:
        about.append(sheet.rest_before(rest))
    lines, size = fit(" · ".join(about), right - left, 9.0, lines=1, smallest=8.0)
    canvas.say(left, 29.6, lines[0], size, bold=bool(rest))


def _answered(sheet: Sheet, presentations: Sequence[Presentation]) -> str:
    """Tell whether a page is answered on lines, in circles alone, in boxes, or in several."""
    kinds = {question.kind for one in presentations for question in sheet.questions(one)}
    kinds -= {Kind.WORDS}
    if Kind.LINE in kinds:
        return "_line" if kinds == {Kind.LINE} else ""
    return "_box" if Kind.TICKS in kinds else "_circle"


def _cup(
    canvas: Canvas,
    sheet: Sheet,
    presentation: Presentation,
    room: tuple[float, float],
    part: tuple[int, int],
) -> None:
    """Say which cup is judged: its code large, its place in the order beside it."""
    left, right = room
    language = sheet.language
    turned = presentation.beneath
    code = say("sheet.beneath", language) if turned else "  ".join(presentation.codes)
    most = (right - left) * 0.62
    size = 26.0
    while width(code, size, bold=True) > most and size > 12:
        size -= 1
    code_lines = [code]
    if sheet.named and width(code, size, bold=True) > most:
        code_lines, size = fit(code, most, 11.0, lines=2, smallest=8.0, bold=True)
    for under, line in enumerate(code_lines, start=1 - len(code_lines)):
        canvas.say(left, 25.6 + 4.4 * under, line, size, bold=True)
    beside = left + max(width(line, size, bold=True) for line in code_lines) + 5
    if turned:
        lines = [sheet.flight_name(presentation)]
    elif presentation.counted:
        total = sheet.cups
        lines = [
            say("sheet.cup_of", language, number=presentation.number, total=total),
            sheet.flight_name(presentation),
        ]
        if len(presentation.codes) > 1:
            lines[0] = say("paper.set_of", language, number=presentation.number, total=total)
    else:
        lines = [say("sheet.warm_up", language)]
    if part[1] > 1:
        lines[-1] += f" · {say('paper.part', language, part=part[0], parts=part[1])}"
    for place, line in enumerate(lines):
        broken, letters = fit(line, right - beside, 9.0, lines=1, smallest=8.0)
        canvas.say(beside, 20.8 + 4.8 * place, " ".join(broken), letters)
    if presentation.rest_before and part[0] == 1:
        rest = sheet.rest_before(presentation)
        broken, letters = fit(rest, right - left, 9.0, lines=1, smallest=8.0)
        canvas.say(left, 30.0, broken[0], letters, bold=True)
