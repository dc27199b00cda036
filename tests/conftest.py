"""What tests of several rooms share."""

from __future__ import annotations

import gc
from types import ModuleType

import pytest
from hypothesis import settings

# A busy machine takes its time; the examples are the same each time.
settings.register_profile("any machine", deadline=None, derandomize=True)
settings.load_profile("any machine")


def pytest_collection_finish() -> None:
    """Let the collector of garbage pass by what stays: it is most of what there is."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def simulator() -> ModuleType:
    """Return the simulated hand and camera of `tests/tools`."""
    import simulator as made

    return made
