"""Which ink counts as a mark: every limit, just below it and at it."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from kikichoko.forms.paper.page_parts import Box, Scale
from kikichoko.forms.photo.around_boxes import MARGIN, through
from kikichoko.forms.photo.find_sheets import PX
from kikichoko.forms.photo.mark_ink import (
    PEN,
    RING,
    RISING,
    RISING_FAR,
    BoxInk,
    Ink,
    LineInk,
    _filled,
    _rises,
    measure,
)
from kikichoko.forms.photo.mark_ink import _line as _ink_at
from kikichoko.forms.photo.mark_rules import (
    NOTCH,
    _end_tick,
    _limits,
    _line,
    _one_of,
    _state,
    _tick,
    _trace,
    judge,
)
from kikichoko.forms.photo.mark_shape import Shape
from kikichoko.forms.photo.own_print import AroundLine
from kikichoko.forms.photo.photo_reader import blank_page
from kikichoko.forms.photo.straighten import Flat

BOX = Box(code="427", attribute="fruity", value=1.0, x=0.0, y=0.0, size=4.0, role="tick")
SCALE = Scale(code="427", attribute="sweet", x=50.0, y=0.0, length=100.0, low=0.0, high=10.0)
LIMITS = SimpleNamespace(
    clear=0.22,
    trace=0.035,
    fills=False,
    opens=False,
    crosses=False,
    slashes=False,
    dim=False,
    bent=False,
    followed=False,
)
FLAT = SimpleNamespace(noise=0.01, two_tone=False, bend=0.0, bent=False)


def box(
    depth: float = 0.9,
    extent: float = 4.0,
    fill: float = 0.2,
    value: float = 1.0,
    **around,
) -> BoxInk:
    place = Box(code="427", attribute="fruity", value=value, x=0.0, y=0.0, size=4.0, role="one")
    return BoxInk(box=place, depth=depth, extent=extent, fill=fill, **around)


def stroke(x: float = 100.0, **ink) -> LineInk:
    plain = {"depth": 0.9, "above": 3.0, "below": 3.0, "width": 0.6, "fill": 0.2,
             "crosses": True, "gap": 0.0}  # fmt: skip
    return LineInk(**{"x": x} | plain | ink)


def page(*boxes: BoxInk, line: tuple[LineInk, ...] = ()) -> Ink:
    return Ink(boxes=boxes, lines=((SCALE, line),), fields=())


@pytest.mark.parametrize(
    ("ink", "state"),
    [
        ({"depth": 0.034}, "empty"),
        ({"depth": 0.052, "extent": 0.59}, "empty"),
        ({"depth": 0.052, "extent": 0.6}, "faint"),
        ({"depth": 0.053, "extent": 0.59}, "faint"),
        ({"depth": 0.052, "extent": 0.0}, "faint"),
        ({"depth": 0.052, "inner": 0.034}, "empty"),
        ({"depth": 0.052, "inner": 0.035}, "faint"),
        ({"depth": 0.035}, "faint"),
        ({"depth": 0.219}, "faint"),
        ({"depth": 0.22}, "marked"),
        ({"extent": 2.09}, "speck"),
        ({"extent": 2.1}, "marked"),
        ({"fill": 0.819}, "marked"),
        ({"fill": 0.82}, "black"),
        ({"depth": 0.0, "ring": 0.59}, "empty"),
        ({"depth": 0.0, "ring": 0.6}, "near"),
        ({"depth": 0.0, "ring": 0.719}, "near"),
        ({"depth": 0.0, "ring": 0.72, "around": 0.75}, "ring"),
        ({"depth": 0.0, "ring": 0.72, "around": 0.74}, "near"),
        ({"depth": 0.219, "ring": 0.72, "around": 0.75}, "ring"),
        ({"depth": 0.22, "ring": 0.72}, "ringed"),
        ({"fill": 0.82, "ring": 0.6}, "ringed"),
        ({"fill": 0.82, "ring": 0.59}, "black"),
        ({"fill": 0.81, "ring": 0.6}, "marked"),
        ({"depth": 0.0, "around": 0.499}, "empty"),
        ({"depth": 0.0, "around": 0.5}, "near"),
        ({"runs": 19.9}, "marked"),
        ({"runs": 20.0}, "faint"),
        ({"touched": True}, "near"),
        ({"inner": 0.271, "fill": 0.24}, "marked"),
        ({"inner": 0.269, "fill": 0.24}, "near"),
        ({"inner": 0.269, "fill": 0.25}, "marked"),
        ({"through": (0.57,)}, "crossed"),
        ({"through": (2.57,)}, "crossed"),
        ({"through": (0.59,)}, "crossed"),
        ({"through": (1.19,)}, "crossed"),
        ({"through": (1.2,)}, "marked"),
        ({"through": (2.55,)}, "marked"),
        ({"rises": RISING}, "crossed"),
        ({"rises": 0.0}, "marked"),
        ({"shape": Shape(beyond=0.54)}, "marked"),
        ({"shape": Shape(beyond=0.55)}, "crossed"),
        ({"shape": Shape(beyond=0.55), "fill": 0.9}, "crossed"),
        ({"shape": Shape(open_above=0.049)}, "sign"),
        ({"shape": Shape(open_above=0.05)}, "marked"),
        ({"shape": Shape(open_above=0.0), "fill": 0.819}, "sign"),
        ({"shape": Shape(open_above=0.0), "fill": 0.82}, "black"),
        ({"shape": Shape(wide=2.59)}, "sign"),
        ({"shape": Shape(wide=2.6)}, "marked"),
        ({"shape": Shape(wide=2.59), "fill": 0.82}, "black"),
        ({"depth": 0.0, "touched": True, "covered": 0.219}, "empty"),
        ({"depth": 0.0, "touched": True, "covered": 0.22}, "near"),
        ({"rises": RISING, "fill": 0.82}, "crossed"),
        ({"through": (0.96,), "fill": 0.82}, "black"),
        ({"through": (0.94,), "fill": 0.82}, "crossed"),
    ],
)
def test_what_stands_in_a_box(ink: dict[str, float], state: str):
    assert _state(box(**ink), LIMITS) == state


@pytest.mark.parametrize(
    ("depths", "clear"),
    [((0.22, 0.22), 0.22), ((0.4, 0.48), 0.22), ((0.5, 0.5), 0.25), ((0.9, 0.219), 0.45)],
)
def test_a_mark_has_half_of_the_pages_usual_darkness(depths, clear: float):
    """Never less than 0.22; what is lighter than that says nothing of the usual mark."""
    assert _limits(page(*(box(depth) for depth in depths)), FLAT).clear == pytest.approx(clear)
    lines = tuple(stroke(depth=depth) for depth in depths)
    assert _limits(page(line=lines), FLAT).clear == pytest.approx(clear)


@pytest.mark.parametrize(
    ("ink", "fills", "opens"),
    [
        ({"fill": 0.82}, True, False),
        ({"fill": 0.819}, False, True),
        ({"extent": 2.09}, False, False),
    ],
)
def test_whether_the_hand_fills_boxes(ink: dict[str, float], fills: bool, opens: bool):
    found = _limits(page(box(**ink)), FLAT)
    assert (found.fills, found.opens) == (fills, opens)


def test_a_mark_of_the_usual_limit_itself_counts_for_the_hand():
    """Depths of 0.6, 0.6 and 0.3, which is half of 0.6: two open marks, one black."""
    black = box(0.3, fill=0.9, value=2.0)
    assert _limits(page(box(0.6), box(0.6, value=3.0), black), FLAT).clear == pytest.approx(0.3)


@pytest.mark.parametrize(("ink", "state"), [({}, "near"), ({"fill": 0.25}, "marked")])
def test_what_hardly_fills_a_box_is_asked_on_paper_bent_too_much(ink, state: str):
    limits = SimpleNamespace(**vars(LIMITS) | {"bent": True})
    assert _state(box(**ink), limits) == state
    assert _state(box(0.0, ring=0.72, around=1.0), limits) == "near"
    assert _limits(page(), SimpleNamespace(**vars(FLAT) | {"bend": 1.6})).bent is False
    assert _limits(page(), SimpleNamespace(**vars(FLAT) | {"bend": 1.61})).bent is True


@pytest.mark.parametrize(("empty", "trace"), [(11, 0.035), (12, 0.022)])
def test_twelve_empty_boxes_tell_what_an_empty_box_looks_like(empty: int, trace: float):
    assert _trace(page(*[box(0.01)] * empty), FLAT) == pytest.approx(trace)
    faint = [box(0.01)] * (empty - 1)
    assert _trace(page(*faint, box(0.219)), FLAT) == pytest.approx(trace)
    assert _trace(page(*faint, box(0.22)), FLAT) == pytest.approx(0.035)


@pytest.mark.parametrize(
    ("marks", "reason"),
    [
        ([stroke()], ""),
        ([stroke(width=5.6)], ""),
        ([stroke(width=5.61)], "wide"),
        ([stroke(width=3.59, fill=0.78)], ""),
        ([stroke(width=3.6, fill=0.779)], ""),
        ([stroke(width=3.6, fill=0.78)], "wide"),
        ([stroke(width=4.0, fill=0.87)], "wide"),
        ([stroke(width=4.0, fill=0.87, notch=0.55)], "wide"),
        ([stroke(width=4.0, fill=0.87, notch=0.549)], ""),
        ([stroke(width=4.0, fill=0.88, notch=0.55)], "struck"),
        ([stroke(width=4.0, fill=0.88, notch=0.549)], ""),
        ([stroke(width=4.0, fill=0.88)], "struck"),
        ([stroke(width=3.99, fill=0.88)], "wide"),
        ([stroke(49.0)], ""),
        ([stroke(48.99)], "off"),
        ([stroke(151.0)], ""),
        ([stroke(151.01)], "off"),
        ([stroke(depth=0.219)], "faint"),
        ([stroke(depth=0.22)], ""),
        ([stroke(depth=0.1, width=5.59)], "faint"),
        ([stroke(depth=0.1, width=5.6)], "wide"),
        ([stroke(depth=0.049, width=5.6)], ""),
        ([stroke(depth=0.1, width=5.6), stroke(120.0)], ""),
        ([stroke(50.5, depth=0.099)], ""),
        ([stroke(50.5, depth=0.1)], "faint"),
        ([stroke(runs=19.9)], ""),
        ([stroke(runs=20.0)], "faint"),
        ([stroke(crosses=False, above=0.5, below=0.5, upon=True)], "beside"),
        ([stroke(), stroke(120.0, crosses=False, above=0.5, below=0.5, upon=True)], ""),
    ],
)
def test_what_stands_on_a_line(marks: list[LineInk], reason: str):
    assert _line(SCALE, marks, LIMITS).reason == reason


def test_an_answer_beside_a_struck_out_mark_is_nine_tenths_sure_at_most():
    struck = stroke(80.0, width=5.0, fill=0.95)
    assert _line(SCALE, [stroke()], LIMITS).confidence == 1.0
    assert _line(SCALE, [stroke(), struck], LIMITS).confidence == 0.9
    black, ticked = box(fill=0.9), box(value=2.0)
    assert _one_of([ticked, box(0.0, value=3.0)], LIMITS).confidence > 0.9
    assert _one_of([black, ticked], LIMITS).confidence == 0.9


@pytest.mark.parametrize(
    ("at", "depth", "high", "tick"),
    [
        (50.0, 0.199, 2.05, True),
        (50.0, 0.2, 2.05, False),
        (50.0, 0.199, 2.06, False),
        (50.0, 0.099, 3.0, True),
        (50.0, 0.1, 3.0, False),
        (50.74, 0.05, 1.0, True),
        (50.76, 0.05, 1.0, False),
    ],
)
def test_what_a_blurred_end_tick_can_look_like(at: float, depth: float, high: float, tick: bool):
    assert _end_tick(SCALE, stroke(at, depth=depth, above=high, below=1.0)) is tick


@pytest.mark.parametrize(
    ("ways", "state"),
    [
        ((0.79, 2.36), "marked"),
        ((0.59, 2.36), "marked"),
        ((0.57, 2.36), "crossed"),
        ((0.79, 2.36, 1.5), "crossed"),
    ],
)
def test_a_hand_of_crosses_has_two_strokes(ways: tuple[float, ...], state: str):
    limits = SimpleNamespace(**vars(LIMITS) | {"crosses": True})
    assert _state(box(through=ways), limits) == state


@pytest.mark.parametrize(("slashes", "told"), [(2, True), (1, False)])
def test_a_bare_stroke_is_a_mark_where_more_than_half_of_all_are(slashes: int, told: bool):
    bare = Shape(open_above=0.0, straight=True)
    marks = [box(shape=bare) for _ in range(slashes)] + [box()]
    limits = _limits(page(*marks), FLAT)
    assert limits.slashes is told
    assert _state(marks[0], limits) == ("marked" if told else "sign")
    assert _state(box(shape=Shape(open_above=0.0)), limits) == "sign"


@pytest.mark.parametrize(("rises", "state"), [(RISING, "marked"), (RISING_FAR, "crossed")])
def test_arms_of_crosses_stick_out_less_than_what_strikes_them_out(rises: float, state: str):
    limits = SimpleNamespace(**vars(LIMITS) | {"crosses": True})
    assert _state(box(through=(0.79, 2.36), rises=rises), limits) == state


@pytest.mark.parametrize(
    ("out", "beside", "way", "rises"),
    [
        (0.5, 0.0, 2.36, 0.0), (1.1, 0.0, 2.36, RISING), (2.4, 0.0, 2.36, RISING_FAR),
        (2.4, 0.4, 2.36, RISING_FAR), (2.4, 1.0, 2.36, 0.0), (2.4, 0.0, 0.79, 0.0),
    ],
)  # fmt: skip
def test_how_far_a_stroke_rises_out_of_a_box(out: float, beside: float, way: float, rises: float):
    """Drawn through a circle of 5 mm, at an angle, beside its middle, sticking out by so much."""
    circle = Box(code="427", attribute="fruity", value=1.0, x=15.0, y=15.0, size=5.0, role="one")
    plane = np.zeros((180, 180), np.float32)
    far, along = 2.5 + out, np.array([np.cos(way), np.sin(way)])
    middle = np.array([15.0, 15.0]) + beside * np.array([-along[1], along[0]])
    ends = [tuple(int(v) for v in (middle + d * far * along) * PX) for d in (-1, 1)]
    cv2.line(plane, *ends, 1.0, 3)
    blind = np.zeros(plane.shape, bool)
    drawn = BoxInk(box=circle, depth=1.0, extent=4.0, fill=0.79)
    assert _rises(plane, blind, drawn, 0.12) == rises
    if beside == 0.0 and out > 2:  # of a filled one in any direction
        assert _rises(plane, blind, replace(drawn, fill=0.8), 0.12) == RISING_FAR


@pytest.mark.parametrize(("fill", "state"), [(0.8, "ringed"), (0.79, "ring")])
def test_a_filled_circle_stays_filled_where_rings_are_taken_off(fill: float, state: str):
    """H19: with a ring in every row, those of the neighbours took the fill along."""
    bare = box(0.0, extent=0.0, fill=0.0, ring=RING, around=1.0)
    assert _state(_filled(bare, box(fill=fill)), LIMITS) == state


@pytest.mark.parametrize(
    ("above", "below", "depth", "reason"),
    [
        (2.2, 1.8, 0.1, "faint"), (2.2, 1.7, 0.1, ""), (1.7, 2.2, 0.1, ""),
        (2.2, 1.8, 0.09, ""), (2.0, 1.8, 0.1, ""),
    ],
)  # fmt: skip
def test_a_light_stroke_upon_an_end_is_asked_about(above, below, depth, reason: str):
    """The printed tick hides all but its two ends, and they do not meet the line."""
    upper = stroke(50.2, depth=depth, above=above, below=0.0, crosses=False, gap=1.3)
    lower = stroke(50.0, depth=0.07, above=0.0, below=below, crosses=False, gap=1.3)
    assert _line(SCALE, [upper, lower], LIMITS).reason == reason


@pytest.mark.parametrize(("crossed", "crosses"), [(17, False), (18, True)])
def test_crosses_nearly_everywhere_show_a_hand_of_crosses(crossed, crosses):
    marks = [box(cross=True)] * crossed + [box(through=(0.79,))] * (20 - crossed)
    assert _limits(page(*marks), FLAT).crosses is crosses


@pytest.mark.parametrize(("broken", "dim"), [(2, False), (3, True)])
def test_broken_marks_show_that_black_and_white_alone_lost_some(broken: int, dim: bool):
    fax = SimpleNamespace(**vars(FLAT) | {"two_tone": True})
    marks = [box(0.3, extent=1.0)] * broken + [box(0.0)] * 20
    lines = ((SCALE, (stroke(),)),) * 2
    found = Ink(boxes=tuple(marks), lines=lines, fields=())
    assert _limits(found, fax).dim is dim
    assert _limits(found, FLAT).dim is False
    assert _limits(replace(found, lines=lines[:1]), fax).dim, "one line bears little witness"


@pytest.mark.parametrize(("noise", "dim"), [(0.0439, False), (0.0441, True)])
def test_what_seems_empty_is_asked_where_a_mark_would_hardly_show(noise: float, dim: bool):
    """A trace, 2.5 times the noise, is half the 0.22 of a mark."""
    assert _limits(page(box(0.01)), SimpleNamespace(**vars(FLAT) | {"noise": noise})).dim is dim


def asked(*boxes: BoxInk, flat=FLAT, line: tuple[LineInk, ...] = (), **ink) -> set[str]:
    found = Ink(boxes=boxes, lines=((SCALE, line),), fields=(), **ink)
    return {one.reason for one in judge(found, flat)}


def test_a_question_whose_print_is_astray_is_asked_and_above_a_quarter_all_are():
    others = [
        BoxInk(box=replace(BOX, attribute=f"word{n}"), depth=0.0, extent=0.0, fill=0.0)
        for n in range(7)
    ]  # eight questions with the line
    one, two = {("427", "sweet")}, {("427", "sweet"), ("427", "word0")}
    assert asked(*others, line=(stroke(),), lost=frozenset(one)) == {"astray", ""}
    assert asked(*others, line=(stroke(),), lost=frozenset(two)) == {"astray", ""}
    three = frozenset(two | {("427", "word1")})
    assert asked(*others, line=(stroke(),), lost=three) == {"astray"}


@pytest.mark.parametrize(("bend", "reason"), [(1.6, ""), (1.61, "astray")])
def test_no_line_is_believed_on_paper_bent_too_much(bend: float, reason: str):
    flat = SimpleNamespace(**vars(FLAT) | {"bend": bend})
    assert asked(line=(stroke(),), flat=flat) == {reason}


def test_ink_beside_a_box_is_asked_about():
    empty = BoxInk(box=BOX, depth=0.0, extent=0.0, fill=0.0)
    assert asked(empty, line=(stroke(),)) == {""}
    assert asked(empty, line=(stroke(),), loose=frozenset({("427", "fruity")})) == {"near", ""}


@pytest.mark.parametrize(("patch", "reason"), [({"width": 9.0}, ""), ({"width": 9.01}, "double")])
def test_a_patch_is_no_wider_than_somebody_strikes_out(patch: dict[str, float], reason: str):
    struck = stroke(75.0, fill=0.95, **patch)
    assert _line(SCALE, [stroke(), struck], LIMITS).reason == reason


def _drawn_line() -> tuple[np.ndarray, Scale]:
    """Return a plane with a printed line, 50 mm long, whose middle lies at row 30."""
    plane = np.zeros((60, 400), np.float32)
    plane[29:31, 60:360] = 1.0
    return plane, replace(SCALE, x=10.0, y=30 / PX, length=50.0)


def _marks_on(plane: np.ndarray, scale: Scale, hidden=None) -> tuple[LineInk, ...]:
    blind = np.zeros(plane.shape, bool) if hidden is None else hidden
    return tuple(one for one in _ink_at(AroundLine(plane, blind), scale, 0.02, 0.55))


@pytest.mark.parametrize(("shape", "arms"), [("cross", True), ("square", False), ("disc", False)])
@pytest.mark.parametrize("blur", [0.5, 1.5])
def test_a_cross_has_arms_and_what_is_scribbled_over_has_none(shape, arms: bool, blur: float):
    plane, scale = _drawn_line()
    x, y, half = 200, 30, 11
    match shape:
        case "cross":
            cv2.line(plane, (x - half, y - half), (x + half, y + half), 1.0, 5)
            cv2.line(plane, (x - half, y + half), (x + half, y - half), 1.0, 5)
        case "square":
            cv2.rectangle(plane, (x - half, y - half), (x + half, y + half), 1.0, -1)
        case _:
            cv2.circle(plane, (x, y), half + 1, 1.0, -1)
    (mark,) = (one for one in _marks_on(cv2.GaussianBlur(plane, (0, 0), blur), scale)
               if one.crosses)  # fmt: skip
    assert (mark.notch < NOTCH) is arms
    assert (mark.notch < 0.35) is arms
    assert (mark.notch < 0.9) is arms


@pytest.mark.parametrize(("print_from", "crosses"), [(6, True), (7, False)])
def test_a_stroke_goes_on_below_what_is_printed(print_from: int, crosses: bool):
    """It ends 0.75 mm below the line: a word is printed two pixels on, or farther."""
    plane, scale = _drawn_line()
    plane[14:35, 200:204] = 0.9
    hidden = np.zeros(plane.shape, bool)
    hidden[30 + print_from :] = True
    marks = _marks_on(plane, scale, hidden)
    assert any(one.crosses for one in marks) is crosses


@pytest.mark.parametrize(
    ("radius", "dark", "told"), [(3, 0.9, True), (1, 0.9, False), (3, 0.21, True), (3, 0.19, False)]
)
def test_a_dot_upon_a_line_is_seen_by_what_it_makes_thicker(radius, dark, told: bool):
    """SH18: 1.1 mm across it was told as missing, it is hidden by the line."""
    plane, scale = _drawn_line()
    dot = np.zeros_like(plane)
    cv2.circle(dot, (200, 29), radius, 1.0, -1)
    plane = np.maximum(plane, dark * dot)
    marks = _marks_on(plane, scale)
    assert any(one.upon for one in marks) is told
    assert not any(one.crosses for one in marks)


@pytest.mark.parametrize(("beside", "reason"), [("marked", ""), ("empty", "crossed")])
def test_a_filled_circle_beside_a_tick_is_struck_out_whatever_strikes_it_through(beside, reason):
    limits = SimpleNamespace(**vars(LIMITS) | {"opens": True})
    filled = box(fill=0.82, through=(0.1,))
    other = box(0.9 if beside == "marked" else 0.0, value=2.0)
    found = _one_of([filled, other], limits)
    assert found.reason == reason
    assert found.value == (2.0 if beside == "marked" else None)
    assert _one_of([replace(filled, fill=0.81), other], limits).reason == "crossed"
    assert _one_of([filled, other], LIMITS).reason == "crossed", "where not all others are open"


@pytest.mark.parametrize(("dark", "ways"), [(0.34, 0), (0.36, 1)])
def test_what_strikes_a_mark_through_is_of_its_own_pen(dark: float, ways: int):
    circle = replace(BOX, x=15.0, y=15.0, size=5.0, role="one")
    plane = np.zeros((180, 180), np.float32)
    cv2.line(plane, (60, 90), (120, 90), 1.0, 5)
    plane[plane > 0] = dark
    cv2.circle(plane, (90, 90), 12, 1.0, -1)
    blind = np.zeros(plane.shape, bool)
    assert len(through(plane, blind, circle, max(0.12, PEN * 1.0))) == ways


@pytest.mark.parametrize(("marked", "ways"), [((), 1), ((1,), 1), ((-1, 1), 0)])
def test_the_marks_above_and_below_strike_no_mark_through(marked: tuple[int, ...], ways: int):
    """Fills of a whole column touch each other: one upright run of ink."""
    circle = replace(BOX, x=15.0, y=15.0, size=4.5, role="one")
    plane = np.zeros((180, 180), np.float32)
    cv2.line(plane, (90, 40), (90, 140), 1.0, 5)
    blind = np.zeros(plane.shape, bool)
    others = [replace(circle, y=15.0 + 5.0 * way) for way in marked]
    assert len(through(plane, blind, circle, 0.12, others=[circle, *others])) == ways


@pytest.mark.parametrize(("noise", "dim"), [(0.001, True), (0.0011, False)])
def test_a_whitened_picture_that_broke_marks_up_has_lost_some(noise: float, dim: bool):
    """SH28: a scanner's program takes light pencil away."""
    marks = [box(0.3, extent=1.0)] * 3 + [box(0.0)] * 20
    found = Ink(boxes=tuple(marks), lines=((SCALE, (stroke(),)),) * 2, fields=())
    assert _limits(found, SimpleNamespace(**vars(FLAT) | {"noise": noise})).dim is dim


@pytest.mark.parametrize(
    ("x", "other", "reason"),
    [
        (51.0, {"x": 80.0, "width": 5.0, "fill": 0.95}, "double"),
        (51.01, {"x": 80.0, "width": 5.0, "fill": 0.95}, ""),
        (51.0, {"x": 55.4, "depth": 0.1, "crosses": False}, ""),
        (51.0, {"x": 55.6, "depth": 0.1, "crosses": False}, "double"),
        (51.0, {"x": 80.0, "depth": 0.049, "crosses": False}, ""),
        (51.0, {"x": 80.0, "depth": 0.1, "crosses": False, "above": 0.9, "below": 0.99}, ""),
        (51.0, {"x": 80.0, "depth": 0.1, "crosses": False, "above": 1.0, "below": 0.0}, "double"),
        (51.0, {"x": 149.8, "depth": 0.09, "above": 1.5, "below": 1.5}, ""),
        (51.0, {"x": 149.1, "depth": 0.19, "above": 3.0, "below": 3.0}, ""),
        (51.0, {"x": 148.9, "depth": 0.09, "above": 1.5, "below": 1.5}, "faint"),
        (51.0, {"x": 149.1, "depth": 0.2, "above": 1.5, "below": 1.5}, "faint"),
    ],
)
def test_a_stroke_at_an_end_is_asked_about_beside_other_ink(x, other, reason: str):
    limits = SimpleNamespace(**vars(LIMITS) | {"followed": True})
    assert _line(SCALE, [stroke(x), stroke(**other)], limits).reason == reason


@pytest.mark.parametrize(
    ("other", "reason"),
    [
        ({"depth": 0.109, "crosses": False}, ""),
        ({"depth": 0.11, "crosses": False}, "double"),
        ({"width": 5.0, "fill": 0.95}, ""),
    ],
)
def test_on_flat_paper_only_what_is_half_as_dark_as_a_mark_is_other_ink(other, reason: str):
    """Its ends lie where they were printed; a struck-out place says that the stroke is meant."""
    assert _line(SCALE, [stroke(51.0), stroke(80.0, **other)], LIMITS).reason == reason


def test_a_ring_is_the_answer_unless_there_is_another_mark():
    ring = {"depth": 0.0, "ring": 0.9, "around": 0.9}
    found = _one_of([box(**ring), box(0.0, value=2.0)], LIMITS)
    assert (found.value, found.confidence) == (1.0, 0.8)
    assert _one_of([box(**ring), box(value=2.0)], LIMITS).reason == "double"
    assert _one_of([box(**ring), box(value=2.0, **ring)], LIMITS).reason == "double"
    assert _tick(box(**ring), LIMITS).value == 1.0
    assert _tick(box(through=(0.1,)), LIMITS).reason == "crossed"


@pytest.mark.parametrize(
    ("depth", "clear", "sure"),
    [
        (0.0, 0.35, 0.9),
        (0.0, 0.14, 0.75),
        (0.0, 0.05, 0.5),
        (0.0175, 0.35, 0.75),
        (0.034, 9, 0.514),
    ],
)
def test_that_nothing_is_there_is_never_wholly_sure(depth: float, clear: float, sure: float):
    """A trace is 0.035 here: the nearer a mark's darkness is to it, the less is nothing sure."""
    limits = SimpleNamespace(**vars(LIMITS) | {"clear": clear})
    assert _tick(box(depth), limits).confidence == pytest.approx(sure, abs=0.001)
    assert _one_of([box(0.0), box(depth, value=2.0)], limits).confidence == pytest.approx(
        sure, abs=0.001
    )


@pytest.mark.parametrize(
    ("blank", "lines", "dim"), [(1, 1, True), (1, 2, False), (2, 8, False), (3, 8, True)]
)
def test_blank_lines_show_that_black_and_white_alone_lost_some(blank: int, lines: int, dim: bool):
    fax = SimpleNamespace(**vars(FLAT) | {"two_tone": True})
    found = ((SCALE, ()),) * blank + ((SCALE, (stroke(),)),) * (lines - blank)
    assert _limits(Ink(boxes=(box(),), lines=found, fields=()), fax).dim is dim
    assert _limits(Ink(boxes=(box(),), lines=found, fields=()), FLAT).dim is False


def _seen(sheet, page, paper) -> tuple[Ink, Flat]:
    """Measure a page as it was drawn, without a camera."""
    blank = blank_page(sheet, page.paper, page.number, earlier=False)
    dark = 1 - cv2.resize(paper.picture, blank.shape[::-1], interpolation=cv2.INTER_AREA)
    flat = Flat(dark=dark, grey=np.zeros((1, 1), np.uint8), likeness=1.0, moved=0.0, noise=0.01,
                sharpness=8.0)  # fmt: skip
    return measure(flat, page, blank), flat


@pytest.mark.parametrize("ticked", [True, False])
def test_a_mark_between_the_rings_of_two_rows_is_not_taken_off_with_them(
    printed, simulator, ticked: bool
):
    """As found on page 149 of `photo_reading.py rough 5000 821`: a 3 was read as 0."""
    sheet, pages = printed
    page, picture = pages[2]
    rows = [group for group in page.groups if group[0].attribute.startswith("fault:")]
    above, mine, below = (group[-1] for group in rows[1:4])
    hand = simulator.Hand(np.random.default_rng(1), tool="light pencil")
    paper = simulator.Paper(page, picture.copy(), hand)
    angles = np.linspace(0, 2 * np.pi, 40)
    for box in (above, below):
        paper.stroke([(box.x + 4.4 * np.cos(a), box.y + 3.4 * np.sin(a)) for a in angles])
    hand.tool, (x, y) = "dark pencil", (mine.x, mine.y)
    if ticked:
        paper.stroke([(x - 1.5, y - 0.2), (x - 0.3, y + 1.2), (x + 1.6, y - 1.8)])
    found = {one.attribute: one for one in judge(*_seen(sheet, page, paper))}
    assert found[mine.attribute].reason == ("near" if ticked else "")


@pytest.mark.parametrize(("away", "told"), [(MARGIN - 1, True), (MARGIN + 1, False)])
def test_what_is_written_right_of_a_row_is_asked_about(printed, simulator, away, told):
    """H30: "1-2" in the margin is no empty row; here a single stroke, as a 1 is."""
    sheet, pages = printed
    page, picture = pages[2]
    last = next(group[-1] for group in page.groups if group[0].attribute.startswith("fault:"))
    hand = simulator.Hand(np.random.default_rng(1), tool="black pen")
    paper = simulator.Paper(page, picture.copy(), hand)
    x = last.x + last.size / 2 + away
    paper.stroke([(x, last.y - 1.7), (x, last.y + 1.7)])
    loose = _seen(sheet, page, paper)[0].loose
    assert ((last.code, last.attribute) in loose) is told
    assert len(loose) == told
