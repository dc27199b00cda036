"""How many assessors and cups does it take, and what could this design have found?"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
