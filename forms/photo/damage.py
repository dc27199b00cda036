"""Whether the data of a picture are damaged, so that what it shows may be untrue.

A few bytes spoiled by a bad card or copy leave a JPEG picture that opens: what comes
after them is shifted, or lighter, or noise, and a mark is read where none was made.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import simplejpeg
from numpy.typing import NDArray

# What libjpeg says of data that it had to make up for; all else that it says is harmless.
_WARNED = ("Corrupt JPEG data", "Premature end of JPEG")
JPEG = b"\xff\xd8\xff"
STEP = 2.5  # levels of 255 by which the paper's brightness jumps
SURE = 4.0  # deviations of such differences by noise: a shadow's edge and noise are no jump
SHARE = 0.25  # of the page's width along which it jumps
_PARTS = 16  # strips in which the paper's brightness is looked at
_LEAST = 0.3  # of a strip must be bare paper to tell its brightness
_ALIKE = 0.3  # of a jump, by which strips may differ: all are shifted by as much
_NEAR = 7  # pixels on either side that are compared
_SHARP = 0.85  # of a jump lies within two pixels: what a lens drew is softer
_CREASE = 0.3  # of a jump by which nothing beside it is lighter or darker, as a crease is
_HALF = 0.5  # a level: brightness comes in whole ones


def decoding_fault(data: bytes) -> str:
    """Return what a strict decoder finds wrong with a JPEG picture, or nothing."""
    try:
        simplejpeg.decode_jpeg(data, colorspace="GRAY", strict=True)
    except ValueError as said:
        text = " ".join(str(said).split())
        return text if text.startswith(_WARNED) else ""
    return ""


def torn(picture: NDArray[np.uint8], print_there: NDArray[np.bool_]) -> bool:
    """Tell whether the brightness of a page jumps along a straight row or column of pixels.

    Brightness is coded as the difference to what came before. Where spoiled bytes are
    decoded without complaint, all that follows is lighter or darker, from one row of
    pixels to the next, and over the whole width. Light and pens do not do that, and a fold or
    the paper's edge is softer, or has a line along it.

    Parameters
    ----------
    picture : array
        The page in the picture, with nothing around it.
    print_there : array
        Where something is printed, or may be: not looked at.
    """
    return _jumps(picture, print_there) or _jumps(picture.T, print_there.T)


def _jumps(page: NDArray[np.uint8], print_there: NDArray[np.bool_]) -> bool:
    """Look for a jump from one row to the next over a good part of the width."""
    from scipy.ndimage import median_filter

    high, wide = page.shape
    each = wide // _PARTS
    if high < 4 * _NEAR or not each:
        return False
    seen = np.where(print_there, np.float32(np.inf), page)[:, : each * _PARTS]
    strips = np.sort(seen.reshape(high, _PARTS, each), axis=2)
    count = np.isfinite(strips).sum(axis=2)
    middle = np.take_along_axis(strips, (count // 2)[:, :, None].clip(max=each - 1), axis=2)
    blank = count >= _LEAST * each
    paper: Any = np.where(blank, middle[:, :, 0], 0)
    level: Any = median_filter(paper, size=(_NEAR, 1))
    half = _NEAR // 2
    rows = np.arange(_NEAR + 2, high - _NEAR - 2)
    around = np.lib.stride_tricks.sliding_window_view(blank, 2 * _NEAR + 3, axis=0)
    everywhere: Any = around.all(axis=-1)
    whole = everywhere[rows - _NEAR - 1]
    step = level[rows + 1 + half] - level[rows - 2 - half]
    sudden = paper[rows + 1] - paper[rows - 2]
    sharp = np.maximum(
        np.sign(step) * (paper[rows] - paper[rows - 2]),
        np.sign(step) * (paper[rows + 1] - paper[rows - 1]),
    )
    beside = np.stack([paper[rows + d] for d in range(-half - 2, half + 2)])
    ends = level[rows - 2 - half], level[rows + 1 + half]
    slack = _CREASE * np.abs(step) + _HALF
    crease = ((beside < np.minimum(*ends) - slack) | (beside > np.maximum(*ends) + slack)).any(
        axis=0
    )
    scatter = sudden[whole]
    noise = 1.4826 * float(np.median(np.abs(scatter))) if scatter.size else 0.0
    before = level[rows - 2] - level[rows - 2 - half]
    after = level[rows + 1 + half] - level[rows + 1]
    jump: Any = (
        whole
        & (np.abs(step) >= STEP)
        & (np.abs(sudden) >= SURE * noise)
        & (sharp >= _SHARP * np.abs(step) - _HALF)
        & ~crease
        & (np.maximum(np.abs(before), np.abs(after)) <= 0.3 * np.abs(step))
    )
    wanted = np.maximum(SHARE * _PARTS, SHARE * whole.sum(axis=1))
    for way in (1, -1):
        same = jump & (way * step > 0)
        for row in np.nonzero(same.sum(axis=1) >= wanted)[0]:
            found = np.abs(step[row][same[row]])
            usual = float(np.median(found))
            alike = np.abs(found - usual) <= max(STEP, _ALIKE * usual)
            if alike.sum() >= wanted[row]:
                return True
    return False
