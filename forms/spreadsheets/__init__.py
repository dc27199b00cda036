"""The sheet as a workbook or a table: written, and read back."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
