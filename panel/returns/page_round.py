"""The pages of a session's pictures, one by one, with what was taken from each drawn on it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib import import_module
from typing import TYPE_CHECKING

from ...forms.reading import is_picture
from ..base.clock import now
from ..base.file_names import text_of
from .named_pages import names_of
from .open_marks import mark, note, waiting
from .store import RETURNED, Store

if TYPE_CHECKING:
    from ...forms.answers.uncertain_marks import Uncertain
    from ...forms.photo.page_view import PageView
    from ..plan.open_plan import OpenPlan


def not_looked_at(store: Store) -> int:
    """Count the cups that were read from pictures whose pages nobody has passed as right."""
    rows = store.database.execute(
        "SELECT DISTINCT f.kept_as, a.code FROM files f JOIN answers a ON a.file = f.name "
        "WHERE a.place <> '' AND NOT EXISTS "
        "(SELECT 1 FROM looks l WHERE l.file = f.id AND l.code = a.code)"
    ).fetchall()
    pictures = {name for name, _ in rows if is_picture(store.folder / RETURNED / name)}
    return sum(name in pictures for name, _ in rows)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A question on a page and how it stands: the frame to touch, and the answer's place.

    `x` and `y` are None where nothing was taken; `waits` where a person is asked.
    """

    attribute: str
    frame: tuple[float, float, float, float]
    x: float | None
    y: float | None
    line: bool
    waits: bool


@dataclass(frozen=True, slots=True)
class _Shown:
    """A page of a picture: the name and number of its file, and how many pages that has."""

    name: str
    file: int
    view: PageView
    pages: int

    @property
    def place(self) -> tuple[int, str, int]:
        """What it is remembered by: its file, the cup, the page of the sheet."""
        return self.file, self.view.code, self.view.read.page.number


@dataclass
class PageRound:
    """A person's way through the pages of all pictures that came back.

    A page that somebody has looked at and passed is remembered, and not shown in a later round.

    Attributes
    ----------
    store : Store
    plan : OpenPlan
    at : int
        The page that is shown, from 0.
    looked_by : str
        Who looks.
    again : bool
        Whether pages that were looked at before are shown too.
    """

    store: Store
    plan: OpenPlan
    at: int = 0
    looked_by: str = ""
    again: bool = False
    _seen: list[_Shown] = field(default_factory=list)
    _more: Iterator[_Shown] | None = None
    _ended: bool = False

    def page(self) -> PageView | None:
        """Return the page that is shown now, None behind the last."""
        while len(self._seen) <= self.at and not self._ended:
            self._more = self._pages() if self._more is None else self._more
            found = next(self._more, None)
            if found is None:
                self._ended = True
            else:
                self._seen = [*self._seen, found]
        return self._seen[self.at].view if self.at < len(self._seen) else None

    def turn(self) -> None:
        """Note that the page that is shown is all right, and go to the next."""
        if self.page() is not None:
            one = self._seen[self.at]
            with self.store.transaction():
                self.store.database.execute(
                    "INSERT INTO looks (file, code, page, pages, looked_at, looked_by) "
                    "VALUES (?, ?, ?, ?, ?, ?)",
                    (*one.place, one.pages, now(), text_of(self.looked_by)),
                )
        self.at += 1

    def end(self) -> None:
        """Show no more pages."""
        self._ended, self.at = True, len(self._seen)

    def _looked_at(self) -> dict[int, tuple[set[tuple[int, str, int]], int]]:
        """Return, file by file, the pages that were looked at and how many there are."""
        found: dict[int, tuple[set[tuple[int, str, int]], int]] = {}
        rows = self.store.database.execute("SELECT file, code, page, pages FROM looks ORDER BY id")
        for file, code, page, pages in () if self.again else rows:
            places, _ = found.get(file, (set(), 0))
            found[file] = ({*places, (file, code, page)}, pages)
        return found

    def _pages(self) -> Iterator[_Shown]:
        try:
            views = import_module("kikichoko.forms.photo.page_view").views
        except ImportError:  # without the extra there are no pictures to show
            return
        rows = self.store.database.execute(
            "SELECT id, name, kept_as FROM files ORDER BY id"
        ).fetchall()
        before = self._looked_at()
        for number, name, kept_as in rows:
            path = self.store.folder / RETURNED / kept_as
            places, pages = before.get(number, (set(), 0))
            if not is_picture(path) or 0 < pages <= len(places):
                continue
            here = list(views(path, self.plan.sheets, names_of(self.store, self.plan, path)))
            shown = [_Shown(str(name), int(number), view, len(here)) for view in here]
            yield from (one for one in shown if one.place not in places)

    def drawn(self, view: PageView) -> list[Drawn]:
        """Say what stands for each question of a page, after all corrections."""
        version = self._version(view)
        standing = {
            one.answer.attribute: one.answer.value
            for one in self.store.answers()
            if (one.plan, one.answer.assessor, one.answer.code)
            == (version, view.assessor, view.code)
        }
        open_ones = {
            found.attribute
            for found in (mark(self.store, number) for number in waiting(self.store))
            if found and (found.assessor, found.code) == (view.assessor, view.code)
        }
        made = []
        for spot in view.spots():
            value = standing.get(spot.attribute)
            place = None if value is None else spot.place(value)
            x, y = place or (None, None)
            made.append(
                Drawn(
                    spot.attribute, (spot.left, spot.top, spot.width, spot.height), x, y,
                    line=spot.line, waits=spot.attribute in open_ones,
                )
            )  # fmt: skip
        return made

    def touch(self, attribute: str) -> int | None:
        """Put a question of the page that is shown to the person; return the mark's number."""
        view = self.page()
        found: Uncertain | None = view.ask(attribute, self._seen[self.at].name) if view else None
        if view is None or found is None:
            return None
        for number in waiting(self.store):
            asked = mark(self.store, number)
            if asked and (asked.assessor, asked.code, asked.attribute) == (
                view.assessor, view.code, attribute,
            ):  # fmt: skip
                return number
        note(self.store, [found], self._version(view))
        row = self.store.database.execute(
            "SELECT id FROM uncertain WHERE key = ?", (found.key,)
        ).fetchone()
        return int(row[0])

    def _version(self, view: PageView) -> str:
        return (self.plan.holding(view.assessor, view.code) or self.plan).version
