"""Which ink counts as a mark: every limit, just below it and at it."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from kikichoko.forms.paper.page_parts import Box, Scale
from kikichoko.forms.photo.mark_ink import BoxInk, Ink, LineInk
from kikichoko.forms.photo.mark_rules import _end_tick, _limits, _line, _one_of, _state, _trace

BOX = Box(code="427", attribute="fruity", value=1.0, x=0.0, y=0.0, size=4.0, role="tick")
SCALE = Scale(code="427", attribute="sweet", x=50.0, y=0.0, length=100.0, low=0.0, high=10.0)
LIMITS = SimpleNamespace(clear=0.22, trace=0.035, fills=False, opens=False)
FLAT = SimpleNamespace(noise=0.0)


def box(depth: float = 0.9, extent: float = 4.0, fill: float = 0.2, value: float = 1.0) -> BoxInk:
    place = Box(code="427", attribute="fruity", value=value, x=0.0, y=0.0, size=4.0, role="one")
    return BoxInk(box=place, depth=depth, extent=extent, fill=fill)


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
        ({"depth": 0.035}, "faint"),
        ({"depth": 0.219}, "faint"),
        ({"depth": 0.22}, "marked"),
        ({"extent": 2.09}, "speck"),
        ({"extent": 2.1}, "marked"),
        ({"fill": 0.819}, "marked"),
        ({"fill": 0.82}, "black"),
    ],
)
def test_what_stands_in_a_box(ink: dict[str, float], state: str):
    assert _state(box(**ink), LIMITS) == state


@pytest.mark.parametrize(
    ("depths", "clear"),
    [((0.22, 0.22), 0.22), ((0.5, 0.6), 0.22), ((0.6, 0.6), 0.24), ((0.9, 0.219), 0.36)],
)
def test_a_mark_has_two_fifths_of_the_pages_usual_darkness(depths, clear: float):
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
    """Depths of 0.6, 0.6 and 0.24, which is two fifths of 0.6: three open marks, one black."""
    black = box(0.24, fill=0.9, value=2.0)
    assert _limits(page(box(0.6), box(0.6, value=3.0), black), FLAT).clear == pytest.approx(0.24)


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
        ([stroke(width=4.0, fill=0.88)], "struck"),
        ([stroke(width=3.99, fill=0.88)], "wide"),
        ([stroke(49.0)], ""),
        ([stroke(48.99)], "off"),
        ([stroke(151.0)], ""),
        ([stroke(151.01)], "off"),
        ([stroke(depth=0.219)], "faint"),
        ([stroke(depth=0.22)], ""),
        ([stroke(depth=0.1, width=5.59)], "faint"),
        ([stroke(depth=0.1, width=5.6)], ""),
        ([stroke(50.5, depth=0.199)], ""),
        ([stroke(50.5, depth=0.2)], "faint"),
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


@pytest.mark.parametrize(("depth", "tick"), [(0.199, True), (0.2, False)])
def test_what_a_blurred_end_tick_can_look_like(depth: float, tick: bool):
    assert _end_tick(SCALE, stroke(50.0, depth=depth)) is tick
