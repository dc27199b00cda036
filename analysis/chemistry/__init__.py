"""What do the numbers of the meter say about a bottle, a blend or a label?"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
