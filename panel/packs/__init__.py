"""How do several people lead or taste in several places: one file out, and back without loss."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
