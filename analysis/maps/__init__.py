"""Where do the samples stand on a plane, and is the plane more than chance?"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
