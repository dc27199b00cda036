"""What tests of several rooms share."""

from __future__ import annotations

import gc
import importlib.util
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import settings

# A busy machine takes its time; the examples are the same each time.
settings.register_profile("any machine", deadline=None, derandomize=True)
settings.load_profile("any machine")


def pytest_collection_finish() -> None:
    """Let the collector of garbage pass by what stays, and come thirty times more rarely."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 10, 10)


@pytest.fixture(scope="session")
def simulator() -> ModuleType:
    """Return the simulated hand and camera of `tests/tools`."""
    import simulator as made

    return made


@pytest.fixture(scope="session")
def class_truth() -> ModuleType:
    """Load the benchmark of classes with known truth, which is no package."""
    path = Path(__file__).parents[1] / "benchmarks/class_truth.py"
    spec = importlib.util.spec_from_file_location("class_truth", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
