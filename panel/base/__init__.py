"""What every part of this room needs: refusals, words, problems, tables as people have them."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
