"""The session at each of its stages, for all who break commands off."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import crash_runs
import pytest


@pytest.fixture(scope="session")
def stages(made_once: Callable[..., Path]) -> Path:
    """Make the stages once for all workers, and load here what children would load again."""

    def make(place: Path) -> None:
        crash_runs.prepare(place, last="marks")
        made_here.append(place)

    made_here: list[Path] = []
    place = made_once("stages", make)
    if not made_here:
        crash_runs.warm_up(place)
    return place
