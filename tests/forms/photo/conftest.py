"""The sheets of `tests/tools`, as fixtures."""

from paper_sheets import make_sheet, printed

__all__ = ["make_sheet", "printed"]
