"""Files that are dropped on a page: so many, so large, and under harmless names."""

from __future__ import annotations

import asyncio
import shutil
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
    """What came: the files, in a folder that is taken away afterwards, and the other fields."""

    paths: list[Path]
    form: dict[str, str]


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
            form = await within.form(max_files=MOST, max_fields=50)
    except TimeoutError as late:
        raise HTTPException(408) from late
    try:
        with TemporaryDirectory(prefix="kikichoko-") as name:
            paths = await asyncio.to_thread(_laid_down, Path(name), form.getlist("files"))
            told = {key: one for key, one in form.items() if isinstance(one, str)}
            yield Dropped(paths, told)
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


def _laid_down(folder: Path, files: list[UploadFile | str]) -> list[Path]:
    paths = []
    for number, one in enumerate(files, start=1):
        if isinstance(one, str) or not one.filename:
            continue
        inside = folder / str(number)
        inside.mkdir()
        bare = one.filename.replace("\\", "/").rpartition("/")[2].lstrip(".-~$")
        paths.append(inside / safe_name(bare))
        with paths[-1].open("wb") as out:
            shutil.copyfileobj(one.file, out)
    return paths
