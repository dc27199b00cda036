"""Opening what cameras and scanners leave: any depth and colours, as grey pictures."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .damage import decoding_fault

if TYPE_CHECKING:
    from PIL.Image import Image
    from pypdfium2 import PdfPage

Picture = NDArray[np.uint8]
Plane = NDArray[np.float32]

_PDF_DPI = 200
MOST_PIXELS = 110_000_000  # of one picture: the finest telephone cameras, and A3 at 600 dpi
MOST_PAGES = 300  # of one file
LARGEST = 150_000_000  # bytes of one file
_WHITE_IS_ZERO = 262  # the tag of a TIFF file that says so, by 0


class Unreadable(Exception):
    """A file or page that gives nothing; `kind` is a fault's name, `found` what was seen."""

    def __init__(self, kind: str, found: str = "") -> None:
        super().__init__(kind)
        self.kind = kind
        self.found = found


def pictures(path: Path) -> Iterator[tuple[Picture, str]]:
    """Read a file as grey pictures: one, or one per page of a PDF or TIFF.

    With each comes what is wrong with its data, if a strict decoder finds anything.

    Raises
    ------
    Unreadable
        If the file cannot be opened as what its name says.
    """
    try:
        if path.stat().st_size > LARGEST:
            raise Unreadable("too_large", f"{path.stat().st_size:,} bytes")
        with path.open("rb") as opened:
            is_pdf = opened.read(4) == b"%PDF"
        if is_pdf or path.suffix.lower() == ".pdf":
            yield from _pdf(path)
        else:
            yield from _images(path)
    except (OSError, ValueError, RuntimeError, SyntaxError) as refusal:
        raise Unreadable("unreadable_file", str(refusal) or type(refusal).__name__) from refusal


def _pdf(path: Path) -> Iterator[tuple[Picture, str]]:
    import pypdfium2

    with pypdfium2.PdfDocument(path) as document:
        if len(document) > MOST_PAGES:
            raise Unreadable("too_large", f"{len(document):,} pages")
        for page in document:
            wide, high = (side * _PDF_DPI / 72 for side in page.get_size())
            _bounded(wide, high)
            bitmap = page.render(scale=_PDF_DPI / 72, grayscale=True)
            yield np.array(bitmap.to_numpy(), dtype=np.uint8), _scan_fault(page)


def _scan_fault(page: PdfPage) -> str:
    """Return what is wrong with the photos and scans on a page of a PDF, or nothing."""
    from pypdfium2 import raw

    images = page.get_objects(filter=[raw.FPDF_PAGEOBJ_IMAGE], max_depth=4)
    for image in islice(images, MOST_PAGES):
        if image.get_filters(skip_simple=True) == ["DCTDecode"]:
            fault = decoding_fault(bytes(image.get_data(decode_simple=True)))
            if fault:
                return fault
    return ""


def is_heif(path: Path) -> bool:
    """Tell whether a file is of a telephone's own kind (ISO 23008-12), whatever its name says."""
    with path.open("rb") as opened:
        return opened.read(12)[4:8] == b"ftyp"


def _images(path: Path) -> Iterator[tuple[Picture, str]]:
    from PIL import Image, ImageOps, ImageSequence

    if is_heif(path):
        import pillow_heif

        pillow_heif.register_heif_opener()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own bound is looser than ours
        with Image.open(path) as image:
            for number, frame in enumerate(ImageSequence.Iterator(image), start=1):
                if number > MOST_PAGES:
                    raise Unreadable("too_large", f"more than {MOST_PAGES} pages")
                _bounded(*frame.size)
                turned = getattr(frame, "tag_v2", {}).get(_WHITE_IS_ZERO) == 0
                fault = ""
                if number == 1 and image.format in ("JPEG", "MPO"):
                    fault = decoding_fault(path.read_bytes())
                yield _grey(ImageOps.exif_transpose(frame), white_is_zero=turned), fault


def _grey(image: Image, *, white_is_zero: bool) -> Picture:
    """Return a picture in grey as people see it: upon white where it is clear, at any depth."""
    from PIL import Image as Images

    if image.mode in ("I", "F") or image.mode.startswith("I;16"):
        # Deep pictures use as much of their range as they like: the lightest place is paper.
        deep = np.asarray(image, dtype=np.float64)
        if white_is_zero and image.mode.startswith("I;16"):
            deep = 65535 - deep
        return (np.clip(deep, 0, None) * (255 / max(float(deep.max()), 1e-9))).astype(np.uint8)
    if "transparency" in image.info or image.mode in ("LA", "La", "PA", "RGBA", "RGBa"):
        clear = image.convert("RGBA")
        image = Images.alpha_composite(Images.new("RGBA", clear.size, "white"), clear)
    return np.asarray(image.convert("L"), dtype=np.uint8)


def _bounded(wide: float, high: float) -> None:
    """Refuse a picture that no page gives, before memory is taken for it."""
    if not (16 <= wide <= 40_000 and 16 <= high <= 40_000 and wide * high <= MOST_PIXELS):
        raise Unreadable("too_large", f"{wide:.0f} x {high:.0f} pixels")
