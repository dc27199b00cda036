"""The sessions of one folder: those that lie in it, and nothing outside."""

from __future__ import annotations

import re
import secrets
import shutil
import time
from dataclasses import dataclass
from pathlib import Path

from ..base.errors import InputRefused, PanelError
from ..returns.store import FILE
from ..session.session_folder import SETTINGS, settings_of

NAME = re.compile(r"\w[\w .-]{0,59}")
"""Names that a new session's folder may have."""
ASIDE, HOUR = ".being-made-", 3600
PLANNED, REPORTED = Path("plan/plan.json"), Path("report/report.html")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelved:
    """A session of the folder, as far as it can be told at a glance.

    Attributes
    ----------
    name : str
        Its folder's; in a folder of several (a series, a class), that one's, a colon and its own.
    title, date : str
        Empty where its settings are faulty.
    stage : str
        ``new``, ``planned``, ``answers`` or ``reported``.
    """

    name: str
    title: str
    date: str
    stage: str


class SessionShelf:
    """A folder of sessions.

    Parameters
    ----------
    folder : Path

    Raises
    ------
    InputRefused
        If it is a file, or a session itself.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        if folder.is_file():
            raise InputRefused("folder.is_a_file", folder=folder)
        if (folder / SETTINGS).is_file():
            raise InputRefused("desk.is_a_session", folder=folder, above=self.folder.parent)
        self.folder.mkdir(parents=True, exist_ok=True)
        for left in self.folder.glob(f"{ASIDE}*"):
            if time.time() - left.stat().st_mtime > HOUR:
                shutil.rmtree(left, ignore_errors=True)

    def places(self) -> dict[str, Path]:
        """Return the folders of the sessions by name; links to elsewhere are none.

        Those of a series or a class lie one folder lower.
        """
        inside = _folders(self.folder)
        found = {one.name: one for one in inside if (one / SETTINGS).is_file()}
        for above in inside:
            if above.name not in found:
                for one in _folders(above):
                    if (one / SETTINGS).is_file():
                        found.setdefault(f"{above.name}:{one.name}", one)
        return found

    def sessions(self) -> list[Shelved]:
        """Return the sessions, the latest first."""
        found = [_seen(name, place) for name, place in self.places().items()]
        return sorted(found, key=lambda one: (one.date, one.name), reverse=True)

    def kept(self, name: str) -> Path:
        """Return a folder that a command keeps here over the sessions, there already or not.

        Raises
        ------
        InputRefused
            If the name cannot be that of a folder, or a session has it.
        """
        place = self.folder / name
        if not place.exists() and not place.is_symlink():
            return self.free(name)
        if name not in self._inside() or (place / SETTINGS).is_file():
            raise InputRefused("folder.exists", folder=name)
        return place

    def _inside(self) -> set[str]:
        return {one.name for one in self.folder.iterdir() if one.is_dir() and not one.is_symlink()}

    def aside(self) -> Path:
        """Name a folder in which a session is made before it gets its name.

        What a kill leaves of it is no session, and is taken away by a later desk.
        """
        return self.folder / f"{ASIDE}{secrets.token_hex(8)}"

    def free(self, name: str) -> Path:
        """Return the folder of a new session.

        Raises
        ------
        InputRefused
            If the name cannot be that of a folder, or is taken.
        """
        if not NAME.fullmatch(name) or name != name.strip(" ."):
            raise InputRefused("desk.bad_name", found=name)
        place = self.folder / name
        if place.exists() or place.is_symlink():
            raise InputRefused("folder.exists", folder=name)
        return place


def stage(place: Path) -> str:
    """Tell how far a session is."""
    if (place / REPORTED).is_file():
        return "reported"
    if (place / FILE).is_file() and (place / "returned").is_dir():
        return "answers"
    return "planned" if (place / PLANNED).is_file() else "new"


def _folders(place: Path) -> list[Path]:
    """Return the folders in a folder that are no links and not hidden; none of one kept from us."""
    try:
        return [
            one
            for one in sorted(place.iterdir())
            if not one.is_symlink() and one.is_dir() and not one.name.startswith(".")
        ]
    except OSError:
        return []


def _seen(name: str, place: Path) -> Shelved:
    try:
        settings = settings_of(place)
        title, date = settings.title, settings.date.isoformat()
    except (PanelError, OSError):
        title = date = ""
    return Shelved(name=name, title=title, date=date, stage=stage(place))
