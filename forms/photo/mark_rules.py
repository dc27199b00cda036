"""What marks mean: the rules that docs/paper.md states.

A rule either gives an answer or says why a person must look. It never picks
the likelier of two.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..paper.page_parts import Box, Scale
from .mark_ink import PARTLY, RING, RISING, RISING_FAR, THIN, BoxInk, Ink, LineInk, edge_only
from .straighten import Flat

CLEAR = 0.22  # darkness from which a mark counts, print being 1
SHARE = 0.5  # and as a share of the page's usual mark
TRACE = 0.035  # darkness below which a box is empty on a good photo
_LEAST_TRACE = 0.022
LENGTH = 2.1  # millimetres: anything shorter in a box may be a speck
PALE, GRAIN = 1.5, 0.6  # times a trace, and millimetres, below which it is a grain of the picture
BLACK = 0.82  # share of a box's inside from which it counts as filled
PATCH_WIDTH, PATCH_FILL = 4.0, 0.88  # a struck-out place on a line
PATCH_WIDEST = 9.0  # and wider than this it is none: print beside its place, say
NEAR_END = 1.0  # millimetres from an end within which a stroke is asked about beside other ink
OTHER = 0.5  # and on flat paper is so many times as dark as a mark must be
LEAST_INK = 1.0  # and that ink reaches as far from the line: less is the blurred line itself
INKED = 0.75  # share of the way round that has ink below which a ring may be print astray
ALL_ROUND = 0.5  # share of the way round from which ink in pieces may be rings upon each other
LEVEL = 0.58  # angle from level, in radians, within which a stroke through a mark strikes it out
LEVEL_BLACK = 0.95  # and through a filled circle, whose own strokes stick out as well
STEEP = 1.2  # and up to which it goes down to the right, as no leg of a tick does
CROSSES = 0.85  # share of marks with two slants across that shows a hand of crosses
BOTH_SIDES = 0.55  # millimetres by which what strikes a mark through sticks out left and right
OPEN_ABOVE = 0.05  # square millimetres between the legs of a tick or upper arms of a cross
NARROW = 2.6  # millimetres: what is narrower is neither, ditto marks say
SOLID = 0.82  # share of a box from which a mark is a fill and need not be open above
SLASHES = 0.5  # share of marks that are one straight stroke which shows a hand of such strokes
RUNS_ON = 20.0  # millimetres: what is pale and as long as this is a stain, not a mark
DIM = 0.5  # share of the darkness of a mark at which what seems empty is not surely so
WHITENED = 0.001  # noise up to which a program has whitened the paper, and light marks with it
CRUMBS = 3  # broken marks on a page of black and white alone from which it shows pencil badly
BLANK = 0.25  # share of blank lines, if there are two or more, that shows the same
TOO_BENT = 1.6  # millimetres of a page's bend from which no place along a line is sure
TOO_MANY = 0.25  # share of questions with their print astray from which none is believed
_BLOB = 0.78  # share from which something as wide is neither stroke nor surely struck out
NOTCH = 0.55  # and how dark it is between the arms of a cross at most, over and under the line
BESIDE_END = 1.0  # millimetres beyond an end that still count as the end
_TICK_TRACE = 0.2  # darkness that the blurred edge of an end tick can have
_TICK_HIGH = 2.05  # and how far from the line, in millimetres, unless it is half as dark
_TICK_ENDS = 1.8  # how far both ends of a stroke upon an end tick must reach
BLURRED_END = 1.0  # millimetres from an end in which a trace is its own, beside a stroke elsewhere
_TICK_WIDE = 0.75  # and how far beside its place
_APART = 4.5  # millimetres between a stroke and other ink on its line
_WIDE = 5.6  # a mark wider than this close to the line is no stroke
_CORRECTED = 0.9  # how sure an answer beside a struck-out mark is at most
_RINGED = 0.8  # and one that is ringed


_ASKED = (
    "faint",
    "speck",
    "crossed",
    "ringed",
    "near",
    "sign",
)  # states that the rules do not settle


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The meaning of one question's marks.

    Attributes
    ----------
    code, attribute : str
    value : float or str or None
        The answer; None if nothing was marked, or a person must look.
    confidence : float
        0.5 at a rule's limit, 1 at twice the limit or more.
    reason : str
        Why a person must look; empty if the rules settle it.
    written : str
        What was seen, for the record.
    candidates : tuple of float or str
        What the marks could mean, if a person must look.
    """

    code: str
    attribute: str
    value: float | str | None = None
    confidence: float = 1.0
    reason: str = ""
    written: str = ""
    candidates: tuple[float | str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Limits:
    """Limits of one page: what its pen usually does, and how noisy its photo is."""

    clear: float
    trace: float
    fills: bool
    opens: bool
    crosses: bool = False
    slashes: bool = False
    dim: bool = False
    bent: bool = False
    followed: bool = False


def judge(ink: Ink, flat: Flat) -> Iterator[Verdict]:
    """Apply the rules to all marks of a page."""
    limits = _limits(ink, flat)
    keys = {(one.box.code, one.box.attribute) for one in ink.boxes}
    lines = {(scale.code, scale.attribute) for scale, _ in ink.lines}
    keys |= lines
    none = len(ink.lost) > TOO_MANY * len(keys)
    for one in _by_the_rules(ink, limits):
        reason, asked = "", (one.code, one.attribute)
        if none or asked in ink.lost:
            reason = "astray"
        elif flat.bend > TOO_BENT and asked in lines:
            reason = "astray"  # between its ends nothing says how far along a place is
        elif one.reason:
            pass
        elif limits.dim and not one.value:
            reason = "dim"
        elif asked in ink.loose:
            reason = "near"
        yield _withheld(one, reason) if reason else one


def _withheld(one: Verdict, reason: str) -> Verdict:
    """Ask about what the rules would have settled, or give another reason to ask."""
    seen = one.candidates if one.value is None else (one.value,)
    return Verdict(code=one.code, attribute=one.attribute, reason=reason, candidates=seen)


def _by_the_rules(ink: Ink, limits: _Limits) -> Iterator[Verdict]:
    """Judge each question by its own marks."""
    groups: dict[tuple[str, str], list[BoxInk]] = {}
    for one in ink.boxes:
        if one.box.role == "one":
            groups.setdefault((one.box.code, one.box.attribute), []).append(one)
        else:
            yield _tick(one, limits)
    for group in groups.values():
        yield _one_of(group, limits)
    for scale, found in ink.lines:
        yield _line(scale, found, limits)


def _limits(ink: Ink, flat: Flat) -> _Limits:
    depths = [one.depth for one in ink.boxes if one.depth >= CLEAR]
    depths += [
        one.depth for _, found in ink.lines for one in found if one.crosses and one.depth >= CLEAR
    ]
    clear = max(CLEAR, SHARE * float(np.median(depths))) if depths else CLEAR
    trace = _trace(ink, flat)
    strong = [one for one in ink.boxes if one.depth >= clear and one.extent >= LENGTH]
    marked: dict[tuple[str, str], int] = {}
    for one in strong:
        if one.fill < BLACK:
            key = (one.box.code, one.box.attribute)
            marked[key] = marked.get(key, 0) + 1
    opens = sum(marked.values())
    # A black box beside a ticked one is a correction and says nothing of the hand.
    fills = sum(
        one.fill >= BLACK and (one.box.code, one.box.attribute) not in marked for one in strong
    )
    drawn = [one for one in strong if one.fill < BLACK]
    light_lost = (flat.two_tone and _lost_light(ink, clear, trace)) or (
        flat.noise <= WHITENED and _broken(ink, clear, trace) >= CRUMBS
    )
    return _Limits(
        clear,
        trace,
        fills=fills > 0 and fills >= opens and not light_lost,
        opens=opens > 3 * fills or light_lost,
        crosses=sum(one.cross for one in drawn) > CROSSES * len(drawn),
        slashes=sum(_is_sign(one) and one.shape.straight for one in drawn) > SLASHES * len(drawn),
        dim=trace > DIM * clear or light_lost,
        bent=flat.bend > TOO_BENT,
        followed=flat.bent,
    )


def _lost_light(ink: Ink, clear: float, trace: float) -> bool:
    """Tell whether a picture of black and white alone broke marks up, or lost those on lines."""
    blank = sum(not any(one.crosses and one.depth >= clear for one in found)
                for _, found in ink.lines)  # fmt: skip
    lines = len(ink.lines)
    enough = CRUMBS if lines > 1 else 1  # where hardly a line bears witness, one will do
    return _broken(ink, clear, trace) >= enough or blank > max(min(1, lines - 1), BLANK * lines)


def _broken(ink: Ink, clear: float, trace: float) -> int:
    """Count marks that are pale or short, and lines at which ink lies that does not cross them."""
    boxes = sum(one.depth >= trace and (one.depth < clear or one.extent < LENGTH)
                for one in ink.boxes)  # fmt: skip
    lines = sum(any(not one.upon for one in found) and not any(one.crosses for one in found)
                for _, found in ink.lines)  # fmt: skip
    return boxes + lines


def _trace(ink: Ink, flat: Flat) -> float:
    """Return the darkness from which something is in a box, from what empty boxes show."""
    low = [one.depth for one in ink.boxes if one.depth < CLEAR]
    if len(low) < 12:
        return max(TRACE, 2.5 * flat.noise)
    middle = float(np.median(low))
    spread = 1.4826 * float(np.median(np.abs(np.array(low) - middle)))
    return float(np.clip(middle + 4.5 * spread, _LEAST_TRACE, 0.12))


def _sure(measure: float, limit: float) -> float:
    return float(np.clip(0.5 * measure / limit, 0.5, 1.0))


def _blank(depth: float, limits: _Limits) -> float:
    """Return how sure it is that nothing is there: less where a light mark would hardly show."""
    seen = min(1 - 0.5 * depth / limits.trace, 1 - limits.trace / limits.clear)
    return float(np.clip(seen, 0.5, 1.0))


def _state(one: BoxInk, limits: _Limits) -> str:
    if one.covered >= limits.clear > one.depth:
        return "near"  # what was taken off as a neighbour's ring may be this one's mark
    if one.ring >= RING:
        if one.depth >= limits.clear:
            return "ringed"
        return "near" if limits.bent or one.around < INKED else "ring"
    if one.ring >= PARTLY and one.fill >= BLACK:
        return "ringed"
    if one.depth < limits.trace or _grain(one, limits):
        return "near" if one.ring >= PARTLY or one.around >= ALL_ROUND else "empty"
    if one.depth < limits.clear or one.runs >= RUNS_ON:
        return "faint"
    if limits.bent and one.fill < THIN:
        return "near"  # its own outline may have come inside
    if one.touched or edge_only(one):
        return "near"
    if one.extent < LENGTH:
        return "speck"
    if _struck(one, limits):
        return "crossed"
    if _is_sign(one) and not (one.shape.straight and limits.slashes):
        return "sign"
    return "black" if one.fill >= BLACK else "marked"


def _grain(one: BoxInk, limits: _Limits) -> bool:
    """Tell whether a trace is no mark: a grain, or at the edge of the box alone."""
    small = 0 < one.extent < GRAIN or one.inner < limits.trace
    return small and one.depth < PALE * limits.trace


def _struck(one: BoxInk, limits: _Limits) -> bool:
    """Tell whether a mark is struck through: by a level stroke, or one more than usual."""
    if one.shape.beyond >= BOTH_SIDES:
        return True
    black = one.fill >= BLACK
    limit = LEVEL_BLACK if black else LEVEL
    level = any(min(way, np.pi - way) < limit for way in one.through)
    if level or black:
        return level or one.rises > 0
    odd = any(way < STEEP for way in one.through)
    rises = one.rises >= (RISING_FAR if limits.crosses else RISING)
    return rises or len(one.through) > 2 or (odd and not limits.crosses)


def _is_sign(one: BoxInk) -> bool:
    """Tell whether a mark is neither tick nor cross nor fill: a number, a "?" or a ditto, say."""
    closed = one.shape.open_above < OPEN_ABOVE or one.shape.wide < NARROW
    return one.fill < SOLID and closed


def _tick(one: BoxInk, limits: _Limits) -> Verdict:
    box = one.box
    state = _state(one, limits)
    sure = min(_sure(one.depth, limits.clear), _sure(one.extent, LENGTH))
    if state == "black" and not limits.fills:
        state = "struck"
    match state:
        case "empty":
            blank = _blank(one.depth, limits)
            return Verdict(code=box.code, attribute=box.attribute, value=0.0, confidence=blank)
        case "ring":
            return Verdict(
                code=box.code, attribute=box.attribute, value=1.0, confidence=_RINGED, written="◯"
            )
        case "marked" | "black":
            return Verdict(
                code=box.code, attribute=box.attribute, value=1.0, confidence=sure, written="✓"
            )
        case reason:
            return Verdict(
                code=box.code, attribute=box.attribute, reason=reason, candidates=(1.0, 0.0)
            )


def _one_of(group: Sequence[BoxInk], limits: _Limits) -> Verdict:
    first = group[0].box
    states = _settled([_state(one, limits) for one in group], group, limits)
    marked = [one for one, state in zip(group, states, strict=True) if state == "marked"]
    black = [one for one, state in zip(group, states, strict=True) if state == "black"]
    weak = [state for state in states if state in _ASKED]
    ringed = [one for one, state in zip(group, states, strict=True) if state == "ring"]
    if weak:
        return _ask(first, weak[0], group, states)
    if ringed:
        (one, *more) = ringed
        if more or marked or black:
            return _ask(first, "double", group, states)
        return Verdict(
            code=first.code,
            attribute=first.attribute,
            value=one.box.value,
            confidence=_RINGED,
            written=_written(one.box, corrected=False) + " ◯",
        )
    if not marked and not black:
        blank = _blank(max(one.depth for one in group), limits)
        return Verdict(code=first.code, attribute=first.attribute, confidence=blank)
    corrected = bool(black) and len(marked) == 1 and not limits.fills
    lone = len(marked) + len(black) == 1
    if lone and black and limits.opens:
        return _ask(first, "struck", group, states)
    if not lone and not corrected:
        return _ask(first, "double", group, states)
    (one,) = marked or black
    sure = min(_sure(one.depth, limits.clear), _sure(one.extent, LENGTH))
    return Verdict(
        code=first.code,
        attribute=first.attribute,
        value=one.box.value,
        confidence=min(sure, _CORRECTED) if corrected else sure,
        written=_written(one.box, corrected=corrected),
    )


def _settled(states: list[str], group: Sequence[BoxInk], limits: _Limits) -> list[str]:
    """Take a filled circle beside a tick or cross, on a page of these, as black.

    It is struck out; whatever strikes it through only says the same.
    """
    if states.count("marked") != 1 or not limits.opens:
        return states
    filled = [one.fill >= BLACK for one in group]
    return [
        "black" if state == "crossed" and full else state
        for state, full in zip(states, filled, strict=True)
    ]


def _written(box: Box, *, corrected: bool) -> str:
    value = box.value if isinstance(box.value, str) else f"{box.value:g}"
    return f"[{value}]" + (" ■" if corrected else "")


def _ask(first: Box, reason: str, group: Sequence[BoxInk], states: Sequence[str]) -> Verdict:
    seen = [one.box.value for one, state in zip(group, states, strict=True) if state != "empty"]
    return Verdict(
        code=first.code, attribute=first.attribute, reason=reason, candidates=tuple(seen)
    )


def _line(scale: Scale, seen_there: Sequence[LineInk], limits: _Limits) -> Verdict:
    found = [one for one in seen_there if not one.upon]
    dots = [one for one in seen_there if one.upon]
    patches = [
        one
        for one in found
        if PATCH_WIDTH <= one.width <= PATCH_WIDEST
        and one.fill >= PATCH_FILL
        and one.depth >= limits.clear
        and one.notch >= NOTCH
        and _from_end(scale, one) > 1.5  # a cross over an end tick looks as solid
    ]
    others = [one for one in found if one not in patches]
    strokes = [one for one in others if one.crosses and one.depth >= limits.clear]
    blobs = [
        one
        for one in strokes
        if one.width >= 0.9 * PATCH_WIDTH and one.fill >= _BLOB and one.notch >= NOTCH
    ]
    weak = [
        one
        for one in others
        if one.crosses
        and limits.clear > one.depth >= max(0.05, limits.trace)
        and one.width < _WIDE
        and not (_print_of_end(scale, one) if strokes else _end_tick(scale, one))
    ]
    strays = [
        one
        for one in others
        if not one.crosses and one.depth >= limits.clear and one.above + one.below > 1.6
    ]
    seen = tuple(_value(scale, one.x) for one in (*strokes, *weak, *strays, *dots))

    def ask(reason: str) -> Verdict:
        return Verdict(code=scale.code, attribute=scale.attribute, reason=reason, candidates=seen)

    if len(strokes) > 1:
        return ask("double")
    if blobs:
        return ask("wide")
    if weak:
        return ask("faint")
    if not strokes:
        if strays:
            return ask("beside")
        if any(one.width >= _WIDE and one.depth >= max(0.05, limits.trace) for one in others):
            return ask("wide")  # in what runs along the line a stroke may be hidden
        if dots:
            return ask("beside")
        if not patches and _upon_an_end(scale, others, limits):
            return ask("faint")
        return ask("struck") if patches else Verdict(code=scale.code, attribute=scale.attribute)
    (one,) = strokes
    if any(stray.gap < 1.2 for stray in strays):
        return ask("double")
    if one.runs >= RUNS_ON:
        return ask("faint")
    other_ink = any(
        abs(other.x - one.x) > _APART
        and other.depth >= (max(0.05, limits.trace) if limits.followed else OTHER * limits.clear)
        and max(other.above, other.below) >= LEAST_INK
        and not (other in patches and not limits.followed)
        and not _print_of_end(scale, other)
        for other in found
    )
    if other_ink and _from_end(scale, one) <= NEAR_END:
        return ask("double")  # the end itself may be taken for a stroke
    if not -BESIDE_END <= one.x - scale.x <= scale.length + BESIDE_END:
        return ask("off")
    if one.width > _WIDE:
        return ask("wide")
    sure = _sure(one.depth, limits.clear)
    return Verdict(
        code=scale.code,
        attribute=scale.attribute,
        value=_value(scale, one.x),
        confidence=min(sure, _CORRECTED) if patches else sure,
        written=f"{one.x - scale.x:.1f} mm" + (" ■" if patches else ""),
    )


def _upon_an_end(scale: Scale, others: Sequence[LineInk], limits: _Limits) -> bool:
    """Tell whether a light stroke lies upon an end tick, which hides all but its two ends."""
    there = [
        one
        for one in others
        if _from_end(scale, one) < _TICK_WIDE and one.depth >= max(0.05, limits.trace)
    ]
    both = all(any(high >= _TICK_ENDS for high in way) for way in (
        [one.above for one in there], [one.below for one in there]))  # fmt: skip
    return both and not all(_end_tick(scale, one) for one in there)


def _end_tick(scale: Scale, one: LineInk) -> bool:
    """Tell whether a trace is what a blurred photo shows of a printed end tick."""
    high = max(one.above, one.below)
    seen = _TICK_TRACE if high <= _TICK_HIGH else _TICK_TRACE / 2
    return _from_end(scale, one) < _TICK_WIDE and one.depth < seen


def _print_of_end(scale: Scale, one: LineInk) -> bool:
    """Tell whether a trace is a printed end tick's, where a stroke stands elsewhere on the line."""
    return _from_end(scale, one) < BLURRED_END and one.depth < _TICK_TRACE


def _from_end(scale: Scale, one: LineInk) -> float:
    return min(abs(one.x - scale.x), abs(one.x - scale.x - scale.length))


def _value(scale: Scale, x: float) -> float:
    inside = min(max(x, scale.x), scale.x + scale.length)
    return round(scale.value(inside), 2)
