"""Files that are dropped on a page: so many, so large, and under harmless names."""

from __future__ import annotations

import asyncio
import shutil
from collections import defaultdict
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import Message

from ..base.file_names import safe_name

MULTIPART = "multipart/form-data"
LARGEST = 300_000_000
"""Bytes of all files that are dropped at once."""
MOST = 200
"""Files that are dropped at once."""
SECONDS = 120.0


@dataclass(frozen=True, slots=True)
class Dropped:
    """What came.

    Attributes
    ----------
    files : dict of str to list of Path
        The files by field, in a folder that is taken away afterwards.
    fields : dict of str to list of str
        All else.
    """

    files: dict[str, list[Path]]
    fields: dict[str, list[str]]

    @property
    def paths(self) -> list[Path]:
        """All files."""
        return [path for paths in self.files.values() for path in paths]

    @property
    def form(self) -> dict[str, str]:
        """The first value of each field."""
        return {name: values[0] for name, values in self.fields.items()}


@asynccontextmanager
async def dropped(request: Request) -> AsyncIterator[Dropped]:
    """Take files in, each in a folder of its own, so that its name stays what it was.

    Raises
    ------
    HTTPException
        413 if it is too much, 400 if it is no form, 408 if it takes too long.
    """
    within = Request(request.scope, _Limited(request))
    try:
        async with asyncio.timeout(SECONDS):
            form = await within.form(max_files=MOST, max_fields=MOST)
    except TimeoutError as late:
        raise HTTPException(408) from late
    try:
        with TemporaryDirectory(prefix="kikichoko-") as name:
            fields: dict[str, list[str]] = defaultdict(list)
            files: list[tuple[str, UploadFile]] = []
            for key, one in form.multi_items():
                if isinstance(one, str):
                    fields[key].append(one)
                elif one.filename:
                    files.append((key, one))
            yield Dropped(await asyncio.to_thread(_laid_down, Path(name), files), fields)
    finally:
        await form.close()


class _Limited:
    """What is received, up to `LARGEST`, also where no length was told."""

    def __init__(self, request: Request) -> None:
        self._receive = request.receive
        self._got = 0

    async def __call__(self) -> Message:
        message = await self._receive()
        self._got += len(message.get("body", b""))
        if self._got > LARGEST:
            raise HTTPException(413)
        return message


def _laid_down(folder: Path, files: list[tuple[str, UploadFile]]) -> dict[str, list[Path]]:
    laid: dict[str, list[Path]] = defaultdict(list)
    for number, (field, one) in enumerate(files, start=1):
        inside = folder / str(number)
        inside.mkdir()
        bare = (one.filename or "").replace("\\", "/").rpartition("/")[2].lstrip(".-~$")
        path = inside / safe_name(bare)
        laid[field].append(path)
        with path.open("wb") as out:
            shutil.copyfileobj(one.file, out)
    return laid
