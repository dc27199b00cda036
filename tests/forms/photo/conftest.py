"""The sheets of `tests/tools`, as fixtures; no limit of time, for a machine may be busy."""

from pathlib import Path

import pytest
from paper_sheets import make_sheet, printed

__all__ = ["make_sheet", "printed"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let pictures be read as slowly as a busy machine reads them."""
    for item in items:
        if item.path.parent == Path(__file__).parent:
            item.add_marker(pytest.mark.timeout(0))
