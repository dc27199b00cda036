"""What tests of several rooms share."""

from __future__ import annotations

from types import ModuleType

import pytest
from hypothesis import settings

settings.register_profile("any machine", deadline=None)  # a busy one takes its time
settings.load_profile("any machine")


@pytest.fixture(scope="session")
def simulator() -> ModuleType:
    """Return the simulated hand and camera of `tests/tools`."""
    import simulator as made

    return made
