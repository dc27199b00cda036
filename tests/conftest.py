"""What tests of several rooms share."""

from __future__ import annotations

from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def simulator() -> ModuleType:
    """Return the simulated hand and camera of `tests/tools`."""
    import simulator as made

    return made
