"""A page as it was read: laid flat, and where each of its questions stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import cv2

from ..answers.uncertain_marks import Uncertain
from ..questions.sheet import Sheet
from .mark_rules import Verdict
from .page_code import Identity
from .photo_reader import ReadPage, asked, pages_in

_QUALITY = 80  # of the picture that is shown


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a question stands on its page, in millimetres.

    Attributes
    ----------
    attribute : str
    left, top, width, height : float
        Its frame.
    answers : tuple
        For each answer that has a place of its own, the answer, and the middle of its place;
        for a line, its two ends.
    line : bool
    """

    attribute: str
    left: float
    top: float
    width: float
    height: float
    answers: tuple[tuple[float | str, float, float], ...]
    line: bool

    def place(self, value: float | str) -> tuple[float, float] | None:
        """Return where an answer stands; None if it has no place."""
        if self.line and not isinstance(value, str):
            (low, x1, y), (high, x2, _) = self.answers
            return x1 + (x2 - x1) * (value - float(low)) / (float(high) - float(low)), y
        return next(((x, y) for one, x, y in self.answers if one == value), None)


@dataclass(frozen=True, slots=True)
class PageView:
    """What a page that was read says of one presentation, for a person to look at."""

    read: ReadPage
    code: str

    @property
    def assessor(self) -> str:
        """Whose page it is."""
        return self.read.sheet.assessor

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the paper in millimetres."""
        return self.read.page.size

    def picture(self) -> bytes:
        """Return the straightened page as a JPEG."""
        _, data = cv2.imencode(".jpg", self.read.flat.grey, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
        return bytes(data.tobytes())

    def spots(self) -> list[Spot]:
        """Say where each question with marks stands."""
        found = [
            Spot(
                one.attribute, one.x - 3, one.y - 3, one.length + 6, 6,
                ((one.low, one.x, one.y), (one.high, one.x + one.length, one.y)), line=True,
            )
            for one in self.read.page.scales
            if one.code == self.code
        ]  # fmt: skip
        boxes: dict[str, list[tuple[float | str, float, float, float]]] = {}
        for box in (one for one in self.read.page.boxes if one.code == self.code):
            boxes.setdefault(box.attribute, []).append((box.value, box.x, box.y, box.size))
        for attribute, places in boxes.items():
            half = places[0][3] / 2 + 0.5
            left, top = min(x for _, x, _, _ in places) - half, min(y for *_, y, _ in places) - half
            right = max(x for _, x, _, _ in places) + half
            bottom = max(y for *_, y, _ in places) + half
            marks = tuple((value, x, y) for value, x, y, _ in places)
            found.append(Spot(attribute, left, top, right - left, bottom - top, marks, line=False))
        return found

    def ask(self, attribute: str, file: str) -> Uncertain | None:
        """Put a question of the page to a person again; None if it has no such question.

        Parameters
        ----------
        attribute : str
        file : str
            The name that the picture was read by.
        """
        if attribute not in {spot.attribute for spot in self.spots()}:
            return None
        return asked(
            self.read, Verdict(code=self.code, attribute=attribute, reason="touched"), file
        )


def views(
    path: Path, sheets: Mapping[str, Sheet], named: Mapping[int, Identity] | None = None
) -> Iterator[PageView]:
    """Show the pages of a picture as they are read; what cannot be read is passed over."""
    for read in pages_in(path, sheets, [], set(), named):
        for cup in read.page.presentations:
            yield PageView(read, cup.name)
