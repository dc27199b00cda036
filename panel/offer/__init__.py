"""A sheet for a buyer: one page a bottle, from what was brewed, measured and claimed."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
