"""Draw what tests/outside/attacks/hands.md says of whole pages, paper and pictures, and read it.

Kinds that begin with SH were sealed until 2026-11-27 (hands_sealed.md beside it).

    python benchmarks/hands_on_pages.py PAGES SEED [KIND ...] > pages.jsonl

One line a kind: pages, pages that were refused and why, marks, how many were read right, sent to a
person, and silently wrong, which is another answer, a missing or a zero without a question. Kinds
that are marks in a row stand in `hands_on_paper.py`. Shares and lengths are as the list names them.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections import Counter
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from photo_reading import load

simulator = load("simulator")
rough = load("rough_paper")
PX = 300 / 25.4
simulator.TOOLS["pale pen"] = ((0.2, 0.3), (0.4, 0.7), 0.0)


def _pen(rng, **how):
    tool = str(rng.choice(("blue pen", "black pen", "dark pencil")))
    return simulator.Hand(rng, **{"tool": tool, "box": "tick", "correct": 0.0} | how)


def _kind(paper=lambda *_: None, picture=lambda made, _: made, camera=None, **hand):
    """Return what fills a page in, spoils the paper, photographs it, and spoils the picture."""

    def make(page, printed, rng, path):
        filled = simulator.fill_in(page, printed, _pen(rng, **hand))
        spoiled = paper(filled, rng)
        phone = replace(simulator.Camera.any(rng, 200), **(camera or {}))
        taken = phone.picture(filled.picture if spoiled is None else spoiled)
        path = path.with_suffix(".jpg")
        cv2.imwrite(str(path), picture(taken, rng), [cv2.IMWRITE_JPEG_QUALITY, 88])
        return rough.Rough(path, [filled])

    return make


def _line_down(paper, _) -> None:
    """H32: one stroke down through the last circle of all rows; what was there before is gone."""
    rows = [group for group in paper.page.groups if group[0].attribute.startswith("fault:")]
    last = [group[-1] for group in rows]
    paper.stroke([(last[0].x, last[0].y - 2), (last[-1].x, last[-1].y + 2)])
    for mark in paper.marks:
        if mark.attribute.startswith("fault:"):
            mark.value = last[0].value


def _rows_left_blank(page, printed, rng, path):
    answers = {(s.code, s.attribute): (s.low + s.high) / 2 for s in page.scales}
    paper = simulator.fill_in(page, printed, _pen(rng), answers)
    _line_down(paper, rng)
    path = path.with_suffix(".jpg")
    path.write_bytes(simulator.Camera.any(rng, 200).jpeg(paper.picture))
    for mark in paper.marks:
        if mark.kind == "one" and not mark.attribute.startswith("fault:"):
            mark.value = None
    return rough.Rough(path, [paper])


def _all_ticked(paper, _) -> None:
    found = {mark.attribute: mark for mark in paper.marks}
    for box in paper.page.boxes:
        mark = found[box.attribute]
        if box.role == "tick" and not mark.value:
            paper.box_mark(box)
            mark.value = 1.0


def _blown_up(paper, rng):
    """H44: a drop of 12 mm in which the ink of two neighbouring rows runs."""
    box = paper.page.boxes[int(rng.integers(len(paper.page.boxes)))]
    ys, xs = np.mgrid[0 : paper.picture.shape[0], 0 : paper.picture.shape[1]]
    inside = np.hypot(xs / PX - box.x, ys / PX - box.y - 2.5) < 6
    run = cv2.GaussianBlur(paper.picture, (0, 0), 0.9 * PX)
    return np.where(inside, 0.5 * run + 0.5 * paper.picture, paper.picture) * (1 - 0.06 * inside)


def _corner_gone(paper, rng):
    """H45: a corner of 25 to 40 mm torn off or folded over."""
    high, wide = paper.picture.shape
    side, corner = rng.uniform(25, 40) * PX, int(rng.integers(4))
    x, y = (0, wide)[corner % 2], (0, high)[corner // 2]
    way_x, way_y = (1, -1)[corner % 2], (1, -1)[corner // 2]
    torn = np.array([(x, y), (x + way_x * side, y), (x, y + way_y * side)], np.int32)
    made = paper.picture.copy()
    cv2.fillPoly(made, [torn], float(rng.uniform(0.3, 0.95)), cv2.LINE_AA)
    return made


def _staple_hole_clip(paper, rng):
    """H46: a staple and a clip over boxes, a hole in the margin."""
    made = paper.picture.copy()
    places = [paper.page.boxes[int(at)] for at in rng.choice(len(paper.page.boxes), 2)]
    at = [(round(box.x * PX), round(box.y * PX)) for box in places]
    cv2.line(made, at[0], (at[0][0] + round(11 * PX), at[0][1] + 9), 0.35, 7, cv2.LINE_AA)
    for far in (0, round(1.5 * PX)):
        cv2.ellipse(made, at[1], (round(3.5 * PX) - far, round(14 * PX) - 2 * far), 8, 0, 360, 0.4,
                    10, cv2.LINE_AA)  # fmt: skip
    cv2.circle(made, (round(9 * PX), made.shape[0] // 2), round(3 * PX), 0.4, -1, cv2.LINE_AA)
    return made


def _thumb(paper, rng):
    """H48: a thumb over a line, another finger over a corner at times."""
    scale = paper.page.scales[int(rng.integers(len(paper.page.scales)))]
    made = paper.picture.copy()
    middle = round((scale.x + rng.uniform(10, scale.length - 10)) * PX), round(scale.y * PX)
    cv2.ellipse(made, middle, (round(9 * PX), round(14 * PX)), float(rng.uniform(-40, 40)), 0, 360,
                float(rng.uniform(0.4, 0.75)), -1, cv2.LINE_AA)  # fmt: skip
    return rough.held_down(made, rng) if rng.random() < 0.5 else made


def _from_aside(taken, _):
    """H49: the near edge 1.5 times as wide as the far one."""
    high, wide = taken.shape
    far = wide / 6
    corners = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], np.float32)
    target = np.array(
        [(far, 0), (wide - far, 0), (wide, high * 0.82), (0, high * 0.82)], np.float32
    )
    matrix = cv2.getPerspectiveTransform(corners, target)
    return cv2.warpPerspective(taken, matrix, (wide, high), borderValue=int(taken[0, 0]))


def _half_dark(taken, rng):
    """H50: half of the picture at a third of the light."""
    across = np.linspace(-1, 1, taken.shape[1]) * (1, -1)[rng.integers(2)]
    light = 1 - (2 / 3) / (1 + np.exp(-across / 0.03))
    return (taken * light[None, :]).astype(np.uint8)


def _glare(taken, rng):
    """H51: a spot of 4 cm, burnt out."""
    high, wide = taken.shape
    ys, xs = np.mgrid[0:high, 0:wide]
    x, y = rng.uniform(0.25, 0.75) * wide, rng.uniform(0.25, 0.75) * high
    near = np.hypot(xs - x, ys - y) / (20 * 200 / 25.4)
    return np.where(near < 1.25, np.clip(taken + 255 * np.clip(5 * (1.2 - near), 0, 1), 0, 255),
                    taken).astype(np.uint8)  # fmt: skip


def _coarse_fax(page, printed, rng, path):
    """H53: 204 by 98 dots an inch, some lines missing, black and white alone."""
    paper = simulator.fill_in(page, printed, _pen(rng))
    taken = simulator.Camera.scanner(rng, 204).picture(paper.picture)
    small = cv2.resize(taken, None, fx=1, fy=98 / 204, interpolation=cv2.INTER_AREA)
    small = np.delete(small, rng.choice(len(small), 4, replace=False), axis=0)
    path = path.with_suffix(".png")
    tall = cv2.resize(small, (taken.shape[1], taken.shape[0]), interpolation=cv2.INTER_NEAREST)
    cv2.imwrite(str(path), np.where(tall > 127, 255, 0).astype(np.uint8))
    return rough.Rough(path, [paper])


def _screenshot(taken, rng):
    """H55: a telephone's screen with bars around, or photographed with its moire."""
    if rng.random() < 0.5:
        ys, xs = np.mgrid[0 : taken.shape[0], 0 : taken.shape[1]]
        stripes = 1 + 0.1 * np.sin(xs * 0.9 + ys * 0.05) * np.sin(ys * 0.8)
        return np.clip(taken * stripes, 0, 255).astype(np.uint8)
    small = cv2.resize(taken, (1080, round(1080 * taken.shape[0] / taken.shape[1])),
                       interpolation=cv2.INTER_AREA)  # fmt: skip
    return cv2.copyMakeBorder(small, 300, 300, 0, 0, cv2.BORDER_CONSTANT, value=20)


def _shaken(taken, _):
    return cv2.filter2D(taken, -1, np.eye(5, dtype=np.float32) / 5)


def _empty(page, printed, rng, path):
    """H60: a form that nobody filled in."""
    paper = simulator.fill_in(page, printed, _pen(rng), {})
    for mark in paper.marks:
        mark.value = 0.0 if mark.kind == "tick" else None
    path = path.with_suffix(".jpg")
    path.write_bytes(simulator.Camera.scanner(rng, 200).jpeg(paper.picture))
    return rough.Rough(path, [paper])


def _on_lines(draw):
    """Mark lines alone, each in one way; `draw` returns what the mark means, or ASKED."""

    def make(page, printed, rng, path):
        paper = simulator.fill_in(page, printed, _pen(rng), {})
        found = {mark.attribute: mark for mark in paper.marks}
        for scale in page.scales:
            found[scale.attribute].value = draw(paper, scale, rng)
        path = path.with_suffix(".jpg")
        path.write_bytes(simulator.Camera.any(rng, 200).jpeg(paper.picture))
        for mark in paper.marks:
            mark.value = 0.0 if mark.kind == "tick" else mark.value
        return rough.Rough(path, [paper])

    return make


ASKED = -99.0  # no answer is right


def _any_stroke(paper, scale, rng):
    """SH18: a tick whose corner lies on the line, a cross, a dot, a slanting stroke."""
    at, y = scale.x + rng.uniform(4, scale.length - 4), scale.y
    match int(rng.integers(4)):
        case 0:
            paper.stroke([(at - 1.6, y - 1.8), (at, y + 0.2), (at + 2.6, y - 3.6)])
        case 1:
            paper.stroke([(at - 1.6, y - 1.6), (at + 1.6, y + 1.6)])
            paper.stroke([(at - 1.6, y + 1.6), (at + 1.6, y - 1.6)])
        case 2:
            for _ in range(2):
                paper.speck(at, y)
        case _:
            paper.stroke([(at + 1.4, y - 2.6), (at - 1.4, y + 2.6)])
    return scale.value(at)


def _far_beyond(paper, scale, rng):
    """SH19: 4 mm before the beginning or beyond the end."""
    paper.line_mark(scale, float(rng.choice((scale.x - 4, scale.x + scale.length + 4))))
    return ASKED


def _two_places(paper, scale, rng):
    """SH20: two strokes, or a stroke and a ring elsewhere."""
    at = scale.x + rng.uniform(6, 30)
    paper.line_mark(scale, at)
    if rng.random() < 0.5:
        paper.line_mark(scale, at + rng.uniform(8, 40))
    else:
        paper.ringed(at + rng.uniform(8, 40), scale.y, 3.0)
    return ASKED


def _letters(paper, text, x, y, high):
    layer = np.zeros(paper.picture.shape, np.uint8)
    cv2.putText(layer, text, (round(x * PX), round(y * PX)), cv2.FONT_HERSHEY_SIMPLEX,
                high * PX / 21, 255, 5, cv2.LINE_AA)  # fmt: skip
    paper.picture *= 1 - layer.astype(np.float32) / 255 * 0.85


def _shifted_with_arrow(paper, _):
    """SH11: an arrow at the right of the rows, and "oops, shift up"; rows are as they are."""
    rows = [group for group in paper.page.groups if group[0].attribute.startswith("fault:")]
    y1, y2 = rows[2][0].y, rows[-1][0].y
    wide, high = paper.page.size
    x = min(rows[0][-1].x + 12, wide - 8)
    paper.stroke([(x, y2), (x, y1), (x - 1.5, y1 + 2)])
    _letters(paper, "oops, shift up", x - 40, high - 22, 4)


def _swapped(paper, _):
    """SH12: written across the empty foot of the sheet."""
    _letters(paper, "glass 2 and 3 swapped!", 50, paper.page.size[1] - 22, 6)


def _other_code(paper, _):
    """SH13: the code at the head struck, another written beside it."""
    paper.stroke([(18, 23.5), (38, 22.5)])
    _letters(paper, "632", 62, 27, 6)


def _other_name(paper, _):
    """SH14: the assessor's name struck, another written beside it."""
    paper.stroke([(18, 14.4), (44, 14.2)])
    _letters(paper, "Kei", 90, 15, 4)


def _doodles(paper, _):
    """SH17: a flower, a sum and a number in the margin."""
    _letters(paper, "7+4=11", 4, 120, 3.5)
    _letters(paper, "0312345", 3, 200, 3)
    wide = paper.page.size[0]
    for turn in np.linspace(0, 2 * np.pi, 6):
        paper.ringed(wide - 8 + 2 * np.cos(turn), 150 + 2 * np.sin(turn), 0.5)


def _highlighter(page, printed, rng, path):
    """SH08: yellow, strong in colour, some 4 % of luminance."""
    paper = simulator.fill_in(page, printed, _pen(rng))
    marks = np.clip(1 - paper.picture / np.maximum(printed, 0.05), 0, 1)
    camera = simulator.Camera.scanner(rng, 200)
    seed = int(rng.integers(2**31))
    shown = []
    for share in (0.6, 0.02, 0.02):  # blue, green, red
        camera.rng = np.random.default_rng(seed)
        shown.append(camera.picture(printed * (1 - share * marks)))
    path = path.with_suffix(".jpg")
    cv2.imwrite(str(path), np.dstack(shown), [cv2.IMWRITE_JPEG_QUALITY, 90])
    return rough.Rough(path, [paper])


def _sticky_note(paper, rng):
    """SH09: a note of 50 mm on the page."""
    high, wide = paper.picture.shape
    x, y = (int(rng.uniform(0.15, 0.6) * side) for side in (wide, high))
    made = paper.picture.copy()
    made[y : y + round(50 * PX), x : x + round(50 * PX)] = 0.88
    return made


def _photocopy(taken, rng):
    """SH21: shrunk to 93 %, a black border, dust in 200 places, skewed by 2 degrees."""
    high, wide = taken.shape
    matrix = cv2.getRotationMatrix2D((wide / 2, high / 2), float(rng.choice((-2, 2))), 0.93)
    made = cv2.warpAffine(taken, matrix, (wide, high), borderValue=15)
    for x, y in zip(rng.integers(0, wide, 200), rng.integers(0, high, 200), strict=True):
        cv2.circle(made, (int(x), int(y)), int(rng.integers(1, 3)), 40, -1)
    return made


def _white_stripe(paper, _):
    """SH22: no toner in a stripe of 3 mm down the page through two corner marks."""
    made = paper.picture.copy()
    x = round((paper.page.corners[0][0] + 2) * PX)
    made[:, x : x + round(3 * PX)] = 1.0
    return made


def _two_on_one(page, printed, rng, path):
    """SH23: two pages on one sheet, at 71 %."""
    paper = simulator.fill_in(page, printed, _pen(rng))
    small = cv2.resize(paper.picture, None, fx=0.71, fy=0.71, interpolation=cv2.INTER_AREA)
    path = path.with_suffix(".jpg")
    both = np.hstack([small, np.ones_like(small)])
    path.write_bytes(simulator.Camera.scanner(rng, 250).jpeg(both))
    return rough.Rough(path, [paper])


def _shine_through(paper, rng):
    """SH25: wet: the print of the other side and a tray shine through, contrast is low."""
    behind = cv2.GaussianBlur(paper.picture[:, ::-1], (0, 0), 4)
    ys, _ = np.mgrid[0 : paper.picture.shape[0], 0 : paper.picture.shape[1]]
    tray = 0.08 * (np.sin(ys / 90 + rng.uniform(0, 6)) > 0)
    return 0.35 + 0.6 * paper.picture * (1 - 0.25 * (1 - behind)) - tray


def _lamp_in_a_sleeve(taken, rng):
    """SH26: a bright bar over two lines."""
    y, thick = int(rng.uniform(0.3, 0.7) * len(taken)), round(9 / 25.4 * 200)
    made = taken.copy()
    made[y : y + thick] = 255
    return made


def _warm_light(page, printed, rng, path):
    """SH27: 2,700 K without white balance: orange paper."""
    paper = simulator.fill_in(page, printed, _pen(rng, tool="dark pencil"))
    taken = simulator.Camera.any(rng, 200).picture(paper.picture).astype(np.float32)
    path = path.with_suffix(".jpg")
    cv2.imwrite(str(path), np.dstack([taken * 0.35, taken * 0.68, taken]).astype(np.uint8))
    return rough.Rough(path, [paper])


def _scanner_app(taken, _):
    """SH28: whitened and cleaned: what is lighter than 0.45 of the paper's darkness goes."""
    light = cv2.GaussianBlur(cv2.dilate(taken, np.ones((31, 31), np.uint8)), (0, 0), 15)
    share = cv2.medianBlur(taken, 3) / np.maximum(light, 1)
    return np.where(share > 0.62, 255, np.clip(share * 300 - 60, 0, 255)).astype(np.uint8)


KINDS = {
    "H22": _kind(tool="light pencil"),
    "H23": _kind(tool="light pencil", camera={"shadow": 0.6}),
    "H32": _rows_left_blank,
    "H36": _kind(),
    "H37": _kind(_all_ticked),
    "H40": _kind(tool="pale pen"),
    "H41": _kind(lambda paper, rng: rough.folded(paper.picture, rng, 2, 2, 4.5)),
    "H42": _kind(lambda paper, rng: rough.cockled(paper.picture, rng, 0.6)),
    "H43": _kind(lambda paper, rng: rough.stained(paper.picture, rng)),
    "H44": _kind(_blown_up),
    "H45": _kind(_corner_gone),
    "H46": _kind(_staple_hole_clip),
    "H47": rough.CONDITIONS["coloured table"],
    "H48": _kind(_thumb),
    "H49": _kind(picture=_from_aside),
    "H50": _kind(picture=_half_dark),
    "H51": _kind(picture=_glare),
    "H52, 16 bits": rough.CONDITIONS["16-bit"],
    "H52, four inks": rough.CONDITIONS["CMYK"],
    "H52, palette": rough.CONDITIONS["palette"],
    "H52, 1 bit": rough.CONDITIONS["fax, pen"],
    "H53": _coarse_fax,
    "H54": rough.CONDITIONS["messenger, 800"],
    "H55": _kind(picture=_screenshot),
    "H57, upside down": _kind(picture=lambda taken, _: taken[::-1, ::-1].copy()),
    "H57, mirrored": _kind(picture=lambda taken, _: taken[:, ::-1].copy()),
    "H58": _kind(picture=lambda taken, _: taken[: len(taken) * 2 // 3], camera={"turn": 0.0}),
    "H59": _kind(picture=_shaken),
    "H60": _empty,
    "SH08": _highlighter,
    "SH09": _kind(_sticky_note),
    "SH11": _kind(_shifted_with_arrow),
    "SH12": _kind(_swapped),
    "SH13": _kind(_other_code),
    "SH14": _kind(_other_name),
    "SH17": _kind(_doodles),
    "SH18": _on_lines(_any_stroke),
    "SH19": _on_lines(_far_beyond),
    "SH20": _on_lines(_two_places),
    "SH21": _kind(picture=_photocopy),
    "SH22": _kind(_white_stripe),
    "SH23": _two_on_one,
    "SH24": _kind(camera={"curl": 9.0}),
    "SH25": _kind(_shine_through),
    "SH26": _kind(picture=_lamp_in_a_sleeve, camera={"turn": 0.0}),
    "SH27": _warm_light,
    "SH28": _kind(picture=_scanner_app, tool="light pencil"),
    "SH29": _empty,
}


def main(pages: int, seed: int, names: list[str]) -> None:
    from kikichoko.forms.photo.photo_reader import read_photos

    sheet = load("paper_sheets").sheet_maker()("en")
    printed = simulator.printed(sheet)
    for kind in names or KINDS:
        tally, faults = simulator.Tally(), Counter()
        for number in range(pages):
            rng = np.random.default_rng([seed, int(kind.lstrip("SH")[:2]), number])
            page, picture = printed[2 + number % 4]
            with tempfile.TemporaryDirectory() as folder:
                made = KINDS[kind](page, picture, rng, Path(folder) / "page")
                reading = read_photos([made.path], [sheet])
            faults.update(fault.kind for fault in reading.faults)
            tally.page(made.papers[0].marks, page, reading, f"{seed}/{number}")
        counts = {"pages": pages, "refused": len(tally.refused), "marks": tally.clear,
                  "asked": len(tally.sent), "wrong": len(tally.wrong)}  # fmt: skip
        told = {"told": tally.wrong[:6], "faults": dict(faults)}
        print(json.dumps({"kind": kind} | counts | told, default=str), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3:])
