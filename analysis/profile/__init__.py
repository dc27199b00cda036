"""What is one bottle like: its profile, nose against palate, its course in the mouth?"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
