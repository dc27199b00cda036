"""Fills printed pages by a simulated hand and photographs them by a simulated camera.

Nothing here is used by the program. What is drawn is known, so what is read
can be counted as right, wrong or sent to review. Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
import pypdfium2
from kikichoko.forms.paper.page_parts import Box, Page, Scale
from kikichoko.forms.paper.pages import lay_out
from kikichoko.forms.photo.photo_reader import _document
from kikichoko.forms.questions.sheet import Sheet

INK_DPI = 300
_PX = INK_DPI / 25.4

# Tool: darkness from–to, width from–to, grain (0 smooth ink … 1 broken graphite).
TOOLS = {
    "black pen": ((0.85, 0.97), (0.4, 0.8), 0.0),
    "blue pen": ((0.62, 0.8), (0.4, 0.7), 0.05),
    "dark pencil": ((0.55, 0.75), (0.5, 0.9), 0.35),
    "light pencil": ((0.38, 0.5), (0.5, 0.9), 0.45),
}
FAINT = (0.06, 0.16)
BOX_STYLES = ("tick", "cross", "fill")
LINE_STYLES = ("upright", "slash", "cross")
# What an ambiguous mark can be, in boxes and on lines.
BOX_TROUBLE = ("speck", "double", "faint")
LINE_TROUBLE = ("double", "faint", "off", "beside")


@dataclass
class Mark:
    """What a hand meant by one question, and whether anybody else could tell.

    `value` is None where nothing was marked. `trouble` names what is ambiguous.
    """

    page: int
    code: str
    attribute: str
    kind: str
    value: float | str | None
    trouble: str = ""
    corrected: bool = False
    habit: str = ""


@dataclass
class Hand:
    """How one person marks: a tool, a way of marking boxes and lines, and carelessness.

    `ring` and `struck` are shares: boxes ringed instead of marked, marks struck through.
    """

    rng: np.random.Generator
    tool: str = ""
    box: str = ""
    line: str = ""
    trouble: float = 0.0
    correct: float = 0.02
    ring: float = 0.0
    struck: float = 0.0

    def __post_init__(self) -> None:
        self.tool = self.tool or str(self.rng.choice(list(TOOLS)))
        self.box = self.box or str(self.rng.choice(BOX_STYLES))
        self.line = self.line or str(self.rng.choice(LINE_STYLES, p=(0.6, 0.25, 0.15)))

    def chance(self, share: float) -> bool:
        """Tell whether something that happens in a share of cases happens now."""
        return bool(self.rng.random() < share)


@dataclass
class Paper:
    """A printed page as a picture, and the marks put on it."""

    page: Page
    picture: np.ndarray
    hand: Hand
    marks: list[Mark] = field(default_factory=list)

    def stroke(self, points: list[tuple[float, float]], *, faint: bool = False) -> None:
        """Draw one stroke of the hand's tool through points."""
        rng = self.hand.rng
        (low, high), (thin, thick), grain = TOOLS[self.hand.tool]
        if faint:
            low, high = FAINT
        xs, ys = np.array(points, float).T
        left, top = xs.min() - 2, ys.min() - 2
        size = (int((ys.max() - top + 2) * _PX), int((xs.max() - left + 2) * _PX))
        layer = np.zeros(size, np.uint8)
        path = np.column_stack([(xs - left) * _PX, (ys - top) * _PX])
        path = path + rng.normal(0, 0.05 * _PX, path.shape)
        wide = max(1, round(rng.uniform(thin, thick) * _PX))
        cv2.polylines(
            layer, [np.round(path * 16).astype(np.int32)], False, 255, wide, cv2.LINE_AA, 4
        )
        cover = cv2.GaussianBlur(layer, (0, 0), 0.7).astype(np.float32) / 255
        if grain:
            noise = rng.random(size).astype(np.float32)
            noise = cv2.GaussianBlur(noise, (0, 0), 1.5)
            noise = (noise - noise.min()) / max(float(np.ptp(noise)), 1e-6)
            cover *= 1 - grain + grain * noise * 1.4
        x, y = round(left * _PX), round(top * _PX)
        y1, x1 = max(y, 0), max(x, 0)
        y2, x2 = min(y + size[0], self.picture.shape[0]), min(x + size[1], self.picture.shape[1])
        cover = cover[y1 - y : y2 - y, x1 - x : x2 - x]
        self.picture[y1:y2, x1:x2] *= 1 - np.clip(cover * rng.uniform(low, high), 0, 1)

    def tick(self, x: float, y: float, size: float, *, faint: bool = False) -> None:
        """Draw a tick that ends outside of its box, as people do."""
        r = self.hand.rng
        half = size / 2
        points = [
            (x - half * r.uniform(0.5, 1.0), y - half * r.uniform(-0.1, 0.4)),
            (x - half * r.uniform(-0.1, 0.3), y + half * r.uniform(0.4, 0.9)),
            (x + half * r.uniform(0.9, 1.6), y - half * r.uniform(0.9, 1.7)),
        ]
        self.stroke(points, faint=faint)

    def cross(self, x: float, y: float, size: float, *, faint: bool = False) -> None:
        """Draw two strokes across each other."""
        r = self.hand.rng
        half = size / 2
        for way in (1, -1):
            a, b = half * r.uniform(0.65, 1.15), half * r.uniform(0.65, 1.15)
            self.stroke([(x - a, y - a * way), (x + b, y + b * way)], faint=faint)

    def fill(self, x: float, y: float, size: float, *, faint: bool = False) -> None:
        """Fill a box by a close zigzag."""
        r = self.hand.rng
        half = size / 2 * r.uniform(0.85, 1.02)
        steps = int(r.integers(13, 18))
        points = []
        for step in range(steps + 1):
            across = -half + 2 * half * step / steps
            reach = max(half**2 - across**2, 0) ** 0.5 * r.uniform(0.9, 1.1)
            points.append((x + across, y + (reach if step % 2 else -reach)))
        self.stroke(points, faint=faint)

    def ringed(self, x: float, y: float, size: float, *, faint: bool = False) -> None:
        """Draw a ring around a box, not quite closed or a little more than that."""
        r = self.hand.rng
        wide, high = size / 2 + r.uniform(0.7, 2.4), size / 2 + r.uniform(0.5, 1.7)
        start, turn = r.uniform(0, 2 * np.pi), 2 * np.pi * r.uniform(0.93, 1.12)
        angles = start + np.linspace(0, turn, 40)
        drift = np.linspace(1, r.uniform(0.9, 1.1), 40)
        self.stroke(
            [
                (x + wide * d * np.cos(a), y + high * d * np.sin(a))
                for a, d in zip(angles, drift, strict=True)
            ],
            faint=faint,
        )

    def strike(self, x: float, y: float, size: float) -> None:
        """Strike a mark through by one line, level or slanting, that sticks out on both sides."""
        r = self.hand.rng
        long, lean = size * r.uniform(0.75, 1.3), r.normal(0, 0.3)
        y += r.normal(0, 0.3)
        self.stroke(
            [
                (x - long * np.cos(lean), y + long * np.sin(lean)),
                (x + long * np.cos(lean), y - long * np.sin(lean)),
            ]
        )

    def box_mark(self, box: Box, *, faint: bool = False, style: str = "") -> None:
        """Mark a box in the hand's way, a little beside its middle."""
        r = self.hand.rng
        x, y = box.x + r.normal(0, 0.22), box.y + r.normal(0, 0.22)
        draw = {"tick": self.tick, "cross": self.cross, "fill": self.fill, "ring": self.ringed}
        draw[style or self.hand.box](x, y, box.size, faint=faint)

    def line_mark(self, scale: Scale, at: float, *, faint: bool = False, dy: float = 0.0) -> None:
        """Mark a line at `at`, in the hand's way."""
        r = self.hand.rng
        y = scale.y + dy
        up, down = r.uniform(1.8, 3.6), r.uniform(1.8, 3.2)
        if self.hand.line == "cross":
            a = r.uniform(1.3, 2.1)
            self.stroke([(at - a, y - a), (at + a, y + a)], faint=faint)
            self.stroke([(at - a, y + a), (at + a, y - a)], faint=faint)
            return
        lean = r.uniform(-0.06, 0.06) if self.hand.line == "upright" else r.uniform(0.3, 0.6)
        self.stroke([(at + lean * up, y - up), (at - lean * down, y + down)], faint=faint)

    def patch(self, x: float, y: float) -> None:
        """Scribble a wrong stroke over."""
        for _ in range(2):
            self.fill(x, y, self.hand.rng.uniform(4.2, 5.6))

    def speck(self, x: float, y: float) -> None:
        """Leave a dot."""
        r = self.hand.rng
        radius = r.uniform(0.25, 0.55)
        centre = round(x * _PX), round(y * _PX)
        layer = np.zeros((41, 41), np.uint8)
        cv2.circle(layer, (20, 20), max(1, round(radius * _PX)), 255, -1, cv2.LINE_AA)
        x1, y1 = centre[0] - 20, centre[1] - 20
        self.picture[y1 : y1 + 41, x1 : x1 + 41] *= 1 - layer.astype(np.float32) / 255 * r.uniform(
            0.6, 0.95
        )


class Prints(Sequence):
    """The pages of a sheet with their pictures, each drawn when it is first looked at."""

    def __init__(self, pages: Sequence[Page], data: bytes) -> None:
        self.pages = pages
        self.document = pypdfium2.PdfDocument(data)
        self.drawn: dict[int, tuple[Page, np.ndarray]] = {}
        assert len(self.document) == len(pages)

    def __len__(self) -> int:
        return len(self.pages)

    def __getitem__(self, at):
        if isinstance(at, slice):
            return [self[number] for number in range(*at.indices(len(self)))]
        number = range(len(self))[at]
        if number not in self.drawn:
            bitmap = self.document[number].render(scale=INK_DPI / 72, grayscale=True)
            picture = np.divide(bitmap.to_numpy(), np.float32(255))
            self.drawn[number] = self.pages[number], picture
        return self.drawn[number]


def printed(
    sheet: Sheet, paper: str = "A4", data: bytes | None = None, *, earlier: int = 0
) -> Prints:
    """Print a sheet, or the PDF that was written of it: pages with pictures at 300 dpi.

    The reader keeps what it prints to compare pictures with: it is not printed twice.
    """
    data = data or _document(sheet, paper, earlier=earlier)
    return Prints(lay_out(sheet, paper, earlier=earlier), data)


def fill_in(
    page: Page,
    picture: np.ndarray,
    hand: Hand,
    answers: dict[tuple[str, str], float | str] | None = None,
) -> Paper:
    """Fill one page in: at random, or with given answers by (code, attribute).

    With given answers nothing is ambiguous, left open or corrected.
    """
    paper = Paper(page, picture.copy(), hand)
    for scale in page.scales:
        _fill_line(paper, scale, answers)
    for group in page.groups:
        _fill_group(paper, group, answers)
    _fill_ticks(paper, answers)
    for frame in page.fields:
        if answers is not None and (frame.code, frame.attribute) not in answers:
            continue
        x, y = frame.x + 4, frame.y + frame.height / 2
        r = hand.rng
        steps = np.arange(0, frame.width * 0.6, 1.0)
        paper.stroke([(x + s, y + float(r.normal(0, 1.2))) for s in steps])
    return paper


def _fill_line(paper: Paper, scale: Scale, answers: dict | None) -> None:
    hand, page = paper.hand, paper.page
    r = hand.rng
    key = (scale.code, scale.attribute)
    made = Mark(page.number, *key, "line", None)
    paper.marks.append(made)
    if answers is not None:
        if key in answers:
            share = (float(answers[key]) - scale.low) / (scale.high - scale.low)
            paper.line_mark(scale, scale.x + share * scale.length)
            made.value = answers[key]
        return
    if hand.chance(0.03):
        return
    at = scale.x + r.uniform(0, scale.length)
    made.value = scale.value(at)
    if hand.chance(hand.trouble):
        made.trouble = str(r.choice(LINE_TROUBLE))
        if made.trouble == "double":
            paper.line_mark(scale, at)
            other = at + r.uniform(8, 30) * r.choice((-1, 1))
            other = (
                other if scale.x < other < scale.x + scale.length else scale.x + scale.length / 2
            )
            if abs(other - at) < 5:
                other = scale.x + (2 if at > scale.x + 40 else 78)
            paper.line_mark(scale, other)
        elif made.trouble == "faint":
            paper.line_mark(scale, at, faint=True)
        elif made.trouble == "off":
            ends = (scale.x - r.uniform(1.8, 3.0), scale.x + scale.length + r.uniform(1.8, 3.0))
            paper.line_mark(scale, float(r.choice(ends)))
        else:
            paper.stroke([(at, scale.y - 3.4), (at + 0.1, scale.y - 1.5)])
        return
    if hand.chance(hand.correct):
        wrong = at + (12 if at < scale.x + scale.length / 2 else -12)
        paper.line_mark(scale, wrong)
        paper.patch(wrong, scale.y)
        made.corrected = True
    paper.line_mark(scale, at)


def _fill_group(paper: Paper, group: tuple[Box, ...], answers: dict | None) -> None:
    hand = paper.hand
    r = hand.rng
    key = (group[0].code, group[0].attribute)
    made = Mark(paper.page.number, *key, "one", None)
    paper.marks.append(made)
    if answers is not None:
        for box in group:
            if key in answers and box.value == answers[key]:
                paper.box_mark(box)
                made.value = box.value
        return
    if hand.chance(0.05):
        if hand.chance(hand.trouble * 3):
            box = group[int(r.integers(len(group)))]
            paper.speck(box.x + r.normal(0, 0.4), box.y + r.normal(0, 0.4))
            made.trouble = "speck"
        return
    first, second = r.choice(len(group), 2, replace=False)
    box, other = group[int(first)], group[int(second)]
    made.value = box.value
    if hand.chance(hand.trouble):
        made.trouble = str(r.choice(BOX_TROUBLE))
        if made.trouble == "speck":
            paper.speck(box.x + r.normal(0, 0.4), box.y + r.normal(0, 0.4))
        elif made.trouble == "double":
            paper.box_mark(box)
            paper.box_mark(other)
        else:
            paper.box_mark(box, faint=True)
        return
    if hand.struck and hand.chance(hand.struck):
        made.habit = "struck"
        paper.box_mark(other)
        paper.strike(other.x, other.y, other.size)
        if hand.chance(0.5):
            made.value = None
            return
    if hand.ring and hand.chance(hand.ring):
        made.habit = "ring"
        paper.box_mark(box, style="ring")
        return
    if hand.box != "fill" and hand.chance(hand.correct):
        paper.box_mark(other)
        paper.fill(other.x, other.y, other.size * 1.05)
        paper.fill(other.x, other.y, other.size * 1.02)
        made.corrected = True
    paper.box_mark(box)


def _fill_ticks(paper: Paper, answers: dict | None) -> None:
    hand = paper.hand
    r = hand.rng
    boxes = [box for box in paper.page.boxes if box.role == "tick"]
    for box in boxes:
        key = (box.code, box.attribute)
        made = Mark(paper.page.number, *key, "tick", 0.0)
        paper.marks.append(made)
        if answers is not None:
            if answers.get(key) == 1:
                paper.box_mark(box)
                made.value = 1.0
            continue
        if hand.chance(hand.trouble):
            made.trouble = str(r.choice(("speck", "faint")))
            if made.trouble == "speck":
                paper.speck(box.x + r.normal(0, 0.4), box.y + r.normal(0, 0.4))
            else:
                paper.box_mark(box, faint=True)
        elif hand.chance(0.25):
            if hand.struck and hand.chance(hand.struck):
                made.habit = "struck"
                paper.box_mark(box)
                paper.strike(box.x, box.y, box.size)
                continue
            made.habit = "ring" if hand.ring and hand.chance(hand.ring) else ""
            paper.box_mark(box, style=made.habit)
            made.value = 1.0


@dataclass
class Camera:
    """How a page is photographed.

    Attributes
    ----------
    dpi : float
        Resolution of the page in the picture.
    turn : float
        Degrees; people hold phones in every way.
    tilt : float
        Share of the page's side by which corners move.
    curl : float
        Millimetres by which the page bulges.
    shadow : float
        How much darker the darkest part is, as a share.
    blur : float
        Standard deviation in pixels.
    noise : float
        Standard deviation in levels of 255.
    quality : int
        Of the JPEG file.
    """

    rng: np.random.Generator
    dpi: float = 200.0
    turn: float = 0.0
    tilt: float = 0.0
    curl: float = 0.0
    shadow: float = 0.0
    blur: float = 0.5
    noise: float = 3.0
    quality: int = 85
    table: np.ndarray | None = None

    @classmethod
    def any(cls, rng: np.random.Generator, dpi: float) -> Camera:
        """Return a phone in somebody's hand."""
        return cls(
            rng,
            dpi=dpi,
            turn=float(rng.choice((0, 0, 0, 90, 180, 270)) + rng.normal(0, 4)),
            tilt=float(rng.uniform(0, 0.05)),
            curl=float(rng.uniform(0, 1.5)),
            shadow=float(rng.uniform(0, 0.45)),
            blur=float(rng.uniform(0.4, 1.0)),
            noise=float(rng.uniform(2, 7)),
            quality=int(rng.integers(60, 93)),
        )

    @classmethod
    def scanner(cls, rng: np.random.Generator, dpi: float) -> Camera:
        """Return a flat-bed scanner."""
        return cls(rng, dpi=dpi, turn=float(rng.normal(0, 0.6)), blur=0.4, noise=1.5, quality=88)

    def picture(self, paper: np.ndarray) -> np.ndarray:
        """Photograph a page (1 for white, 300 dpi); return levels from 0 to 255."""
        rng = self.rng
        factor = self.dpi / INK_DPI
        if factor < 1:
            sized = cv2.resize(paper, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        else:
            sized = paper
        h, w = sized.shape
        angle = np.deg2rad(self.turn)
        corners = np.array([(0, 0), (w, 0), (w, h), (0, h)], np.float32)
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        target = (corners - corners.mean(0)) @ turn.T
        target += rng.uniform(-1, 1, (4, 2)) * self.tilt * w
        border = rng.uniform(0.02, 0.08) * w
        target += border - target.min(0)
        out_w, out_h = (int(v) for v in np.ceil(target.max(0) + border))
        matrix = cv2.getPerspectiveTransform(corners, target.astype(np.float32))
        ys, xs = _coarse(out_h), _coarse(out_w).T
        inverse = np.linalg.inv(matrix).astype(np.float32)
        bottom = inverse[2, 0] * xs + inverse[2, 1] * ys + inverse[2, 2]
        sx = (inverse[0, 0] * xs + inverse[0, 1] * ys + inverse[0, 2]) / bottom
        sy = (inverse[1, 0] * xs + inverse[1, 1] * ys + inverse[1, 2]) / bottom
        if self.curl:
            bulge = self.curl * self.dpi / 25.4
            phase, waves = rng.uniform(0, np.pi), rng.uniform(0.5, 1.3)
            sy = sy + bulge * np.sin(np.pi * waves * sx / w + phase).astype(np.float32)
            sx = sx + 0.5 * bulge * np.sin(np.pi * waves * sy / h + phase).astype(np.float32)
        desk = float(rng.uniform(0.15, 0.6))
        image = cv2.remap(
            sized, _fine(sx, out_h, out_w), _fine(sy, out_h, out_w), cv2.INTER_LINEAR, None,
            cv2.BORDER_CONSTANT, desk if self.table is None else -9.0,
        )  # fmt: skip
        if self.table is not None:
            image = np.where(image < 0, self.table[:out_h, :out_w], image)
        image *= np.float32(0.9 * 255)
        image += np.float32(0.06 * 255)
        image *= self._light(out_h, out_w)
        image = cv2.GaussianBlur(image, (0, 0), self.blur)
        grain = rng.standard_normal(image.shape, dtype=np.float32)
        grain *= np.float32(self.noise)
        image += grain
        return np.clip(image, 0, 255, out=image).astype(np.uint8)

    def _light(self, high: int, wide: int) -> np.ndarray:
        """Uneven light: a slope, and a soft-edged shadow of a hand or a head."""
        rng = self.rng
        ys, xs = _coarse(high), _coarse(wide).T
        way = rng.uniform(0, 2 * np.pi)
        slope = np.float32(np.cos(way)) * xs / wide + np.float32(np.sin(way)) * ys / high
        slope = (slope - slope.min()) / max(float(np.ptp(slope)), 1e-6)
        light = 1 - np.float32(self.shadow * 0.6) * slope
        if self.shadow > 0.1:
            way = rng.uniform(0, 2 * np.pi)
            edge = np.float32(np.cos(way)) * (xs / wide - 0.5)
            edge = edge + np.float32(np.sin(way)) * (ys / high - 0.5)
            edge = (edge - np.float32(rng.uniform(-0.3, 0.3))) / np.float32(rng.uniform(0.02, 0.12))
            light *= 1 - np.float32(self.shadow * 0.6) / (1 + np.exp(-np.clip(edge, -30, 30)))
        return _fine(light, high, wide)

    def jpeg(self, paper: np.ndarray) -> bytes:
        """Photograph a page into a JPEG file."""
        done, data = cv2.imencode(
            ".jpg", self.picture(paper), [cv2.IMWRITE_JPEG_QUALITY, self.quality]
        )
        assert done
        return data.tobytes()


def _coarse(size: int) -> np.ndarray:
    """Return the middles of each 8 pixels of a side, shape (size / 8, 1)."""
    return (8 * np.arange(-(-size // 8), dtype=np.float32) + np.float32(3.5))[:, None]


def _fine(values: np.ndarray, high: int, wide: int) -> np.ndarray:
    """Spread what is known at each 8 pixels over all; what is smooth is as if worked out there."""
    size = (8 * values.shape[1], 8 * values.shape[0])
    spread = cv2.resize(values.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    return spread[:high, :wide]


@dataclass
class Tally:
    """How marks were read: right, wrong, or sent to review, clear ones and ambiguous ones apart."""

    clear: int = 0
    wrong: list[tuple] = field(default_factory=list)
    sent: list[tuple] = field(default_factory=list)
    ambiguous: int = 0
    guessed: list[tuple] = field(default_factory=list)
    errors: list[float] = field(default_factory=list)
    pages: int = 0
    refused: list[tuple] = field(default_factory=list)

    def page(self, marks: list[Mark], page: Page, reading, label: str = "") -> None:
        """Compare what was read from a page with what was drawn on it."""
        self.pages += 1
        code = page.presentation.name if page.presentation else ""
        read = {one.attribute: one.value for one in reading.answers if one.code == code}
        asked = {one.attribute: one.reason for one in reading.uncertain if one.code == code}
        if not read and not asked:
            self.refused.append((label, [fault.kind for fault in reading.faults]))
            return
        for mark in marks:
            told = (label, mark.attribute, mark.trouble or mark.habit, mark.corrected, mark.value)
            got = read.get(mark.attribute)
            if mark.trouble:
                self.ambiguous += 1
                if mark.attribute not in asked:
                    self.guessed.append((*told, got))
                continue
            self.clear += 1
            if mark.attribute in asked:
                self.sent.append((*told, asked[mark.attribute]))
            elif not self._right(mark, page, got):
                self.wrong.append((*told, got))

    def _right(self, mark: Mark, page: Page, got: float | str | None) -> bool:
        if mark.kind == "line":
            if mark.value is None or got is None:
                return mark.value is None and got is None
            scale = next(s for s in page.scales if s.attribute == mark.attribute)
            miss = abs(got - mark.value) * scale.length / (scale.high - scale.low)
            self.errors.append(miss)
            return miss <= 1.5
        if mark.attribute.startswith("fault:") and mark.value is None:
            return got == 0  # as the sheet says
        return got == mark.value

    def shares(self) -> dict[str, float]:
        """Return shares of what they are shares of, and the largest miss on a line in mm."""
        return {
            "pages": self.pages,
            "pages refused": len(self.refused) / max(1, self.pages),
            "clear marks": self.clear,
            "wrong of clear": len(self.wrong) / max(1, self.clear),
            "sent of clear": len(self.sent) / max(1, self.clear),
            "ambiguous marks": self.ambiguous,
            "sent of ambiguous": 1 - len(self.guessed) / max(1, self.ambiguous),
            "line miss, largest": max(self.errors, default=0.0),
            "line miss, 95 %": float(np.quantile(self.errors, 0.95)) if self.errors else 0.0,
        }
