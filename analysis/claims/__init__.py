"""What may a report claim? One error budget for everything that it says about the bottles."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
