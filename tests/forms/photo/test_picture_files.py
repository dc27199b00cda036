"""Pictures of any depth and colours are read as what they show; Pillow and OpenCV write them."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from kikichoko.forms.photo.picture_files import pictures
from PIL import Image

GREY = np.tile(np.linspace(40, 255, 60).astype(np.uint8), (40, 1))


def _deep(path: Path) -> None:
    cv2.imwrite(str(path), GREY.astype(np.uint16) * 257)


def _twelve_bits(path: Path) -> None:
    """Leave what some scanners write: twelve bits in sixteen."""
    cv2.imwrite(str(path), GREY.astype(np.uint16) * 16)


def _white_is_zero(path: Path) -> None:
    deep = Image.fromarray((255 - GREY).astype(np.uint16) * 257)
    deep.save(path, tiffinfo={262: 0})


def _clear(path: Path) -> None:
    """Leave black of all strengths upon nothing, as screenshots and exports do."""
    clear = np.zeros((*GREY.shape, 4), np.uint8)
    clear[..., 3] = 255 - GREY
    Image.fromarray(clear).save(path)


@pytest.mark.parametrize(
    ("name", "save"),
    [
        ("deep.png", _deep),
        ("twelve.png", _twelve_bits),
        ("deep.tif", _deep),
        ("zero.tif", _white_is_zero),
        ("float.tif", lambda p: Image.fromarray((GREY / 255).astype(np.float32)).save(p)),
        ("inks.jpg", lambda p: Image.fromarray(GREY).convert("RGB").convert("CMYK").save(p)),
        ("few.png", lambda p: Image.fromarray(GREY).convert("P").save(p)),
        ("clear.png", _clear),
    ],
)
def test_depths_and_colours_show_the_same(tmp_path: Path, name: str, save):
    path = tmp_path / name
    save(path)
    ((seen, damage),) = pictures(path)
    assert not damage
    assert seen.dtype == np.uint8
    assert np.abs(seen.astype(int) - GREY).max() <= 4
