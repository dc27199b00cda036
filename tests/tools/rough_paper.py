"""Rough handling of paper and pictures: wet, folded, stained, held down, faxed, sent about.

Each condition of `CONDITIONS` fills a page in, handles it, and leaves a picture file; what was
drawn is known. Nothing here is used by the program. Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from PIL import Image
from simulator import INK_DPI, Camera, Hand, Page, Paper, fill_in

_PX = INK_DPI / 25.4
_FIELD = 16  # a smooth field is drawn at each so many pixels


@dataclass
class Rough:
    """What a condition leaves: a picture file, and the papers in it."""

    path: Path
    papers: list[Paper]


def _wave(rng: np.random.Generator, high: int, wide: int, sigma: float) -> np.ndarray:
    """Draw a smooth random field of standard deviation 1; `sigma` is how far it holds together."""
    margin = int(4 * sigma * _PX / _FIELD) + 1
    size = (high // _FIELD + 2 + 2 * margin, wide // _FIELD + 2 + 2 * margin)
    field = cv2.GaussianBlur(
        rng.standard_normal(size).astype(np.float32), (0, 0), sigma * _PX / _FIELD
    )[margin:-margin, margin:-margin]
    return (field - field.mean()) / field.std()


def _moved(picture: np.ndarray, shift_x: np.ndarray, shift_y: np.ndarray) -> np.ndarray:
    """Move each place of a picture by a field in millimetres."""
    high, wide = picture.shape
    ys, xs = np.mgrid[0:high, 0:wide].astype(np.float32)
    fields = [
        cv2.resize(part.astype(np.float32), (wide, high), interpolation=cv2.INTER_CUBIC)
        for part in (shift_x, shift_y)
    ]
    return cv2.remap(
        picture, xs + fields[0] * _PX, ys + fields[1] * _PX, cv2.INTER_LINEAR, None,
        cv2.BORDER_REPLICATE,
    )  # fmt: skip


def cockled(picture: np.ndarray, rng: np.random.Generator, spread: float) -> np.ndarray:
    """Warp a page as paper that was wet: waves of some 6 cm and ripples, and their shades."""
    shape = picture.shape
    fields = [
        spread * (0.9 * _wave(rng, *shape, 14) + 0.43 * _wave(rng, *shape, 6)) for _ in range(2)
    ]
    light = 1 - 0.05 * np.clip(_wave(rng, *shape, 10), -2, 2)
    shade = cv2.resize(light, shape[::-1], interpolation=cv2.INTER_CUBIC)
    return _moved(picture, *fields) * np.clip(shade, 0, 1.1)


def folded(
    picture: np.ndarray, rng: np.random.Generator, down: int, across: int, ridge: float
) -> np.ndarray:
    """Fold a page and unfold it: creases stand `ridge` high, seen from 35 cm above."""
    high, wide = picture.shape
    ys = np.arange(0, high + _FIELD, _FIELD, dtype=np.float32)[:, None] / _PX
    xs = np.arange(0, wide + _FIELD, _FIELD, dtype=np.float32)[None, :] / _PX
    height = np.zeros((len(ys), xs.shape[1]), np.float32)
    shade = np.ones_like(height)
    worn = picture.copy()
    for place, long, parts in ((ys, high / _PX, down), (xs, wide / _PX, across)):
        knots = [0.0, *(long * k / parts + rng.normal(0, 2) for k in range(1, parts)), long]
        rises = [0.0, *(ridge * rng.uniform(0.8, 1.1) * (k % 2) for k in range(1, parts)), 0.0]
        height = height + np.interp(place, knots, rises).astype(np.float32)
        slope = np.diff(rises) / np.diff(knots)
        part = np.clip(np.searchsorted(knots, place) - 1, 0, parts - 1)
        shade = shade * (1 + 1.2 * slope[part])
        for knot in knots[1:-1]:
            at, dark = round(knot * _PX), rng.uniform(0.05, 0.22)
            line = slice(at - 2, at + 3)
            if place is ys:
                worn[line] = worn[line] * (1 - dark) + 0.15 * (1 - worn[line])
            else:
                worn[:, line] = worn[:, line] * (1 - dark) + 0.15 * (1 - worn[:, line])
    eye_x, eye_y = wide / _PX * rng.uniform(0.3, 0.7), high / _PX * rng.uniform(0.3, 0.7)
    grown = height / 350
    light = cv2.resize(shade.astype(np.float32), (wide, high), interpolation=cv2.INTER_LINEAR)
    return _moved(worn, -(xs - eye_x) * grown, -(ys - eye_y) * grown) * np.clip(light, 0, 1.08)


def stained(picture: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Leave rings of cup feet and drops on a page."""
    high, wide = picture.shape
    layer = np.zeros_like(picture)
    for _ in range(int(rng.integers(1, 4))):
        centre = int(rng.uniform(0.1, 0.9) * wide), int(rng.uniform(0.1, 0.9) * high)
        ring = np.zeros_like(picture)
        cv2.circle(
            ring, centre, round(rng.uniform(22, 38) * _PX), float(rng.uniform(0.08, 0.28)),
            round(rng.uniform(0.8, 2.5) * _PX), cv2.LINE_AA,
        )  # fmt: skip
        layer += ring
    for _ in range(int(rng.integers(2, 7))):
        centre = int(rng.uniform(0, 1) * wide), int(rng.uniform(0, 1) * high)
        drop = np.zeros_like(picture)
        radius = round(rng.uniform(1.5, 6) * _PX)
        cv2.circle(drop, centre, radius, float(rng.uniform(0.03, 0.12)), -1, cv2.LINE_AA)
        cv2.circle(drop, centre, radius, float(rng.uniform(0.08, 0.2)), 5, cv2.LINE_AA)
        layer += drop
    patchy = cv2.resize(np.clip(1 + 0.4 * _wave(rng, high, wide, 5), 0.2, 1.8), (wide, high))
    return picture * (1 - np.clip(cv2.GaussianBlur(layer, (0, 0), 2) * patchy, 0, 0.5))


def held_down(picture: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Hold one or two corners down by fingers."""
    high, wide = picture.shape
    made = picture.copy()
    for corner in rng.choice(4, int(rng.integers(1, 3)), replace=False):
        x, y = (0, wide)[corner % 2], (0, high)[corner // 2]
        long, thick = rng.uniform(14, 30) * _PX, rng.uniform(7, 9) * _PX
        way = np.degrees(np.arctan2(high / 2 - y, wide / 2 - x)) + rng.normal(0, 15)
        cv2.ellipse(
            made, (int(x), int(y)), (int(long), int(thick)), float(way), 0, 360,
            float(rng.uniform(0.4, 0.75)), -1, cv2.LINE_AA,
        )  # fmt: skip
    return made


def table(rng: np.random.Generator) -> np.ndarray:
    """Lay a striped, checked or grained cloth or board out, of the shades that colours have."""
    size = 6000
    ys, xs = np.mgrid[0:size, 0:size].astype(np.float32)
    light, dark = rng.uniform(0.55, 0.95), rng.uniform(0.05, 0.5)
    period = rng.uniform(40, 240)
    kind = rng.choice(("striped", "checked", "grained"))
    if kind == "striped":
        pattern = (xs + ys * rng.uniform(-0.4, 0.4)) % period < period / 2
    elif kind == "checked":
        pattern = (xs % period < period / 2) ^ (ys % period < period / 2)
    else:
        pattern = 0.5 + 0.5 * np.sin(xs / period * 6 + 3 * np.sin(ys / (4 * period)))
    return (dark + (light - dark) * pattern).astype(np.float32)


Make = Callable[[Page, np.ndarray, np.random.Generator, Path], Rough]


def _filled(page: Page, picture: np.ndarray, rng: np.random.Generator, **hand: object) -> Paper:
    return fill_in(page, picture, Hand(rng, **hand))


def _photo(
    papers: Sequence[Paper],
    pictures: Sequence[np.ndarray],
    rng: np.random.Generator,
    path: Path,
    **camera: object,
) -> Rough:
    """Photograph pages by a telephone at 150 to 250 dpi, side by side if there are several."""
    taken = []
    for picture in pictures:
        phone = Camera.any(rng, float(rng.choice((150, 200, 250))))
        taken.append(replace(phone, **camera).picture(picture))
    if len(taken) > 1:
        tall = max(one.shape[0] for one in taken)
        taken = [
            cv2.copyMakeBorder(
                one, 0, tall - one.shape[0], 0, 0, cv2.BORDER_CONSTANT, None, int(one[0, 0])
            )
            for one in taken
        ]
    path = path.with_suffix(".jpg")
    cv2.imwrite(str(path), np.hstack(taken), [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(70, 93))])
    return Rough(path, list(papers))


def _handled(handle: Callable[[np.ndarray, np.random.Generator], np.ndarray], **hand) -> Make:
    def make(page: Page, picture: np.ndarray, rng: np.random.Generator, path: Path) -> Rough:
        paper = _filled(page, picture, rng, **hand)
        return _photo([paper], [handle(paper.picture, rng)], rng, path)

    return make


def _on_a_table(page: Page, picture: np.ndarray, rng: np.random.Generator, path: Path) -> Rough:
    paper = _filled(page, picture, rng)
    return _photo([paper], [paper.picture], rng, path, table=table(rng))


def two_sheets(
    pages: Sequence[tuple[Page, np.ndarray]], rng: np.random.Generator, path: Path
) -> Rough:
    """Photograph several pages side by side in one picture."""
    papers = [_filled(page, picture, rng) for page, picture in pages]
    return _photo(papers, [paper.picture for paper in papers], rng, path)


def _scanned(save: Callable[[np.ndarray, Path], Path], dpi: float = 200, **hand) -> Make:
    def make(page: Page, picture: np.ndarray, rng: np.random.Generator, path: Path) -> Rough:
        paper = _filled(page, picture, rng, **hand)
        return Rough(save(Camera.scanner(rng, dpi).picture(paper.picture), path), [paper])

    return make


def _deep(grey: np.ndarray, path: Path) -> Path:
    path = path.with_suffix(".png")
    cv2.imwrite(str(path), grey.astype(np.uint16) * 257)
    return path


def _four_inks(grey: np.ndarray, path: Path) -> Path:
    path = path.with_suffix(".jpg")
    Image.fromarray(grey).convert("RGB").convert("CMYK").save(path, quality=88)
    return path


def _few_colours(grey: np.ndarray, path: Path) -> Path:
    path = path.with_suffix(".png")
    coloured = np.dstack([grey, np.clip(grey * 0.97, 0, 255), np.clip(grey * 0.9, 0, 255)])
    Image.fromarray(coloured.astype(np.uint8)).quantize(32).save(path)
    return path


def _fax(grey: np.ndarray, path: Path) -> Path:
    path = path.with_suffix(".tif")
    Image.fromarray(grey).convert("L").point(lambda v: 255 * (v > 127), "1").save(
        path, compression="group4"
    )
    return path


def _messenger(side: int, quality: int) -> Make:
    def make(page: Page, picture: np.ndarray, rng: np.random.Generator, path: Path) -> Rough:
        paper = _filled(page, picture, rng)
        taken = Camera.any(rng, 200).picture(paper.picture)
        factor = side / max(taken.shape)
        small = cv2.resize(taken, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        path = path.with_suffix(".jpg")
        cv2.imwrite(str(path), small, [cv2.IMWRITE_JPEG_QUALITY, quality])
        return Rough(path, [paper])

    return make


def _dim(page: Page, picture: np.ndarray, rng: np.random.Generator, path: Path) -> Rough:
    paper = _filled(page, picture, rng, tool="light pencil")
    path = path.with_suffix(".jpg")
    path.write_bytes(Camera.any(rng, 110).jpeg(paper.picture))
    return Rough(path, [paper])


_ODD = {"ring": 0.15, "struck": 0.15}  # shares: boxes ringed, marks struck through


def _in_three(picture: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return folded(picture, rng, 3, 1, rng.uniform(4, 5))


def _in_four(picture: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return folded(picture, rng, *((2, 2), (4, 1))[rng.integers(2)], 4.5)


CONDITIONS: dict[str, Make] = {
    "flat": _handled(lambda picture, _: picture),
    "cockled 0.35": _handled(lambda picture, rng: cockled(picture, rng, 0.35)),
    "cockled 0.6": _handled(lambda picture, rng: cockled(picture, rng, 0.6)),
    "cockled 1.0": _handled(lambda picture, rng: cockled(picture, rng, 1.0)),
    "folded in three": _handled(_in_three),
    "folded in four": _handled(_in_four),
    "rings": _handled(lambda picture, _: picture, ring=0.3),
    "rings alone": _handled(lambda picture, _: picture, ring=1.0),
    "struck": _handled(lambda picture, _: picture, struck=0.3),
    "cockled 0.35, odd hands": _handled(lambda picture, rng: cockled(picture, rng, 0.35), **_ODD),
    "cockled 0.6, odd hands": _handled(lambda picture, rng: cockled(picture, rng, 0.6), **_ODD),
    "folded in three, odd hands": _handled(_in_three, **_ODD),
    "folded in four, odd hands": _handled(_in_four, **_ODD),
    "stained": _handled(stained),
    "coloured table": _on_a_table,
    "fingers": _handled(held_down),
    "16-bit": _scanned(_deep),
    "CMYK": _scanned(_four_inks),
    "palette": _scanned(_few_colours),
    "fax, pen": _scanned(_fax, tool="black pen"),
    "fax, light pencil": _scanned(_fax, tool="light pencil"),
    "110 dpi, light pencil": _dim,
    "messenger, 1600": _messenger(1600, 60),
    "messenger, 800": _messenger(800, 50),
}
