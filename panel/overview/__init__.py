"""What would a consultant say of a panel's sheets: order, sizes, who parts, what is next?"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
