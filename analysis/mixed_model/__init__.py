"""How are variance components, degrees of freedom and contrasts of a mixed model estimated?"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
