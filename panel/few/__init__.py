"""What do one to three assessors show: side by side, how sure, and what would settle it?"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
