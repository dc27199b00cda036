"""Where a code meets its bottle: opening the key, and the tables after it."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
