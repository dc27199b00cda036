"""What people said of pages whose code cannot be read: kept with the file that shows them."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..base.clock import now
from ..base.file_names import text_of
from .store import Store, checksum

if TYPE_CHECKING:
    from ...forms.photo.page_code import Identity
    from ..plan.open_plan import OpenPlan


def keep_name(store: Store, file: int, picture: int, named: Identity, *, by: str) -> None:
    """Keep which page a picture of a file shows, both by their number, as a person says."""
    code = (named.assessor, named.page, named.paper, named.fingerprint, named.check)
    with store.transaction():
        store.database.execute(
            "INSERT INTO named_pages (file, picture, assessor, page, paper, fingerprint, mark, "
            "named_at, named_by) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (file, picture, *code, now(), text_of(by)),
        )


def names_of(store: Store, plan: OpenPlan, path: Path) -> dict[int, Identity]:
    """Return which pages a file's pictures show, as people said, by the pictures' numbers."""
    rows = store.database.execute(
        "SELECT picture, assessor, page, paper, fingerprint, mark FROM named_pages "
        "WHERE file = (SELECT id FROM files WHERE sha256 = ?) ORDER BY id",
        (checksum(path),),
    ).fetchall()
    if not rows:
        return {}
    identity: Any = import_module("kikichoko.forms.photo.page_code").Identity
    session = next(iter(plan.sheets.values())).session
    return {int(picture): identity(session, *code) for picture, *code in rows}
