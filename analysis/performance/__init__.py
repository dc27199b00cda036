"""Is the panel, and each assessor, in order: within a session and over sessions?"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
