"""Which words and faults were ticked, for which bottle, and do they tell bottles apart?"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
