"""The one question about a page whose code cannot be read: which page is it?

A person names the assessor and the number that is printed at the foot. What is printed on
the page must agree; then it is read like any other, and the name is kept, so that nobody is
asked about it again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...forms.answers.settling import settle
from ...forms.answers.uncertain_marks import PhotoReading, Uncertain
from ...forms.paper.pages import lay_out
from ...forms.reading import is_picture
from ..base.words import say
from .logged_answers import note, note_answers
from .named_pages import keep_name, names_of
from .open_marks import mark, waiting
from .store import RETURNED, Store, checksum
from .taking_in import put_in

if TYPE_CHECKING:
    from ...forms.answers.answer import Answer
    from ...forms.photo.unnamed_pages import UnnamedPage
    from ..plan.open_plan import OpenPlan

KIND = "photo_no_code"  # the fault of a page that may be named
_POOR = ("photo_poor", "photo_corners")


@dataclass(frozen=True, slots=True)
class Nameless:
    """A page that waits: numbers of its fault and file, what and where the file is, the page."""

    fault: int
    file: int
    name: str
    path: Path
    page: UnnamedPage


@dataclass
class PageNames:
    """A person's way through the pages that nobody has named yet.

    Attributes
    ----------
    store : Store
    plan : OpenPlan
    named_by : str
        Who says which page it is.
    language : str
    """

    store: Store
    plan: OpenPlan
    named_by: str
    language: str
    _waiting: list[Nameless] | None = None
    _passed: set[int] = field(default_factory=set)

    def next(self) -> Nameless | None:
        """Return the page that is asked about now, None if there is none."""
        if self._waiting is None:
            self._waiting = list(_nameless(self.store, self.plan))
        return next((one for one in self._waiting if one.fault not in self._passed), None)

    def skip(self, fault: int) -> None:
        """Leave a page for another time."""
        self._passed |= {fault}

    def pages(self) -> list[tuple[str, list[tuple[int, str]]]]:
        """List what can be said: assessor by assessor the pages, with what is printed on them."""
        return [
            (
                assessor,
                [
                    (page.number, " ".join(code for cup in page.presentations
                                           for code in cup.codes))
                    for page in lay_out(sheet)
                ],
            )
            for assessor, sheet in self.plan.sheets.items()
        ]  # fmt: skip

    def answer(self, fault: int, given: str) -> str:
        """Take which page it is, as ``A1 3``; return what is wrong with that, or nothing."""
        one = self.next()
        if one is None or one.fault != fault or fault not in self.store.faults():
            return say("review.which_gone", self.language)
        who, _, number = given.strip().rpartition(" ")
        known = {assessor.casefold(): assessor for assessor in self.plan.sheets}
        assessor = known.get(who.strip().casefold(), "")
        if not assessor or not (number.isdecimal() and len(number) < 4):
            return say("review.which_unclear", self.language, given=given.strip())
        trouble = self._read(one, assessor, int(number))
        if not trouble:
            self._passed |= {fault}
        return trouble

    def _read(self, one: Nameless, assessor: str, number: int) -> str:
        """Read a page as the one that was named, and put in all that belongs together."""
        from ...forms.photo.photo_reader import read_named
        from ...forms.photo.picture_files import Unreadable
        from ...forms.photo.unnamed_pages import identify

        told = {"assessor": assessor, "page": number}
        sheets = self.plan.sheets
        try:
            named = identify(one.page, assessor, number, sheets)
        except Unreadable as trouble:
            return say(f"review.{trouble.kind}", self.language, **told)
        found = read_named(one.path, one.page.number, named, sheets, one.name)
        whole = settle([found], sheets)
        read = PhotoReading(whole.answers, whole.faults, found.uncertain)
        if any(fault.kind in _POOR for fault in read.faults) or nothing_fits(read):
            return say("review.which_poor", self.language, **told)
        before = self._read_before(read)
        if before:
            return say("review.which_before", self.language, file=before, **told)
        with self.store.transaction():
            if one.fault not in self.store.faults():
                return say("review.which_gone", self.language)
            keep_name(self.store, one.file, one.page.number, named, by=self.named_by)
            put_in(self.store, self.plan, read)
            self.store.settle(one.fault, say("review.which_settled", page=number))
        note(self.store, "named", file=checksum(one.path), picture=one.page.number, page=number)
        note_answers(self.store)
        return ""

    def _read_before(self, read: PhotoReading) -> str:
        """Name the file from which something of this page was taken before; empty if none."""
        told: list[Answer | Uncertain] = [*read.answers, *read.uncertain]
        cells = {(one.assessor, one.code, one.attribute) for one in told}
        here: list[Answer | Uncertain | None] = [one.answer for one in self.store.answers()]
        here += [mark(self.store, number) for number in waiting(self.store)]
        found = (
            one.file for one in here if one and (one.assessor, one.code, one.attribute) in cells
        )
        return next(found, "")


def nothing_fits(read: PhotoReading) -> bool:
    """Tell whether nothing is where the page that was named has it."""
    return (
        bool(read.uncertain)
        and not read.answers
        and all(one.reason in ("astray", "words") for one in read.uncertain)
    )


def _nameless(store: Store, plan: OpenPlan) -> Iterator[Nameless]:
    """Find the pages that wait, by the faults that stand and the originals that were kept."""
    standing = {
        (fault.file, fault.place): number
        for number, fault in store.faults().items()
        if fault.kind == KIND
    }
    if not standing:
        return
    try:
        photo: Any = import_module("kikichoko.forms.photo.unnamed_pages")
    except ImportError:  # without the extra there are no pictures to show
        return
    rows = store.database.execute("SELECT id, name, kept_as FROM files ORDER BY id").fetchall()
    for file, name, kept_as in rows:
        path = store.folder / RETURNED / kept_as
        if name not in {file for file, _ in standing} or not is_picture(path):
            continue
        known = names_of(store, plan, path)
        for page in photo.unnamed_pages(path, plan.sheets):
            fault = standing.get((name, page.place))
            if fault is not None and page.number not in known:
                yield Nameless(fault, int(file), str(name), path, page)
