"""What tests of several rooms share."""

from __future__ import annotations

import fcntl
import gc
import importlib.util
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pandas as pd
import pytest
from hypothesis import settings

# Whatever the machine speaks, tests are run in English.
os.environ["LC_ALL"] = "C.UTF-8"
os.environ.pop("KIKICHOKO_LANGUAGE", None)
# Workers are told the width of a terminal that they have not: output is that of a pipe.
os.environ.pop("COLUMNS", None)

# A busy machine takes its time; the examples are the same each time.
settings.register_profile("any machine", deadline=None, derandomize=True)
settings.load_profile("any machine")

# Text in tables as a plain installation holds it. pyarrow, which the extra `parquet` and other
# libraries of these tests bring, would hold it in its own arrays: analyses of tables as small as
# a panel's then take half as long again. That both give the same is held by
# `analysis/core/test_text_in_tables.py`, and the demo of fractions is made with pyarrow's.
pd.options.mode.string_storage = "python"


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


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """Return what makes a folder once for all workers; who changes the folder copies it first."""
    root = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        root = root.parent

    def made(name: str, make: Callable[[Path], object]) -> Path:
        place, done = root / name, root / f"{name}.done"
        with (root / f"{name}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not done.exists():
                shutil.rmtree(place, ignore_errors=True)
                make(place)
                done.touch()
        return place

    return made
